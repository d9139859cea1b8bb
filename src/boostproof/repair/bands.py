"""Boost over engine speed as bands: by answer, and together only where the answers agree."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.repair.carried import Carried, ErrorsAt
from boostproof.repair.subjects import Subjects

LEAST_SHOWN = 0.10  # probability from which an answer has a band of its own
QUANTILES = (0.05, 0.50, 0.95)
_DRAWS = 6400  # curves with their errors that a band is read from, about


@dataclass(frozen=True)
class Curves:
    """Boost curves with the model's errors in them.

    Attributes
    ----------
    boost : (slots, n) at the manifold [Pa gauge]
    car : (n,) which of the cars each curve is of
    answer : (n,) index into the cars' answers
    weight : (n,) adding to 1
    """

    boost: Array = field(repr=False)
    car: NDArray[np.intp] = field(repr=False)
    answer: NDArray[np.intp] = field(repr=False)
    weight: Array = field(repr=False)

    @cached_property
    def peak(self) -> Array:
        """Highest boost of each curve, (n,) [Pa gauge]."""
        return np.asarray(self.boost.max(axis=0))

    def peak_at(self, share: float) -> float:
        """Boost that the peaks of a share of the curves stay below. [Pa gauge]"""
        return float(quantiles(self.peak[None, :], self.weight, (share,))[0, 0])

    def chance(self, holds: NDArray[np.bool_], chosen: NDArray[np.bool_] | None = None) -> float:
        """Share of the weight, within the chosen curves, in which something holds."""
        w = self.weight if chosen is None else self.weight * chosen
        return float(w @ holds / max(float(w.sum()), 1e-300))


@dataclass(frozen=True)
class Band:
    """Nine in ten curves lie between low and high at each engine speed. (slots,) [Pa gauge]"""

    low: Array = field(repr=False)
    middle: Array = field(repr=False)
    high: Array = field(repr=False)

    def apart(self, other: Band, least: float) -> NDArray[np.bool_]:
        """Where the two do not meet, above a level of boost."""
        some = np.maximum(self.high, other.high) > least
        return np.asarray(some & ((self.low > other.high) | (other.low > self.high)))


def curves_with_errors(
    boost: Array, cars: Subjects, errors_at: ErrorsAt, *, changed: bool, seed: int, draws: int = _DRAWS
) -> Curves:
    """Simulated curves with what the model cannot know, kept as the log has shown it.

    Parameters
    ----------
    boost : (slots, n) as simulated, true boost [Pa gauge]
    cars : the candidates
    errors_at : joint errors of log and pull to come for expected levels
    changed : something on the car will be other than in the log
    seed : of the draws; the same numbers go to the same car whatever was done to it
    draws : curves in all, about
    """
    repeats = max(1, round(draws / cars.count))
    slots = len(boost)
    rng = np.random.default_rng([seed, 402])
    out = np.empty((slots, cars.count, repeats))
    normals = rng.standard_normal((slots, cars.count, repeats))
    for answer in np.unique(cars.answer):
        mine = np.flatnonzero(cars.answer == answer)
        level = np.median(boost[:, mine], axis=1)
        carried = Carried.of(errors_at(np.maximum(level, 0.0), changed))
        mean = carried.mean(cars.pulls[:, mine])
        noise = np.einsum("ij,jnr->inr", carried.factor, normals[:, mine])
        out[:, mine] = (boost[:, mine] + mean)[:, :, None] + noise
    car = np.repeat(np.arange(cars.count), repeats)
    weight = np.repeat(cars.weight / repeats, repeats)
    return Curves(out.reshape(slots, -1), car, cars.answer[car], weight)


def band_of(curves: Curves, chosen: NDArray[np.bool_] | None = None) -> Band:
    """Weighted quantiles at each engine speed, of the chosen curves (all where None)."""
    picked = slice(None) if chosen is None else np.flatnonzero(chosen)
    low, middle, high = quantiles(curves.boost[:, picked], curves.weight[picked], QUANTILES)
    return Band(low, middle, high)


def quantiles(values: Array, weight: Array, at: tuple[float, ...]) -> Array:
    """Weighted quantiles along the last axis, at the middles of the weights. (len(at), rows)

    >>> quantiles(np.array([[3.0, 1.0, 2.0]]), np.array([1.0, 1.0, 1.0]), (0.5,)).tolist()
    [[2.0]]
    """
    order = np.argsort(values, axis=1)
    rising = np.take_along_axis(values, order, axis=1)
    share = weight[order]
    middle = (np.cumsum(share, axis=1) - 0.5 * share) / share.sum(axis=1, keepdims=True)
    return np.array([[np.interp(q, m, v) for m, v in zip(middle, rising, strict=True)] for q in at])
