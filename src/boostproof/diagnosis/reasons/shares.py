"""Why: the share of every source of evidence in the odds of every answer against all others together."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Candidates
from boostproof.diagnosis.evidence.blocks import Block
from boostproof.diagnosis.evidence.hypotheses import answer_id
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.diagnosis.inference.importance import log_sum_exp
from boostproof.diagnosis.inference.none_of_these import HEALTHY_PART
from boostproof.diagnosis.inference.posterior import Posterior
from boostproof.diagnosis.inference.quasi_random import random_numbers
from boostproof.diagnosis.reasons.shapley import coalitions
from boostproof.diagnosis.reasons.subsets import (
    POOL,
    Fits,
    LogAlone,
    Readings,
    log_alone,
    mechanism_logs,
    sources_of,
    subset_evidence,
)

LOG = "log"  # the recordings, with what the car must do when sound
COMMON = "how common it is"
HISTORY = "history"  # what was said
_LOG_GROUPS = ("log", "target")
_SEED = 5  # of the cars that stand for the prior and for what the log leaves

_STRENGTHS = ((3.0, "strong"), (1.6, "clear"), (0.69, "slight"))  # factors of 20, 5 and 2


@dataclass(frozen=True)
class Reason:
    """Share of one source of evidence in an answer's log odds against all others."""

    source: str
    nats: float
    strength: str


def strength(nats: float) -> str:
    """A log odds share in words.

    >>> strength(3.5), strength(-2.0), strength(0.1)
    ('strong', 'clear against', 'none')
    """
    for limit, text in _STRENGTHS:
        if abs(nats) >= limit:
            return text if nats > 0 else f"{text} against"
    return "none"


@dataclass(frozen=True)
class Answer:
    """What a person may be told: a cause, or a pair of causes.

    Attributes
    ----------
    id : of the cause, or ids of the pair
    mechanism : its name among the hypotheses
    log_prior : log of the belief in it before log and readings, up to a constant common to all
    """

    id: str
    mechanism: str
    log_prior: float


@dataclass(frozen=True)
class Split:
    """A case taken apart into the log and its readings, with what the log alone leaves."""

    fits: Fits = field(repr=False)
    readings: Readings = field(repr=False)
    sources: list[str]
    alone: LogAlone = field(repr=False)


def answers_of(posterior: Posterior) -> list[Answer]:
    """Every cause, and every pair considered, with what was believed of it and said of it."""
    answers = {answer_id(some): (h.mechanism, some) for h in posterior.hypotheses for some in h.answers}
    return [Answer(name, mechanism, posterior.beliefs.log_of(some)) for name, (mechanism, some) in answers.items()]


def split(posterior: Posterior) -> Split:
    """Take a case apart into its log and its readings."""
    blocks = posterior.simulator.evidence.blocks
    of_log = np.array([b.group in _LOG_GROUPS for b in blocks], bool)
    modes = [posterior.modes[i][0] for i in range(len(posterior.hypotheses))]
    fits = Fits(
        np.stack([m.z for m in modes]),
        np.stack([m.precision for m in modes]),
        np.array([float(m.by_block[of_log].sum()) for m in modes]) - posterior.noticed,
        posterior.log_evidence,
    )
    rest = [b for b, log in zip(blocks, of_log, strict=True) if not log]
    names, group = sources_of(rest)
    readings = _readings(posterior, rest, group)
    return Split(fits, readings, names, log_alone(fits, readings))


def _readings(posterior: Posterior, blocks: list[Block], group: NDArray[np.intp]) -> Readings:
    predict = predictions(posterior, blocks)
    return Readings(blocks, group, predict.near, predict.far, predict.quick)


@dataclass(frozen=True)
class Predict:
    """Residuals of some blocks of readings for cars given by their numbers.

    Attributes
    ----------
    quick : (blocks,) those that can be predicted of cars that were not driven
    """

    posterior: Posterior = field(repr=False)
    blocks: list[Block]
    quick: NDArray[np.bool_]

    def far(self, z: Array, index: NDArray[np.intp]) -> Array:
        """Of the quick blocks, zero elsewhere. [(m, n)]"""
        simulator, hypotheses = self.posterior.simulator, self.posterior.hypotheses
        cars = standing(simulator, *simulator.parameters(z, hypotheses, index))
        parts = [
            _clean(b.residuals(cars)) if q else np.zeros((b.size, z.shape[1]))
            for b, q in zip(self.blocks, self.quick, strict=True)
        ]
        return np.concatenate(parts) if parts else np.zeros((0, z.shape[1]))

    def near(self, z: Array, index: NDArray[np.intp]) -> Array:
        """Of all blocks; cars are driven through the highest pull where one of them needs it. [(m, n)]"""
        if self.quick.all():
            return self.far(z, index)
        simulator, hypotheses = self.posterior.simulator, self.posterior.hypotheses
        driven = simulator.scout or simulator  # tests ask for no more than the highest pull
        cars = driven.candidates(*simulator.parameters(z, hypotheses, index))
        return np.concatenate([_clean(b.residuals(cars)) for b in self.blocks])


def predictions(posterior: Posterior, blocks: list[Block]) -> Predict:
    """How some blocks are predicted."""
    quick = np.array([_is_quick(posterior.simulator, b) for b in blocks], bool)
    return Predict(posterior, blocks, quick)


def _clean(residuals: Array) -> Array:
    return np.clip(np.nan_to_num(residuals, nan=1e3), -1e4, 1e4)


def standing(simulator: Simulator, sound: Array, actual: Array) -> Candidates:
    """Cars that were not driven: most bench tests ask for no more."""
    nothing = np.zeros((0, 0, actual.shape[1]))
    return Candidates(actual, np.ones(1), nothing, simulator.ambient, sound=sound)


def _is_quick(simulator: Simulator, block: Block) -> bool:
    """The block can be predicted of cars that were not driven."""
    z = np.zeros((simulator.dimensions, 2))
    sound = simulator.prior.sound(z[: simulator.prior.size])
    try:
        return bool(block.residuals(standing(simulator, sound, sound)).shape == (block.size, 2))
    except (IndexError, ValueError, RuntimeError):
        return False


def evidence_shares(posterior: Posterior, case: Split) -> dict[str, list[Reason]]:
    """Reasons for (positive) and against (negative) every answer, strongest first.

    Shapley values of the log odds of each answer against all others together (`coalitions`), for the log,
    each test, and what was said; with how common the answer is they sum to its log odds. The log and the
    target that the sound car must have held stand together.

    Parameters
    ----------
    posterior, case : the result, and the same taken apart
    """
    players = [LOG, *case.sources, *([HISTORY] if posterior.beliefs.said else [])]
    game = coalitions(len(players))
    odds, answers = _log_odds(posterior, case, game.subsets)
    shares = game.shares(odds)
    out = {}
    for k, answer in enumerate(answers):
        found = [(COMMON, odds[0, k]), *zip(players, shares[:, k], strict=True)]
        out[answer.id] = [
            Reason(source, float(nats), strength(float(nats)))
            for source, nats in sorted(found, key=lambda item: -abs(item[1]))
        ]
    return out


def _log_odds(posterior: Posterior, case: Split, subsets: NDArray[np.bool_]) -> tuple[Array, list[Answer]]:
    """(subsets, answers) log odds of every answer against all others had only a subset been gathered."""
    answers = answers_of(posterior)
    told = posterior.beliefs.said
    with_log, heard = subsets[:, 0], subsets[:, -1] if told else np.zeros(len(subsets), bool)
    tests, place = np.unique(subsets[:, 1 : 1 + len(case.sources)], axis=0, return_inverse=True)
    normals, _ = random_numbers(_SEED, "why", 0, POOL, posterior.simulator.dimensions)
    without, with_it = subset_evidence(case.fits, case.readings, case.alone, lambda i: normals, tests)
    place = place.ravel()
    logs = np.where(with_log[:, None], with_it[place], without[place])
    names, by_mechanism = mechanism_logs(
        logs, [h.mechanism for h in posterior.hypotheses], [h.share for h in posterior.hypotheses]
    )
    columns = [names.index(a.mechanism) for a in answers]
    speaks = heard[:, None].astype(float)
    # how common a cause is must not hold what was said of it
    moved = np.array([posterior.beliefs.said_of(a.id) for a in answers])
    before = np.array([a.log_prior for a in answers]) - moved
    known = before + by_mechanism[:, columns] + speaks * moved
    healthy, other = _rest_priors(posterior, answers, by_mechanism[-1, columns])
    sound = by_mechanism[:, names.index("healthy")]
    none = _none_of_these(posterior, case, with_log, tests[place], sound, without, tests)
    rest = [
        healthy - told.get("healthy", 0.0) * (1.0 - speaks[:, 0]) + sound,
        other - told.get("none-of-these", 0.0) * (1.0 - speaks[:, 0]) + none,
    ]
    everything = np.column_stack([known, *rest])
    return _against_rest(everything)[:, : len(answers)], answers


def _rest_priors(posterior: Posterior, answers: list[Answer], evidence: Array) -> tuple[float, float]:
    """Log priors of "healthy" and "none of these" on the scale of the answers'."""
    p = {**posterior.cause_probability, **posterior.pair_probability}
    best = max(range(len(answers)), key=lambda k: p[answers[k].id])
    constant = np.log(p[answers[best].id]) - answers[best].log_prior - evidence[best]
    sound = posterior.mechanism_evidence()["healthy"]
    return (
        float(np.log(max(posterior.healthy, 1e-300)) - sound - constant),
        float(np.log(max(posterior.other, 1e-300)) - posterior.log_other - constant),
    )


def _none_of_these(
    posterior: Posterior,
    case: Split,
    with_log: NDArray[np.bool_],
    chosen: NDArray[np.bool_],
    sound: Array,
    without: Array,
    tests: NDArray[np.bool_],
) -> Array:
    """Log evidence of "none of these" for every subset, (subsets,).

    As in the whole: the log as the known causes explain it on average, each tested part sound, or one of
    them answering anywhere in its test's range.
    """
    blocks = case.readings.blocks
    bench = [any(b.source == s and b.group == "bench" for b in blocks) for s in case.sources]
    single = {int(np.flatnonzero(t)[0]): k for k, t in enumerate(tests) if t.sum() == 1}
    place = {t.tobytes(): k for k, t in enumerate(tests)}
    alone = np.array([float(without[place[row.tobytes()], 0]) for row in chosen])
    out = np.zeros(len(chosen))
    for n, row in enumerate(chosen):
        used = [int(k) for k in np.flatnonzero(row) if bench[k]]
        anywhere = [
            np.log(1.0 / HEALTHY_PART - 1.0)
            + sum(b.flat for b in blocks if b.source == case.sources[k])
            - float(without[single[k], 0])
            for k in used
        ]
        out[n] = alone[n] + len(used) * np.log(HEALTHY_PART) + log_sum_exp(np.array([0.0, *anywhere]), axis=0)
    weight = [0.0 if h.healthy or h.paired else h.share * sum(posterior.priors.get(c.id, 0.0) for c in h.causes)
              for h in posterior.hypotheses]  # fmt: skip
    some = np.array(weight) > 0.0
    share = np.log(np.array(weight)[some] / np.sum(weight))
    out = out + with_log * float(log_sum_exp(case.alone.log_evidence[some] + share, axis=0))
    return np.asarray(out + with_log * (posterior.log_other - out[-1]))


def _against_rest(logs: Array) -> Array:
    """Log odds of every column against the sum of the others."""
    out = np.empty_like(logs)
    for k in range(logs.shape[1]):
        out[:, k] = logs[:, k] - log_sum_exp(np.delete(logs, k, axis=1), axis=1)
    return out
