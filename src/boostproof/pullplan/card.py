"""Before the first pull: what is looked at, what refuses a pull, where it is stopped, how long it cools.

All points and figures are common practice, no source, unless they come from the car's own file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from boostproof.pullplan.terms import FOUND, LEAST

SENSOR_DOUBT = 0.02  # chance of a wrong sensor from which boost is read on a gauge of its own
LEANEST = 0.90  # lambda at full boost where the car's file has no limit
HOTTEST_BEFORE, HOTTEST_AFTER = 1223.15, 1123.15  # K, before and after the turbine, where it has none


@dataclass(frozen=True)
class Item:
    """One point of the go/no-go card: a no stops everything."""

    key: str
    asks: str


@dataclass(frozen=True)
class Refusal:
    """Why pulls, or some of them, are not offered.

    Attributes
    ----------
    kind : stable word
    says, do : what stands against it, and what would lift it
    every : no pull at all; else none above the lowest boost
    """

    kind: str
    says: str
    do: str
    every: bool


@dataclass(frozen=True)
class StopLine:
    """Where a pull is stopped at once: above the value (told: from the car's file, else a usual one)."""

    what: str
    value: float
    unit: str
    told: bool


@dataclass(frozen=True)
class Around:
    """What is known of how pulls are driven and what is in sight.

    Attributes
    ----------
    place : kind of place, None where not written
    closed_road : the road is closed and a second person reads
    mixture : lambda is in sight
    before_turbine, after_turbine : exhaust temperature there is in sight
    sensor_doubt : chance that the car's own boost sensor reads wrong
    """

    place: str | None
    closed_road: bool = False
    mixture: bool = False
    before_turbine: bool = False
    after_turbine: bool = False
    sensor_doubt: float = 0.0


_ALWAYS = (
    Item("oil", "Oil level right, no leak onto hot parts, oil warm."),
    Item("coolant", "Coolant level right, no leak, engine at working temperature."),
    Item("belts", "Belts sound and tight, hoses and clamps of the charge pipes tight."),
    Item("fuel", "Enough fuel of the kind that the engine is set up for; fuel pressure rises with boost."),
    Item("mixture", "Mixture gauge warm, reading, and in sight of whoever presses stop."),
    Item("knock", "Knock is heard or shown, and somebody listens."),
    Item("cut", "A fuel or ignition cut that does not depend on the part under test, proved at low load."),
    Item("gauge", "Boost gauge reads the air around with the engine stopped."),
    Item("stop", "It is said aloud who presses stop, at which boost and engine speed, and by which word."),
    Item("fire", "Extinguisher and fuel cut in reach; nobody in line with wheels or straps."),
)
_DYNO = (
    Item("straps", "Straps and anchors rated, tight, and looked at again after the first pull."),
    Item("tyres", "Tyres sound, at pressure, and rated for the speed."),
    Item("extraction", "Exhaust led away, carbon monoxide alarm on, cooling fan on."),
)
_ROAD = (
    Item("tyres", "Tyres sound, at pressure, and rated for the speed."),
    Item("road", "Road closed, dry, long enough to slow down from the ceiling; seat belts on."),
    Item("reader", "A second person reads; the driver watches the road."),
)


def card(place: str | None) -> tuple[Item, ...]:
    """The points before the first pull.

    >>> [item.key for item in card("road")][-1]
    'reader'
    """
    return (*_ALWAYS, *(_ROAD if place == "road" else _DYNO))


def refusals(around: Around, set_ups: Sequence[str]) -> tuple[Refusal, ...]:
    """What stands against pulls as things are.

    Parameters
    ----------
    around : place and instruments
    set_ups : that the ladder knows
    """
    out = []
    if around.place == "road" and not around.closed_road:
        out.append(
            Refusal(
                "open-road", "No pull is offered on a road that is not closed.",
                "Use a dyno, or a closed road with a second person who reads, and say so with --closed-road.", True,
            )
        )  # fmt: skip
    if not around.mixture and LEAST in set_ups:
        out.append(
            Refusal(
                "no-mixture", "With no mixture reading in sight no pull above the lowest boost is offered.",
                "Fit a wideband sensor and log it, or say with --mixture that it is in sight.", False,
            )
        )  # fmt: skip
    return tuple(out)


def own_gauge(around: Around) -> bool:
    """Whether boost must be read on a gauge that is not the car's own sensor."""
    return around.sensor_doubt > SENSOR_DOUBT


def stop_lines(
    around: Around, hard: float, told: bool, leanest: float | None, before: float | None, after: float | None
) -> tuple[StopLine, ...]:
    """Limits of a pull, each only where it is measured.

    Parameters
    ----------
    around : what is in sight
    hard, told : boost that must not be passed [Pa gauge], and whether the car's file says so
    leanest : lambda, None where not written
    before, after : highest exhaust temperatures at the turbine [K], None where not written
    """
    out = [StopLine("boost", hard, "Pa gauge", told)]
    if around.mixture:
        out.append(StopLine("lambda", LEANEST if leanest is None else leanest, "1", leanest is not None))
    if around.before_turbine:
        value = HOTTEST_BEFORE if before is None else before
        out.append(StopLine("exhaust temperature before the turbine", value, "K", before is not None))
    if around.after_turbine:
        value = HOTTEST_AFTER if after is None else after
        out.append(StopLine("exhaust temperature after the turbine", value, "K", after is not None))
    return tuple(out)


COOL_DOWN = (
    "Let the engine run unloaded, then wait until coolant is back at its value before the first pull (within 5 °C) and "
    "charge air within 10 °C of the air around; at least 3 minutes."
)
_SET_UP = {
    LEAST: "Controller and solenoid out: shortest new hose from the compressor outlet straight to the actuator.",
    FOUND: "The car as it was found, controller in.",
}
_LOG = ("engine speed", "boost", "throttle", "mixture", "charge temperature", "coolant temperature")
_LOOK = (
    "Boost against what was expected here: above the band, do not go on.",
    "Mixture and knock through the whole pull.",
    "Whether the gate moved, and boost came back after the lift.",
)


def set_up_says(set_up: str, controller: str, *, repaired: bool = False) -> str:
    """How the car stands for a rung.

    Parameters
    ----------
    set_up : name
    controller : kind of its controller
    repaired : it is as the repair left it

    Examples
    --------

    >>> set_up_says("as found", "none")
    'The car as it was found; there is no controller, so it makes its least boost.'
    """
    says = _SET_UP[set_up]
    if controller == "none":
        says = "The car as it was found; there is no controller, so it makes its least boost."
    return says.replace("as it was found", "as it was repaired") if repaired else says


def log_list(controller: str, second_sensor: bool) -> tuple[str, ...]:
    """Channels worth logging.

    >>> log_list("none", True)[-1]
    'pressure at the actuator'
    """
    duty = ("solenoid duty",) if controller.startswith("solenoid") else ()
    return (*_LOG, *duty, *(("pressure at the actuator",) if second_sensor else ()))


def look_at() -> tuple[str, ...]:
    """What to look at before the next pull."""
    return _LOOK
