"""Why: which evidence speaks for a cause, how strongly, how bad it is, and what looks like it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.importance import log_sum_exp
from boostproof.diagnosis.posterior import Posterior, hypothesis_probability
from boostproof.physics import layout

LOG = "log"  # the recordings, with what the car must do when sound
COMMON = "how common it is"

_STRENGTHS = ((3.0, "strong"), (1.6, "clear"), (0.69, "slight"))  # factors of 20, 5 and 2


@dataclass(frozen=True)
class Reason:
    """Share of one source of evidence in a cause's log odds against all others."""

    source: str
    nats: float
    strength: str


@dataclass(frozen=True)
class Severity:
    """How far a parameter has moved: posterior mean and sd, and the sound value. SI"""

    parameter: str
    value: float
    sd: float
    unit: str
    sound: float


def strength(nats: float) -> str:
    """A log odds share in words.

    >>> strength(3.5), strength(-2.0), strength(0.1)
    ('strong', 'clear against', 'none')
    """
    for limit, text in _STRENGTHS:
        if abs(nats) >= limit:
            return text if nats > 0 else f"{text} against"
    return "none"


def block_means(posterior: Posterior) -> dict[int, Array]:
    """Posterior mean log likelihood of every block, by hypothesis."""
    everything = np.ones(len(posterior.simulator.evidence.blocks), bool)
    out = {}
    for i in range(len(posterior.hypotheses)):
        draws = posterior.draws.get(i)
        if draws is None:
            out[i] = posterior.modes[i][0].by_block
            continue
        w = draws.log_weights(everything)
        w = np.exp(w - log_sum_exp(w, axis=0))
        out[i] = np.asarray(draws.by_block @ w)
    return out


def reasons(posterior: Posterior, cause_id: str, means: dict[int, Array]) -> list[Reason]:
    """Reasons for (positive) and against (negative) one cause, strongest first.

    The difference of the posterior mean log likelihood of each source between the cause and all other
    hypotheses by their probability. The log, the target that the sound car must have held, and how far
    the unknowns must be bent to fit both cannot be told apart and stand together under "log".
    """
    p = hypothesis_probability(posterior)
    own = np.array([any(c.id == cause_id for c in h.causes) for h in posterior.hypotheses])
    matrix = np.stack([means[i] for i in range(len(posterior.hypotheses))])
    mine = _average(matrix[own], p[own])
    rest = _average(matrix[~own], p[~own])
    by_source: dict[str, float] = {}
    for block, difference in zip(posterior.simulator.evidence.blocks, mine - rest, strict=True):
        source = LOG if block.group != "bench" else block.source
        by_source[source] = by_source.get(source, 0.0) + float(difference)
    probability = min(max(posterior.cause_probability[cause_id], 1e-12), 1.0 - 1e-12)
    prior = posterior.priors[cause_id]
    odds = float(np.log(probability / (1.0 - probability)))
    before = float(np.log(prior / (1.0 - prior)))
    by_source[COMMON] = before
    told = sum(v for k, v in by_source.items() if k != COMMON)
    by_source[LOG] = by_source.get(LOG, 0.0) + odds - before - told
    return [
        Reason(source, nats, strength(nats))
        for source, nats in sorted(by_source.items(), key=lambda item: -abs(item[1]))
    ]


def _average(rows: Array, weights: Array) -> Array:
    total = weights.sum()
    return np.asarray(rows.mean(axis=0) if total <= 0 else weights @ rows / total)


def severity(posterior: Posterior, cause_id: str) -> Severity | None:
    """How far the cause's own parameter has moved on this car; None where it was not sampled."""
    own = [i for i, h in enumerate(posterior.hypotheses) if any(c.id == cause_id for c in h.causes)]
    sampled = [i for i in own if i in posterior.draws]
    if not sampled:
        return None
    p = hypothesis_probability(posterior)
    best = max(sampled, key=lambda i: p[i])
    draws = posterior.draws[best]
    w = draws.log_weights(np.ones(len(draws.by_block), bool))
    w = np.exp(w - log_sum_exp(w, axis=0))
    keep = np.argsort(-w)[:400]
    weight = w[keep] / w[keep].sum()
    sound, actual = posterior.simulator.parameters(
        draws.z[:, keep], posterior.hypotheses, np.full(len(keep), best)
    )
    row = layout.index_of(_moved_parameter(cause_id, best, posterior))
    mean = float(weight @ actual[row])
    sd = float(np.sqrt(max(weight @ (actual[row] - mean) ** 2, 0.0)))
    return Severity(layout.NAMES[row], mean, sd, layout.PARAMETERS[row].unit, float(weight @ sound[row]))


def _moved_parameter(cause_id: str, hypothesis: int, posterior: Posterior) -> str:
    named = BY_ID[cause_id].severity_of
    changed = [c.parameter for c in posterior.hypotheses[hypothesis].changes]
    return named if named in changed else changed[0]


def look_alikes(posterior: Posterior) -> list[tuple[tuple[str, ...], float]]:
    """Groups of causes that the evidence leaves together: (ids, joint probability).

    Causes of one mechanism are exact ties. Different mechanisms count as look-alikes where each has a
    fifth of the leader's probability and together they hold at least a tenth.
    """
    p = posterior.cause_probability
    out: list[tuple[tuple[str, ...], float]] = []
    for h in posterior.hypotheses:
        ids = tuple(c.id for c in h.causes)
        mass = sum(p[i] for i in ids)
        if len(ids) > 1 and mass > 0.03 and (ids, mass) not in out:
            out.append((ids, mass))
    leader = max(p.values())
    close = tuple(i for i, value in sorted(p.items(), key=lambda item: -item[1]) if value >= 0.2 * leader)
    mass = sum(p[i] for i in close)
    if 2 <= len(close) <= 8 and mass > 0.1 and all(set(close) != set(ids) for ids, _ in out):
        out.append((close, mass))
    return sorted(out, key=lambda item: -item[1])
