"""What a meaning is: one physical figure of this car, how sure it is, and whether it is as it should be."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Group = Literal["actuator", "controller", "line", "gate", "sensor", "engine"]
Verdict = Literal["as it should be", "low", "high", "cannot tell"]
Limit = Literal["", "at least", "at most"]

GROUPS: tuple[Group, ...] = ("actuator", "controller", "line", "gate", "sensor", "engine")
COVERAGE = 0.90  # of the bands
SURE = 0.95  # share of the draws outside the healthy range that makes a value low or high
LIKELY = 0.50  # share of the draws inside it that makes it as it should be


class Shown(NamedTuple):
    """A unit as answers show it: its name, and how many of it one SI unit is."""

    unit: str
    factor: float


#: Kind of figure -> unit. Levels and differences of pressure are told apart by their kind.
KINDS: dict[str, Shown] = {
    "gauge pressure": Shown("kPa gauge", 1e-3),
    "absolute pressure": Shown("kPa abs", 1e-3),
    "pressure difference": Shown("kPa", 1e-3),
    "pressure per travel": Shown("kPa/mm", 1e-6),
    "pressure rate": Shown("kPa/min", 0.06),
    "pressure per turn": Shown("kPa/turn", 1e-3),
    "length": Shown("mm", 1e3),
    "area": Shown("mm2", 1e6),
    "spring rate": Shown("N/mm", 1e-3),
    "force": Shown("N", 1.0),
    "time": Shown("s", 1.0),
    "ratio": Shown("1", 1.0),
    "share": Shown("%", 100.0),
    "angle": Shown("deg", 180.0 / math.pi),
    "resistance": Shown("ohm", 1.0),
}


@dataclass(frozen=True)
class Healthy:
    """Where the value of a sound car of this kind lies.

    Attributes
    ----------
    low, high : ends, None where it is open on that side [SI]
    why : where that is from, in words
    """

    low: float | None
    high: float | None
    why: str


@dataclass(frozen=True)
class Meaning:
    """One figure.

    Attributes
    ----------
    id : stable name for programs
    group : part of the car
    name : in the terms of the trade
    kind : key of `KINDS`
    value : best value, or the limit where ``limit`` is not empty [SI]
    sd : standard deviation; 0 for a limit [SI]
    low, high : band that holds the true value in nine of ten cases; open for a limit [SI]
    limit : "at least" or "at most" where the readings give one side only
    healthy : range of a sound car
    verdict : measured band against that range
    readings : what it was taken from, as ``test`` or ``test (2)`` for the second of its kind
    says : one sentence
    correlated : (id, correlation) of other figures that share its errors so much that they belong together
    draws : (1 + trials,) value under drawn errors, the first without [SI]
    """

    id: str
    group: Group
    name: str
    kind: str
    value: float
    sd: float
    low: float | None
    high: float | None
    limit: Limit
    healthy: Healthy | None
    verdict: Verdict
    readings: tuple[str, ...]
    says: str
    correlated: tuple[tuple[str, float], ...] = ()
    draws: Array = field(default_factory=lambda: np.zeros(0), repr=False, compare=False)


def verdict_of(draws: Array, limit: Limit, healthy: Healthy | None) -> Verdict:
    """Compare what was measured with what should be.

    Parameters
    ----------
    draws : (1 + trials,) as `Meaning.draws`; for a limit, the limit
    limit : side on which the value is open
    healthy : None where nobody can say what it should be

    >>> bound = Healthy(40e3, 50e3, "as specified")
    >>> verdict_of(np.full(101, 45e3), "", bound), verdict_of(np.full(101, 60e3), "", bound)
    ('as it should be', 'high')
    >>> verdict_of(np.full(101, 45e3), "at least", bound), verdict_of(np.full(101, 60e3), "at least", bound)
    ('cannot tell', 'high')
    """
    if healthy is None:
        return "cannot tell"
    low = -np.inf if healthy.low is None else healthy.low
    high = np.inf if healthy.high is None else healthy.high
    if limit == "at least":
        if draws[0] > high:
            return "high"
        return "as it should be" if high == np.inf and draws[0] >= low else "cannot tell"
    if limit == "at most":
        if draws[0] < low:
            return "low"
        open_below = low == -np.inf or low == 0.0
        return "as it should be" if open_below and draws[0] <= high else "cannot tell"
    below, above = float(np.mean(draws[1:] < low)), float(np.mean(draws[1:] > high))
    if below >= SURE:
        return "low"
    if above >= SURE:
        return "high"
    inside = low <= draws[0] <= high and 1.0 - below - above >= LIKELY
    return "as it should be" if inside else "cannot tell"


def band_of(draws: Array) -> tuple[float, float]:
    """Ends of the band with `COVERAGE` of the draws, as many below as above."""
    tail = 50.0 * (1.0 - COVERAGE)
    low, high = np.percentile(draws[1:], [tail, 100.0 - tail])
    return float(low), float(high)


def healthy_among(values: Array, why: str, *, slack: float = 0.0) -> Healthy:
    """Range of all but one in twenty of the sound cars drawn, widened by ``slack`` on both sides."""
    low, high = np.percentile(values, [2.5, 97.5])
    return Healthy(float(low) - slack, float(high) + slack, why)
