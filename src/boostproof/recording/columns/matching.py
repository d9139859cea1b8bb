"""Which column fits which channel best: by the words of its header, its unit, and the range of its numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from boostproof.recording.columns.channel_table import BY_NAME, MANIFOLD_SENSOR, NEUTRAL, ROWS, Row
from boostproof.recording.columns.headers import Reading, read_header
from boostproof.recording.columns.ratio_steps import step_of_ratio
from boostproof.recording.columns.thinned import thin
from boostproof.recording.columns.two_units import straight
from boostproof.recording.model import Column, FloatArray, Table
from boostproof.units import UNITS, Unit

_ACCEPTED = 0.3  # certainty below which a column stays unnamed
_FOREIGN = 0.15  # factor for a word that belongs to another quantity
_HARDLY = 0.02  # of its level; a manifold sensor that moves by less has nothing to tell
_NEARLY_TIED = 0.93  # share of the best certainty from which a second column is a rival
_MISNAMED = 0.6  # certainty that a name keeps whose numbers fit only in another unit
_TURBO = frozenset({"TURBO", "TURBINE", "COMPRESSOR"})
_TURBO_RPM = 20_000.0  # common practice, no source: drive shafts stay below 10 000, turbos pass 60 000
_TURBO_RAD_S = _TURBO_RPM * np.pi / 30.0
# Dimensions whose numbers tell a wrong name even where no unit is given.
_TELLING = frozenset({"rotational_speed", "speed", "temperature"})
# Channels that cannot stand still through a log worth reading.
_MOVING = frozenset({"engine_speed", "throttle", "pedal", MANIFOLD_SENSOR, "air_flow", "shaft_speed"})


@dataclass(frozen=True)
class Match:
    """A column taken for a channel.

    Attributes
    ----------
    index : number of the column
    row : the channel
    reading : how the header was read
    score : how well name, unit and range fit, 0 to 1
    rank : the same with how alive the column is; only for choosing between columns
    """

    index: int
    row: Row
    reading: Reading
    score: float
    rank: float


@dataclass(frozen=True)
class Seen:
    """A column as it is judged: its header's readings, and some of its numbers without holes."""

    column: Column
    readings: tuple[Reading, ...]
    some: FloatArray


def look_at(table: Table) -> tuple[Seen, ...]:
    """Every column of a table, read once."""
    seen = []
    for column in table.columns:
        some = thin(column.values)
        some = some[np.isfinite(some)]
        seen.append(Seen(column, read_header(column.header, column.unit), some))
    return tuple(seen)


def assign(
    seen: Sequence[Seen], named: set[str], taken: set[int]
) -> tuple[list[Match], dict[str, tuple[int, ...]]]:
    """Best channel for each column, each channel once, the surest first.

    Parameters
    ----------
    seen : columns
    named : channels that a person named
    taken : their columns

    Returns
    -------
    matches, and for a channel with several columns nearly as good: their numbers, the one taken first
    """
    manifold_named = bool(named & {"boost", "manifold_pressure"})
    rows = [r for r in ROWS if r.name not in named and not (r.name == MANIFOLD_SENSOR and manifold_named)]
    options = []
    for index, one in enumerate(seen):
        if index in taken or not one.some.size:
            continue
        for row in rows:
            match = best_reading(index, one, row)
            if match is not None and match.score >= _ACCEPTED:
                options.append(match)
    options.sort(key=lambda match: (-match.rank, match.index))
    matches: list[Match] = []
    used: set[int] = set()
    names: set[str] = set()
    for match in options:
        if match.index not in used and match.row.name not in names:
            matches.append(match)
            used.add(match.index)
            names.add(match.row.name)
    return matches, {m.row.name: r for m in matches if (r := _rivals(seen, m, options, used))}


def _rivals(seen: Sequence[Seen], best: Match, options: Iterable[Match], used: set[int]) -> tuple[int, ...]:
    """Columns that nobody else took and that fit nearly as well, but say something else."""
    found = [best.index]
    for other in options:
        if other.row is not best.row or other.index in used or other.rank < _NEARLY_TIED * best.rank:
            continue
        if not any(same_numbers(seen[other.index].column, seen[i].column) for i in found):
            found.append(other.index)
    return tuple(found) if len(found) > 1 else ()


def same_numbers(one: Column, other: Column) -> bool:
    """A repeated column."""
    return bool(np.array_equal(one.values, other.values, equal_nan=True))


def second_sensors(seen: Sequence[Seen], first: Sequence[int], used: set[int]) -> list[Match]:
    """Further columns of the manifold sensor: its other reference, or an independent sensor.

    Parameters
    ----------
    seen : columns
    first : those taken for the manifold sensor already
    used : those taken for anything
    """
    row = BY_NAME["boost"]
    known = list(first)
    found: list[Match] = []
    for index, one in enumerate(seen):
        # A column without a number measures nothing.
        match = None if index in used or not one.some.size else best_reading(index, one, row)
        if match is None or match.score < 0.6:
            continue
        if any(same_numbers(one.column, seen[other].column) for other in known):
            continue
        found.append(match)
        known.append(index)
    return found


def only_pressure(reading: Reading) -> bool:
    """Nothing said but a pressure: "Pressure 2", "P1 [bar]"."""
    said = reading.concepts - NEUTRAL
    return said == {"PRESSURE"} and (reading.unit is None or reading.unit.dimension == "pressure")


def says_boost(one: Seen) -> bool:
    """A name that is boost's or manifold pressure's, over numbers in no unit of pressure: volts, counts, a share."""
    if not one.some.size or float(np.ptp(one.some)) == 0.0:
        return False
    for reading in one.readings:
        dimension = "" if reading.unit is None else reading.unit.dimension
        if dimension == "pressure":
            return False
        bare = replace(reading, unit=None, concepts=reading.concepts - {"RAW", "VOLTAGE"})
        if dimension in ("", "voltage", "fraction") and name_score(bare, BY_NAME[MANIFOLD_SENSOR], one) > 0.6:
            return True
    return False


def best_reading(index: int, one: Seen, row: Row) -> Match | None:
    """The reading of a header that fits a channel best, None where none does."""
    best: Match | None = None
    for reading in one.readings:
        score = name_score(reading, row, one)
        if score > 0.0:
            score *= _range_share(one.some, row, reading.unit)
        if score > 0.0 and (best is None or score > best.score):
            best = Match(index, row, reading, score, score * _alive(one, row))
    return best


def _alive(one: Seen, row: Row) -> float:
    """1 for a column that moves and has all its cells; less for one that stands still or is full of holes."""
    share = 1.0 - 0.3 * one.column.lost_cells / max(len(one.column.values), 1)
    if row.name not in _MOVING or one.some.size < 2:
        return share
    still = float(np.ptp(one.some)) == 0.0
    if row.name == MANIFOLD_SENSOR and not still:
        low, middle, high = np.percentile(one.some, [1.0, 50.0, 99.0])
        still = bool(high - low < _HARDLY * abs(middle))
    return 0.5 * share if still else share


def name_score(reading: Reading, row: Row, one: Seen) -> float:
    """How well words and unit of a header fit a channel, 0 to 1."""
    column = one.column
    if column.clock and row.name != "time":
        return 0.0
    if row.never & reading.concepts:
        return 0.0
    if row.name == "shaft_speed" and not (reading.concepts & _TURBO or _turns_like_a_turbo(one, reading)):
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
    if row.name == "engine_speed" and said == {"SPEED"} and reading.unit is None and _turns_like_an_engine(one):
        best = max(best, 0.6)
    if reading.unit is None and row.dimensions[0] not in ("ratio", "time"):
        best *= 0.95
    return float(best * 0.93 ** min(reading.unknown, 5))


def _top(some: FloatArray) -> float:
    return float(np.percentile(some, 99.5)) if some.size else 0.0


def _turns_like_a_turbo(one: Seen, reading: Reading) -> bool:
    """True where a shaft that nobody calls the turbo's turns faster than any dyno or drive shaft."""
    if not (one.some.size and reading.concepts & {"SHAFT"}):
        return False
    top = _top(one.some)
    if reading.unit is not None and reading.unit.name != "rpm":
        return top * reading.unit.factor > _TURBO_RAD_S
    return top > _TURBO_RPM or 20.0 < top < 400.0  # thousands of rpm, whatever the header says


def _turns_like_an_engine(one: Seen) -> bool:
    """A speed of thousands: no car drives that, whatever the unit."""
    return 1500.0 < _top(one.some) < 14_000.0


def _range_share(some: FloatArray, row: Row, unit: Unit | None) -> float:
    """Share of the values that such a channel can have; 1 where no unit is known to judge by."""
    if some.size > 4000:
        some = some[:: some.size // 4000]
    dimension = row.dimensions[0]
    if unit is None:
        if dimension in _TELLING:
            share = _in_any_unit(some, row)
        elif dimension in ("ratio", "voltage"):
            share = _inside(some / step_of_ratio(some, row.name), row, None)
        else:
            return 1.0
    elif unit.dimension != dimension:
        return 0.97  # a throttle in volts or degrees: its own ends are its scale
    else:
        share = _inside(some, row, unit)
        if share <= 0.8 and dimension in ("pressure", "temperature", "speed", "rotational_speed"):
            return _MISNAMED if _in_any_unit(some, row) > 0.95 else 0.1 * share
    return share if share > 0.8 else 0.1 * share


def _inside(some: FloatArray, row: Row, unit: Unit | None) -> float:
    low, high = row.low, row.high
    if unit is not None:
        some = straight(some, unit)
        low, high = ((limit - unit.offset) / unit.factor for limit in (low, high))
    return float(np.mean((some >= low) & (some <= high)))


def _in_any_unit(some: FloatArray, row: Row) -> float:
    """The same in the unit of the channel's dimension in which most values fit."""
    usual = ("kPa", "psi", "bar", "mbar", "inHg", "C", "F", "K", "km/h", "mph", "m/s", "rpm", "krpm")
    fitting = [u for u in UNITS if u.dimension == row.dimensions[0] and u.name in usual]
    return max((_inside(some, row, unit) for unit in fitting), default=0.0)
