"""How each recording was driven, as written in pulls.toml, in SI; None where it is not known."""

# The calls in the class bodies below are dataclass fields.
# ruff: noqa: RUF009

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from boostproof.keys import (
    TAKE_OFFS,
    Weather,
    choice,
    flag,
    format_key,
    integer,
    mapping,
    path,
    paths,
    pulls,
    quantity,
    rows,
    seconds,
    table,
    text,
    turns,
)
from boostproof.quantity import Quantity
from boostproof.recording.pull_numbers import PullNumbers
from boostproof.sources.tolerances import USUAL

CHANNEL_NAMES = (
    "time", "engine_speed", "pedal", "throttle", "boost", "boost_check", "upper_line_pressure",
    "gate_position_target", "fuel_pressure", "oil_pressure", "ethanol", "ignition_retard", "cut_active",
    "manifold_pressure", "compressor_outlet_pressure", "line_pressure", "turbine_inlet_pressure",
    "turbine_outlet_pressure", "barometer", "intake_temperature", "compressor_outlet_temperature",
    "ambient_temperature", "exhaust_temperature_before_turbine", "exhaust_temperature_after_turbine",
    "air_flow",
    "lambda", "air_fuel_ratio", "duty", "boost_target", "shaft_speed", "gate_position", "ignition_advance",
    "knock", "gear", "vehicle_speed", "torque", "power", "injector_duty", "coolant_temperature",
    "battery_voltage",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class SetUp:
    """``set_up``: how the car stood during a recording."""

    controller: str | None = choice("boost controller", "in", "bypassed", "removed")
    gate: str | None = choice(
        "wastegate", "controlled", "held open", "held shut",
        noted=(("held shut", "A gate held shut lets boost run away: recorded as done, and never proposed."),),
    )  # fmt: skip
    take_off: str | None = choice("where the signal line was taken off", *TAKE_OFFS)
    turns_in: float | str | None = turns("adjuster during the recording", "as found")
    duty: Quantity | None = quantity("fixed duty of the solenoid", "fraction", USUAL["pulls.duty"], "0 %")
    exhaust: str | None = text("exhaust during the recording, in words", "rear section off")


@dataclass(frozen=True, kw_only=True)
class ChannelColumn:
    """One of ``[recording.channels]``: where a channel stands in the file.

    Attributes
    ----------
    column : header in the file
    unit : as written, None where the file says it
    reference : "gauge" or "abs", None where the file says it
    """

    column: str = text("header in the file", "Pressure 2", must=True)
    unit: str | None = text("its unit, where the file does not say", "psi")
    reference: str | None = choice("what a pressure counts from, where the file does not say", "gauge", "abs")


@dataclass(frozen=True, kw_only=True)
class Excluded:
    """One stretch of a recording that is not to be used."""

    from_: float | None = seconds("start; left out, the start of the file")
    to: float | None = seconds("end; left out, the end of the file")
    why: str | None = text("reason, in words", "driver lifted for traffic")


@dataclass(frozen=True, kw_only=True)
class RecordingSetup:
    """``[[recording]]``: one recording."""

    file: str = path("file, relative to the case folder", "recordings/log.csv", must=True)
    set_up: SetUp | None = table("how the car stood", SetUp)
    weather: Weather | None = table("the air around at that time", Weather)
    rest_before: Quantity | None = quantity(
        "time the car rested before it", "time", USUAL["pulls.rest_before"], "5 min"
    )
    coolant: Quantity | None = quantity("coolant at the start", "temperature", USUAL["pulls.coolant"], "88 C")
    charge_temperature_start: Quantity | None = quantity(
        "charge air at the start", "temperature", USUAL["pulls.charge_temperature_start"], "30 C"
    )
    spray: bool | None = flag("whether the cooler was sprayed")
    gear: int | None = integer("gear of its pulls", "4", minimum=1, maximum=10)
    source: str | None = choice("what recorded it", "ECU", "dyno", "own box")
    joined_with: tuple[str, ...] | None = paths("files that hold the same pulls", "recordings/dyno.csv")
    after_repair: PullNumbers | None = pulls(
        "pulls that were made after a repair, by number: left out of the ranking", "3-"
    )
    smoothing: str | None = text("smoothing by the logger, in words", "0.2 s moving mean")
    note: str | None = text("anything else, for people", "windy")
    channels: Mapping[str, ChannelColumn] = mapping(
        "our channel name and the file's header, where it must be told", ChannelColumn, CHANNEL_NAMES
    )
    torque_at: str | None = choice("where torque is stated", "wheel", "crank", "brake")
    compressor_tap: str | None = choice(
        "where the compressor-outlet pressure is taken", "before cooler", "after cooler", "unknown"
    )
    excluded: tuple[Excluded, ...] = rows("stretches not to be used, in seconds", Excluded)


@dataclass(frozen=True, kw_only=True)
class PullsFile:
    """pulls.toml"""

    format: int = format_key()
    recording: tuple[RecordingSetup, ...] = rows("one per recording that needs a word", RecordingSetup)

    def of(self, file: str) -> RecordingSetup | None:
        """What is written about a file (path relative to the case folder), None if nothing."""
        for item in self.recording:
            if item.file == file:
                return item
        return None


NO_PULLS = PullsFile(format=1)
