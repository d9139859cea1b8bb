"""Doubt as draws: every source of error has a name, and whatever shares a source shares its draws.

Each quantity is an array of ``1 + trials`` numbers. The first is the value with no error at all, the others
are the value under drawn errors (JCGM 101, propagation of distributions). Because the errors of one source
are the same draws wherever it acts, a gauge's zero cancels in a difference by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from boostproof.quantity import Quantity

Array = NDArray[np.float64]

TRIALS = 8000


@dataclass
class Chance:
    """Draws by the name of their source.

    Attributes
    ----------
    seed : the same seed gives the same draws, whatever else is drawn
    trials : number of draws
    """

    seed: int = 1
    trials: int = TRIALS
    _kept: dict[str, Array] = field(default_factory=dict, repr=False)

    def normal(self, source: str) -> Array:
        """Standard normal errors of a source, exactly centred and scaled; the first is 0. [(1 + trials,)]"""
        if source not in self._kept:
            z = self._generator(source).standard_normal(self.trials)
            z = (z - z.mean()) / z.std()
            self._kept[source] = np.concatenate(([0.0], z))
        return self._kept[source]

    def flat(self, source: str, low: float, high: float) -> Array:
        """A value that may lie anywhere between two limits; the first is their middle. [(1 + trials,)]"""
        key = f"flat {source}"
        if key not in self._kept:
            shares = (self._generator(key).permutation(self.trials) + 0.5) / self.trials
            self._kept[key] = np.concatenate(([0.5], shares))
        return np.asarray(low + (high - low) * self._kept[key])

    def of(self, quantity: Quantity, source: str) -> Array:
        """A quantity with its own doubt, as written or as usual for its key. [(1 + trials,), SI]"""
        if quantity.form == "range":
            share = self.flat(source, 0.0, 1.0)
            return np.asarray(quantity.ppf(np.clip(share, 1e-6, 1.0 - 1e-6)))
        return np.asarray(quantity.value + quantity.sd * self.normal(source))

    def among(self, values: Array) -> Array:
        """Values of drawn sound cars, the same cars for every call; the first is their median."""
        order = self._generator("cars").integers(0, len(values), self.trials)
        return np.concatenate(([float(np.median(values))], values[order]))

    def _generator(self, source: str) -> np.random.Generator:
        return np.random.default_rng([self.seed, crc32(source.encode())])


def weighted_mean(several: list[Array]) -> Array:
    """The mean of estimates of one thing, weighted by their covariance (least variance, no weight negative).

    Parameters
    ----------
    several : one or more, each (1 + trials,)

    Notes
    -----
    Generalised least squares of a constant: weights ``C^-1 1 / (1' C^-1 1)``. Errors that the estimates share
    stay in the mean.

    >>> chance = Chance()
    >>> first, second = (10.0 + chance.normal("a"), 13.0 + 2.0 * chance.normal("b"))
    >>> round(float(weighted_mean([first, second])[0]), 1)
    10.6
    """
    if len(several) == 1:
        return several[0]
    draws = np.stack(several)
    covariance = np.cov(draws[:, 1:])
    covariance[np.diag_indices(len(several))] *= 1.0 + 1e-9
    weights = np.linalg.lstsq(covariance, np.ones(len(several)), rcond=None)[0]
    weights = np.maximum(weights, 0.0)
    if weights.sum() <= 0.0:
        weights = 1.0 / np.diag(covariance)
    return np.asarray(weights / weights.sum() @ draws)
