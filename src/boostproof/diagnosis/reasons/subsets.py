"""What would be known had some of the evidence not been gathered: log evidence of every subset of it.

The draws of a posterior stand where all the evidence leaves them. Taking a sharp reading away again
leaves nearly all of the weight on a few of them, so they cannot tell what the rest alone would say.
Instead the log is taken as it looks around the best fit of each hypothesis, where it is nearly normal,
and the readings, which cost next to nothing to predict, are averaged over cars drawn from what the log
leaves, and over cars of the prior where the log is taken away. Where a few of those cars bear all the
weight the readings are taken as linear around the best fit too, which gives the average in closed form.
All of it is exact where everything is linear and normal. What remains between this and the evidence
that was sampled goes with the log, whose curvature it mostly is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.blocks import Block
from boostproof.diagnosis.inference.fit import STEP, with_steps
from boostproof.diagnosis.inference.importance import log_sum_exp

POOL = 128  # cars drawn for each hypothesis, from the prior and from what the log leaves
_ENOUGH = 25.0  # effective size from which the average over them is taken: a fifth of uncertainty

# (dimensions, n) numbers and (n,) hypotheses -> (m, n) residuals of the readings
Predict = Callable[[Array, NDArray[np.intp]], Array]
# what of the readings is predicted around the best fits only, by simulation
Rows = NDArray[np.bool_]


@dataclass(frozen=True)
class Fits:
    """Best fit of every hypothesis to all evidence, with the normal approximation around it.

    Attributes
    ----------
    z : (hypotheses, dimensions)
    precision : (hypotheses, dimensions, dimensions)
    log_likelihood : (hypotheses,) of the log there
    log_evidence : (hypotheses,) of all evidence, as well as it is known
    """

    z: Array = field(repr=False)
    precision: Array = field(repr=False)
    log_likelihood: Array = field(repr=False)
    log_evidence: Array = field(repr=False)


@dataclass(frozen=True)
class Readings:
    """Evidence besides the log.

    Attributes
    ----------
    blocks : in order
    group : (blocks,) number of the source of each
    near : residuals of all blocks, however long it takes
    far : residuals of the blocks that are quickly predicted, zero elsewhere
    quick : (blocks,) which those are
    """

    blocks: Sequence[Block]
    group: NDArray[np.intp]
    near: Predict
    far: Predict
    quick: NDArray[np.bool_]

    @property
    def rows(self) -> NDArray[np.intp]:
        """Number of the block of every residual."""
        return np.repeat(np.arange(len(self.blocks)), [b.size for b in self.blocks])

    @property
    def sources(self) -> int:
        """How many there are."""
        return int(self.group.max()) + 1 if len(self.group) else 0


@dataclass(frozen=True)
class LogAlone:
    """What the log leaves of every hypothesis, as a normal distribution.

    Attributes
    ----------
    mean : (hypotheses, dimensions)
    factor : (hypotheses, dimensions, dimensions), a root of the covariance
    log_evidence : (hypotheses,)
    precision : (hypotheses, dimensions, dimensions)
    residuals, jacobian : of the readings at the best fits, (hypotheses, m) and (hypotheses, m, dimensions)
    weight : (hypotheses, m) of the residuals there
    """

    mean: Array = field(repr=False)
    factor: Array = field(repr=False)
    log_evidence: Array = field(repr=False)
    precision: Array = field(repr=False)
    residuals: Array = field(repr=False)
    jacobian: Array = field(repr=False)
    weight: Array = field(repr=False)


def log_alone(fits: Fits, readings: Readings) -> LogAlone:
    """Take the readings away from the fits to everything."""
    count, d = fits.z.shape
    found = readings.near(with_steps(fits.z.T), np.repeat(np.arange(count), d + 1))
    r = found.T.reshape(count, d + 1, -1)
    residuals = r[:, 0]
    jacobian = (r[:, 1:] - r[:, :1]).transpose(0, 2, 1) / STEP
    weight = np.ones_like(residuals)
    for k, block in enumerate(readings.blocks):
        own = readings.rows == k
        weight[:, own] = block.weight(residuals[:, own].T)[:, None]
    weighted = jacobian * weight[:, :, None]
    precision = fits.precision - jacobian.transpose(0, 2, 1) @ weighted
    values, vectors = np.linalg.eigh(0.5 * (precision + precision.transpose(0, 2, 1)))
    values = np.maximum(values, 1.0)  # the prior's own
    factor = vectors / np.sqrt(values)[:, None, :]
    gradient = np.einsum("hmd,hm->hd", weighted, residuals)
    move = np.einsum("hij,hkj,hk->hi", factor, factor, gradient)
    precision = (vectors * values[:, None, :]) @ vectors.transpose(0, 2, 1)
    square = np.einsum("hi,hij,hj->h", move, precision, move)
    evidence = (
        fits.log_likelihood - 0.5 * (fits.z**2).sum(axis=1) + 0.5 * square - 0.5 * np.log(values).sum(axis=1)
    )
    return LogAlone(fits.z + move, factor, evidence, precision, residuals, jacobian, weight)


def subset_evidence(
    fits: Fits, readings: Readings, alone: LogAlone, normals: Callable[[int], Array], subsets: NDArray[np.bool_]
) -> tuple[Array, Array]:
    """Log evidence of every subset of the readings, without the log and with it.

    Parameters
    ----------
    fits, readings : the case
    alone : what the log leaves
    normals : (dimensions, POOL) standard normal numbers of a hypothesis
    subsets : (subsets, sources), the whole among them

    Returns
    -------
    (subsets, hypotheses) without and with the log. The latter agrees with the evidence of the fits where
    the subset is whole.
    """
    count = len(fits.z)
    if not readings.blocks:
        return np.zeros((len(subsets), count)), np.tile(fits.log_evidence, (len(subsets), 1))
    drawn = np.stack([normals(i) for i in range(count)])
    after_log = alone.mean[:, :, None] + alone.factor @ drawn
    means = np.zeros_like(fits.z)
    root = np.broadcast_to(np.eye(fits.z.shape[1]), alone.factor.shape)
    without = _over(fits, readings, alone, drawn, means, root, subsets)
    added = _over(fits, readings, alone, after_log, alone.mean, alone.factor, subsets)
    with_log = alone.log_evidence + added
    whole = int(np.flatnonzero(subsets.all(axis=1))[0])
    return without, with_log + (fits.log_evidence - with_log[whole])


def _over(
    fits: Fits, readings: Readings, alone: LogAlone, z: Array, mean: Array, factor: Array, subsets: NDArray[np.bool_]
) -> Array:
    """Log mean likelihood of every subset of readings over cars (hypotheses, dimensions, n)."""
    by_source = _by_source(fits, readings, alone, z)
    out = np.empty((len(subsets), len(z)))
    thin = np.zeros_like(out, bool)
    chosen = subsets.astype(float)
    for i in range(len(z)):
        logs = chosen @ by_source[i]
        top = logs.max(axis=1, keepdims=True)
        w = np.exp(logs - top)
        total = w.sum(axis=1)
        out[:, i] = np.log(total / w.shape[1]) + top[:, 0]
        thin[:, i] = total**2 < _ENOUGH * (w**2).sum(axis=1)
    if thin.any():
        where = np.nonzero(thin)
        out[where] = _linear(fits, readings, alone, mean, factor, subsets[where[0]], where[1])
    return out


def _by_source(fits: Fits, readings: Readings, alone: LogAlone, z: Array) -> Array:
    """(hypotheses, sources, n) log likelihoods."""
    count, d, n = z.shape
    flat = z.transpose(1, 0, 2).reshape(d, count * n)
    residuals = readings.far(flat, np.repeat(np.arange(count), n)).reshape(-1, count, n)
    slow = ~readings.quick[readings.rows]
    if slow.any():
        moved = alone.jacobian[:, slow] @ (z - fits.z[:, :, None]) + alone.residuals[:, slow, None]
        residuals[slow] = moved.transpose(1, 0, 2)
    out = np.zeros((count, readings.sources, n))
    for k, block in enumerate(readings.blocks):
        own = residuals[readings.rows == k].reshape(block.size, count * n)
        out[:, readings.group[k]] += block.log_likelihood(own).reshape(count, n)
    return out


def _linear(
    fits: Fits,
    readings: Readings,
    alone: LogAlone,
    mean: Array,
    factor: Array,
    subsets: NDArray[np.bool_],
    hypotheses: NDArray[np.intp],
) -> Array:
    """The same in closed form, readings linear around the best fits. [(cases,)]"""
    root = np.sqrt(alone.weight)
    j = alone.jacobian * root[:, :, None]
    at_mean = root * alone.residuals + np.einsum("hmd,hd->hm", j, mean - fits.z)
    moved = j @ factor
    covariance = moved @ moved.transpose(0, 2, 1)
    perfect = np.zeros((len(fits.z), readings.sources))
    for k, block in enumerate(readings.blocks):
        own = readings.rows == k
        r = alone.residuals[:, own].T
        weighted = block.weight(r) * (r**2).sum(axis=0)
        perfect[:, readings.group[k]] += block.log_likelihood(r) + 0.5 * weighted
    out = np.empty(len(hypotheses))
    for part in np.array_split(np.arange(len(hypotheses)), max(1, len(hypotheses) // 4096)):
        h = hypotheses[part]
        on = subsets[part][:, readings.group[readings.rows]].astype(float)
        matrix = covariance[h] * on[:, :, None] * on[:, None, :] + np.eye(on.shape[1])
        r = at_mean[h] * on
        lower = np.linalg.cholesky(matrix)
        logdet = 2.0 * np.log(np.einsum("kii->ki", lower)).sum(axis=1)
        square = np.einsum("ki,ki->k", r, np.linalg.solve(matrix, r[:, :, None])[:, :, 0])
        out[part] = (perfect[h] * subsets[part]).sum(axis=1) - 0.5 * square - 0.5 * logdet
    return out


def sources_of(blocks: Sequence[Block]) -> tuple[list[str], NDArray[np.intp]]:
    """Sources of blocks in order, and the number of each block's."""
    names = list(dict.fromkeys(b.source for b in blocks))
    return names, np.array([names.index(b.source) for b in blocks], int)


def mechanism_logs(logs: Array, mechanisms: Sequence[str], shares: Sequence[float]) -> tuple[list[str], Array]:
    """Log evidence of mechanisms from that of their variants, (subsets, hypotheses) to (subsets, mechanisms)."""
    names = list(dict.fromkeys(mechanisms))
    out = np.empty((len(logs), len(names)))
    share = np.log(np.asarray(shares))
    for k, name in enumerate(names):
        own = [i for i, m in enumerate(mechanisms) if m == name]
        out[:, k] = log_sum_exp(logs[:, own] + share[own], axis=1)
    return names, out
