"""What the candidates say of a pull that was not driven, given those that were.

Each candidate is moved by what it got wrong in the pulls driven so far, as far as an error of the model reaches over
engine speed, and its chance is weighed by how wrong it was: a normal process for the error, around the physics. Away
from what was measured nothing but the physics is left, so a creep that has not begun is not argued away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.blocks import bent
from boostproof.diagnosis.evidence.pulls import CHANNELS, CURVE_LENGTH, PULL_SHARE, SETUP_SHARE, SPEED_ERROR
from boostproof.pullplan.ensemble import Ensemble
from boostproof.pullplan.terms import LEAST

DISCREPANCY = 1.75  # times the errors that the diagnosis allows for: a plan must not trust the model as far
_DOUBT = {LEAST: 1.5}  # error of a set-up's own, in curve errors of a pull as found (as in the diagnosis)
_LEAST_CARS = 40.0  # effective number of candidates that must go on counting
_EVERY = 3  # rows of the ramp from one band to the next
_NOISE = 1.0e3  # Pa, of the mean over a bin


@dataclass(frozen=True)
class Driven:
    """One pull of the ladder, as it was driven.

    Attributes
    ----------
    set_up : name
    speed : engine speeds at the middle of bins [rad/s], (m,) rising
    boost : means there [Pa gauge], (m,)
    ceiling : highest engine speed reached [rad/s]
    independent : boost was read on a gauge of its own, not by the car's sensor
    counted : the candidates' weights hold it already
    """

    set_up: str
    speed: Array = field(repr=False)
    boost: Array = field(repr=False)
    ceiling: float
    independent: bool = True
    counted: bool = False


@dataclass(frozen=True)
class Outlook:
    """Boost on the whole ramp in one set-up, as the candidates now stand.

    Attributes
    ----------
    speed : [rad/s], (r,)
    level : of each candidate, moved by what it got wrong [Pa gauge], (r, n)
    sd : of what is left of the model's error [Pa], (r,)
    weight : (n,)
    """

    speed: Array = field(repr=False)
    level: Array = field(repr=False)
    sd: Array = field(repr=False)
    weight: Array = field(repr=False)

    def passing(self, limit: float) -> Array:
        """Chance that boost passes a limit anywhere up to each engine speed. [(r,)]"""
        from scipy.special import ndtr

        worst = np.maximum.accumulate((self.level - limit) / self.sd[:, None], axis=0)
        return np.asarray(ndtr(worst) @ self.weight)

    def each_passing(self, limit: float, row: int) -> Array:
        """The same for each candidate, up to one row. [(n,)]"""
        from scipy.special import ndtr

        return np.asarray(ndtr(((self.level - limit) / self.sd[:, None])[: row + 1].max(axis=0)))

    def band(self, shares: Sequence[float]) -> Array:
        """Quantiles of boost at every engine speed, with the model's error. [(shares, r)]"""
        spread = np.array([-1.645, -0.8, 0.0, 0.8, 1.645])
        heavy = np.array([0.08, 0.24, 0.36, 0.24, 0.08])
        weight = (self.weight[:, None] * heavy).ravel()
        out = np.empty((len(shares), len(self.speed)))
        rows = np.unique(np.append(np.arange(0, len(self.speed), _EVERY), len(self.speed) - 1))
        for r in rows:
            value = (self.level[r][:, None] + self.sd[r] * spread).ravel()
            out[:, r] = quantiles(value, weight, shares)
        return np.stack([np.interp(self.speed, self.speed[rows], row[rows]) for row in out])


def quantiles(value: Array, weight: Array, shares: Sequence[float]) -> Array:
    """Values below which shares of the weight lie.

    >>> quantiles(np.array([3.0, 1.0, 2.0]), np.array([0.5, 0.25, 0.25]), [0.2, 0.6]).tolist()
    [1.0, 3.0]
    """
    order = np.argsort(value)
    mass = np.cumsum(weight[order])
    return np.asarray(value[order][np.searchsorted(mass, np.array(shares) * mass[-1]).clip(0, len(value) - 1)])


def quantile(value: Array, weight: Array, share: float) -> float:
    """One such value."""
    return float(quantiles(value, weight, [share])[0])


def refit(ensemble: Ensemble, pulls: Sequence[Driven]) -> Ensemble:
    """The candidates weighed by the pulls driven.

    Where hardly any candidate is like the car the weights are flattened until enough of them count.
    """
    pulls = [p for p in pulls if not p.counted]
    if not pulls:
        return ensemble
    at = _points(ensemble, pulls)
    covariance = _covariance(at, at) + np.diag(np.full(len(at.speed), _NOISE**2))
    residual = np.linalg.solve(np.linalg.cholesky(covariance), _wrong(ensemble, pulls))
    square = bent((residual**2).sum(axis=0), float(max(len(at.speed), 4)))
    log_weight = -0.5 * (square - square.min())
    share = 1.0
    while share > 0.02 and _effective(ensemble.weight * np.exp(share * log_weight)) < _LEAST_CARS:
        share *= 0.8
    return ensemble.weighed(ensemble.weight * np.exp(share * log_weight)).without_lost()


def outlook(ensemble: Ensemble, set_up: str, pulls: Sequence[Driven]) -> Outlook:
    """Boost in a set-up after the pulls driven, of an ensemble that was already weighed by them.

    Parameters
    ----------
    ensemble : candidates with their weights
    set_up : of the pull to come
    pulls : driven, in any set-up
    """
    level = ensemble.boost[set_up]
    mean = level @ ensemble.weight
    ahead = _Points(
        ensemble.speed, mean, np.gradient(mean, ensemble.speed), np.array([set_up] * len(mean)), np.full(len(mean), -1)
    )
    prior = _covariance(ahead, ahead)
    if not pulls:
        return Outlook(ensemble.speed, level, np.sqrt(np.diag(prior)), ensemble.weight)
    at = _points(ensemble, pulls)
    covariance = _covariance(at, at) + np.diag(np.full(len(at.speed), _NOISE**2))
    gain = np.linalg.solve(covariance, _covariance(at, ahead)).T
    left = np.diag(prior) - np.einsum("ij,ji->i", gain, _covariance(at, ahead))
    moved = level + gain @ _wrong(ensemble, pulls)
    return Outlook(ensemble.speed, moved, np.sqrt(np.maximum(left, _NOISE**2)), ensemble.weight)


@dataclass(frozen=True)
class _Points:
    """Places on curves of boost: engine speed, boost, its slope, set-up, number of the pull."""

    speed: Array
    boost: Array
    slope: Array
    set_up: NDArray[np.str_]
    pull: NDArray[np.intp]


def _points(ensemble: Ensemble, pulls: Sequence[Driven]) -> _Points:
    return _Points(
        np.concatenate([p.speed for p in pulls]),
        np.concatenate([p.boost for p in pulls]),
        np.concatenate([np.gradient(p.boost, p.speed) if len(p.speed) > 1 else np.zeros(1) for p in pulls]),
        np.concatenate([[p.set_up] * len(p.speed) for p in pulls]),
        np.concatenate([np.full(len(p.speed), k) for k, p in enumerate(pulls)]),
    )


def _wrong(ensemble: Ensemble, pulls: Sequence[Driven]) -> Array:
    """Measured less computed at every point. [(points, n)]"""
    parts = []
    for pull in pulls:
        curve = (ensemble.boost if pull.independent else ensemble.shown)[pull.set_up]
        parts.append(pull.boost[:, None] - at_speed(ensemble.speed, curve, pull.speed))
    return np.concatenate(parts)


def at_speed(speed: Array, curve: Array, wanted: Array) -> Array:
    """Rows of curves at other engine speeds, ends held. [(wanted, n)]"""
    place = np.interp(wanted, speed, np.arange(len(speed)))
    low = np.clip(np.floor(place).astype(int), 0, len(speed) - 2)
    share = (place - low)[:, None]
    return np.asarray((1.0 - share) * curve[low] + share * curve[low + 1])


def _covariance(a: _Points, b: _Points) -> Array:
    """Of the model's errors, in the diagnosis' own shape and `DISCREPANCY` times as large."""
    error = CHANNELS["boost"]
    kernel = np.exp(-0.5 * ((a.speed[:, None] - b.speed[None, :]) / CURVE_LENGTH) ** 2)
    same = a.set_up[:, None] == b.set_up[None, :]
    same_pull = (a.pull[:, None] == b.pull[None, :]) & (a.pull[:, None] >= 0)
    if a is b:
        same_pull |= np.eye(len(a.speed), dtype=bool)
    doubt = np.outer([_DOUBT.get(s, 0.0) for s in a.set_up], [_DOUBT.get(s, 0.0) for s in b.set_up])
    shape = 1.0 - PULL_SHARE**2 + PULL_SHARE**2 * same_pull - SETUP_SHARE**2 * ~same + doubt * same
    curve = np.outer(*(np.hypot(error.curve_share * np.abs(p.boost), error.curve) for p in (a, b)))
    along = np.outer(a.slope * SPEED_ERROR, b.slope * SPEED_ERROR)
    return np.asarray(DISCREPANCY**2 * (curve * shape * kernel + error.offset**2) + along * kernel)


def _effective(weight: Array) -> float:
    return float(weight.sum() ** 2 / (weight**2).sum())
