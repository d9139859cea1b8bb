"""How bad it is, and what looks like it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.evidence.hypotheses import BOTH, Hypothesis, answer_id
from boostproof.diagnosis.inference.importance import log_sum_exp
from boostproof.diagnosis.inference.posterior import Posterior, hypothesis_probability
from boostproof.physics import layout

_HEAVIEST = 400  # draws that are looked at


@dataclass(frozen=True)
class Severity:
    """How far a parameter has moved: posterior mean and sd, and the sound value. SI"""

    parameter: str
    value: float
    sd: float
    unit: str
    sound: float


def probabilities(posterior: Posterior) -> dict[str, float]:
    """Of every cause alone, and of every pair considered, by id."""
    return {**posterior.cause_probability, **posterior.pair_probability}


def involved(posterior: Posterior) -> dict[str, float]:
    """Chance that a cause is at fault, alone or paired, most likely first."""
    return dict(sorted(posterior.involved.items(), key=lambda item: -item[1]))


def hypotheses_of(posterior: Posterior, answer: str) -> list[int]:
    """Indices of the hypotheses that simulate an answer."""
    return [i for i, h in enumerate(posterior.hypotheses) if answer in names_of(h)]


def names_of(hypothesis: Hypothesis) -> list[str]:
    """Ids of the answers that a hypothesis simulates."""
    return [answer_id(some) for some in hypothesis.answers]


def severity(posterior: Posterior, answer: str) -> tuple[Severity, ...]:
    """How far the own parameter of every part of an answer has moved on this car; empty where it was not sampled."""
    sampled = [i for i in hypotheses_of(posterior, answer) if i in posterior.draws]
    if not sampled:
        return ()
    p = hypothesis_probability(posterior)
    best = max(sampled, key=lambda i: p[i])
    draws = posterior.draws[best]
    w = draws.log_weights(np.ones(len(draws.by_block), bool))
    w = np.exp(w - log_sum_exp(w, axis=0))
    keep = np.argsort(-w)[:_HEAVIEST]
    weight = w[keep] / w[keep].sum()
    sound, actual = posterior.simulator.parameters(
        draws.z[:, keep], posterior.hypotheses, np.full(len(keep), best)
    )
    out = []
    for cause_id in answer.split(BOTH):
        row = layout.index_of(_moved_parameter(cause_id, posterior.hypotheses[best]))
        mean = float(weight @ actual[row])
        sd = float(np.sqrt(max(weight @ (actual[row] - mean) ** 2, 0.0)))
        unit = layout.PARAMETERS[row].unit
        out.append(Severity(layout.NAMES[row], mean, sd, unit, float(weight @ sound[row])))
    return tuple(out)


def _moved_parameter(cause_id: str, hypothesis: Hypothesis) -> str:
    named = BY_ID[cause_id].severity_of
    part = next(p for p in hypothesis.parts if any(c.id == cause_id for c in p.causes))
    changed = [c.parameter for c in part.changes]
    return named if named in changed else changed[0]


def look_alikes(posterior: Posterior) -> list[tuple[tuple[str, ...], float]]:
    """Groups of answers that the evidence leaves together: (ids, joint probability).

    Answers of one mechanism are exact ties. Different mechanisms count as look-alikes where each has a
    fifth of the leader's probability and together they hold at least a tenth.
    """
    p = probabilities(posterior)
    out: list[tuple[tuple[str, ...], float]] = []
    for h in posterior.hypotheses:
        ids = tuple(i for i in names_of(h) if i in p)
        mass = sum(p[i] for i in ids)
        if len(ids) > 1 and mass > 0.03 and (ids, mass) not in out:
            out.append((ids, mass))
    leader = max(p.values())
    close = tuple(i for i, value in sorted(p.items(), key=lambda item: -item[1]) if value >= 0.2 * leader)
    mass = sum(p[i] for i in close)
    if 2 <= len(close) <= 8 and mass > 0.1 and all(set(close) != set(ids) for ids, _ in out):
        out.append((close, mass))
    return sorted(out, key=lambda item: -item[1])
