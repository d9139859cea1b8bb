"""Which size holds the target: every size of the trade on the same cars, with the same errors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.physics import layout
from boostproof.physics.gate_inverse import gate_area_for_target, largest_gate_area
from boostproof.physics.system import OUTPUT_INDEX
from boostproof.repair.bands import QUANTILES, curves_with_errors, quantiles
from boostproof.repair.carried import Carried, ErrorsAt
from boostproof.repair.mend import mended
from boostproof.repair.model import Chosen, covered
from boostproof.repair.ramp import Ramp, boost_of, run
from boostproof.repair.subjects import Subjects

_CARS, _DRAWS = 300, 2400
_AREA_CARS = 120
_OPEN = 0.95  # of the travel, from which the gate counts as at its stop
_LEAST_COVERED = 0.01  # probability of the causes that a repair is for, below which all cars are taken


@dataclass(frozen=True)
class Tried:
    """One size.

    Attributes
    ----------
    size : [SI; turns]
    holds : chance that boost nowhere passes the target by more than the tolerance; of what a gate passes, nowhere
        where the gate is at its stop: the rest is the spring's and the controller's doing
    everywhere : the same chance wherever the gate stands
    reaches : chance that boost comes to within the tolerance of the target
    peak : middle of the highest boost [Pa gauge]
    """

    size: float
    holds: float
    everywhere: float
    reaches: float
    peak: float


@dataclass(frozen=True)
class Sizing:
    """The sizes of one repair.

    Attributes
    ----------
    repair : its id
    of_causes : causes that the sizing supposes, above 1 %; empty where all of the posterior are in it
    confidence : wanted
    tried : sizes, rising
    chosen : the size nearest to the least change that holds the target; None where no size does
    next : the size beyond it, safer, None where there is none
    """

    repair: str
    of_causes: tuple[str, ...]
    confidence: float
    tried: tuple[Tried, ...]
    chosen: Tried | None
    next: Tried | None

    def at(self, confidence: float, *, lowers: bool) -> Tried | None:
        """The size that would have been chosen with another confidence; None where no size holds.

        ``lowers`` : larger sizes lower boost
        """
        return _picked(self.repair, self.of_causes, confidence, self.tried, lowers=lowers).chosen

    @property
    def gain(self) -> float | None:
        """What the next size adds to the chance of holding the target."""
        return None if self.chosen is None or self.next is None else self.next.holds - self.chosen.holds


@dataclass(frozen=True)
class AreaNeeded:
    """Effective gate area over engine speed, nine in ten candidates between the outer rows.

    Attributes
    ----------
    speeds : (points,) [rad/s]
    needed : (3, points) low, middle, high [m2]
    there, found : (3,) of the repaired car and of the car as found, gates at full travel [m2]
    """

    speeds: Array = field(repr=False)
    needed: Array = field(repr=False)
    there: Array
    found: Array


def covered_by(cars: Subjects, chosen: Sequence[Chosen]) -> tuple[Subjects, tuple[str, ...]]:
    """The cars whose every fault one of the repairs is for, and those faults; all of them where these are few."""
    covers = covered(chosen)
    inside = np.array([bool(some) and all(cause.id in covers for cause in some) for some in cars.answers], bool)
    rows = inside[cars.answer]
    if float(cars.weight[rows].sum()) < _LEAST_COVERED:
        return cars, ()
    some = cars.only(np.flatnonzero(rows))
    shares: dict[str, float] = {}
    for a in np.unique(some.answer):
        for cause in some.answers[a]:
            shares[cause.id] = shares.get(cause.id, 0.0) + some.probability(int(a))
    named = {i: p for i, p in shares.items() if p >= _LEAST_COVERED}
    return some, tuple(sorted(named, key=lambda i: -named[i]))


def size_for(
    cars: Subjects,
    chosen: Sequence[Chosen],
    sized: int,
    ramp: Ramp,
    errors_at: ErrorsAt,
    controller: str,
    *,
    tolerance: float,
    confidence: float,
    seed: int,
) -> Sizing:
    """Try every size of the trade of one of the repairs, the others done as asked.

    Parameters
    ----------
    cars : of the whole posterior
    chosen : repairs done together
    sized : number of the one whose sizes are tried
    ramp, errors_at, controller, seed : as for the forecast
    tolerance : by which the target may be passed [Pa]
    confidence : wanted, 0 to 1
    """
    size = chosen[sized].repair.size
    assert size is not None
    some, causes = covered_by(cars, chosen)
    some = some.fewer(_CARS)
    tried = []
    for value in size.trade:
        done = [c.at(value) if i == sized else c for i, c in enumerate(chosen)]
        par = mended(some, done, controller, seed=seed)
        outputs = run(par, ramp)
        curves = curves_with_errors(boost_of(outputs), some, errors_at, changed=True, seed=seed, draws=_DRAWS)
        counted = np.where(at_stop(par, outputs)[:, curves.car], curves.boost, 0.0).max(axis=0)
        high = ramp.target + tolerance
        tried.append(Tried(
            value, curves.chance((counted if size.capacity else curves.peak) < high), curves.chance(curves.peak < high),
            curves.chance(curves.peak > ramp.target - tolerance), curves.peak_at(0.5),
        ))  # fmt: skip
    return _picked(chosen[sized].repair.id, causes, confidence, tuple(tried), lowers=size.lowers)


def at_stop(par: Array, outputs: Array) -> NDArray[np.bool_]:
    """Where the gate is open as far as it goes, so that boost is what its area leaves. (slots, n)"""
    most = np.minimum(par[layout.index_of("gate_travel")], par[layout.index_of("free_travel")])
    return np.asarray(outputs[:, OUTPUT_INDEX["travel"]] > _OPEN * most)


def _picked(
    repair: str, causes: tuple[str, ...], confidence: float, tried: tuple[Tried, ...], *, lowers: bool
) -> Sizing:
    """The size after which every safer one holds too: a lucky one between two that fail is none."""
    towards_safe = tried if lowers else tried[::-1]
    chosen = following = None
    for i in reversed(range(len(towards_safe))):
        if towards_safe[i].holds < confidence:
            break
        chosen, following = towards_safe[i], towards_safe[i + 1] if i + 1 < len(towards_safe) else None
    return Sizing(repair, causes, confidence, tried, chosen, following)


def area_needed(
    cars: Subjects, repaired: Array, ramp: Ramp, errors_at: ErrorsAt, *, temperature: float
) -> AreaNeeded:
    """Gate area that the target needs on the repaired car, and what it has at full travel.

    The target is lowered by what the log has shown the model to miss.

    Parameters
    ----------
    cars : as found
    repaired : (parameters, n) the same cars after the repair
    ramp, errors_at : as for the forecast
    temperature : of the air around [K]
    """
    order = np.argsort(-cars.weight, kind="stable")
    places = np.searchsorted(np.cumsum(cars.weight[order]), (np.arange(_AREA_CARS) + 0.5) / _AREA_CARS)
    picked = order[places.clip(0, cars.count - 1)]
    points = np.arange(2, len(ramp.speeds), 3)
    level = np.full(len(ramp.speeds), ramp.target)
    missed = Carried.of(errors_at(level, True)).mean(cars.pulls[:, picked]).mean(axis=1)
    aim = np.maximum(ramp.target - missed, 0.3 * ramp.target)[points]
    found = gate_area_for_target(
        repaired[:, picked], ramp.speeds[points], aim, ambient_pressure=cars.ambient,
        ambient_temperature=temperature,
    )  # fmt: skip
    there, before = (
        quantiles(largest_gate_area(par[:, picked])[None, :], np.ones(len(picked)), QUANTILES)[:, 0]
        for par in (repaired, cars.actual)
    )
    return AreaNeeded(ramp.speeds[points], found.band(QUANTILES).area, there, before)
