"""A ranking at once after one more reading, or with one taken away, until the full answer is there.

Cars that were drawn and weighed already are weighed by the change alone. Where too few of them keep their
weight, or none was drawn, the normal approximation around the best fit is changed in closed form. Nothing
is searched again, so that a reading which moves the car itself shows its whole effect only in the full answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Response
from boostproof.diagnosis.evidence.blocks import Block, repeated_blocks
from boostproof.diagnosis.inference.fit import STEP, with_steps
from boostproof.diagnosis.inference.importance import effective_size, log_sum_exp
from boostproof.diagnosis.inference.none_of_these import HEALTHY_PART
from boostproof.diagnosis.inference.posterior import Posterior, hypothesis_probability
from boostproof.diagnosis.inference.weighing import involved, weigh
from boostproof.diagnosis.reasons.shares import Predict, predictions
from boostproof.diagnosis.reasons.trust import MATTERS, Trust, trust_of

_MOST = 256  # draws of a hypothesis that are weighed, the heaviest
_ENOUGH = 12.0  # effective size from which they are taken
_KEPT = 0.8  # share of the effective size that must outlast a reading taken away
_ROUNDS = 5


@dataclass(frozen=True)
class Provisional:
    """A ranking by re-weighting.

    Attributes
    ----------
    probability : of every cause and pair, by id
    involved : of every cause, alone or paired
    healthy, none_of_these : probabilities
    sizes : effective sample size by hypothesis index, of those that were re-weighted
    trust : how the numbers may be said
    """

    probability: dict[str, float]
    involved: dict[str, float]
    healthy: float
    none_of_these: float
    sizes: dict[int, float] = field(repr=False)
    trust: Trust


def provisional(
    posterior: Posterior, added: Sequence[Response] = (), removed: Sequence[str] = ()
) -> Provisional:
    """Re-weigh a finished result.

    Parameters
    ----------
    posterior : the finished result
    added : readings of tests that were not among the evidence, or all readings of one that was and is then named in
        ``removed`` as well
    removed : sources of evidence to leave out

    Returns
    -------
    Provisional

    Raises
    ------
    ValueError
        If a source to leave out is not among the readings.
    """
    blocks = posterior.simulator.evidence.blocks
    unknown = set(removed) - {b.source for b in blocks if b.group not in ("log", "target")}
    if unknown:
        raise ValueError(f"not among the readings: {', '.join(sorted(unknown))}")
    tests = dict.fromkeys(r.test for r in added)
    more = [b for test in tests for b in repeated_blocks([r for r in added if r.test == test])]
    less = [k for k, b in enumerate(blocks) if b.source in removed]
    shift, sizes = _shifts(posterior, more, less)
    gone = [blocks[k] for k in less]
    other = _other_shift(shift[0], more, gone)
    return _ranked(posterior, shift, other, sizes)


def _shifts(posterior: Posterior, more: list[Block], less: list[int]) -> tuple[Array, dict[int, float]]:
    """Change of every hypothesis' log evidence, and what is left of the sizes."""
    shift = np.zeros(len(posterior.hypotheses))
    sizes: dict[int, float] = {}
    predict = predictions(posterior, more)
    everything = np.ones(len(posterior.simulator.evidence.blocks), bool)
    chosen = {i: _heaviest(d.log_weights(everything)) for i, d in sorted(posterior.draws.items())}
    z = [posterior.draws[i].z[:, keep] for i, keep in chosen.items()]
    index = np.repeat(list(chosen), [len(keep) for keep in chosen.values()]).astype(np.intp)
    told = _log_likelihood(more, predict.near(np.concatenate(z, axis=1), index)) if z else np.zeros(0)
    at = 0
    for i, keep in chosen.items():
        draws = posterior.draws[i]
        change = told[at : at + len(keep)] - draws.by_block[less][:, keep].sum(axis=0)
        at += len(keep)
        before = draws.log_weights(everything)[keep]
        size = effective_size(before + change)
        # draws stand closer than what is left without a reading: where many lose weight, the rest is not among them
        if size >= _ENOUGH and (not less or size > _KEPT * effective_size(before)):
            sizes[i] = size
            shift[i] = log_sum_exp(before + change, axis=0) - log_sum_exp(before, axis=0)
    rest = [i for i in range(len(shift)) if i not in sizes]
    if rest:
        shift[rest] = _linear(posterior, rest, more, less, predict)
    return shift, sizes


def _heaviest(log_weights: Array) -> NDArray[np.intp]:
    return np.argsort(-log_weights, kind="stable")[:_MOST]


def _log_likelihood(blocks: Sequence[Block], residuals: Array) -> Array:
    out = np.zeros(residuals.shape[1])
    at = 0
    for b in blocks:
        out += b.log_likelihood(residuals[at : at + b.size])
        at += b.size
    return out


def _linear(posterior: Posterior, rest: list[int], more: list[Block], less: list[int], predict: Predict) -> Array:
    """The change around the best fits, readings linear there."""
    gone = [posterior.simulator.evidence.blocks[k] for k in less]
    blocks = [*more, *gone]
    sign = np.array([1.0] * len(more) + [-1.0] * len(gone))
    both = predictions(posterior, blocks) if gone else predict
    modes = [posterior.modes[i][0] for i in rest]
    steps = posterior.simulator.dimensions + 1
    found = both.near(with_steps(np.stack([m.z for m in modes], axis=1)), np.repeat(rest, steps).astype(np.intp))
    out = np.zeros(len(modes))
    for k, mode in enumerate(modes):
        at_mode = found[:, k * steps : (k + 1) * steps]
        out[k] = _one(mode.precision, blocks, sign, at_mode) if gone else _added(mode.precision, blocks, at_mode)
    return out


def _added(precision: Array, blocks: Sequence[Block], r: Array) -> float:
    """As `_one` where readings come in and none goes, solved in the few dimensions of the readings."""
    rows = np.repeat(np.arange(len(blocks)), [b.size for b in blocks])
    residuals, jacobian = r[:, 0], (r[:, 1:] - r[:, :1]) / STEP
    reach = jacobian @ np.linalg.solve(precision, jacobian.T)
    weight = np.ones(len(rows))
    best = -np.inf
    for _ in range(_ROUNDS):
        inner = np.eye(len(rows)) + weight[:, None] * reach
        pull = np.linalg.solve(inner, weight * residuals)
        moved = residuals - reach @ pull
        told = sum(float(b.log_likelihood(moved[rows == k, None])[0]) for k, b in enumerate(blocks))
        best = max(best, told - 0.5 * float(pull @ reach @ pull) - 0.5 * float(np.linalg.slogdet(inner)[1]))
        weight = _weights(blocks, moved)[rows]
    return best


def _one(precision: Array, blocks: Sequence[Block], sign: Array, r: Array) -> float:
    """Normal approximation around the point to which the change moves the best fit."""
    rows = np.repeat(np.arange(len(blocks)), [b.size for b in blocks])
    residuals, jacobian = r[:, 0], (r[:, 1:] - r[:, :1]) / STEP
    # a reading far off at the old fit counts little there; first it must pull with its full weight
    weight = np.where(sign[rows] > 0.0, 1.0, _weights(blocks, residuals)[rows])
    best = -np.inf
    for _ in range(_ROUNDS):
        weighted = jacobian * (sign[rows] * weight)[:, None]
        values, vectors = np.linalg.eigh(precision + jacobian.T @ weighted)
        values = np.maximum(values, 1.0)  # the prior's own
        move = -vectors @ ((vectors.T @ (weighted.T @ residuals)) / values)
        moved = residuals + jacobian @ move
        told = sum(
            s * float(b.log_likelihood(moved[rows == k, None])[0])
            for k, (b, s) in enumerate(zip(blocks, sign, strict=True))
        )
        logdet = float(np.log(values).sum() - np.linalg.slogdet(precision)[1])
        best = max(best, told - 0.5 * float(move @ precision @ move) - 0.5 * logdet)
        weight = _weights(blocks, moved)[rows]
    return best


def _weights(blocks: Sequence[Block], residuals: Array) -> Array:
    at = np.cumsum([0] + [b.size for b in blocks])
    return np.array([float(b.weight(residuals[at[k] : at[k + 1], None])[0]) for k, b in enumerate(blocks)])


def _other_shift(sound: float, more: Sequence[Block], gone: Sequence[Block]) -> float:
    """Change of "none of these": the part answers as a sound one, or anywhere in the test's range."""
    flat = float(np.log(1.0 - HEALTHY_PART)) + sum(b.flat for b in more)
    as_sound = float(np.log(HEALTHY_PART))
    out = float(np.logaddexp(as_sound + sound, flat)) if more else 0.0
    for source in {b.source for b in gone}:
        flat = float(np.log(1.0 - HEALTHY_PART)) + sum(b.flat for b in gone if b.source == source)
        out -= float(np.logaddexp(as_sound - (0.0 if more else sound), flat))
    return out


def _ranked(posterior: Posterior, shift: Array, other: float, sizes: dict[int, float]) -> Provisional:
    w = weigh(
        posterior.hypotheses, posterior.log_evidence + shift, posterior.log_other + other, posterior.beliefs
    )
    now = hypothesis_probability(posterior) * np.exp(np.clip(shift - shift.max(), -700.0, 0.0))
    now /= max(float(now.sum()), 1e-300)
    least = min((sizes.get(i, 0.0) for i in range(len(now)) if now[i] > MATTERS), default=0.0)
    return Provisional(
        {**w.singles, **w.pairs}, involved(w.singles, w.pairs), w.healthy, w.other, sizes, trust_of(least)
    )
