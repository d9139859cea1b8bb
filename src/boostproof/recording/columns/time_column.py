"""The column that holds the time, and the time axis made of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from boostproof.recording.columns.headers import read_header
from boostproof.recording.columns.matching import Match
from boostproof.recording.columns.timebase import (
    TimeAxis,
    counts_rows,
    looks_like_time,
    time_axis,
    without_time,
)
from boostproof.recording.model import Channel, ColumnChoice, FloatArray, Table
from boostproof.units import Unit, get_unit


def read_time(
    table: Table,
    chosen: Mapping[str, tuple[int, ColumnChoice]],
    matches: Sequence[Match],
    speed: FloatArray | None,
) -> tuple[TimeAxis, Channel | None]:
    """The time axis, from a named column, one that is called time, or one that runs like a clock."""
    match = next((m for m in matches if m.row.name == "time"), None)
    unit: Unit | None = None
    if "time" in chosen:
        index, choice = chosen["time"]
        unit = (
            get_unit(choice.unit, "time")
            if choice.unit
            else read_header(table.columns[index].header, table.columns[index].unit)[0].unit
        )
        sure, why = 1.0, choice.why
    elif match is not None:
        index, unit, sure = match.index, match.reading.unit, match.score
        why = "by its name" if unit is None else "by its name and unit"
    else:
        used = {m.index for m in matches}
        clocks = [i for i, c in enumerate(table.columns) if i not in used and looks_like_time(c.values)]
        clocks = [i for i in clocks if not counts_rows(table.columns[i].values)]
        if not clocks:
            return without_time(table.rows, table.file), None
        index, sure, why = (
            clocks[0],
            0.6,
            "no header says time, but this column rises in equal steps like a clock",
        )
    column = table.columns[index]
    if column.lost_cells > 0.5 * table.rows:
        return without_time(table.rows, table.file), None
    named = match is not None or "time" in chosen
    axis = time_axis(column, unit, speed, f"{table.file}: column {column.header}", named=named)
    if axis.rate_hz is None:
        return axis, None
    if unit is None and "time" not in chosen:
        why += f"; its steps are {axis.unit}"
    return axis, Channel("time", column.header, axis.unit, None, sure, why, column.lost_cells, axis.time)
