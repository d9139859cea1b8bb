"""A case in which all is linear and normal, so that every evidence is known in closed form.

The three "parts of the car" that the log shows and the five that readings show are sums of the unknowns,
other sums under every hypothesis; errors are independent. The evidence of any rows y of it is then the
normal density of y around 0 with covariance ``A A^T + D`` (textbook).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from types import SimpleNamespace

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Candidates
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.evidence.blocks import Block, EvidenceSet
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, hypotheses_for, pair
from boostproof.diagnosis.evidence.simulator import Evaluation

CAUSES = (BY_ID["charge-leak"], BY_ID["spring-weak"], BY_ID["gate-travel-limited"])
LOG_ROWS = 3
SOURCES = ("sweep", "sweep", "travel", "hoses", "shaft")
SD = np.array([0.6, 0.5, 0.7, 0.4, 0.8, 0.5, 0.9, 0.6])


class LinearCase:
    """Stands where the simulator of a car stands."""

    def __init__(
        self, hypotheses: tuple[Hypothesis, ...], y: Array, sharp: float = 1.0, without: str = "", more: Sequence[Block] = ()
    ) -> None:
        self.prior = SimpleNamespace(size=6, sound=lambda z: z)
        self.dimensions = 8
        self.scout = None
        self.ambient = 101325.0
        self.y = y
        self.sd = np.concatenate([SD[:LOG_ROWS], SD[LOG_ROWS:] / sharp])
        rng = np.random.default_rng(8)
        self.a = {h.key: rng.normal(size=(len(y), 8)) * 0.8 for h in hypotheses}
        self.single = {h.parts[0].mechanism: self.a[h.key] for h in hypotheses if h.parts}
        for one, other in combinations(hypotheses, 2):
            if (both := pair(one, other)) is not None:
                self.a[both.key] = 0.5 * (self.a[one.key] + self.a[other.key])
        readings = [b for b in self._readings() if b.source != without]
        self.evidence = EvidenceSet((self._block("pulls", "log", list(range(LOG_ROWS))), *readings, *more))

    def _readings(self) -> list[Block]:
        return [self._block(source, "bench", [LOG_ROWS + k]) for k, source in enumerate(SOURCES)]

    def _block(self, source: str, group: str, rows: list[int]) -> Block:
        sd, y = self.sd[rows][:, None], self.y[rows][:, None]
        constant = -float(np.log(sd).sum()) - 0.5 * len(rows) * float(np.log(2.0 * np.pi))
        flat = -len(rows) * float(np.log(12.0))
        return Block(source, lambda cars: (cars.par[rows] - y) / sd, len(rows), constant, 1e9, flat, group)

    def parameters(
        self, z: Array, hypotheses: list[Hypothesis], index: NDArray[np.intp]
    ) -> tuple[Array, Array]:
        """What the car shows, as its parameters."""
        out = np.zeros((len(self.y), z.shape[1]))
        for i in np.unique(index):
            out[:, index == i] = self.matrix(hypotheses[i]) @ z[:, index == i]
        return out, out

    def matrix(self, h: Hypothesis) -> Array:
        """Sums of a hypothesis; a pair's lie between those of its parts."""
        if h.key not in self.a:
            self.a[h.key] = 0.6 * sum(self.single[p.mechanism] for p in h.parts)
        return self.a[h.key]

    def candidates(self, sound: Array, actual: Array) -> Candidates:
        """Nothing to simulate."""
        return Candidates(actual, np.ones(1), np.zeros((0, 0, actual.shape[1])), sound=sound)

    def evaluate(self, z: Array, hypotheses: list[Hypothesis], index: NDArray[np.intp]) -> Evaluation:
        """As the simulator's."""
        residuals = self.evidence.residuals(self.candidates(*self.parameters(z, hypotheses, index)))
        return Evaluation(residuals, self.evidence.by_block(residuals))

    def exact(self, key: str, rows: list[int]) -> float:
        """Log evidence of some rows under a hypothesis."""
        if not rows:
            return 0.0
        a = self.a[key][rows]
        covariance = a @ a.T + np.diag(self.sd[rows] ** 2)
        _, logdet = np.linalg.slogdet(covariance)
        square = self.y[rows] @ np.linalg.solve(covariance, self.y[rows])
        return float(-0.5 * (square + logdet + len(rows) * np.log(2.0 * np.pi)))


def linear_case(sharp: float = 1.0, without: str = "", more: Sequence[Block] = ()) -> LinearCase:
    """The case, with readings ``sharp`` times as sharp as the log's bins, one source left out, more added."""
    y = np.array([1.2, -0.7, 0.9, 1.5, -1.1, 0.4, -0.8, 1.0])
    return LinearCase(hypotheses_for(CAUSES, "none"), y, sharp, without, more)
