"""Which column is which channel, with a certainty and a reason; and the recording that comes of it.

Pure: works on a `Table` that a reader made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.checks.barometer import about_barometer, find_barometer
from boostproof.recording.checks.mend import mended
from boostproof.recording.checks.sensors import check_channels, measure_key_on
from boostproof.recording.columns.channel_table import BY_NAME, MANIFOLD_SENSOR, NEUTRAL, ROWS, Row
from boostproof.recording.columns.chosen import choose_columns
from boostproof.recording.columns.headers import Reading, read_header, unit_text
from boostproof.recording.columns.own_rates import with_own_rates
from boostproof.recording.columns.pressure_reference import Engine, judge
from boostproof.recording.columns.pressures import Taken, read_pressure
from boostproof.recording.columns.timebase import TimeAxis, looks_like_time, time_axis, without_time
from boostproof.recording.columns.unit_guess import Scaled, scale_values
from boostproof.recording.model import (
    Channel,
    Column,
    ColumnChoice,
    FloatArray,
    Recording,
    Reference,
    Table,
)
from boostproof.recording.tidy import tidied
from boostproof.units import Unit, get_unit

_ACCEPTED = 0.3  # certainty below which a column stays unnamed
_FOREIGN = 0.15  # factor for a word that belongs to another quantity
_TURBO = frozenset({"TURBO", "TURBINE", "COMPRESSOR"})
_TURBO_RPM = 20_000.0  # common practice, no source: drive shafts stay below 10 000, turbos pass 60 000
_TURBO_RAD_S = _TURBO_RPM * np.pi / 30.0
_FIRST = ("time", "engine_speed", "throttle", "pedal", "barometer")


@dataclass(frozen=True)
class _Match:
    """A column taken for a channel: how it was read and how well its name fits."""

    index: int
    row: Row
    reading: Reading
    score: float


def recognise(
    table: Table, columns: Mapping[str, ColumnChoice] | None = None, barometer: float | None = None
) -> Recording:
    """Name the columns of a table and bring them into SI.

    Parameters
    ----------
    table : what a reader made of a file
    columns : columns named by a person; they go before all recognition
    barometer : pressure of the air around where known [Pa abs]

    Raises
    ------
    InputError
        If there is no engine speed, or a named column or unit does not exist.
    """
    chosen = choose_columns(table, columns or {})
    taken = {index for index, _ in chosen.values()}
    matches = _assign(table, set(chosen), taken)
    table = tidied(table, _clock(chosen, matches))
    speed = _raw_speed(table, chosen, matches)
    axis, time_channel = _time(table, chosen, matches, speed)
    channels: dict[str, Channel] = {} if time_channel is None else {"time": time_channel}
    found: dict[str, tuple[int, Reading | None, float]] = {
        name: (index, None, 1.0) for name, (index, _) in chosen.items()
    }
    found |= {match.row.name: (match.index, match.reading, match.score) for match in matches}
    table = with_own_rates(table, axis.time, axis.rate_hz, {index: n for n, (index, _, _) in found.items()})
    mends: tuple[Finding, ...] = ()
    order = sorted(found, key=lambda name: _FIRST.index(name) if name in _FIRST else len(_FIRST))
    engine = Engine(None, None, barometer)
    for name in order:
        if name == "time":
            continue
        index, reading, score = found[name]
        choice = chosen[name][1] if name in chosen else None
        channel = _channel(table.columns[index], name, reading, score, choice, engine, channels)
        channel, said = mended(channel, channels, axis, table.file)
        mends += said
        _keep(channels, channel)
        if channel.name in _FIRST:
            engine = _engine(channels, barometer)
    if not {"boost", "manifold_pressure"} & set(channels):
        behaves = _by_behaviour(table, engine, taken | {match.index for match in matches})
        if behaves is not None:
            _keep(channels, behaves)
    for match in _second_sensors(table, chosen, matches, taken):
        _keep(
            channels,
            _channel(
                table.columns[match.index],
                MANIFOLD_SENSOR,
                match.reading,
                match.score,
                None,
                engine,
                channels,
            ),
        )
    if "engine_speed" not in channels:
        raise _no_speed(table)
    table = replace(table, findings=table.findings + mends)
    return _recording(table, axis, time_channel is not None, channels, barometer)


def _recording(
    table: Table, axis: TimeAxis, timed: bool, channels: dict[str, Channel], barometer: float | None
) -> Recording:
    key_on = measure_key_on(channels)
    around = find_barometer(channels, key_on, barometer)
    manifold = next((key_on[name] for name in ("boost", "manifold_pressure") if name in key_on), None)
    recording = Recording(
        table.file,
        table.kind,
        table.rows,
        axis.rate_hz,
        axis.time,
        channels,
        table.findings + axis.findings,
        around,
        manifold,
        key_on,
        timed,
    )
    unused = [c.header for c in table.columns if c.header not in {ch.column for ch in channels.values()}]
    findings = about_barometer(table.file, channels, key_on, around) + check_channels(
        recording, unused, barometer
    )
    return replace(recording, findings=recording.findings + findings)


def _assign(table: Table, named: set[str], taken: set[int]) -> list[_Match]:
    """Best channel for each column, each channel once, the surest first."""
    manifold_named = bool(named & {"boost", "manifold_pressure"})
    options = []
    for index, column in enumerate(table.columns):
        if index in taken or column.lost_cells >= table.rows:
            continue
        for row in ROWS:
            if row.name in named or (row.name == MANIFOLD_SENSOR and manifold_named):
                continue
            match = _best_reading(index, column, row)
            if match is not None and match.score >= _ACCEPTED:
                options.append(match)
    options.sort(key=lambda match: (-match.score, match.index))
    matches: list[_Match] = []
    used: set[int] = set()
    names: set[str] = set()
    for match in options:
        if match.index not in used and match.row.name not in names:
            matches.append(match)
            used.add(match.index)
            names.add(match.row.name)
    return matches


def _second_sensors(
    table: Table, chosen: Mapping[str, tuple[int, ColumnChoice]], matches: list[_Match], taken: set[int]
) -> list[_Match]:
    """Further columns of the manifold sensor: its other reference, or an independent sensor."""
    used = taken | {match.index for match in matches}
    row = BY_NAME["boost"]
    first = [table.columns[m.index].values for m in matches if m.row is row]
    first += [table.columns[index].values for name, (index, _) in chosen.items() if BY_NAME.get(name) is row]
    found: list[_Match] = []
    for index, column in enumerate(table.columns):
        match = None if index in used else _best_reading(index, column, row)
        if match is None or match.score < 0.6:
            continue
        if any(np.array_equal(column.values, other, equal_nan=True) for other in first):
            continue
        found.append(match)
        first.append(column.values)
    return found


def _by_behaviour(table: Table, engine: Engine, used: set[int]) -> Channel | None:
    """A pressure without a telling name that behaves like the manifold's: vacuum shut, boost wide open."""
    if engine.throttle is None:
        return None
    found: list[tuple[float, Channel]] = []
    wide, shut = engine.throttle > 0.9, engine.throttle < 0.2
    for index, column in enumerate(table.columns):
        reading = next((r for r in read_header(column.header, column.unit) if _only_pressure(r)), None)
        if index in used or reading is None or not np.isfinite(column.values).any():
            continue
        if wide.sum() < 20 or shut.sum() < 20 or column.lost_cells > 0.3 * table.rows:
            continue
        taken = Taken(MANIFOLD_SENSOR, reading.unit, reading.reference, reading.concepts, 0.6, "", False)
        judged = judge(column.values, "manifold", engine, unit=taken.unit, said=taken.said, usual=None)
        if judged.fit > -8.0 and np.nanmedian(column.values[wide]) > np.nanpercentile(
            column.values[shut], 90.0
        ):
            why = "no name, but vacuum with the throttle shut and boost with it wide open"
            found.append((judged.fit, read_pressure(column, replace(taken, why=why), engine, {})))
    return max(found, key=lambda item: item[0])[1] if found else None


def _only_pressure(reading: Reading) -> bool:
    """Nothing said but a pressure: "Pressure 2", "P1 [bar]"."""
    said = reading.concepts - NEUTRAL
    return said == {"PRESSURE"} and (reading.unit is None or reading.unit.dimension == "pressure")


def _best_reading(index: int, column: Column, row: Row) -> _Match | None:
    best: _Match | None = None
    for reading in read_header(column.header, column.unit):
        score = _name_score(reading, row, column)
        if score > 0.0:
            score *= _range_share(column.values, row, reading.unit)
        if score > 0.0 and (best is None or score > best.score):
            best = _Match(index, row, reading, score)
    return best


def _name_score(reading: Reading, row: Row, column: Column) -> float:
    """How well words and unit of a header fit a channel, 0 to 1."""
    if column.clock and row.name != "time":
        return 0.0
    if row.never & reading.concepts:
        return 0.0
    if row.name == "shaft_speed" and not (reading.concepts & _TURBO or _turns_like_a_turbo(column, reading)):
        return 0.0
    if row.name == "gear" and "ratio" in column.header.casefold():
        return 0.0
    # A plain ratio is how some loggers write a share.
    accepted = (*row.dimensions, "ratio") if row.dimensions[0] == "fraction" else row.dimensions
    if reading.unit is not None and reading.unit.dimension not in accepted:
        return 0.0
    best = 0.0
    for pattern, certainty in row.patterns:
        if not pattern <= reading.concepts:
            continue
        foreign = reading.concepts - pattern - row.also - NEUTRAL
        best = max(best, certainty * _FOREIGN ** len(foreign))
    said = reading.concepts - NEUTRAL
    if reading.unit is not None and reading.unit.dimension == row.dimensions[0] and len(said) <= 1:
        best = max(best, row.by_unit)
    if row.name == "time" and column.clock:
        best = max(best, 0.9)
    if reading.unit is None and row.dimensions[0] not in ("ratio", "time"):
        best *= 0.95
    return float(best * 0.93 ** min(reading.unknown, 5))


def _turns_like_a_turbo(column: Column, reading: Reading) -> bool:
    """True where a shaft that nobody calls the turbo's turns faster than any dyno or drive shaft."""
    finite = column.values[np.isfinite(column.values)]
    if not finite.size:
        return False
    top = float(np.percentile(finite, 99.5))
    if reading.unit is not None and reading.unit.name != "rpm":
        return top * reading.unit.factor > _TURBO_RAD_S
    return top > _TURBO_RPM or 20.0 < top < 400.0  # thousands of rpm, whatever the header says


def _range_share(values: FloatArray, row: Row, unit: Unit | None) -> float:
    """Share of the values that such a channel can have; 1 where no unit is known to judge by."""
    finite = values[np.isfinite(values)]
    if finite.size > 4000:
        finite = finite[:: finite.size // 4000]
    if not finite.size:
        return 0.0
    if unit is None:
        if row.dimensions[0] not in ("ratio", "voltage"):
            return 1.0
        low, high = row.low, row.high
    elif unit.dimension != row.dimensions[0]:
        return 0.97  # a throttle in volts or degrees: its own ends are its scale
    else:
        low, high = ((limit - unit.offset) / unit.factor for limit in (row.low, row.high))
    inside = float(np.mean((finite >= low) & (finite <= high)))
    return inside if inside > 0.8 else 0.1 * inside


def _raw_speed(
    table: Table, chosen: Mapping[str, tuple[int, ColumnChoice]], matches: list[_Match]
) -> FloatArray | None:
    if "engine_speed" in chosen:
        return table.columns[chosen["engine_speed"][0]].values
    return next((table.columns[m.index].values for m in matches if m.row.name == "engine_speed"), None)


def _clock(chosen: Mapping[str, tuple[int, ColumnChoice]], matches: list[_Match]) -> int | None:
    """The column that is named or called time."""
    if "time" in chosen:
        return chosen["time"][0]
    return next((m.index for m in matches if m.row.name == "time"), None)


def _time(
    table: Table,
    chosen: Mapping[str, tuple[int, ColumnChoice]],
    matches: list[_Match],
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
        sure, why = 1.0, "named in pulls.toml"
    elif match is not None:
        index, unit, sure = match.index, match.reading.unit, match.score
        why = "by its name" if unit is None else "by its name and unit"
    else:
        used = {m.index for m in matches}
        clocks = [i for i, c in enumerate(table.columns) if i not in used and looks_like_time(c.values)]
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
    axis = time_axis(column, unit, speed, f"{table.file}: column {column.header}")
    if axis.rate_hz is None:
        return axis, None
    if unit is None and "time" not in chosen:
        why += f"; its steps are {axis.unit}"
    return axis, Channel("time", column.header, axis.unit, None, sure, why, column.lost_cells, axis.time)


def _channel(
    column: Column,
    name: str,
    reading: Reading | None,
    score: float,
    choice: ColumnChoice | None,
    engine: Engine,
    channels: Mapping[str, Channel],
) -> Channel:
    row = BY_NAME[name]
    if reading is None:
        reading = _told_reading(column, row)
    unit, said, concepts = reading.unit, reading.reference, reading.concepts
    why = _name_reason(reading, score)
    if choice is not None:
        score, why = 1.0, "named in pulls.toml"
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


def _keep(channels: dict[str, Channel], channel: Channel) -> None:
    """A second sensor of the manifold in the same reference is an independent one."""
    if channel.name in channels and channel.name in ("boost", "manifold_pressure"):
        if "boost_check" in channels:
            return
        channel = replace(channel, name="boost_check")
    channels.setdefault(channel.name, channel)


def _engine(channels: Mapping[str, Channel], barometer: float | None) -> Engine:
    speed = channels.get("engine_speed")
    throttle = channels.get("throttle") or channels.get("pedal")
    logged = channels.get("barometer")
    around = barometer
    if logged is not None and np.isfinite(logged.values).any() and logged.sure > 0.4:
        around = float(np.nanmedian(logged.values))
    return Engine(
        None if speed is None else speed.values * 30.0 / np.pi,
        None
        if throttle is None
        else throttle.values / max(float(np.nanpercentile(throttle.values, 99.5)), 1e-6),
        around,
    )


def _no_speed(table: Table) -> InputError:
    seen = ", ".join(f'"{column.header}"' for column in table.columns)
    row = BY_NAME["engine_speed"]
    empty = [
        c.header
        for c in table.columns
        if c.lost_cells >= table.rows
        and any(_name_score(r, row, c) > 0.6 for r in read_header(c.header, c.unit))
    ]
    says = f"No column of this file is the engine speed. Columns seen: {seen}."
    if empty:
        says = f'The column "{empty[0]}" is the engine speed, but holds no number. Columns seen: {seen}.'
    return InputError(
        says,
        kind="no-engine-speed",
        where=table.file,
        do="Log the engine speed; or name its column in pulls.toml under [[recording]]: [recording.channels] "
        'engine_speed = {column = "the header of that column", unit = "rpm"}.',
    )
