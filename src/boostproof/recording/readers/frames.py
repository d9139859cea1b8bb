"""CAN frames and how databases turn them into channels, all frames of a message at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.model import Column, FloatArray
from boostproof.recording.readers.dbc import EXTENDED, Database, Message, Signal
from boostproof.recording.readers.grouped import Group, Offer, name_some, pick_channels

Bytes = NDArray[np.uint8]
Raw = NDArray[np.uint64]
Mask = NDArray[np.bool_]
_LONGEST = 64  # bytes of a frame (ISO 11898-1, CAN FD)


@dataclass(frozen=True)
class Frames:
    """Frames as they came in.

    Attributes
    ----------
    time : seconds, shape (n,), never falling
    bus : index into ``buses``, shape (n,)
    keys : ids, shape (n,), with `EXTENDED` set for those of 29 bits
    starts, lengths : first byte in ``data`` and number of bytes, shape (n,)
    data : bytes of all frames
    buses : names of the buses
    """

    time: FloatArray
    bus: NDArray[np.int64]
    keys: NDArray[np.int64]
    starts: NDArray[np.int64]
    lengths: NDArray[np.int64]
    data: Bytes
    buses: tuple[str, ...]


def raw_bits(payload: Bytes, start: int, length: int, big_endian: bool) -> Raw:
    """The bits of a signal as an unsigned number.

    Parameters
    ----------
    payload : shape (bytes, n), one column per frame
    start, length, big_endian : as in `Signal`; up to 64 bits

    Returns
    -------
    uint64, shape (n,)
    """
    if big_endian:
        first = 8 * (start // 8) + 7 - start % 8  # counted from the most significant bit of byte 0
        last = first + length - 1
        shift, places = 7 - last % 8, range(last // 8, first // 8 - 1, -1)
    else:
        shift, places = start % 8, range(start // 8, (start + length - 1) // 8 + 1)
    raw = np.zeros(payload.shape[1], dtype=np.uint64)
    for count, place in enumerate(places):
        # A signal of more than 57 bits may touch nine bytes: the lowest is shifted out before the highest is in.
        bits = 8 * count - shift
        byte = payload[place].astype(np.uint64)
        raw |= byte >> np.uint64(-bits) if bits < 0 else byte << np.uint64(bits)
    return raw & np.uint64((1 << length) - 1)


def last_byte(signal: Signal) -> int:
    """The last byte of the message that the signal reaches into."""
    if signal.big_endian:
        return (8 * (signal.start // 8) + 7 - signal.start % 8 + signal.length - 1) // 8
    return (signal.start + signal.length - 1) // 8


def physical(raw: Raw, signal: Signal) -> FloatArray:
    """Values of a signal from its bits, NaN where its value table says that there is none."""
    length = signal.length
    numbers: NDArray[np.generic] = raw
    if signal.floating:
        bits, kind = {16: (np.uint16, np.float16), 32: (np.uint32, np.float32), 64: (np.uint64, np.float64)}[
            length
        ]
        numbers = raw.astype(bits).view(kind)
    elif signal.signed:
        fill = np.uint64(64 - length)
        numbers = (raw << fill).view(np.int64) >> np.int64(64 - length)
    with np.errstate(invalid="ignore", over="ignore"):  # bits of a float may be anything
        values = numbers.astype(np.float64) * signal.scale + signal.offset
    if signal.no_value and not signal.floating:
        low, high = (-(1 << 63), 1 << 63) if signal.signed else (0, 1 << 64)
        called = [number for number in signal.no_value if low <= number < high]
        values[np.isin(numbers, np.array(called, dtype=numbers.dtype))] = np.nan
    values[~np.isfinite(values)] = np.nan
    return values


def decode_frames(
    frames: Frames, databases: Sequence[Database], where: str
) -> tuple[list[Group], list[Finding]]:
    """All signals of all messages that the databases know, each message on its own clock.

    Parameters
    ----------
    frames : as they came in
    databases : in the order in which they are asked
    where : file name of the log

    Raises
    ------
    InputError
        If no database knows any of the frames.
    """
    known, findings = _messages(databases, frames.buses)
    found: list[tuple[Message, str, NDArray[np.int64]]] = []
    unknown: dict[int, int] = {}
    for bus, key, rows in _by_message(frames):
        message = known[bus].get(key)
        if message is None:
            unknown[key] = unknown.get(key, 0) + len(rows)
        elif message.signals:
            found.append((message, frames.buses[bus], rows))
    if not found:
        raise InputError(
            f"None of the {len(unknown)} messages in this log stands in "
            f"{name_some([database.file for database in databases])}.",
            kind="wrong-dbc",
            where=where,
            do="Put the .dbc file that belongs to this bus into the folder of the log.",
        )
    findings += _unknown(unknown, len(frames.time), where)
    wide = sorted({s.name for message, _, _ in found for s in message.signals if not _readable(s)})
    if wide:
        says = f"Channels that hold no numbers, or reach beyond the longest frame, were passed over ({name_some(wide)})."
        findings.append(Finding("no-number-channels", where, says))
    parts = [part for message, bus, rows in found for part in _parts(message, _bus_name(bus, frames), rows, frames)]
    offers = [Offer(s.name, s.unit, len(part.rows)) for part in parts for s in part.signals]
    kept, noticed = pick_channels(offers, [frames.time[part.rows] for part in parts], where)
    short: list[str] = []
    groups = list(_decode(parts, set(kept), frames, short))
    return groups, findings + noticed + _short(short, where)


def _messages(
    databases: Sequence[Database], buses: tuple[str, ...]
) -> tuple[list[dict[int, Message]], list[Finding]]:
    """Messages by id for each bus; a database called like a bus ("can1.dbc") is asked first there."""
    known: list[dict[int, Message]] = []
    disputed: set[str] = set()
    for bus in buses:
        first = [d for d in databases if bus.casefold() in d.file.casefold()]
        table: dict[int, Message] = {}
        for database in (*first, *(d for d in databases if d not in first)):
            for message in database.messages:
                other = table.setdefault(message.key, message)
                if other.signals != message.signals and not first:
                    disputed.add(f"{message.name} ({_id_text(message.key)})")
        known.append(table)
    if not disputed:
        return known, []
    return known, [
        Finding(
            "two-databases",
            name_some([database.file for database in databases]),
            f"Two databases read the same messages differently ({name_some(sorted(disputed))}); "
            f"{databases[0].file} was taken.",
            "Keep only the database that belongs to this log, or give each the name of its bus.",
        )
    ]


def _by_message(frames: Frames) -> Iterator[tuple[int, int, NDArray[np.int64]]]:
    """(bus, id, rows) of every message; rows keep their order."""
    together = frames.keys | (frames.bus << 32)
    names, which = np.unique(together, return_inverse=True)
    small = which.astype(np.uint16 if len(names) <= 0xFFFF else np.uint32)
    order = np.argsort(small, kind="stable")
    ends = np.cumsum(np.bincount(small, minlength=len(names)))
    for index, name in enumerate(names.tolist()):
        yield name >> 32, name & 0xFFFF_FFFF, order[ends[index - 1] if index else 0 : ends[index]]


@dataclass(frozen=True)
class _Part:
    """Signals of a message that are sent together, and the rows that hold them."""

    name: str
    rows: NDArray[np.int64]
    signals: tuple[Signal, ...]


def _bus_name(bus: str, frames: Frames) -> str:
    return bus if len(frames.buses) > 1 else ""


def _parts(message: Message, bus: str, rows: NDArray[np.int64], frames: Frames) -> list[_Part]:
    """A message as it is sent: whole, or one part for each position of its switches."""
    name = f"{bus} {message.name}".strip()
    usable = [s for s in message.signals if _readable(s)]
    together: dict[tuple[str | None, tuple[int, ...]], list[Signal]] = defaultdict(list)
    for signal in usable:
        together[signal.switch, signal.switched_on].append(signal)
    if set(together) <= {(None, ())}:
        return [_Part(name, rows, tuple(usable))] if usable else []
    payload = _payload(frames, rows, 1 + max(last_byte(s) for s in usable))
    lengths = frames.lengths[rows]
    by_name = {signal.name: signal for signal in usable}
    parts = []
    for signals in together.values():
        sent = rows[_sent(signals[0], by_name, payload, lengths)]
        if len(sent):
            parts.append(_Part(name, sent, tuple(signals)))
    return parts


def _readable(signal: Signal) -> bool:
    if signal.start < 0 or last_byte(signal) >= _LONGEST:
        return False
    return signal.length in (16, 32, 64) if signal.floating else 1 <= signal.length <= 64


def _sent(signal: Signal, by_name: dict[str, Signal], payload: Bytes, lengths: NDArray[np.int64]) -> Mask:
    """Frames in which the switches above a signal stand so that it is sent."""
    sent = np.ones(payload.shape[1], dtype=bool)
    above = 0
    while signal.switch is not None and above < 8:  # switches may stand under switches, but not in a ring
        switch = by_name.get(signal.switch)
        if switch is None:
            return np.zeros(payload.shape[1], dtype=bool)
        position = raw_bits(payload, switch.start, switch.length, switch.big_endian)
        places = [place for place in signal.switched_on if 0 <= place < 1 << 64]
        sent &= np.isin(position, np.array(places, dtype=np.uint64))
        sent &= last_byte(switch) < lengths
        signal, above = switch, above + 1
    return sent


def _payload(frames: Frames, rows: NDArray[np.int64], width: int) -> Bytes:
    """Bytes of frames, shape (width, rows); what a frame does not hold is arbitrary."""
    starts = frames.starts[rows]
    last = max(len(frames.data) - 1, 0)
    payload = np.zeros((width, len(rows)), dtype=np.uint8)
    if len(frames.data):
        for place in range(width):
            payload[place] = frames.data[np.minimum(starts + place, last)]
    return payload


def _decode(parts: Sequence[_Part], kept: set[int], frames: Frames, short: list[str]) -> Iterator[Group]:
    """The kept signals of each part; what is cut off at the end of a frame is lost."""
    index = 0
    for part in parts:
        signals = [s for place, s in enumerate(part.signals, index) if place in kept]
        index += len(part.signals)
        if not signals:
            continue
        payload = _payload(frames, part.rows, 1 + max(last_byte(s) for s in signals))
        lengths = frames.lengths[part.rows]
        shortest = int(lengths.min())
        columns = []
        cut = 0
        for signal in signals:
            values = physical(raw_bits(payload, signal.start, signal.length, signal.big_endian), signal)
            if last_byte(signal) >= shortest:
                missing = last_byte(signal) >= lengths
                values[missing] = np.nan
                cut = max(cut, int(np.count_nonzero(missing)))
            columns.append(Column(signal.name, signal.unit, values))
        if cut:
            short.append(f"{part.name} {cut}")
        yield Group(part.name, frames.time[part.rows], tuple(columns))


def _id_text(key: int) -> str:
    return f"{key & ~EXTENDED:08X}" if key & EXTENDED else f"{key:03X}"


def _unknown(unknown: dict[int, int], frames: int, where: str) -> list[Finding]:
    if not unknown:
        return []
    many = sorted(unknown, key=lambda key: -unknown[key])
    return [
        Finding(
            "unknown-messages",
            where,
            f"{sum(unknown.values())} of {frames} frames are messages that no database knows "
            f"({name_some([_id_text(key) for key in many])}); they were left out.",
            "Nothing, if the channels that are needed were found.",
        )
    ]


def _short(short: Sequence[str], where: str) -> list[Finding]:
    if not short:
        return []
    return [
        Finding(
            "short-frames",
            where,
            f"Frames are shorter than the database says ({name_some(short)}); what they do not hold was left out.",
            "Check that the database belongs to this car.",
        )
    ]


def merged(parts: Sequence[Frames]) -> Frames:
    """Frames of several recordings of one clock as one, in the order of their times."""
    buses = tuple(dict.fromkeys(bus for part in parts for bus in part.buses))
    shifted, base = [], 0
    for part in parts:
        places = np.array([buses.index(bus) for bus in part.buses], dtype=np.int64)
        shifted.append(replace(part, bus=places[part.bus], starts=part.starts + base))
        base += len(part.data)
    time = np.concatenate([part.time for part in shifted])
    order = np.argsort(time, kind="stable")
    return Frames(
        time[order],
        np.concatenate([part.bus for part in shifted])[order],
        np.concatenate([part.keys for part in shifted])[order],
        np.concatenate([part.starts for part in shifted])[order],
        np.concatenate([part.lengths for part in shifted])[order],
        np.concatenate([part.data for part in shifted]),
        buses,
    )
