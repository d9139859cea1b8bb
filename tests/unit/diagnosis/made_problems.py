"""Small problems whose answers are known: residuals are any function of the numbers z.

They stand where the simulator of a car stands.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.blocks import Block, EvidenceSet
from boostproof.diagnosis.evidence.hypotheses import HEALTHY, Hypothesis
from boostproof.diagnosis.evidence.simulator import Evaluation
from boostproof.diagnosis.inference.fit import Mode, find_modes

LOG_2PI = float(np.log(2.0 * np.pi))
ONE = [HEALTHY]

Residuals = Callable[[Array, Hypothesis], Array]  # z (d, n) -> (m, n), whitened


class Made:
    """A case of given residuals.

    Attributes
    ----------
    dimensions : of z
    evidence : blocks of standard normal residuals, in order
    asked : number of points of every evaluation so far
    """

    scout = None

    def __init__(self, dimensions: int, sizes: Mapping[str, int], residuals: Residuals, group: str = "log") -> None:
        self.dimensions = dimensions
        self._residuals = residuals
        self.evidence = EvidenceSet(tuple(_block(name, size, group) for name, size in sizes.items()))
        self.asked: list[int] = []

    def evaluate(self, z: Array, hypotheses: Sequence[Hypothesis], index: NDArray[np.intp]) -> Evaluation:
        """As the simulator's."""
        self.asked.append(z.shape[1])
        out = np.empty((self.evidence.size, z.shape[1]))
        for i in np.unique(index):
            out[:, index == i] = self._residuals(z[:, index == i], hypotheses[i])
        return Evaluation(out, self.evidence.by_block(out))

    @property
    def everything(self) -> NDArray[np.bool_]:
        """All blocks count."""
        return np.ones(len(self.evidence.blocks), bool)

    def log_posterior(self, z: Array) -> Array:
        """Log of prior times likelihood of a sound car, without `asked`. [(n,)]"""
        r = self._residuals(z, HEALTHY)
        return np.asarray(
            -0.5 * (z**2).sum(axis=0) - 0.5 * len(z) * LOG_2PI - 0.5 * (r**2).sum(axis=0) - 0.5 * len(r) * LOG_2PI
        )

    def fitted(self, start: Array, rounds: int = 40) -> Mode:
        """The mode that is reached from a start."""
        return find_modes(self, ONE, [Mode(0, np.array(start, float), self.everything)], rounds)[0]  # type: ignore[arg-type]


def _block(name: str, size: int, group: str) -> Block:
    def by_hand(candidates: object) -> Array:
        raise AssertionError("residuals are made elsewhere")

    return Block(name, by_hand, size, -0.5 * size * LOG_2PI, 1e9, -4.0 * size, group)


class Linear:
    """``A z - y`` with standard normal z and errors, in blocks: all is known in closed form (textbook)."""

    def __init__(self, seed: int, dimensions: int, sizes: Mapping[str, int], sd: Mapping[str, float]) -> None:
        rng = np.random.default_rng(seed)
        m = sum(sizes.values())
        errors = np.repeat([sd[name] for name in sizes], list(sizes.values()))
        self.rows = np.repeat(np.arange(len(sizes)), list(sizes.values()))
        self.a = rng.normal(size=(m, dimensions)) / errors[:, None]
        self.y = self.a @ (0.7 * rng.normal(size=dimensions)) + rng.normal(size=m)
        self.case = Made(dimensions, sizes, lambda z, h: self.a @ z - self.y[:, None])

    def part(self, mask: NDArray[np.bool_] | None = None) -> tuple[Array, Array]:
        """Matrix and data of the blocks that count."""
        rows = np.ones(len(self.y), bool) if mask is None else mask[self.rows]
        return self.a[rows], self.y[rows]

    def precision(self, mask: NDArray[np.bool_] | None = None) -> Array:
        """Of the posterior."""
        a, _ = self.part(mask)
        return np.asarray(np.eye(a.shape[1]) + a.T @ a)

    def mean(self, mask: NDArray[np.bool_] | None = None) -> Array:
        """Of the posterior."""
        a, y = self.part(mask)
        return np.asarray(np.linalg.solve(self.precision(mask), a.T @ y))

    def log_evidence(self, mask: NDArray[np.bool_] | None = None) -> float:
        """Normal density of the data, of whitened residuals."""
        a, y = self.part(mask)
        covariance = np.eye(len(y)) + a @ a.T
        return float(-0.5 * (y @ np.linalg.solve(covariance, y) + np.linalg.slogdet(covariance)[1] + len(y) * LOG_2PI))


def grid_integral(case: Made, low: float, high: float, points: int = 1601) -> tuple[float, Array, Array]:
    """Log evidence, mean and covariance of a 2-d posterior, by the trapezium rule on a grid."""
    axis = np.linspace(low, high, points)
    x, y = np.meshgrid(axis, axis, indexing="ij")
    z = np.stack([x.ravel(), y.ravel()])
    log_p = case.log_posterior(z)
    top = log_p.max()
    w = np.exp(log_p - top)
    total = w.sum() * (axis[1] - axis[0]) ** 2
    mean = (z * w).sum(axis=1) / w.sum()
    off = z - mean[:, None]
    return float(top + np.log(total)), mean, np.asarray((off * w) @ off.T / w.sum())
