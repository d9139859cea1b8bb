"""From evidences to probabilities: what is believed before, and what each answer then holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.causes import compatible
from boostproof.diagnosis.causes.model import Cause
from boostproof.diagnosis.evidence.hypotheses import BOTH, Hypothesis, answer_id
from boostproof.diagnosis.inference.importance import log_sum_exp

HEALTHY_PRIOR = 0.05
OTHER_PRIOR = 0.05
PAIRS_PRIOR = 0.05  # share of what healthy and other leave; two faults also take up what the model cannot do
FLOOR = 0.005


@dataclass(frozen=True)
class Beliefs:
    """Probabilities before the evidence of this car.

    Attributes
    ----------
    healthy, other : nothing wrong, none of these
    singles : by cause id
    pairs : by answer id ("a + b"), of all pairs that a car can have
    said : log of how much likelier what was said is under an answer than on average, by cause or pair id, and
        under "healthy" and "none-of-these"; empty where nothing was said
    """

    healthy: float
    other: float
    singles: Mapping[str, float]
    pairs: Mapping[str, float]
    said: Mapping[str, float] = field(default_factory=dict)

    def log_of(self, answer: Sequence[Cause]) -> float:
        """Log of the belief in an answer, with what was said; minus infinity for a pair that no car has."""
        name = answer_id(answer)
        prior = self.singles.get(name, self.pairs.get(name, 0.0))
        return float(np.log(prior) + self.said_of(name)) if prior > 0.0 else -np.inf

    def said_of(self, answer: str) -> float:
        """What was said of an answer; of a pair that was not told of, what was said of the likelier part."""
        return self.said.get(answer, max(self.said.get(part, 0.0) for part in answer.split(BOTH)))


def beliefs_for(
    causes: tuple[Cause, ...],
    healthy_prior: float = HEALTHY_PRIOR,
    said: Mapping[str, float] | None = None,
    *,
    pairs: bool = True,
) -> Beliefs:
    """Base rates with a floor, together what healthy and other leave, a share of it to pairs by product."""
    rates = np.array([c.base_rate for c in causes])
    mass = 1.0 - healthy_prior - OTHER_PRIOR
    p = np.maximum(rates / rates.sum(), FLOOR)
    p /= p.sum()
    of = {c.id: float(x) for c, x in zip(causes, p, strict=True)}
    together = _pairs(causes) if pairs else ()
    both = {answer_id(pair): of[pair[0].id] * of[pair[1].id] for pair in together}
    paired = PAIRS_PRIOR * mass if both else 0.0
    total = sum(both.values())
    return Beliefs(
        healthy_prior,
        OTHER_PRIOR,
        {name: x * (mass - paired) for name, x in of.items()},
        {name: x / total * paired for name, x in both.items()},
        dict(said or {}),
    )


def _pairs(causes: tuple[Cause, ...]) -> tuple[tuple[Cause, Cause], ...]:
    ordered = sorted(causes, key=lambda c: c.number)
    return tuple((a, b) for a, b in combinations(ordered, 2) if compatible(a, b))


@dataclass(frozen=True)
class Weighed:
    """Probabilities of all answers; they sum to 1."""

    healthy: float
    other: float
    singles: dict[str, float]
    pairs: dict[str, float]


def involved(singles: Mapping[str, float], pairs: Mapping[str, float]) -> dict[str, float]:
    """Chance that a part is at fault, alone or paired, by cause id."""
    out = dict(singles)
    for name, p in pairs.items():
        for part in name.split(BOTH):
            out[part] = out.get(part, 0.0) + p
    return out


def mechanism_evidence(hypotheses: Sequence[Hypothesis], log_evidence: Array) -> dict[str, float]:
    """Log evidence of every mechanism, its variants weighed by their shares."""
    parts: dict[str, list[float]] = {}
    for h, value in zip(hypotheses, log_evidence, strict=True):
        parts.setdefault(h.mechanism, []).append(float(value) + float(np.log(h.share)))
    return {name: float(log_sum_exp(np.array(v), axis=0)) for name, v in parts.items()}


def weigh(hypotheses: Sequence[Hypothesis], log_evidence: Array, log_other: float, beliefs: Beliefs) -> Weighed:
    """Probabilities of every answer.

    Pairs that were not looked at leave what was believed of them to the faults that were, in proportion, so that
    a sound car and "none of these" are weighed against all that can be wrong.

    Parameters
    ----------
    hypotheses : all that were looked at
    log_evidence : of each
    log_other : of "none of these"
    beliefs : before
    """
    of_mechanism = mechanism_evidence(hypotheses, log_evidence)
    logs = {
        "healthy": np.log(beliefs.healthy) + of_mechanism["healthy"] + beliefs.said.get("healthy", 0.0),
        "none-of-these": np.log(beliefs.other) + log_other + beliefs.said.get("none-of-these", 0.0),
    }
    mechanism = {answer_id(answer): h.mechanism for h in hypotheses for answer in h.answers}
    single = {answer_id(answer) for h in hypotheses if not h.paired for answer in h.answers}
    answers = {answer_id(answer): answer for h in hypotheses for answer in h.answers}
    before = {**beliefs.singles, **beliefs.pairs}
    shares: dict[str, float] = {}
    for h in hypotheses:
        shares[h.mechanism] = shares.get(h.mechanism, 0.0) + h.share
    looked_at = sum(before[name] * shares[mechanism[name]] for name in answers)
    left = float(np.log(sum(before.values()) / looked_at))
    for name, answer in answers.items():
        logs[name] = beliefs.log_of(answer) + left + of_mechanism[mechanism[name]]
    values = np.array(list(logs.values()))
    p = dict(zip(logs, np.exp(values - log_sum_exp(values, axis=0)).tolist(), strict=True))
    healthy, other = p.pop("healthy"), p.pop("none-of-these")
    return Weighed(
        healthy,
        other,
        {name: x for name, x in p.items() if name in single},
        {name: x for name, x in p.items() if name not in single},
    )


def hypothesis_shares(hypotheses: Sequence[Hypothesis], log_evidence: Array, weighed: Weighed) -> Array:
    """Probability of every hypothesis (mechanism and variant), healthy first. [(hypotheses,)]"""
    of_mechanism = mechanism_evidence(hypotheses, log_evidence)
    out = np.empty(len(hypotheses))
    answers = weighed.singles | weighed.pairs
    for i, h in enumerate(hypotheses):
        mass = weighed.healthy if h.healthy else sum(answers[answer_id(a)] for a in h.answers)
        out[i] = mass * np.exp(log_evidence[i] + np.log(h.share) - of_mechanism[h.mechanism])
    return out
