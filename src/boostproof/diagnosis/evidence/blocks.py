"""Evidence as the likelihood takes it: blocks of observations with one joint error each.

A block turns predictions of n candidates into whitened residuals (m, n). Its log likelihood is
``constant - rho(|r|^2) / 2``, where rho is the identity up to a size that a right model exceeds
rarely and logarithmic beyond, so that one bad stretch of log cannot outvote everything else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

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
    group : "log", "target", "car" (told of it, no test) or "bench"
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


def bent(square: Array, bend: Array | float) -> Array:
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


def repeated_word_block(source: str, said: Sequence[tuple[Response, Observation]]) -> Block:
    """A block of one word or one "none up to", said once or several times: residual is the root of the deviance.

    Said again it is for a share the same answer for the same reason, which tells nothing new; for the
    rest the answers are independent. Answers that differ cannot share their reason.
    """
    first = said[0][1]
    same = all((o.low, o.high, o.kind) == (first.low, first.high, first.kind) for _, o in said)
    persists = (first.repeat if same else 0.0) if len(said) > 1 else 0.0

    def joint(p: Sequence[Array]) -> Array:
        return np.asarray(persists * p[0] + (1.0 - persists) * np.prod(np.stack(p), axis=0))

    best = float(joint([np.array([1.0 - o.wrong]) for _, o in said])[0])
    flat = float(joint([np.array([0.4]) for _ in said])[0])

    def residuals(candidates: Candidates) -> Array:
        p = []
        for response, o in said:
            value = response.features(candidates)[o.feature]
            p.append(said_chance(value, o))
        deviance = 2.0 * (np.log(best) - np.log(joint(p)))
        return np.asarray(np.sqrt(np.maximum(deviance, 0.0))[None, :])

    return Block(source, residuals, 1, float(np.log(best)), 1e9, float(np.log(flat)), "bench")


def said_chance(value: Array, observation: Observation) -> Array:
    """Chance that a word, or a "none up to", is said of a feature; now and then it is written down wrongly."""
    wrong = observation.wrong
    return np.minimum(0.5 * wrong + (1.0 - 1.5 * wrong) * interval_share(value, observation), 1.0 - wrong)


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
    """Blocks of one bench test done once: its readings jointly, and its words."""
    return repeated_blocks([response])


def repeated_blocks(responses: Sequence[Response]) -> list[Block]:
    """Blocks of one bench test done once or several times.

    All its readings are taken jointly: those of one gauge share its zero, and of what was read again a
    share of the error has come again. Repeated words count less than independent ones.
    """
    source = responses[0].test
    once = {id(r): replace(r, features=_Once(r.features)) for r in responses}
    said = [(once[id(r)], o) for r in responses for o in r.observations]
    equal = [(r, o) for r, o in said if o.kind == "equal"]
    blocks: list[Block] = []
    if equal:
        widths = np.array([r.flat.get(o.feature, 40.0 * o.sd) for r, o in equal])

        def predict(candidates: Candidates) -> Array:
            return np.stack([r.features(candidates)[o.feature] for r, o in equal])

        observed = np.array([o.value for _, o in equal])
        blocks.append(
            gaussian_block(source, predict, observed, _joint(equal), group="bench", flat_widths=widths)
        )
    words: dict[tuple[str, int], list[tuple[Response, Observation]]] = {}
    for r, o in said:
        if o.kind != "equal":
            # two words on one feature within one reading are two things said, not one said twice
            before = sum(1 for held in words.values() for other, p in held if other is r and p.feature == o.feature)
            words.setdefault((o.feature, before), []).append((r, o))
    return blocks + [repeated_word_block(source, held) for held in words.values()]


def _joint(equal: Sequence[tuple[Response, Observation]]) -> Array:
    """Covariance of readings of one test, done once or several times."""
    sd = np.array([o.sd for _, o in equal])
    zero = np.array([o.shared for _, o in equal])
    same_gauge = np.array([[r.gauge == s.gauge for s, _ in equal] for r, _ in equal], float)
    again = np.array(
        [
            [np.sqrt(o.repeat * p.repeat) * (r is not s and o.feature == p.feature) for s, p in equal]
            for r, o in equal
        ],
        float,
    )
    return np.asarray(np.diag(sd**2) + np.outer(zero, zero) * same_gauge + np.outer(sd, sd) * again)


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
        constants = np.array([b.constant for b in self.blocks])[:, None]
        return np.asarray(constants - 0.5 * bent(self._squares(residuals), self._bends))

    def weights(self, residuals: Array) -> Array:
        """Gauss-Newton weight of every residual, the derivative of rho of its block, (m, n)."""
        of_blocks = self._bends / np.maximum(self._squares(residuals), self._bends)
        return np.repeat(of_blocks, self._sizes, axis=0)

    @cached_property
    def _sizes(self) -> NDArray[np.intp]:
        return np.array([b.size for b in self.blocks], np.intp)

    @cached_property
    def _bends(self) -> Array:
        return np.array([b.bend for b in self.blocks])[:, None]

    def _squares(self, residuals: Array) -> Array:
        """Squared length of every block's residuals, (blocks, n)."""
        if not self.blocks:
            return np.zeros((0, residuals.shape[1]))
        return np.add.reduceat(residuals**2, np.cumsum(self._sizes) - self._sizes, axis=0)

    def only(self, *groups: str) -> NDArray[np.bool_]:
        """Which blocks belong to the groups."""
        return np.array([b.group in groups for b in self.blocks], bool)
