"""Level and slope of unevenly sampled series by a polynomial fitted around each sample."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]

ORDER = 2  # of the polynomial; a window needs one sample more


@dataclass(frozen=True)
class LocalPolynomial:
    """Least-squares polynomial through the samples around each: its weights for level and slope there."""

    first: NDArray[np.intp]  # (points,) sample that the first weight is for
    levels: Array  # (points, width)
    slopes: Array

    @classmethod
    def of(cls, time: Array, window: float) -> LocalPolynomial:
        """Of second order, over a window around each sample. ``time`` rising (points,) [s], window [s]

        Where the window holds fewer than three samples, those next to it are taken.

        >>> t = np.array([0.0, 0.1, 0.25, 0.3, 0.5])
        >>> LocalPolynomial.of(t, 0.4).slope(t[:, None] ** 2 + t[:, None]).ravel().round(6).tolist()
        [1.0, 1.2, 1.5, 1.6, 2.0]
        """
        reach = 0.5 * window * (1.0 + 1e-9)
        low = np.searchsorted(time, time - reach)
        high = np.searchsorted(time, time + reach, side="right")
        last = len(time) - ORDER - 1
        few = high - low <= ORDER  # too few: those next to it
        low = np.where(few, np.clip(np.arange(len(time)) - 1, 0, last), low)
        high = np.where(few, low + ORDER + 1, high)
        width = int((high - low).max())
        first = np.minimum(low, len(time) - width)
        weights = np.zeros((2, len(time), width))
        for i in range(len(time)):
            x = time[low[i] : high[i]] - time[i]
            size = np.abs(x).max()
            inside = slice(low[i] - first[i], high[i] - first[i])
            pair = np.linalg.pinv(np.vander(x / size, ORDER + 1, increasing=True))[:2]
            weights[:, i, inside] = pair / np.array([[1.0], [size]])
        return cls(first, weights[0], weights[1])

    def level(self, values: Array) -> Array:
        """(points, n) of (points, n), same unit"""
        return self._summed(self.levels, values)

    def slope(self, values: Array) -> Array:
        """(points, n) of (points, n), unit per second"""
        return self._summed(self.slopes, values)

    def _summed(self, weights: Array, values: Array) -> Array:
        out = np.zeros_like(values)
        for k in range(weights.shape[1]):
            out += weights[:, k, None] * values[self.first + k]
        return out

    def touched(self, where: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """These points, and those whose slope they have a part in. (points, n)"""
        return np.asarray(where | (self._summed((self.slopes != 0.0).astype(float), where.astype(float)) > 0.0))
