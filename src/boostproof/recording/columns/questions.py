"""What a person should be asked about the columns of a log: only what is unsure and matters.

Nothing waits for an answer; each question says what was taken without one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from boostproof.recording.columns.channel_table import NEUTRAL
from boostproof.recording.columns.matching import Seen, says_boost
from boostproof.recording.columns.thinned import thin
from boostproof.recording.columns.two_units import BOTH, pressure_unit
from boostproof.recording.model import Channel, ColumnChoice, Option, Question, Recording, Reference
from boostproof.units import get_unit

_POSSIBLE = 0.05  # share from which another unit or reference of the boost sensor is worth asking about
_SHOWN = 0.01
_UNSURE = 0.6  # certainty of a column below which it is asked about
_ALIKE, _SAME = 0.99, 0.01  # correlation of two sensors of one lever; difference of two of one speed
_RATES = (0.5, 1500.0)  # samples a second that a log may have
_MOST = 6
_WORD = {"gauge": "gauge", "abs": "absolute"}
_CALLED = {
    "engine_speed": "engine speed",
    "throttle": "opening of the throttle plate",
    "pedal": "position of the pedal",
    "boost": "boost or manifold pressure",
    "manifold sensor": "boost or manifold pressure",
}


@dataclass(frozen=True)
class Asked:
    """What questions are drawn from.

    Attributes
    ----------
    recording : with its channels
    seen : every column as it was judged
    told : channels that a person named; nothing is asked about these
    rivals : numbers of columns nearly as good for a channel, the one taken first
    """

    recording: Recording
    seen: tuple[Seen, ...]
    told: frozenset[str]
    rivals: Mapping[str, tuple[int, ...]]

    def of(self, column: str) -> Seen | None:
        """A column by its header."""
        return next((one for one in self.seen if one.column.header == column), None)

    def unused(self) -> list[Seen]:
        """Columns that are no channel and hold numbers that change."""
        used = {channel.column for channel in self.recording.channels.values()}
        return [
            one
            for one in self.seen
            if one.column.header not in used and one.some.size > 1 and float(np.ptp(one.some)) > 0.0
        ]


def ask(asked: Asked) -> tuple[Question, ...]:
    """Questions about a recording, the weightiest first; none where all that matters is clear."""
    found = [
        *_boost_reading(asked),
        *_boost_missing(asked),
        *_speed(asked),
        *_throttle(asked),
        *_time(asked),
        *_rivals(asked),
    ]
    return tuple(found[:_MOST])


def _manifold(asked: Asked) -> Channel | None:
    channels = asked.recording.channels
    return channels.get("boost") or channels.get("manifold_pressure")


def _boost_told(asked: Asked) -> bool:
    return bool({"boost", "manifold_pressure"} & asked.told)


def _boost_reading(asked: Asked) -> Iterator[Question]:
    """Which unit the boost sensor is in, and whether it is gauge or absolute."""
    channel = _manifold(asked)
    if channel is None or channel.reference is None or _boost_told(asked):
        return
    factor = pressure_unit(channel.unit).factor
    # Boost in the gauge's two units is boost in psi.
    other = [o for o in channel.others if o.reference != channel.reference or pressure_unit(o.unit).factor != factor]
    likely = other[0].share if other else 0.0
    weak = channel.sure < _UNSURE
    if likely < _POSSIBLE and not channel.said_unit and not weak:
        return
    readings: list[tuple[str, Reference]] = [(channel.unit, channel.reference)]
    readings += [(other.unit, other.reference) for other in channel.others if other.share >= _SHOWN]
    if channel.said_unit and all(unit != channel.said_unit for unit, _ in readings):
        readings.append((channel.said_unit, channel.reference))
    options = tuple(_as_pressure(channel, unit, reference) for unit, reference in readings)
    if weak:
        options += tuple(_column(one, "boost") for one in _pressures(asked)[:2])
        read = f"{channel.unit}, {_WORD[channel.reference]}"
        asks = f'Is "{channel.column}" the boost or manifold pressure (read as {read})?'
    elif channel.said_unit:
        asks = f'"{channel.column}" says {channel.said_unit}, but reads like {channel.unit}: which is it?'
    else:
        asks = f'In which unit is "{channel.column}", and is it gauge or absolute?'
    yield Question(channel.name, asks, options, 0)


def _as_pressure(channel: Channel, unit: str, reference: Reference) -> Option:
    written = channel.values / pressure_unit(channel.unit).factor
    top = float(np.nanmax(written)) if np.isfinite(written).any() else 0.0
    name = "boost" if reference == "gauge" else "manifold_pressure"
    said = ("inHg below zero, psi above", "psi") if unit == BOTH.name else (unit, unit)
    label = f"{said[0]}, {_WORD[reference]} (highest {top:.4g} {said[1]})"
    return Option(label, name, ColumnChoice(channel.column, unit, reference))


def _column(one: Seen, name: str) -> Option:
    reading = one.readings[0]
    unit = None if reading.unit is None else reading.unit.name
    label = f'"{one.column.header}" ({float(one.some.min()):.4g} to {float(one.some.max()):.4g})'
    return Option(label, name, ColumnChoice(one.column.header, unit, reading.reference))


def _pressures(asked: Asked) -> list[Seen]:
    """Unused columns that may be a pressure in the manifold."""
    fitting = [
        one
        for one in asked.unused()
        if not says_boost(one)
        and any(
            r.concepts - NEUTRAL <= {"PRESSURE", "BOOST", "MANIFOLD", "INTAKE", "MAP"}
            and (r.unit is None or r.unit.dimension == "pressure")
            for r in one.readings
        )
    ]
    return sorted(fitting, key=lambda one: not any("PRESSURE" in r.concepts for r in one.readings))


def _boost_missing(asked: Asked) -> Iterator[Question]:
    candidates = _pressures(asked)
    if _manifold(asked) is None and candidates:
        options = tuple(_column(one, "boost") for one in candidates[:4])
        yield Question("boost", "Which column is the boost or manifold pressure?", options, None)


def _speed(asked: Asked) -> Iterator[Question]:
    channel = asked.recording.channels["engine_speed"]
    if "engine_speed" in asked.told or channel.sure >= _UNSURE:
        return
    taken = asked.of(channel.column)
    others = [one for one in asked.unused() if float(np.percentile(one.some, 99.5)) > 1000.0]
    options = tuple(_column(one, "engine_speed") for one in ([taken] if taken else []) + others[:3])
    yield Question("engine_speed", f'Is "{channel.column}" the engine speed?', options, 0)


def _throttle(asked: Asked) -> Iterator[Question]:
    """Plate or pedal, where the header leaves it open; or which column, where none was found."""
    channels = asked.recording.channels
    found = [channels[name] for name in ("throttle", "pedal") if name in channels]
    if {"throttle", "pedal"} & asked.told:
        return
    if not found:
        candidates = [one for one in asked.unused() if _may_be_throttle(one)]
        if candidates:
            options = tuple(_column(one, "throttle") for one in candidates[:4])
            yield Question("throttle", "Which column is the opening of the throttle plate?", options, None)
        return
    channel = found[0]
    one = asked.of(channel.column)
    both = one is not None and any({"THROTTLE", "PEDAL"} <= r.concepts for r in one.readings)
    if len(found) == 1 and (both or (channel.sure < _UNSURE and not channel.said_unit)):
        unit = channel.unit or None
        names = (channel.name, "pedal" if channel.name == "throttle" else "throttle")
        options = tuple(Option(_CALLED[n], n, ColumnChoice(channel.column, unit)) for n in names)
        yield Question(channel.name, f'Is "{channel.column}" the throttle plate or the pedal?', options, 0)


def _may_be_throttle(one: Seen) -> bool:
    """Nothing known is said of it, and it runs between two ends in a unit that a throttle has."""
    named = next((r.unit for r in one.readings if r.unit is not None), None)
    if not (any(r.concepts <= NEUTRAL for r in one.readings) and _throttle_unit(named)):
        return False
    low, high = np.percentile(one.some, [5.0, 99.0])
    return bool(high > low >= -1.0 and high < 1100.0)


def _throttle_unit(unit: object) -> bool:
    return unit is None or getattr(unit, "dimension", "") in ("fraction", "angle", "voltage", "ratio")


def _time(asked: Asked) -> Iterator[Question]:
    """Seconds or milliseconds, where the numbers alone allow both."""
    recording = asked.recording
    channel = recording.channels.get("time")
    one = None if channel is None else asked.of(channel.column)
    if channel is None or one is None or "time" in asked.told or one.column.clock or not channel.unit:
        return
    said = {r.unit.name for r in one.readings if r.unit is not None and r.unit.dimension == "time"}
    if said == {channel.unit} or recording.rate_hz is None:
        return
    here = get_unit(channel.unit, "time").factor
    rates = {unit: recording.rate_hz * here / get_unit(unit, "time").factor for unit in ("s", "ms", "us", channel.unit)}
    units = [channel.unit, *(u for u in rates if u != channel.unit and _RATES[0] <= rates[u] <= _RATES[1])]
    if len(units) == 1 and not said:
        return
    units += sorted(said - set(units))
    options = tuple(
        Option(f"{unit} ({rates.get(unit, 0.0):,.4g} rows a second)", "time", ColumnChoice(channel.column, unit))
        for unit in units
    )
    yield Question("time", f'In which unit does "{channel.column}" count?', options, 0)


def _rivals(asked: Asked) -> Iterator[Question]:
    """Two columns that fit one channel nearly equally well."""
    for name, indices in asked.rivals.items():
        if name not in _CALLED:
            continue
        used = {channel.column for channel in asked.recording.channels.values()}
        columns = [asked.seen[index] for index in indices]
        columns = columns[:1] + [
            one for one in columns[1:] if one.column.header not in used and not _tells_the_same(columns[0], one, name)
        ]
        if len(columns) < 2:
            continue
        option_of = "boost" if name == "manifold sensor" else name
        options = tuple(_column(one, option_of) for one in columns[:4])
        named = " or ".join(f'"{one.column.header}"' for one in columns[:4])
        yield Question(option_of, f"Which is the {_CALLED[name]}: {named}?", options, 0)


def _tells_the_same(one: Seen, other: Seen, name: str) -> bool:
    """Two sensors of one thing: asking which is which would change nothing.

    A lever has its own ends for a scale, so that the other need only move with it; speeds must be the same.
    """
    a, b = thin(one.column.values), thin(other.column.values)
    told = np.isfinite(a) & np.isfinite(b)
    if told.sum() < 20 or float(np.ptp(a[told])) == 0.0 or float(np.ptp(b[told])) == 0.0:
        return False
    if name in ("throttle", "pedal"):
        return float(np.corrcoef(a[told], b[told])[0, 1]) > _ALIKE
    return name == "engine_speed" and float(np.median(np.abs(a - b)[told])) < _SAME * float(np.max(a[told]))
