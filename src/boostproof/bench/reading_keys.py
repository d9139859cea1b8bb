"""What each bench test can say in readings.toml: one dataclass per kind of test, in SI.

What was not read is None; ``"none"`` says that it was looked for and not seen. A reading may be partial.
"""

# The calls in the class bodies below are dataclass fields.
# ruff: noqa: RUF009

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from boostproof.keys import (
    PARTS,
    RESULTS,
    TAKE_OFFS,
    Key,
    choice,
    choices,
    flag,
    integer,
    key_field,
    path,
    quantity,
    rows,
    table,
    text,
    texts,
    turns,
)
from boostproof.quantity import Quantity
from boostproof.sources.tolerances import USUAL

Seen = Quantity | Literal["none"] | None

PLACES = (
    "hose", "actuator", "controller", "vent", "pipe before cooler", "pipe after cooler", "cooler end tank",
    "bypass valve", "throttle", "throttle shaft", "oil filler or crankcase", "brake-booster line",
    "purge line",
    "injector seal", "gauge hose", "turbo outlet joint", "gate flange", "exhaust manifold", "none",
)  # fmt: skip
LOUDNESS = ("none", "faint", "clear", "strong")
_LOUDNESS_DOC = "guide in L/min of free air: none under 0.5, faint under 2.5, clear under 8, then strong"


def _pressure(doc: str, example: str = "12 psi", *, seen: bool = False, **more: Any) -> Any:
    words = ("none",) if seen else ()
    return quantity(doc, "pressure", USUAL["reading.pressure"], example, words=words, **more)


def _travel(doc: str, example: str = "12 mm", *, seen: bool = True) -> Any:
    return quantity(doc, "length", USUAL["reading.travel"], example, words=("none",) if seen else ())


def _time(doc: str, example: str, *, seen: bool = True) -> Any:
    return quantity(doc, "time", USUAL["reading.time"], example, words=("none",) if seen else ())


@dataclass(frozen=True, kw_only=True)
class Gauge:
    """``[gauge]``: the pressure gauge that was used."""

    name: str | None = text("what it is called in the shop", "the big dial")
    smallest_mark: Quantity | None = quantity(
        "step between two marks", "pressure", USUAL["gauge.smallest_mark"], "0.5 psi", reference="difference",
        positive=True,
    )  # fmt: skip
    class_: Quantity | None = quantity(
        "class, limit of error as a share of the range", "fraction", USUAL["gauge.class"], "1.6 %",
        positive=True
    )
    range: Quantity | None = quantity(
        "highest pressure on its scale", "pressure", USUAL["gauge.range"], "4 bar", positive=True, span=True
    )
    reads_at_zero: Quantity | None = quantity(
        "what it shows with no pressure on it", "pressure", USUAL["gauge.reads_at_zero"], "0.3 psi"
    )
    checked_against: str | None = text("what it was last checked against", "shop reference, spring")


@dataclass(frozen=True, kw_only=True)
class Reading:
    """Keys of every reading."""

    test: str = text("id of the test", "actuator-sweep", must=True)
    when: str | None = text("when it was taken", "Tuesday, before the pull")
    by: str | None = text("who took it", "Ines")
    note: str | None = text("anything else, for people", "hose clamp was loose")
    gauge: Gauge | None = table("the gauge, where it is another one for this reading alone", Gauge)
    heard_at: tuple[str, ...] | None = choices("where air was heard, one or a list", *PLACES)
    loudness: str | None = choice(_LOUDNESS_DOC, *LOUDNESS)
    state: str | None = choice("whether the parts were warm", "cold", "hot")
    not_done: str | None = choice(
        "why it could not be done; the test is then not offered again", "no access", "no tool",
        "customer declined",
        "no time", "unsafe",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Vent:
    """``[reading.vent]``: air taken away at the regulator, hose left on."""

    held: Seen = _travel("travel before the air was taken away")
    after_1_s: Seen = _travel("travel left after 1 s", "0 mm")
    after_5_s: Seen = _travel("travel left after 5 s", "0 mm")
    after_30_s: Seen = _travel("travel left after 30 s", "0 mm")
    returned: Seen = _time('time until it was home; "none" if not within 60 s', "0.5 s")
    returned_hose_off: bool | None = flag("whether it came home once the hose was pulled off")


@dataclass(frozen=True, kw_only=True)
class Leak:
    """``[reading.leak]``: supply shut."""

    start: Quantity | None = _pressure("when the supply was shut", "10 psi")
    after_10_s: Seen = _pressure("10 s later", "10 psi", seen=True)
    after_60_s: Seen = _pressure("60 s later", "9.5 psi", seen=True)
    gauge_at: str | None = choice("where the gauge sat", "before controller", "at actuator")


@dataclass(frozen=True, kw_only=True)
class Sweep(Reading):
    """actuator-sweep, controller-sweep, line-sweep: pressure raised slowly until the arm is at its stop."""

    supply_up_to: Quantity | None = _pressure("highest pressure that was put on", "25 psi")
    first_movement: Seen = _pressure("pressure at which the arm is first seen to move", "7.5 psi", seen=True)
    full_travel: Seen = _pressure("pressure at which it reaches its stop", "12 psi", seen=True)
    last_return: Seen = _pressure("pressure at which it is home again on the way down", "6.5 psi", seen=True)
    travel: Seen = _travel("travel to the stop, a length at the rod")
    follows: Seen = _time('time until the arm follows when air is let on at once; "0 s" for at once', "0 s")
    turns_in: float | str | None = turns("adjuster during the test", "as found")
    solenoid: str | None = choice("solenoid during the test", "unpowered", "powered")
    spring_side_port: str | None = choice(
        "port on the spring side of the diaphragm during the test", "as found", "opened"
    )
    vent: Vent | None = table("air taken away at the regulator, hose left on", Vent)
    leak: Leak | None = table("supply shut, pressure watched", Leak)


@dataclass(frozen=True, kw_only=True)
class VentRow:
    """One adjuster setting of a controller-vent."""

    turns_in: float | str | None = turns("adjuster: turns or as found", "as found")
    loudness: str | None = choice("at the vent; " + _LOUDNESS_DOC, *LOUDNESS)
    flow: Seen = quantity(
        "free air at the vent", "volume_flow", USUAL["reading.flow"], "7.5 L/min", words=("none",)
    )
    line_pressure: Seen = _pressure("on the actuator side", "8 psi", seen=True)


@dataclass(frozen=True, kw_only=True)
class ControllerVent(Reading):
    """controller-vent: steady supply at the controller inlet, vent heard or measured per setting."""

    supply: Quantity | None = _pressure("steady pressure at the controller inlet", "20 psi")
    rows: tuple[VentRow, ...] = rows("one row per adjuster setting", VentRow)


@dataclass(frozen=True, kw_only=True)
class BleedDecay(Reading):
    """bleed-decay: pressure on the actuator side falls through the bleed."""

    start: Quantity | None = _pressure("pressure at the start", "15 psi")
    end: Quantity | None = _pressure("pressure at the end", "7 psi")
    time: Seen = _time("time from start to end", "1.5 s")
    reservoir: Quantity | None = quantity(
        "volume added so that it can be timed by hand", "volume", USUAL["reading.reservoir"], "1 L"
    )
    hiss_stops: Seen = _time("time until the hiss stops", "3 s")


@dataclass(frozen=True, kw_only=True)
class HoseFlow(Reading):
    """hose-flow: air through the signal hose to its open end."""

    supply: Quantity | None = _pressure("pressure at the inlet", "15 psi")
    flow: Seen = quantity("free air", "volume_flow", USUAL["reading.flow"], "40 L/min", words=("none",))
    flow_new_hose: Seen = quantity(
        "free air through a new hose of the same size", "volume_flow", USUAL["reading.flow"], "45 L/min",
        words=("none",),
    )  # fmt: skip
    passes: bool | None = flag("whether air passes freely, where no flow was measured")


@dataclass(frozen=True, kw_only=True)
class SolenoidRow:
    """One duty of a solenoid-check."""

    duty: Quantity | None = quantity("duty it was driven with", "fraction", USUAL["reading.duty"], "50 %")
    line_pressure: Seen = _pressure("on the actuator side", "5 psi", seen=True)
    loudness: str | None = choice("at the vent; " + _LOUDNESS_DOC, *LOUDNESS)
    clicks: bool | None = flag("whether it is heard to work")


@dataclass(frozen=True, kw_only=True)
class SolenoidCheck(Reading):
    """solenoid-check: coil, click and air path over duty."""

    supply: Quantity | None = _pressure("steady pressure at its inlet", "10 psi")
    resistance: Seen = quantity(
        "of the coil", "resistance", USUAL["reading.resistance"], "28 ohm", words=("none",)
    )
    rows: tuple[SolenoidRow, ...] = rows("one row per duty", SolenoidRow)


@dataclass(frozen=True, kw_only=True)
class FreeTravel(Reading):
    """free-travel: the gate moved by hand, rod off, cold."""

    arm: str | None = choice("how the arm feels", "swings freely", "binds", "will not move")
    swing: Seen = _travel("stop to stop, a length at the rod", "15 mm")
    angle: Seen = quantity("stop to stop", "angle", USUAL["reading.angle"], "45 deg", words=("none",))


@dataclass(frozen=True, kw_only=True)
class PortMeasure(Reading):
    """port-measure: the gate's port and lift."""

    port: Quantity | None = quantity(
        "diameter of the port", "length", USUAL["reading.port"], "26 mm", positive=True
    )
    lift: Seen = quantity("lift of the valve", "length", USUAL["reading.lift"], "9 mm", words=("none",))
    entry: str | None = choice("edge where the gas enters", "clean", "step", "gasket over edge")


@dataclass(frozen=True, kw_only=True)
class SeatLeak(Reading):
    """seat-leak: whether the gate shuts."""

    light: bool | None = flag("whether light shows past the shut gate")
    gap: Seen = quantity("gap by feeler gauge", "length", USUAL["reading.gap"], "0.1 mm", words=("none",))


@dataclass(frozen=True, kw_only=True)
class SensorRow:
    """One pressure of a sensor-check."""

    applied: Quantity | None = _pressure('put on the sensor; "0 psi" is key on, engine off', "15 psi")
    reads: Quantity | None = quantity(
        "what the sensor shows, with abs where it shows absolute", "pressure", USUAL["reading.sensor"],
        "204 kPa abs"
    )
    barometer: Quantity | None = quantity(
        "air around at that moment", "pressure", USUAL["reading.barometer"], "100.6 kPa", reference="abs",
        reference_fixed=True,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class SensorCheck(Reading):
    """sensor-check: manifold sensor against a gauge and the barometer."""

    rows: tuple[SensorRow, ...] = rows("one row per pressure", SensorRow)


@dataclass(frozen=True, kw_only=True)
class IntakePressurise(Reading):
    """intake-pressurise: air into the capped intake."""

    supply: Quantity | None = _pressure("pressure put on", "15 psi")
    held: str | None = choice("what it did", "held", "seeps", "flows", "cannot reach")
    drop_in_30_s: Seen = quantity(
        "fall of pressure in 30 s, supply shut", "pressure", USUAL["reading.pressure_drop"], "0.9 psi",
        reference="difference", words=("none",),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class BackPressureRow:
    """One engine speed of an exhaust-back-pressure."""

    rpm: Quantity | None = quantity("engine speed", "rotational_speed", USUAL["reading.rpm"], "6000 rpm")
    pressure: Seen = quantity(
        "after the turbine", "pressure", USUAL["reading.exhaust_pressure"], "2.5 psi", words=("none",)
    )
    no_load: bool | None = flag("true where this row was read standing, without load")


@dataclass(frozen=True, kw_only=True)
class ExhaustBackPressure(Reading):
    """exhaust-back-pressure: after the turbine, on a pull unless no_load."""

    no_load: bool | None = flag("true where all rows were read standing, without load")
    rows: tuple[BackPressureRow, ...] = rows("one row per engine speed", BackPressureRow)


@dataclass(frozen=True, kw_only=True)
class ShaftCheck(Reading):
    """shaft-check: turbo shaft and wheels, engine off and cold."""

    shaft: str | None = choice("how it turns by finger", "spins freely", "rough", "drags")
    play: str | None = choice("play at the nut", "none", "slight", "excessive")
    wheels: str | None = choice("how the wheels look", "clean", "rubbed", "damaged")


@dataclass(frozen=True, kw_only=True)
class ColdLook(Reading):
    """cold-look: a look with the engine cold."""

    hoses: str | None = choice("signal hoses", "no damage seen", "split", "off", "kinked")
    routing: str | None = choice(
        "how they are plumbed", "as it should be", "top and side swapped", "in and out swapped"
    )
    take_off_seen: str | None = choice("where the line is taken off", *TAKE_OFFS)
    rod: str | None = choice("actuator rod", "sound", "loose", "off")
    rod_preload: str | None = choice("rod against the shut gate", "tight", "slack")
    spring_side_port: str | None = choice(
        "port on the spring side of the diaphragm, blown into by mouth", "passes air", "blocked"
    )
    gate_body: str | None = choice(
        "how the body of an external gate is mounted", "as its arrow says", "wrong way round"
    )
    inlet: str | None = choice(
        "air filter and the duct to the compressor", "clear", "filter full", "duct soft or flattened"
    )
    oil_in_pipes: bool | None = flag("whether oil stands in the charge pipes")


@dataclass(frozen=True, kw_only=True)
class FaultMemoryLook(Reading):
    """fault-memory-look: codes, plate, timing, software."""

    codes: tuple[str, ...] | None = texts("codes stored, as shown", "boost too high")
    plate_follows_pedal: bool | None = flag("whether the throttle plate follows the pedal on a pull")
    ignition_retard: Quantity | bool | Literal["none"] | None = quantity(
        "ignition taken back on a pull, or whether it was", "angle", USUAL["reading.ignition_retard"],
        "4 deg",
        words=("none",), flag_too=True,
    )  # fmt: skip
    software_changed: bool | None = flag("whether the software was changed")


@dataclass(frozen=True, kw_only=True)
class FuelRow:
    """One engine speed of a plugs-and-fuel."""

    rpm: Quantity | None = quantity("engine speed", "rotational_speed", USUAL["reading.rpm"], "6000 rpm")
    fuel_pressure: Seen = quantity(
        "fuel pressure there", "pressure", USUAL["reading.fuel_pressure"], "4 bar", words=("none",)
    )


@dataclass(frozen=True, kw_only=True)
class PlugsAndFuel(Reading):
    """plugs-and-fuel: spark plugs, and fuel pressure on a pull."""

    gap: Quantity | None = quantity(
        "gap of the plugs", "length", USUAL["reading.gap"], "0.7 mm", positive=True
    )
    colour: str | None = text("colour of the plugs, in words", "light brown")
    rows: tuple[FuelRow, ...] = rows("fuel pressure over engine speed", FuelRow)


@dataclass(frozen=True, kw_only=True)
class CompressionRow:
    """One cylinder of a compression test."""

    cylinder: int | None = integer("number of the cylinder", "1", minimum=1, maximum=16)
    pressure: Seen = quantity(
        "highest at cranking speed", "pressure", USUAL["reading.compression"], "11 bar", words=("none",)
    )


@dataclass(frozen=True, kw_only=True)
class Compression(Reading):
    """compression: cylinder pressures at cranking speed."""

    rows: tuple[CompressionRow, ...] = rows("one row per cylinder", CompressionRow)


@dataclass(frozen=True, kw_only=True)
class SwapKnownGood(Reading):
    """swap-known-good: a part swapped for one known to be good."""

    what: str | None = key_field(
        Key("choice", "part that was swapped; other words are kept as text", choices=PARTS, open=True,
            example='"controller"')
    )  # fmt: skip
    result: str | None = choice("what came of it", *RESULTS)
    recording: str | None = path("recording with the swapped part", "recordings/swapped.csv")


@dataclass(frozen=True, kw_only=True)
class ExhaustSmoke(Reading):
    """exhaust-smoke: smoke or soap on the exhaust before the turbine, cold."""

    leak_at: str | None = key_field(
        Key("choice", "where it leaks; other words are kept as text", choices=PLACES, open=True,
            example='"exhaust manifold"')
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class RecordedPull(Reading):
    """A test that is a pull: its set-up stands in pulls.toml."""

    recording: str | None = path("recording of the pull", "recordings/floor.csv")


@dataclass(frozen=True, kw_only=True)
class LinePressureLog(RecordedPull):
    """line-pressure-log: pressure at the actuator during the pull, on both sides of the diaphragm if need be."""

    spring_side: Seen = _pressure("highest on the spring side of the diaphragm during the pull", "1 psi", seen=True)
