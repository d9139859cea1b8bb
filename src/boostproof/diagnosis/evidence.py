"""Evidence as the likelihood takes it: blocks of observations with one joint error each.

A block turns predictions of n candidates into whitened residuals (m, n). Its log likelihood is
``constant - rho(|r|^2) / 2``, where rho is the identity up to a size that a right model exceeds
rarely and logarithmic beyond, so that one bad stretch of log cannot outvote everything else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Candidates, Features, Response
from boostproof.observation import Observation

COMPLAINT = "complaint"  # source of the block that says what would be noticed

_LOG_2PI = float(np.log(2.0 * np.pi))


@dataclass(frozen=True)
class Block:
    """Observations with one joint error.

    Attributes
    ----------
    source : what a person calls it ("pull 2", "actuator-sweep")
    residuals : candidates -> (m, n) whitened residuals
    size : m
    constant : log likelihood of a perfect match
    bend : squared size from which on misfit counts logarithmically
    flat : log likelihood under a part that answers anywhere in the test's range
    group : "log", "target" or "bench"
    """

    source: str
    residuals: Callable[[Candidates], Array] = field(repr=False)
    size: int
    constant: float
    bend: float
    flat: float
    group: str

    def log_likelihood(self, residuals: Array) -> Array:
        """Log likelihood of (m, n) residuals. [(n,)]"""
        square = np.einsum("ij,ij->j", residuals, residuals)
        return np.asarray(self.constant - 0.5 * bent(square, self.bend))

    def weight(self, residuals: Array) -> Array:
        """Derivative of rho, the weight of the block in a Gauss-Newton step. [(n,)]"""
        square = np.einsum("ij,ij->j", residuals, residuals)
        return np.asarray(self.bend / np.maximum(square, self.bend))


def bent(square: Array, bend: float) -> Array:
    """``x`` up to ``bend``, then ``bend (1 + log(x / bend))``.

    >>> bent(np.array([4.0, 10.0]), 10.0).tolist()
    [4.0, 10.0]
    """
    over = np.maximum(square / bend, 1.0)
    return np.asarray(np.where(square > bend, bend * (1.0 + np.log(over)), square))


def gaussian_block(
    source: str,
    predict: Callable[[Candidates], Array],
    observed: Array,
    covariance: Array,
    *,
    group: str,
    flat_widths: Array | None = None,
) -> Block:
    """A block with jointly normal errors.

    ``predict`` gives (m, n), ``observed`` (m,), ``covariance`` (m, m) that depends on no candidate.
    """
    factor = np.linalg.cholesky(covariance)
    inverse = np.linalg.inv(factor)
    size = len(observed)
    constant = -float(np.log(np.diag(factor)).sum()) - 0.5 * size * _LOG_2PI
    flat = -float(np.log(flat_widths).sum()) if flat_widths is not None else constant - 0.5 * size

    def residuals(candidates: Candidates) -> Array:
        return np.asarray(inverse @ (np.asarray(predict(candidates)) - observed[:, None]))

    return Block(source, residuals, size, constant, float(max(size, 4)), flat, group)


def word_block(source: str, response: Response, observation: Observation) -> Block:
    """A block of one word or one "none up to": residual is the root of the deviance."""
    best = 1.0 - observation.wrong

    def residuals(candidates: Candidates) -> Array:
        value = response.features(candidates)[observation.feature]
        p = observation.wrong * 0.5 + (1.0 - 1.5 * observation.wrong) * interval_share(value, observation)
        deviance = 2.0 * (np.log(best) - np.log(np.minimum(p, best)))
        return np.asarray(np.sqrt(np.maximum(deviance, 0.0))[None, :])

    return Block(source, residuals, 1, float(np.log(best)), 1e9, float(np.log(0.4)), "bench")


def interval_share(value: Array, observation: Observation) -> Array:
    """Chance that a feature with its spread falls into the observation's interval."""
    from scipy.special import ndtr

    upper = ndtr(np.clip((observation.high - value) / observation.sd, -30.0, 30.0))
    lower = ndtr(np.clip((observation.low - value) / observation.sd, -30.0, 30.0))
    return np.asarray(upper - lower)


class _Once:
    """Features of a response, computed once per set of candidates however many blocks ask."""

    def __init__(self, features: Features) -> None:
        self._features = features
        self._last: tuple[Candidates, Mapping[str, Array]] | None = None

    def __call__(self, candidates: Candidates) -> Mapping[str, Array]:
        if self._last is None or self._last[0] is not candidates:
            self._last = (candidates, self._features(candidates))
        return self._last[1]


def response_blocks(response: Response) -> list[Block]:
    """Blocks of one bench test: its readings jointly, with the gauge's shared error, and its words."""
    response = replace(response, features=_Once(response.features))
    equal = [o for o in response.observations if o.kind == "equal"]
    blocks: list[Block] = []
    if equal:
        names = [o.feature for o in equal]
        observed = np.array([o.value for o in equal])
        shared = np.array([o.shared for o in equal])
        covariance = np.diag([o.sd**2 for o in equal]) + np.outer(shared, shared)
        widths = np.array([response.flat.get(n, 40.0 * o.sd) for n, o in zip(names, equal, strict=True)])

        def predict(candidates: Candidates) -> Array:
            features = response.features(candidates)
            return np.stack([features[name] for name in names])

        blocks.append(
            gaussian_block(response.test, predict, observed, covariance, group="bench", flat_widths=widths)
        )
    blocks += [word_block(response.test, response, o) for o in response.observations if o.kind != "equal"]
    return blocks


@dataclass(frozen=True)
class EvidenceSet:
    """All blocks in canonical order, and the joint residuals and likelihood over them."""

    blocks: tuple[Block, ...]

    @property
    def size(self) -> int:
        """Number of residuals."""
        return sum(b.size for b in self.blocks)

    def residuals(self, candidates: Candidates) -> Array:
        """All residuals, (m, n)."""
        n = candidates.par.shape[1]
        if not self.blocks:
            return np.zeros((0, n))
        return np.concatenate([np.nan_to_num(b.residuals(candidates), nan=1e3) for b in self.blocks])

    def split(self, residuals: Array) -> list[Array]:
        """Residuals by block."""
        ends = np.cumsum([b.size for b in self.blocks])[:-1]
        return list(np.split(residuals, ends)) if self.blocks else []

    def by_block(self, residuals: Array) -> Array:
        """Log likelihood of every block, (blocks, n)."""
        parts = self.split(residuals)
        if not parts:
            return np.zeros((0, residuals.shape[1]))
        return np.stack([b.log_likelihood(r) for b, r in zip(self.blocks, parts, strict=True)])

    def weights(self, residuals: Array) -> Array:
        """Gauss-Newton weight of every residual, (m, n)."""
        parts = self.split(residuals)
        rows = [np.broadcast_to(b.weight(r), r.shape) for b, r in zip(self.blocks, parts, strict=True)]
        return np.concatenate(rows) if rows else np.zeros_like(residuals)

    def only(self, *groups: str) -> NDArray[np.bool_]:
        """Which blocks belong to the groups."""
        return np.array([b.group in groups for b in self.blocks], bool)
