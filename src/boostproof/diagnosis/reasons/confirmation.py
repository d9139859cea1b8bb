"""Whether a cause is confirmed: shown by its own part, and not by elimination.

Notes on diagnosis, confirmation rule: a test that measures the cause's own part was done, its reading under
the cause lies outside of what 95 of 100 sound cars read, it did read so, and it parts the cause from its
rivals. Elimination alone stays at 80 percent: when the true cause is not on the list, the leader looks likely
all the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from boostproof.bench.response import Array, Response
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.evidence.blocks import interval_share
from boostproof.diagnosis.evidence.hypotheses import BOTH
from boostproof.diagnosis.inference.posterior import Posterior
from boostproof.diagnosis.inference.quasi_random import random_numbers
from boostproof.diagnosis.reasons.explain import hypotheses_of, probabilities
from boostproof.diagnosis.reasons.shares import Split, answers_of, standing
from boostproof.diagnosis.reasons.subsets import POOL, mechanism_logs, subset_evidence
from boostproof.observation import Observation

CONSIDERED = 0.5  # probability from which a cause can count as confirmed: more likely than all else together
PARTED = float(np.log(5.0))  # what the test must add to the odds against a rival: clear
EXCLUDED = float(np.log(20.0))  # odds at which a rival is out by the other evidence
_RARE = 0.05  # share of sound cars that read so
_SEED = 6


def confirmed(
    posterior: Posterior, case: Split, responses: Mapping[str, Sequence[Response]]
) -> frozenset[str]:
    """Ids of the causes and pairs that are confirmed.

    Parameters
    ----------
    posterior, case : the result, and the same taken apart
    responses : what was read, by test
    """
    p = probabilities(posterior)
    return frozenset(
        answer
        for answer, chance in p.items()
        if chance >= CONSIDERED and all(_shown(posterior, case, responses, answer, c) for c in answer.split(BOTH))
    )


def _shown(
    posterior: Posterior, case: Split, responses: Mapping[str, Sequence[Response]], answer: str, cause_id: str
) -> bool:
    test = BY_ID[cause_id].direct_test
    if not test or test not in responses or test not in case.sources:
        return False
    own = hypotheses_of(posterior, answer)
    best = max(own, key=lambda i: float(posterior.log_evidence[i]))
    normals, _ = random_numbers(_SEED, "confirm", 0, POOL, posterior.simulator.dimensions)
    faulty = case.alone.mean[best][:, None] + case.alone.factor[best] @ normals
    abnormal = any(
        reads_abnormal(r, _features(posterior, r, normals, 0), _features(posterior, r, faulty, best))
        for r in responses[test]
    )
    return abnormal and _parted(posterior, case, test, answer)


def _features(posterior: Posterior, response: Response, z: Array, hypothesis: int) -> Mapping[str, Array]:
    """What cars would answer; they are driven through the highest pull only where the test needs that."""
    simulator = posterior.simulator
    sound, actual = simulator.parameters(z, posterior.hypotheses, np.full(z.shape[1], hypothesis))
    try:
        return response.features(standing(simulator, sound, actual))
    except (IndexError, ValueError, RuntimeError):
        return response.features((simulator.scout or simulator).candidates(sound, actual))


def reads_abnormal(response: Response, sound: Mapping[str, Array], faulty: Mapping[str, Array]) -> bool:
    """Whether something was read as the faulty cars read on the whole, and as hardly a sound car does.

    Parameters
    ----------
    response : what was read
    sound, faulty : (n,) answers of sound and of faulty cars, by feature
    """
    return any(_abnormal(o, sound[o.feature], faulty[o.feature]) for o in response.observations)


def _abnormal(o: Observation, sound: Array, faulty: Array) -> bool:
    if o.kind != "equal":
        return bool(interval_share(sound, o).mean() <= _RARE and interval_share(faulty, o).mean() >= 0.5)
    low, high = np.percentile(sound, [2.5, 97.5])
    middle = 0.5 * (low + high)
    half = float(np.hypot(0.5 * (high - low), 1.96 * np.hypot(o.sd, o.shared)))
    mean = float(np.mean(faulty))
    # on the same side of what sound cars read
    return bool(abs(mean - middle) > half and abs(o.value - middle) > half and (mean > middle) == (o.value > middle))


def _parted(posterior: Posterior, case: Split, test: str, answer: str) -> bool:
    """No rival is left that the test does not part from the answer."""
    everything = np.ones(len(case.sources), bool)
    without = np.array([s != test for s in case.sources])
    normals, _ = random_numbers(_SEED, "confirm", 0, POOL, posterior.simulator.dimensions)
    _, logs = subset_evidence(case.fits, case.readings, case.alone, lambda i: normals, np.stack([without, everything]))
    names, by_mechanism = mechanism_logs(
        logs, [h.mechanism for h in posterior.hypotheses], [h.share for h in posterior.hypotheses]
    )
    added = dict(zip(names, by_mechanism[1] - by_mechanism[0], strict=True))
    p = probabilities(posterior)
    answers = {a.id: a.mechanism for a in answers_of(posterior)}
    mine = added[answers[answer]]
    for rival, mechanism in answers.items():
        if rival == answer or set(answer.split(BOTH)) & set(rival.split(BOTH)):
            continue
        told = mine - added[mechanism]
        odds = float(np.log(max(p[answer], 1e-300)) - np.log(max(p[rival], 1e-300)))
        if told < PARTED and odds - told < EXCLUDED:
            return False
    return True
