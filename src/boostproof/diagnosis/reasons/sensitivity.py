"""How far the ranking hangs on what had to be assumed: the same evidence under other assumptions.

Evidence ratios depend on how widely a fault's severity is thought to spread (a wide prior is a penalty), on
how common each cause is, and on how much error the model is allowed. Each is changed alone. Draws are
re-weighted where enough of them keep their weight; else the normal approximation around the best fit is
changed in closed form. Nothing is simulated again. How often a fault of another spread would be noticed at
all is left as it was, and "none of these" moves as the known causes do on average.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.blocks import COMPLAINT, Block
from boostproof.diagnosis.evidence.hypotheses import BOTH
from boostproof.diagnosis.evidence.simulator import SEVERITY_ROWS
from boostproof.diagnosis.inference.fit import Mode
from boostproof.diagnosis.inference.importance import effective_size, log_sum_exp
from boostproof.diagnosis.inference.posterior import Posterior
from boostproof.diagnosis.inference.weighing import OTHER_PRIOR, mechanism_evidence
from boostproof.diagnosis.reasons.shares import Answer, Split, answers_of

WIDTHS = (2.0, 0.5)  # times the spread of severities
ERRORS = (0.7, 1.5)  # times the error that the model is allowed
HEALTHY_PRIORS = (0.05, 0.25)
HEALTHY, OTHER = "healthy", "none_of_these"
_ENOUGH = 20.0  # effective size from which draws are re-weighted

_SAID = {
    2.0: "faults from hardly any to far gone, twice as wide a spread",
    0.5: "faults neither slight nor far gone, half as wide a spread",
    0.7: "the simulation trusted more, its error 0.7 times as large",
    1.5: "the simulation trusted less, its error 1.5 times as large",
}


@dataclass(frozen=True)
class Assumption:
    """What leads under another assumption.

    Attributes
    ----------
    what : the assumption in words
    leader : id of a cause or pair, "healthy" or "none_of_these"
    probability : of the leader
    """

    what: str
    leader: str
    probability: float


def sensitivity(posterior: Posterior, case: Split) -> list[Assumption]:
    """The leader under every other assumption.

    Parameters
    ----------
    posterior, case : the result, and the same taken apart
    """
    answers = answers_of(posterior)
    now = _logs(posterior, answers, posterior.log_evidence)
    out = []
    for width in WIDTHS:
        out.append(_moved(posterior, answers, severity_shift(posterior, width), _SAID[width]))
    for factor in ERRORS:
        out.append(_moved(posterior, answers, error_shift(posterior, case, factor), _SAID[factor]))
    flat = dict(now)
    for paired in (False, True):  # pairs together stay as common as they were
        some = [a for a in answers if (BOTH in a.id) == paired]
        mass = log_sum_exp(np.array([a.log_prior for a in some]), axis=0) - np.log(len(some)) if some else 0.0
        flat |= {a.id: now[a.id] + float(mass) - a.log_prior for a in some}
    out.append(_leader("all causes equally common", flat))
    out += [
        _leader(f"{100 * prior:.0f} of 100 cars that come in are sound", _with_healthy(posterior, now, prior))
        for prior in HEALTHY_PRIORS
        if abs(prior - posterior.beliefs.healthy) > 0.01
    ]
    return out


def _moved(posterior: Posterior, answers: Sequence[Answer], shift: Array, what: str) -> Assumption:
    return _leader(what, _logs(posterior, answers, posterior.log_evidence + shift))


def _logs(posterior: Posterior, answers: Sequence[Answer], log_evidence: Array) -> dict[str, float]:
    """Log weight of every answer, "healthy" and "none of these"."""
    before, after = posterior.mechanism_evidence(), mechanism_evidence(posterior.hypotheses, log_evidence)
    out = {a.id: a.log_prior + after[a.mechanism] for a in answers}
    # on one scale with the answers: by what the probabilities now are
    scale = _scale(posterior, answers, before)
    out[HEALTHY] = float(np.log(max(posterior.healthy, 1e-300))) + scale + after["healthy"] - before["healthy"]
    known = log_sum_exp(np.array([a.log_prior + after[a.mechanism] for a in answers]), axis=0) - log_sum_exp(
        np.array([a.log_prior + before[a.mechanism] for a in answers]), axis=0
    )
    out[OTHER] = float(np.log(max(posterior.other, 1e-300))) + scale + float(known)
    return out


def _scale(posterior: Posterior, answers: Sequence[Answer], mechanism: dict[str, float]) -> float:
    known = max(1.0 - posterior.healthy - posterior.other, 1e-300)
    logs = np.array([a.log_prior + mechanism[a.mechanism] for a in answers])
    return float(log_sum_exp(logs, axis=0) - np.log(known))


def _leader(what: str, logs: dict[str, float]) -> Assumption:
    names = list(logs)
    values = np.array([logs[n] for n in names])
    p = np.exp(values - log_sum_exp(values, axis=0))
    best = int(np.argmax(p))
    return Assumption(what, names[best], float(p[best]))


def _with_healthy(posterior: Posterior, now: dict[str, float], prior: float) -> dict[str, float]:
    before = posterior.beliefs.healthy
    rest = float(np.log((1.0 - prior - OTHER_PRIOR) / (1.0 - before - OTHER_PRIOR)))
    moved = {name: value + (0.0 if name == OTHER else rest) for name, value in now.items()}
    moved[HEALTHY] = now[HEALTHY] + float(np.log(prior / before))
    return moved


# -- severities --------------------------------------------------------------------------------------


def severity_shift(posterior: Posterior, width: float) -> Array:
    """Change of every hypothesis' log evidence when severities spread ``width`` times as far. [(hypotheses,)]"""
    out = np.zeros(len(posterior.hypotheses))
    everything = np.ones(len(posterior.simulator.evidence.blocks), bool)
    curvature = 1.0 / width**2 - 1.0
    for i, h in enumerate(posterior.hypotheses):
        rows = list(SEVERITY_ROWS[: len(h.parts)])
        if not rows:
            continue
        draws = posterior.draws.get(i)
        if draws is not None and posterior.sizes.get(i, 0.0) >= _ENOUGH:
            ratio = -0.5 * curvature * (draws.z[rows] ** 2).sum(axis=0) - len(rows) * np.log(width)
            found = _reweighted(draws.log_weights(everything), ratio)
            if found is not None:
                out[i] = found
                continue
        out[i] = _wider(posterior.modes[i][0], rows, curvature) - len(rows) * float(np.log(width))
    return out


def _wider(mode: Mode, rows: list[int], curvature: float) -> float:
    """Closed form for the normal approximation, the width's own factor apart."""
    extra = np.zeros_like(mode.z)
    extra[rows] = curvature
    gradient = extra * mode.z
    precision = mode.precision + np.diag(extra)
    before, after = np.linalg.slogdet(mode.precision)[1], np.linalg.slogdet(precision)[1]
    gain = gradient @ np.linalg.solve(precision, gradient)
    return float(-0.5 * gradient @ mode.z + 0.5 * gain - 0.5 * (after - before))


def _reweighted(log_weights: Array, ratio: Array) -> float | None:
    """Log of the mean ratio under the weights; None where too few draws bear it."""
    moved = log_weights + ratio
    if effective_size(moved) < _ENOUGH:
        return None
    return float(log_sum_exp(moved, axis=0) - log_sum_exp(log_weights, axis=0))


# -- error of the model ------------------------------------------------------------------------------


def error_shift(posterior: Posterior, case: Split, factor: float) -> Array:
    """Change of every hypothesis' log evidence when the model may be ``factor`` times as far off.

    The whole error of the log and of the target is scaled; nearly all of it is the model's.
    """
    blocks = posterior.simulator.evidence.blocks
    scaled = [k for k, b in enumerate(blocks) if b.group in ("log", "target") and b.source != COMPLAINT]
    out = np.zeros(len(posterior.hypotheses))
    everything = np.ones(len(blocks), bool)
    for i in range(len(out)):
        draws = posterior.draws.get(i)
        if draws is not None and posterior.sizes.get(i, 0.0) >= _ENOUGH:
            ratio = _change([blocks[k] for k in scaled], draws.by_block[scaled], factor)
            found = _reweighted(draws.log_weights(everything), ratio)
            if found is not None:
                out[i] = found
                continue
        out[i] = _looser(posterior.modes[i][0], case, i, [blocks[k] for k in scaled], scaled, factor)
    return out


def _change(blocks: Sequence[Block], logs: Array, factor: float) -> Array:
    """Change of the log likelihood of blocks, (blocks, n) to (n,)."""
    out = np.zeros(logs.shape[1])
    for b, log in zip(blocks, logs, strict=True):
        square = squared(b, log) / factor**2
        # residuals that change nothing but their size are their own block's
        out += b.log_likelihood(np.sqrt(square)[None, :]) - b.size * np.log(factor) - log
    return out


def squared(block: Block, log_likelihood: Array) -> Array:
    """Squared size of the residuals that gave a log likelihood.

    >>> b = Block("x", lambda c: np.zeros((1, 1)), 1, 0.0, 4.0, 0.0, "log")
    >>> squared(b, b.log_likelihood(np.array([[1.5, 7.0]]))).round(6).tolist()
    [2.25, 49.0]
    """
    counted = 2.0 * np.maximum(block.constant - log_likelihood, 0.0)
    over = np.minimum(counted / block.bend - 1.0, 600.0)
    return np.asarray(np.where(counted > block.bend, block.bend * np.exp(np.maximum(over, 0.0)), counted))


def _looser(
    mode: Mode, case: Split, hypothesis: int, blocks: Sequence[Block], rows: Sequence[int], factor: float
) -> float:
    """Closed form for the normal approximation: the log's share of precision and slope scaled."""
    logs = mode.by_block[list(rows)]
    change = float(_change(blocks, logs[:, None], factor)[0])
    largest = max(range(len(blocks)), key=lambda k: blocks[k].size)
    square = float(squared(blocks[largest], logs[largest : largest + 1])[0])
    bend = blocks[largest].bend
    share = (bend / max(square / factor**2, bend)) / (bend / max(square, bend)) / factor**2
    alone = case.alone
    weighted = alone.jacobian[hypothesis] * alone.weight[hypothesis][:, None]
    by_readings = alone.jacobian[hypothesis].T @ weighted
    log_precision = mode.precision - by_readings - np.eye(len(mode.z))
    precision = mode.precision + (share - 1.0) * log_precision
    values, vectors = np.linalg.eigh(0.5 * (precision + precision.T))
    values = np.maximum(values, 1.0)
    slope = (1.0 - share) * (mode.z + weighted.T @ alone.residuals[hypothesis])
    move = vectors.T @ slope
    before = np.linalg.slogdet(mode.precision)[1]
    return change + 0.5 * float((move**2 / values).sum()) - 0.5 * float(np.log(values).sum() - before)
