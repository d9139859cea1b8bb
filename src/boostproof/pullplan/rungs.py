"""One rung of the ladder: how far the next pull may go, at which boost the driver lifts, what to expect."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.pullplan.outlook import Driven, Outlook, quantile
from boostproof.pullplan.terms import Terms

ALLOWED = 0.004  # chance of passing the hard limit up to a ceiling; half a percent is the most that would be borne
FIRST_ALLOWED = 0.0015  # the same before anything was measured: all cars that spool early and run away are still in
RISE_SHARE = 0.999  # of the candidates rise no faster than the cap allows for
SLOPE_SHARE = 0.99  # of the candidates rise no faster than the stop boost allows for
LOW = 0.58  # of the redline: no first pull goes further
HIGH = 0.985
LEAST_STEP = 150.0 * np.pi / 30.0  # rad/s; less would add nothing
_BAND = (0.05, 0.5, 0.95)
_MOST = 0.995  # of boost at each engine speed: what lies above is unexpected

Held = Literal["chance", "slope", "low ceiling", "redline"]


@dataclass(frozen=True)
class Rung:
    """One pull to be driven.

    Attributes
    ----------
    set_up : name
    ceiling : engine speed at which the driver lifts [rad/s]
    stop : boost at which he lifts before that [Pa gauge]
    expected, low, high : boost at the ceiling: middle, and the ends of nine in ten [Pa gauge]
    chance : that boost passes the hard limit, the way of reacting included
    held_by : what keeps the ceiling from being higher
    slope : how fast boost may rise by nearly all candidates [Pa per rad/s]
    speed, most : engine speeds [rad/s] and the most boost that is to be expected there [Pa gauge]
    """

    set_up: str
    ceiling: float
    stop: float
    expected: float
    low: float
    high: float
    chance: float
    held_by: Held
    slope: float
    speed: Array = field(repr=False)
    most: Array = field(repr=False)


def highest(
    view: Outlook, terms: Terms, last: Driven | None, cap: float, cap_is: Held, *, nothing_yet: bool = False
) -> tuple[float, Held]:
    """Highest ceiling of a pull, and what holds it.

    Parameters
    ----------
    view : of the set-up
    terms : of the ladder
    last : pull of this set-up that went highest, None before the first
    cap, cap_is : engine speed beyond which it shall not go, and why
    nothing_yet : no pull has told anything so far
    """
    top = HIGH * terms.redline
    limits: list[tuple[float, Held]] = [(cap, cap_is), (top, "redline")]
    chance = view.passing(terms.hard)
    allowed = FIRST_ALLOWED if nothing_yet else ALLOWED
    limits.append((_last_good(view.speed, chance < allowed) - terms.overrun, "chance"))
    if last is not None:
        limits.append((_slope_cap(view, terms, last) - terms.overrun, "slope"))
    # where the curve ends unpassed the redline is what holds it, not the overrun beyond it
    unpassed = view.speed[-1] - terms.overrun
    reckoned = ("chance", "slope")
    return min(((top if name in reckoned and at >= unpassed else at, name) for at, name in limits), key=lambda one: one[0])


def _last_good(speed: Array, good: NDArray[np.bool_]) -> float:
    """Engine speed up to which everything is good."""
    bad = np.flatnonzero(~good)
    if not len(bad):
        return float(speed[-1])
    return float(speed[bad[0] - 1]) if bad[0] > 0 else 0.0


def _slope_cap(view: Outlook, terms: Terms, last: Driven) -> float:
    """Engine speed at which boost would meet the hard limit if it rose as fast as hardly any candidate does.

    The rise is the mean one from the ceiling reached to each engine speed.
    """
    now = int(np.searchsorted(view.speed, last.ceiling).clip(0, len(view.speed) - 2))
    ahead = view.speed[now + 1 :] - view.speed[now]
    rise = (np.maximum.accumulate(view.level[now + 1 :], axis=0) - view.level[now]) / ahead[:, None]
    fastest = np.array([quantile(row, view.weight, RISE_SHARE) for row in rise])
    meets = float(last.boost[-1]) + np.maximum(fastest, 0.0) * ahead + terms.gauge_error
    return _last_good(view.speed[now:], np.concatenate([[True], meets <= terms.hard]))


def rung(view: Outlook, set_up: str, ceiling: float, held_by: Held, terms: Terms, last: Driven | None) -> Rung:
    """A pull up to a ceiling, with its stop boost and what to expect."""
    low, middle, high, most = view.band([*_BAND, _MOST])

    def at(curve: Array) -> float:
        return float(np.interp(ceiling, view.speed, curve))

    begin = terms.start if last is None else last.ceiling
    slope = fastest_slope(view, begin, ceiling + terms.overrun, 0.5 * terms.hard, terms.surprise)
    return Rung(
        set_up, ceiling, stop_boost(slope, terms), at(middle), at(low), at(high),
        float(np.interp(ceiling + terms.overrun, view.speed, view.passing(terms.hard))), held_by, slope,
        view.speed, most + terms.gauge_error,
    )  # fmt: skip


def fastest_slope(view: Outlook, begin: float, end: float, from_boost: float, over: float) -> float:
    """Slope of boost over engine speed that 99 of 100 candidates do not pass where it matters. [Pa per rad/s]

    Parameters
    ----------
    view : of the set-up
    begin, end : stretch of engine speed in which it matters [rad/s]
    from_boost : level from which it matters [Pa gauge]
    over : engine speed over which the slope is taken [rad/s]
    """
    step = max(1, round(over / float(view.speed[1] - view.speed[0])))
    rows = np.flatnonzero((view.speed >= begin - over) & (view.speed <= end))
    if len(rows) <= step:
        rows = np.arange(max(0, len(view.speed) - step - 2), len(view.speed))
    level = view.level[rows]
    slope = (level[step:] - level[:-step]) / (view.speed[rows][step:] - view.speed[rows][:-step])[:, None]
    matters = level[step:] >= from_boost
    return max(0.0, quantile(np.where(matters, slope, 0.0).max(axis=0), view.weight, SLOPE_SHARE))


def stop_boost(slope: float, terms: Terms) -> float:
    """Boost at which the driver lifts: the hard limit less what it rises while he reacts, and the gauge's error.

    >>> t = Terms(hard=100e3, told=True, target=80e3, redline=700.0, ramp=50.0, reaction=0.6, gauge_error=3e3)
    >>> stop_boost(500.0, t)
    82000.0
    """
    return max(terms.hard - slope * terms.surprise - terms.gauge_error, 0.4 * terms.hard)
