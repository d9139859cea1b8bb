"""Bench readings as written in readings.toml: which test has which keys, and the file as a whole.

The keys themselves are in :mod:`boostproof.bench.reading_keys` and can be had from here.
"""

# The calls in the class bodies below are dataclass fields.
# ruff: noqa: RUF009

from __future__ import annotations

from dataclasses import dataclass, make_dataclass
from typing import Any

from boostproof.bench.reading_keys import (
    LOUDNESS,
    PLACES,
    BackPressureRow,
    BleedDecay,
    ColdLook,
    Compression,
    CompressionRow,
    ControllerVent,
    ExhaustBackPressure,
    ExhaustSmoke,
    FaultMemoryLook,
    FreeTravel,
    FuelRow,
    Gauge,
    HoseFlow,
    IntakePressurise,
    Leak,
    LinePressureLog,
    PlugsAndFuel,
    PortMeasure,
    Reading,
    RecordedPull,
    SeatLeak,
    SensorCheck,
    SensorRow,
    ShaftCheck,
    SolenoidCheck,
    SolenoidRow,
    SwapKnownGood,
    Sweep,
    Vent,
    VentRow,
)
from boostproof.keys import choice, format_key, key_field, keys_of, rows, table

__all__ = [
    "HOT_TYPES", "LOUDNESS", "NO_READINGS", "PLACES", "READING_TYPES", "REPEATABLE", "BackPressureRow", "BleedDecay",
    "ColdLook", "Compression", "CompressionRow", "ControllerVent", "ExhaustBackPressure", "ExhaustSmoke",
    "FaultMemoryLook", "FreeTravel", "FuelRow", "Gauge", "HoseFlow", "HotRepeat", "IntakePressurise",
    "Leak", "LinePressureLog", "PlugsAndFuel", "PortMeasure", "Reading", "ReadingsFile", "RecordedPull",
    "SeatLeak", "SensorCheck", "SensorRow", "ShaftCheck", "SolenoidCheck", "SolenoidRow", "SwapKnownGood",
    "Sweep", "Vent", "VentRow", "reading_type",
]  # fmt: skip

_ONCE: dict[str, type[Reading]] = {
    "cold-look": ColdLook,
    "actuator-sweep": Sweep,
    "free-travel": FreeTravel,
    "seat-leak": SeatLeak,
    "port-measure": PortMeasure,
    "controller-sweep": Sweep,
    "line-sweep": Sweep,
    "controller-vent": ControllerVent,
    "bleed-decay": BleedDecay,
    "hose-flow": HoseFlow,
    "solenoid-check": SolenoidCheck,
    "floor-pull": RecordedPull,
    "spring-only-pull": RecordedPull,
    "line-pressure-log": LinePressureLog,
    "turbine-pressure-log": RecordedPull,
    "intake-pressurise": IntakePressurise,
    "exhaust-back-pressure": ExhaustBackPressure,
    "sensor-check": SensorCheck,
    "tip-in": RecordedPull,
    "re-apply": RecordedPull,
    "shaft-check": ShaftCheck,
    "repeat-ramp": RecordedPull,
    "exhaust-smoke": ExhaustSmoke,
    "fault-memory-look": FaultMemoryLook,
    "plugs-and-fuel": PlugsAndFuel,
    "compression": Compression,
    "swap-known-good": SwapKnownGood,
}
REPEATABLE = tuple(_ONCE)


@dataclass(frozen=True, kw_only=True)
class HotRepeat(Reading):
    """hot-repeat of a test that is not named: only the common keys can be said (see `reading_type`)."""

    of: str | None = choice("id of the test that was repeated, whose keys may follow", *REPEATABLE)


READING_TYPES: dict[str, type[Reading]] = {**_ONCE, "hot-repeat": HotRepeat}


def _hot(test: str, spec: type[Reading]) -> type[Reading]:
    # `of` comes last: the keys of the test keep their order in schemas and templates.
    extra: list[Any] = [("of", str | None, key_field(keys_of(HotRepeat)["of"][1]))]
    name = "Hot" + spec.__name__
    made = make_dataclass(
        name, extra, bases=(spec,), frozen=True, kw_only=True,
        namespace={"__doc__": f"hot-repeat of {test}: its keys again, on hot parts."},
    )  # fmt: skip
    made.__module__ = __name__
    return made


HOT_TYPES: dict[str, type[Reading]] = {test: _hot(test, spec) for test, spec in _ONCE.items()}


def reading_type(test: str, of: str | None = None) -> type[Reading]:
    """The dataclass of one ``[[reading]]``.

    Parameters
    ----------
    test : its ``test``
    of : its ``of``; used for hot-repeat only, whose type has the keys of that test as well

    Raises
    ------
    KeyError
        If there is no such test, or no such test to repeat.
    """
    if test == "hot-repeat" and of is not None:
        return HOT_TYPES[of]
    return READING_TYPES[test]


@dataclass(frozen=True, kw_only=True)
class ReadingsFile:
    """readings.toml: the gauge that was used, and the readings in the order taken."""

    format: int = format_key()
    gauge: Gauge | None = table("the pressure gauge that was used", Gauge)
    reading: tuple[Reading, ...] = rows(
        "one per test done, in order; each has the keys of its test", Reading
    )


NO_READINGS = ReadingsFile(format=1)
