"""A column that was taken for a channel, brought into SI with a certainty and a reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from boostproof.recording.columns.channel_table import BY_NAME, Row
from boostproof.recording.columns.headers import Reading, read_header, unit_text
from boostproof.recording.columns.pressure_reference import Engine
from boostproof.recording.columns.pressures import Taken, read_pressure
from boostproof.recording.columns.unit_guess import Scaled, scale_values
from boostproof.recording.model import Channel, Column, ColumnChoice, Reference
from boostproof.units import Unit, get_unit


def read_channel(
    column: Column,
    name: str,
    reading: Reading | None,
    score: float,
    choice: ColumnChoice | None,
    engine: Engine,
    channels: Mapping[str, Channel],
) -> Channel:
    """One channel of a recording.

    Parameters
    ----------
    column : as it stands in the file
    name : our channel name
    reading : how its header was read; None where a person named the column
    score : how well the name fits, 0 to 1
    choice : what a person said about it, None where nobody did
    engine : what the engine was doing, for judging pressures
    channels : channels read so far
    """
    row = BY_NAME[name]
    if reading is None:
        reading = _told_reading(column, row)
    unit, said, concepts = reading.unit, reading.reference, reading.concepts
    why = _name_reason(reading, score)
    if choice is not None:
        score, why = 1.0, choice.why
        unit, said = _told(choice, row, unit, said)
    if row.dimensions[0] == "pressure":
        taken = Taken(name, unit, said, concepts, score, why, choice is not None)
        return read_pressure(column, taken, engine, channels)
    scaled: Scaled = scale_values(column.values, row, unit, channels)
    sure = score if choice is not None else score * scaled.sure
    return Channel(
        name,
        column.header,
        scaled.unit,
        None,
        sure,
        f"{why}; {scaled.reason}" if scaled.reason else why,
        column.lost_cells,
        scaled.values,
        None if column.samples is None else column.samples.scaled(scaled.factor, scaled.offset),
        scaled.said_unit if choice is None else "",
    )


def _told_reading(column: Column, row: Row) -> Reading:
    """The header of a column that a person named, read for the channel that it must be."""
    options = read_header(column.header, column.unit)
    fitting = [r for r in options if r.unit is not None and r.unit.dimension in row.dimensions]
    return fitting[0] if fitting else replace(options[-1], unit=None)


def _told(
    choice: ColumnChoice, row: Row, unit: Unit | None, said: Reference | None
) -> tuple[Unit | None, Reference | None]:
    """Unit and reference as the person gave them, before what the file says."""
    if choice.unit:
        _, mark = unit_text(choice.unit)
        found, _ = unit_text(choice.unit)
        if found is None or found.dimension not in row.dimensions:
            found = get_unit(choice.unit, row.dimensions[0])
        unit, said = found, mark or said
    return unit, choice.reference or said


def _name_reason(reading: Reading, score: float) -> str:
    reason = "by its name" if reading.unit is None else "by its name and unit"
    return reason if score >= 0.8 else f"{reason}, which could also mean something else"
