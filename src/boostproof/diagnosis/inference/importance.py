"""Importance sampling around the modes: evidence of each hypothesis, with its effective sample size."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.inference.fit import Mode

WIDEN = 0.12  # extra standard deviation of the proposal where the data have narrowed the prior
HEAVY = 0.15  # share of draws from a proposal twice as wide there
_APART = 3.0  # standard deviations of the prior between fits that count as two modes
_LOG_2PI = float(np.log(2.0 * np.pi))


@dataclass
class Proposal:
    """Mixture of normals around the modes of one hypothesis."""

    means: list[Array]
    factors: list[Array]  # z = mean + factor @ normal
    inverses: list[Array]
    log_dets: list[float]
    shares: Array

    def draw(self, normals: Array, uniforms: Array) -> Array:
        """Draws (d, n) from standard normal (d, n) and uniform (n,) numbers."""
        component = np.searchsorted(np.cumsum(self.shares), uniforms * self.shares.sum() * (1 - 1e-12))
        out = np.empty_like(normals)
        for k, (mean, factor) in enumerate(zip(self.means, self.factors, strict=True)):
            chosen = component == k
            if chosen.any():
                out[:, chosen] = mean[:, None] + factor @ normals[:, chosen]
        return out

    def log_density(self, z: Array) -> Array:
        """Log density of the mixture at (d, n)."""
        d = z.shape[0]
        parts = []
        for mean, inverse, log_det, share in zip(
            self.means, self.inverses, self.log_dets, self.shares, strict=True
        ):
            w = inverse @ (z - mean[:, None])
            square = np.einsum("ij,ij->j", w, w)
            parts.append(np.log(share) - 0.5 * square - log_det - 0.5 * d * _LOG_2PI)
        return np.asarray(log_sum_exp(np.stack(parts), axis=0))


def proposal_from(modes: list[Mode]) -> Proposal:
    """The proposal around the modes of one hypothesis, each with a narrow and a wide component."""
    evidence = np.array([m.log_evidence for m in modes])
    share = np.exp(evidence - evidence.max()) + 0.02
    share /= share.sum()
    means, factors, inverses, log_dets, shares = [], [], [], [], []
    for mode, s in zip(modes, share, strict=True):
        values, vectors = np.linalg.eigh(mode.precision)
        sd = 1.0 / np.sqrt(np.maximum(values, 1.0))
        for part, widen in ((1.0 - HEAVY, WIDEN), (HEAVY, 1.0)):
            wide = sd * (1.0 + widen * (1.0 - sd))
            means.append(mode.z)
            # symmetric: axes that spread alike are arbitrary, and the draws must not hang on which were found
            factors.append((vectors * wide) @ vectors.T)
            inverses.append((vectors / wide) @ vectors.T)
            log_dets.append(float(np.log(wide).sum()))
            shares.append(s * part)
    return Proposal(means, factors, inverses, log_dets, np.array(shares))


@dataclass
class Draws:
    """Weighted candidates of one hypothesis.

    Attributes
    ----------
    z : (d, n)
    by_block : (blocks, n) log likelihoods
    log_base : (n,) log of prior over proposal density
    """

    z: Array = field(repr=False)
    by_block: Array = field(repr=False)
    log_base: Array = field(repr=False)

    def log_weights(self, mask: NDArray[np.bool_]) -> Array:
        """Log of the importance weights for the blocks in ``mask``."""
        return np.asarray(self.log_base + self.by_block[mask].sum(axis=0))

    def log_evidence(self, mask: NDArray[np.bool_]) -> float:
        """Log of the mean weight."""
        w = self.log_weights(mask)
        return float(log_sum_exp(w, axis=0) - np.log(len(w)))

    def effective_size(self, mask: NDArray[np.bool_]) -> float:
        """``(sum w)^2 / sum w^2``."""
        return effective_size(self.log_weights(mask))

    def joined(self, other: Draws) -> Draws:
        """Both together."""
        return Draws(
            np.concatenate([self.z, other.z], axis=1),
            np.concatenate([self.by_block, other.by_block], axis=1),
            np.concatenate([self.log_base, other.log_base]),
        )


def laplace(modes: list[Mode]) -> float:
    """Log evidence by the normal approximation: distinct modes add, the same one counts once."""
    return float(log_sum_exp(np.array([m.log_evidence for m in distinct(modes)]), axis=0))


def distinct(modes: list[Mode]) -> list[Mode]:
    """Modes that are not the same place, best first."""
    kept: list[Mode] = []
    for mode in sorted(modes, key=lambda m: -m.log_evidence):
        if all(np.linalg.norm(mode.z - other.z) > _APART for other in kept):
            kept.append(mode)
    return kept


def effective_size(log_weights: Array) -> float:
    """``(sum w)^2 / sum w^2`` of weights given by their logarithms.

    >>> effective_size(np.log(np.array([2.0, 2.0, 2.0])))
    3.0
    """
    w = np.exp(log_weights - log_weights.max())
    return float(w.sum() ** 2 / (w**2).sum())


def resampled(log_weights: Array, count: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """Which candidates stand for all, systematically drawn: the fewest repeats for a given count. [(count,)]"""
    w = np.exp(log_weights - log_weights.max())
    places = (rng.random() + np.arange(count)) / count
    return np.searchsorted(np.cumsum(w / w.sum()), places).clip(0, len(w) - 1)


def log_prior(z: Array) -> Array:
    """Standard normal log density of (d, n)."""
    return np.asarray(-0.5 * (z**2).sum(axis=0) - 0.5 * z.shape[0] * _LOG_2PI)


def log_sum_exp(x: Array, axis: int) -> Array:
    """Stable log of a sum of exponentials."""
    top = x.max(axis=axis, keepdims=True)
    top = np.where(np.isfinite(top), top, 0.0)
    return np.asarray(np.squeeze(top, axis) + np.log(np.exp(x - top).sum(axis=axis)))
