"""Which column is which channel, with a certainty and a reason; and the recording that comes of it.

Pure: works on a `Table` that a reader made.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.checks.barometer import about_barometer, find_barometer
from boostproof.recording.checks.dead import is_dead
from boostproof.recording.checks.mend import mended
from boostproof.recording.checks.sensors import check_channels, measure_key_on
from boostproof.recording.checks.units import about_units
from boostproof.recording.checks.unused import about_unused
from boostproof.recording.columns.altitude import altitude_of
from boostproof.recording.columns.behaviour import manifold_by_behaviour, speed_by_behaviour
from boostproof.recording.columns.channel_table import BY_NAME, MANIFOLD_SENSOR
from boostproof.recording.columns.chosen import choose_columns
from boostproof.recording.columns.headers import Reading
from boostproof.recording.columns.matching import Match, Seen, assign, look_at, name_score, second_sensors
from boostproof.recording.columns.own_rates import with_own_rates
from boostproof.recording.columns.pressure_reference import Engine
from boostproof.recording.columns.questions import Asked, ask
from boostproof.recording.columns.read_channel import read_channel
from boostproof.recording.columns.remembered import about_remembered, still_open
from boostproof.recording.columns.thinned import thin
from boostproof.recording.columns.time_column import read_time
from boostproof.recording.columns.timebase import TimeAxis
from boostproof.recording.model import Channel, ColumnChoice, FloatArray, Recording, Table
from boostproof.recording.tidy import tidied

# The order in which channels are read: those that help to judge others go first.
_FIRST = ("time", "engine_speed", "throttle", "pedal", "barometer")
_ORDER = (*_FIRST, MANIFOLD_SENSOR, "boost", "manifold_pressure", "coolant_temperature")
_LEAST_WIDE = 0.3  # share below which a highest opening is an idle's or a cruise's
_SPEED_BY_BEHAVIOUR = 0.4  # certainty of an engine speed that has no name

Chosen = Mapping[str, tuple[int, ColumnChoice]]


@dataclass(frozen=True)
class _Found:
    """What was found for a channel: the column, how its header was read, and how sure that is."""

    index: int
    reading: Reading | None
    score: float


def recognise(
    table: Table,
    columns: Mapping[str, ColumnChoice] | None = None,
    barometer: float | None = None,
    remembered: Mapping[str, ColumnChoice] | None = None,
    *,
    companion: bool = False,
) -> Recording:
    """Name the columns of a table and bring them into SI.

    Parameters
    ----------
    table : what a reader made of a file
    columns : columns named by a person; they go before all recognition
    barometer : pressure of the air around where known [Pa abs]
    remembered : columns named earlier for a log with the same headers; they go before recognition
    companion : the file is to be joined with another and may lack the engine speed; without it nothing that
        needs it is checked

    Raises
    ------
    InputError
        If there is no engine speed and the file stands alone, or a named column or unit does not exist.
    """
    recalled = still_open(remembered or {}, columns or {}, table)
    chosen = choose_columns(table, {**recalled, **(columns or {})})
    taken = {index for index, _ in chosen.values()}
    seen = look_at(table)
    matches, rivals = assign(seen, set(chosen), taken)
    found = _found(seen, chosen, matches)
    clock = found.get("time")
    table = tidied(table, None if clock is None else clock.index)
    speed = None if "engine_speed" not in found else table.columns[found["engine_speed"].index].values
    axis, time_channel = read_time(table, chosen, matches, speed)
    table = with_own_rates(table, axis.time, axis.rate_hz, {f.index: name for name, f in found.items()})
    channels, mends = _channels(table, axis, time_channel, found, chosen, barometer)
    if not {"boost", "manifold_pressure"} & set(channels):
        behaves = manifold_by_behaviour(table, _engine(channels, barometer), {f.index for f in found.values()})
        if behaves is not None:
            _keep(channels, behaves)
    for match in _further(seen, found):
        column, engine = table.columns[match.index], _engine(channels, barometer)
        _keep(
            channels,
            read_channel(column, MANIFOLD_SENSOR, match.reading, match.score, None, engine, channels),
        )
    told = about_remembered(recalled, table.file)
    table = replace(table, findings=table.findings + told + mends)
    timed = time_channel is not None
    if "engine_speed" not in channels and not (companion and timed):
        raise _no_speed(table, seen)
    recording = _recording(table, axis, timed, channels, barometer, seen)
    if "engine_speed" not in channels:
        return recording
    recording = _checked(recording, barometer, seen)
    return replace(recording, questions=ask(Asked(recording, seen, frozenset(chosen), rivals)))


def _found(seen: tuple[Seen, ...], chosen: Chosen, matches: Sequence[Match]) -> dict[str, _Found]:
    """A column for every channel that was named or recognised."""
    found = {name: _Found(index, None, 1.0) for name, (index, _) in chosen.items()}
    found |= {match.row.name: _Found(match.index, match.reading, match.score) for match in matches}
    if "engine_speed" not in found:
        index = speed_by_behaviour(seen, {f.index for f in found.values()})
        if index is not None:
            reading = seen[index].readings[-1]
            found["engine_speed"] = _Found(index, reading, _SPEED_BY_BEHAVIOUR)
    return found


def _channels(
    table: Table,
    axis: TimeAxis,
    time: Channel | None,
    found: Mapping[str, _Found],
    chosen: Chosen,
    barometer: float | None,
) -> tuple[dict[str, Channel], tuple[Finding, ...]]:
    """Every channel found, read in turn, and what was mended."""
    channels: dict[str, Channel] = {} if time is None else {"time": time}
    mends: tuple[Finding, ...] = ()
    engine = Engine(None, None, barometer)
    for name in sorted(found, key=lambda name: _ORDER.index(name) if name in _ORDER else len(_ORDER)):
        if name == "time":
            continue
        f = found[name]
        choice = chosen[name][1] if name in chosen else None
        channel = read_channel(table.columns[f.index], name, f.reading, f.score, choice, engine, channels)
        if not channel.scale_known:
            continue
        channel, said = mended(channel, channels, axis, table.file)
        mends += said
        _keep(channels, channel)
        if channel.name in _FIRST:
            engine = _engine(channels, barometer)
    return channels, mends


def _further(seen: tuple[Seen, ...], found: Mapping[str, _Found]) -> list[Match]:
    first = [f.index for name, f in found.items() if BY_NAME[name].name == MANIFOLD_SENSOR]
    return second_sensors(seen, first, {f.index for f in found.values()})


def _recording(
    table: Table,
    axis: TimeAxis,
    timed: bool,
    channels: dict[str, Channel],
    barometer: float | None,
    seen: Sequence[Seen],
) -> Recording:
    _live_first(channels)
    key_on = measure_key_on(channels)
    around = find_barometer(channels, key_on, barometer, altitude_of(seen))
    manifold = next((key_on[name] for name in ("boost", "manifold_pressure") if name in key_on), None)
    return Recording(
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


def _checked(recording: Recording, barometer: float | None, seen: Sequence[Seen]) -> Recording:
    """With what is to be said about its channels; needs the engine speed."""
    channels = recording.channels
    findings = about_units(recording.file, channels.values())
    findings += about_barometer(recording.file, channels, recording.key_on_all, recording.barometer)
    findings += check_channels(recording, barometer)
    findings += about_unused(recording.file, seen, {channel.column for channel in channels.values()})
    return replace(recording, findings=recording.findings + findings)


def _keep(channels: dict[str, Channel], channel: Channel) -> None:
    """A second sensor of the manifold in the same reference is an independent one."""
    if channel.name in channels and channel.name in ("boost", "manifold_pressure"):
        if "boost_check" in channels:
            return
        channel = replace(channel, name="boost_check")
    channels.setdefault(channel.name, channel)


def _live_first(channels: dict[str, Channel]) -> None:
    """A boost sensor that never moves gives way to one that does."""
    for name in ("manifold_pressure", "boost_check"):
        if "boost" in channels and name in channels and is_dead(channels["boost"]) and not is_dead(channels[name]):
            live, dead = channels.pop(name), channels.pop("boost")
            taken = "boost" if live.reference == "gauge" else "manifold_pressure"
            channels[taken] = replace(live, name=taken)
            channels["boost_check"] = replace(dead, name="boost_check")
            return


def _engine(channels: Mapping[str, Channel], barometer: float | None) -> Engine:
    speed = channels.get("engine_speed")
    throttle = channels.get("throttle") or channels.get("pedal")
    logged = channels.get("barometer")
    around = barometer
    if logged is not None and logged.sure > 0.4:
        some = thin(logged.values)
        around = float(np.nanmedian(some)) if np.isfinite(some).any() else barometer
    return Engine(
        None if speed is None else thin(speed.values) * 30.0 / np.pi,
        None if throttle is None else _share(thin(throttle.values)),
        around,
    )


def _share(throttle: FloatArray) -> FloatArray:
    """Of its own widest opening, where that may be a full one."""
    return throttle / max(float(np.nanpercentile(throttle, 99.5)), _LEAST_WIDE)


def _no_speed(table: Table, seen: Sequence[Seen]) -> InputError:
    listed = ", ".join(f'"{column.header}"' for column in table.columns)
    row = BY_NAME["engine_speed"]
    empty = [
        one.column.header
        for one in seen
        if not one.some.size and any(name_score(reading, row, one) > 0.6 for reading in one.readings)
    ]
    says = f"No column of this file is the engine speed. Columns seen: {listed}."
    if empty:
        says = f'The column "{empty[0]}" is the engine speed, but holds no number. Columns seen: {listed}.'
    return InputError(
        says,
        kind="no-engine-speed",
        where=table.file,
        do="Log the engine speed; or name its column in pulls.toml under [[recording]]: [recording.channels] "
        'engine_speed = {column = "the header of that column", unit = "rpm"}.',
    )
