"""From candidates and repairs to the curve after the repair, with margins, sizes, costs and what else could be done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench import set_ups
from boostproof.bench.response import Array
from boostproof.findings import Finding
from boostproof.repair.bands import (
    LEAST_SHOWN,
    QUANTILES,
    Band,
    Curves,
    band_of,
    curves_with_errors,
    quantiles,
)
from boostproof.repair.beside import Instead, instead
from boostproof.repair.carried import ErrorsAt
from boostproof.repair.limits import Margin, Stand, Told, margins
from boostproof.repair.mend import mended
from boostproof.repair.model import Chosen, covered
from boostproof.repair.money import Costs, FirstTest, Rates, costs_of
from boostproof.repair.ramp import Ramp, boost_of, run
from boostproof.repair.setting import Known, Setting, setting_for
from boostproof.repair.sizing import AreaNeeded, Sizing, area_needed, size_for
from boostproof.repair.subjects import Subjects

TOLERANCE = 7.0e3  # Pa by which the target may be passed, some 1 psi (common practice, no source)
CONFIDENCE = 0.95
_BOOSTED = 0.5  # of the target, from which on bands are held against each other
_AIR_CHANGED = 5.0e3  # Pa of peak boost, from which the mixture is to be looked at again
_LITTLE = 0.05  # probability of "none of these" from which it is said


@dataclass(frozen=True)
class Problem:
    """All that a forecast needs of a case.

    Attributes
    ----------
    cars : candidates
    ramp : to be driven
    errors_at : joint errors of log and pull to come
    controller : kind of boost controller
    told : limits
    none_of_these : probability that no cause of the list fits
    temperature : of the air around [K]
    first : best test still open, None where there is none
    """

    cars: Subjects
    ramp: Ramp
    errors_at: ErrorsAt = field(repr=False)
    controller: str
    told: Told
    none_of_these: float = 0.0
    temperature: float = 295.0
    first: FirstTest | None = None


@dataclass(frozen=True)
class Asked:
    """What is wanted of the repair.

    Attributes
    ----------
    repairs : done together
    tolerance : by which the target may be passed [Pa]
    confidence : with which it is to hold
    rates : of the shop
    settings : two settings of the controller that were driven; none to leave that out
    """

    repairs: tuple[Chosen, ...]
    tolerance: float = TOLERANCE
    confidence: float = CONFIDENCE
    rates: Rates = field(default_factory=Rates)
    settings: tuple[Known, ...] = ()


@dataclass(frozen=True)
class AfterCause:
    """The repaired car, were this the cause.

    Attributes
    ----------
    id : of a cause, of a pair, or "healthy"
    probability : among the known causes
    holds : chance that boost nowhere passes the target by more than the tolerance
    cured : chance that it holds and reaches the target, and that the repairs are for this cause; 0 where not
    band : nine in ten curves
    """

    id: str
    probability: float
    holds: float
    cured: float
    band: Band = field(repr=False)


@dataclass(frozen=True)
class Forecast:
    """What the car will do after the repairs.

    Attributes
    ----------
    ramp : on which
    found : band as the car stands, on the same ramp
    after : band over all answers; None where leading answers give bands that do not meet
    by_cause : every answer above 10 %, most probable first
    apart : ids of two answers whose bands do not meet; empty where all do
    holds, reaches : chances over all known causes, of not passing and of coming to the target
    margins : to each limit that is known
    sizing : of the first repair that has sizes, None where none has
    area : gate area needed and there
    setting : of the controller, where two settings were told
    beside : what can be done without parts
    costs : minutes and money
    fuelling : the mixture is to be looked at again
    findings : what is to be read beside the numbers
    cars : the same cars repaired, (parameters, n)
    """

    ramp: Ramp
    found: Band
    after: Band | None
    by_cause: tuple[AfterCause, ...]
    apart: tuple[str, ...]
    holds: float
    reaches: float
    margins: tuple[Margin, ...]
    sizing: Sizing | None
    area: AreaNeeded
    setting: Setting | None
    beside: tuple[Instead, ...]
    costs: Costs
    fuelling: bool
    findings: tuple[Finding, ...]
    cars: Array = field(repr=False)


def forecast(problem: Problem, asked: Asked, *, seed: int = 1, sizing: Sizing | None = None) -> Forecast:
    """Repair the candidates, drive them up to redline, and say what comes of it.

    Parameters
    ----------
    problem : the case
    asked : repairs and what is wanted of them
    seed : of all that is drawn
    sizing : of the same repairs, where it was found already (`sizing_of`)
    """
    cars, ramp = problem.cars, problem.ramp
    par = mended(cars, asked.repairs, problem.controller, seed=seed)
    outputs_now, outputs_then = run(cars.actual, ramp), run(par, ramp)
    now = curves_with_errors(boost_of(outputs_now), cars, problem.errors_at, changed=False, seed=seed)
    then = curves_with_errors(boost_of(outputs_then), cars, problem.errors_at, changed=True, seed=seed)
    cured = _cured(cars, then, asked, ramp.target)
    by_cause = after_causes(cars, then, asked, ramp.target)
    apart = futures_apart(by_cause, ramp.target)
    sizing = sizing or sizing_of(problem, asked, seed=seed)
    risen = float(np.median(then.peak)) - float(np.median(now.peak))
    fuelling = any(c.repair.fuelling for c in asked.repairs) or risen > _AIR_CHANGED
    known = 1.0 - problem.none_of_these
    ids = [tuple(c.id for c in some) for some in cars.answers]
    return Forecast(
        ramp=ramp,
        found=band_of(now),
        after=None if apart else band_of(then),
        by_cause=by_cause,
        apart=apart,
        holds=then.chance(then.peak < ramp.target + asked.tolerance),
        reaches=then.chance(then.peak > ramp.target - asked.tolerance),
        margins=margins(
            cars, problem.told, Stand(cars.actual, outputs_now, now), Stand(par, outputs_then, then)
        ),
        sizing=sizing,
        area=area_needed(cars, par, ramp, problem.errors_at, temperature=problem.temperature),
        setting=_setting(problem, asked, par, seed),
        beside=instead(now, ramp.speeds, ramp.target, asked.tolerance, asked.confidence, problem.told),
        costs=costs_of(
            asked.repairs, asked.rates, {i: known * cars.probability(a) for a, i in enumerate(ids)},
            {i: cured[a] for a, i in enumerate(ids)}, problem.none_of_these, problem.first,
        ),
        fuelling=fuelling,
        findings=tuple(_findings(problem, asked, by_cause, apart, sizing)),
        cars=par,
    )  # fmt: skip


def sized_of(repairs: Sequence[Chosen]) -> int | None:
    """Number of the first of the repairs that has sizes; None where none has."""
    return next((i for i, c in enumerate(repairs) if c.repair.size is not None), None)


def sizing_of(problem: Problem, asked: Asked, *, seed: int = 1) -> Sizing | None:
    """The sizes of the first repair that has some, whatever size was asked for; None where none has.

    Parameters
    ----------
    problem, asked, seed : as of `forecast`
    """
    sized = sized_of(asked.repairs)
    if sized is None:
        return None
    return size_for(
        problem.cars, asked.repairs, sized, problem.ramp, problem.errors_at, problem.controller,
        tolerance=asked.tolerance, confidence=asked.confidence, seed=seed,
    )  # fmt: skip


def _cured(cars: Subjects, then: Curves, asked: Asked, target: float) -> list[float]:
    """Chance that each answer is cured: its faults are what the repairs are for, and boost is where it should be."""
    covers = covered(asked.repairs)
    right = np.abs(then.peak - target) < asked.tolerance
    out = []
    for a, some in enumerate(cars.answers):
        mine = then.answer == a
        for_it = all(cause.id in covers for cause in some)
        out.append(then.chance(right, mine) if for_it and mine.any() else 0.0)
    return out


def after_causes(cars: Subjects, then: Curves, asked: Asked, target: float) -> tuple[AfterCause, ...]:
    """The repaired car under every answer above 10 %, most probable first; the leading one in any case.

    Parameters
    ----------
    cars : as found
    then : their curves after the repairs
    asked : the repairs, and by how much the target may be passed
    target : boost wanted [Pa gauge]
    """
    cured = _cured(cars, then, asked, target)
    shares = [(cars.probability(a), a) for a in range(len(cars.answers))]
    shown = sorted((s for s in shares if s[0] > LEAST_SHOWN), reverse=True) or [max(shares)]
    out = []
    for share, a in shown:
        mine: NDArray[np.bool_] = then.answer == a
        holds = then.chance(then.peak < target + asked.tolerance, mine)
        out.append(AfterCause(cars.id_of(a), share, holds, cured[a], band_of(then, mine)))
    return tuple(out)


def futures_apart(by_cause: Sequence[AfterCause], target: float) -> tuple[str, ...]:
    """Ids of the two most probable answers whose bands do not meet somewhere on boost; none where all do."""
    least = _BOOSTED * target
    for i, one in enumerate(by_cause):
        for other in by_cause[i + 1 :]:
            if one.band.apart(other.band, least).any():
                return one.id, other.id
    return ()


def _setting(problem: Problem, asked: Asked, par: Array, seed: int) -> Setting | None:
    if len(asked.settings) != 2:
        return None
    cars, ramp = problem.cars, problem.ramp
    bypassed = boost_of(run(par, ramp, set_ups.CONTROLLER_BYPASSED))
    curves = curves_with_errors(bypassed, cars, problem.errors_at, changed=True, seed=seed)
    low, middle, high = quantiles(curves.peak[None, :], curves.weight, QUANTILES)[:, 0]
    one, other = asked.settings
    reachable = curves.chance(curves.peak < ramp.target + asked.tolerance)
    return setting_for(ramp.target, one, other, (low, middle, high), reachable)


def _findings(
    problem: Problem, asked: Asked, by_cause: Sequence[AfterCause], apart: tuple[str, ...], sizing: Sizing | None
) -> list[Finding]:
    out = []
    if apart:
        out.append(Finding(
            "two-futures", "forecast",
            f"After this repair the car does one thing if it was {apart[0]} and quite another if it was {apart[1]}: "
            "there is no curve in between.", "Tell the two apart first, or plan for both.",
        ))  # fmt: skip
    cars, covers = problem.cars, covered(asked.repairs)
    leader = next(some for a, some in enumerate(cars.answers) if cars.id_of(a) == by_cause[0].id)
    missed = [cause.id for cause in leader if cause.id not in covers]
    if missed:
        out.append(Finding(
            "not-for-the-leader", "forecast", f"The most likely fault, {' and '.join(missed)}, is not what this mends.",
            "Name its repair as well, or look at that one alone.",
        ))  # fmt: skip
    if problem.none_of_these > _LITTLE:
        out.append(Finding(
            "none-of-these", "forecast",
            f"With a chance of {100 * problem.none_of_these:.0f} % it is none of the known causes, and then this "
            "forecast says nothing.", "Do the next test before parts are bought.",
        ))  # fmt: skip
    if any(cause.remembers for cause in leader):
        out.append(Finding(
            "first-pull-only", "forecast",
            "This fault shows from the second pull on, since pressure stays trapped; the forecast is of a first pull.",
            "Prove the repair with two pulls, one right after the other.",
        ))  # fmt: skip
    if sizing is not None and sizing.chosen is None:
        out.append(Finding(
            "no-size", sizing.repair,
            f"No size of the trade holds the target with {100 * sizing.confidence:.0f} % for {sizing.repair} alone.",
            "Combine it with another repair, or take the best of the sizes knowingly.",
        ))  # fmt: skip
    return out
