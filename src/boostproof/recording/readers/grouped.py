"""From channels in groups, each group with a clock of its own, to one table with a header for each channel.

What formats of several rates have in common: clocks that must rise, names that stand in several groups,
channels stored twice, and files with more channels than anybody needs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.columns.headers import read_header
from boostproof.recording.model import Column, FloatArray, Table
from boostproof.recording.rows import FASTEST, rate_of, shared_rows, table_of

MOST_CHANNELS = 2000
_MOST_NUMBERS = 60_000_000  # rows and samples of all channels together: half a gigabyte
_MOST_ROWS = 5_000_000  # five hours and a half at the fastest rate
_NAMED = 8  # channels that a finding names before it only counts


@dataclass(frozen=True)
class Group:
    """Channels sampled together.

    Attributes
    ----------
    name : of the message or channel group; empty where it has none
    time : seconds, shape (n,)
    columns : headers as written in the file, values of shape (n,)
    """

    name: str
    time: FloatArray
    columns: tuple[Column, ...]


@dataclass(frozen=True)
class Offer:
    """A channel that a file offers, before it is read: its name, its unit and how many samples."""

    header: str
    unit: str
    samples: int


def pick_channels(
    offers: Sequence[Offer], times: Sequence[FloatArray], where: str
) -> tuple[list[int], list[Finding]]:
    """Which channels of a file to read: all, or as many as are of use and can be held.

    Parameters
    ----------
    offers : the channels in the file's order
    times : seconds of each time base
    where : file name

    Returns
    -------
    list of int, list of Finding
        Indices of the channels to read, in the file's order. Where there are too many, those go first
        whose names say something.

    Raises
    ------
    InputError
        If the file spans so long a time that no table can hold it.
    """
    rows = _count_rows(times, where)
    numbers = np.array([rows + offer.samples for offer in offers], dtype=np.float64)
    if len(offers) <= MOST_CHANNELS and numbers.sum() <= _MOST_NUMBERS:
        return list(range(len(offers))), []
    silent = [not any(r.concepts for r in read_header(offer.header, offer.unit)) for offer in offers]
    order = sorted(range(len(offers)), key=lambda index: silent[index])
    fits = np.cumsum(numbers[order]) <= _MOST_NUMBERS
    kept = sorted(order[: min(MOST_CHANNELS, int(np.count_nonzero(fits)))])
    finding = Finding(
        "too-many-channels",
        where,
        f"The file holds {len(offers)} channels; {len(kept)} were read, first those with names that are "
        "known here.",
        "Record fewer channels, or export only those that are needed.",
    )
    return kept, [finding]


def _count_rows(times: Sequence[FloatArray], where: str) -> int:
    clean = [time if kept is None else time[kept] for time in times for kept in (rising(time),)]
    filled = [time for time in clean if len(time) >= 2]
    if not filled:
        return 1
    span = max(time[-1] for time in filled) - min(time[0] for time in filled)
    if span * min(max(map(rate_of, filled)), FASTEST) > _MOST_ROWS:
        raise InputError(
            f"The recording spans {span / 3600.0:.0f} hours; that is more than can be read at once.",
            kind="too-long",
            where=where,
            do="Cut out the drive with the pulls and give that.",
        )
    return len(shared_rows(filled))


def rising(time: FloatArray) -> NDArray[np.bool_] | None:
    """Samples whose clock has gone on since all before them; None where that is every sample.

    Parameters
    ----------
    time : seconds, shape (n,), maybe with NaN
    """
    if np.isfinite(time).all() and np.all(np.diff(time) > 0.0):
        return None
    kept = np.isfinite(time)
    # A clock that is set back goes on only from where it was.
    before = np.concatenate([[-np.inf], np.maximum.accumulate(np.where(kept, time, -np.inf))[:-1]])
    return np.asarray(kept & (time > before))


def table_of_groups(
    file: str, kind: str, groups: Sequence[Group], findings: Sequence[Finding], *, by_group: bool
) -> Table:
    """A table of all groups, every header once.

    Parameters
    ----------
    file, kind, findings : as in `Table`
    groups : what was read
    by_group : a repeated name gets the name of its group in front ("ENGINE_2 rpm"), else a running number
        ("rpm (2)"); the one sampled most often keeps the plain name
    """
    left_out = _about_left_out(groups, file)
    groups = [_in_order(group) for group in groups if group.columns and len(group.time)]
    if all(len(group.time) < 2 for group in groups):
        raise InputError(
            "The file holds no channel with more than one sample.",
            kind="no-numbers",
            where=file,
            do="Record the log again; if it was cut, take a longer part.",
        )
    plain = [replace(group, columns=tuple(_plain(column) for column in group.columns)) for group in groups]
    named = _without_repeats(plain)
    headers = _headers(named, by_group)
    parts: list[tuple[FloatArray, list[Column]]] = []
    for index, group in enumerate(named):
        columns = [
            replace(column, header=headers[index, place], lost_cells=_lost(column))
            for place, column in enumerate(group.columns)
        ]
        parts.append((group.time, columns))
    table = table_of(file, kind, parts, findings)
    return replace(table, findings=(*table.findings, *left_out, *_lost_cells(parts, file)))


def _about_left_out(groups: Sequence[Group], where: str) -> list[Finding]:
    """What `_in_order` leaves out."""
    count = 0
    for group in groups:
        kept = rising(group.time)
        if kept is not None and group.columns:
            count += int(np.count_nonzero(~kept))
    if not count:
        return []
    samples = "1 sample was left out: its time is" if count == 1 else f"{count} samples were left out: their times are"
    return [
        Finding(
            "time-not-rising",
            where,
            f"{samples} not later than that of the sample before.",
            "Nothing to do if these are few; many point to a logger that stamps whole blocks of samples at once.",
        )
    ]


def _in_order(group: Group) -> Group:
    kept = rising(group.time)
    if kept is None:
        return group
    columns = tuple(replace(column, values=column.values[kept]) for column in group.columns)
    return replace(group, time=group.time[kept], columns=columns)


def _plain(column: Column) -> Column:
    return replace(column, header=" ".join(column.header.split()) or "channel", unit=column.unit.strip())


def _lost(column: Column) -> int:
    return int(np.count_nonzero(np.isnan(column.values)))


def _without_repeats(groups: Sequence[Group]) -> list[Group]:
    """Channels of the same name and the same samples, stored more than once, are one."""
    seen: dict[str, list[tuple[FloatArray, FloatArray]]] = defaultdict(list)
    result = []
    for group in groups:
        columns = []
        for column in group.columns:
            others = seen[column.header]
            if any(
                np.array_equal(column.values, values, equal_nan=True) and np.array_equal(group.time, time)
                for time, values in others
            ):
                continue
            others.append((group.time, column.values))
            columns.append(column)
        result.append(replace(group, columns=tuple(columns)))
    return result


def _headers(groups: Sequence[Group], by_group: bool) -> dict[tuple[int, int], str]:
    """Headers that differ, by (group, place in the group)."""
    places: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for index, group in enumerate(groups):
        for place, column in enumerate(group.columns):
            places[column.header].append((index, place))
    taken = {"time", *places}
    headers: dict[tuple[int, int], str] = {}
    for header, found in places.items():
        found = sorted(found, key=lambda at: -len(groups[at[0]].time))
        first = header.casefold() != "time"  # that is the name of the rows' own clock
        if first:
            headers[found[0]] = header
        for at in found[first:]:
            longer = f"{groups[at[0]].name} {header}" if by_group and groups[at[0]].name else header
            headers[at] = _free(longer, taken)
            taken.add(headers[at])
    return headers


def _free(header: str, taken: set[str]) -> str:
    """The header, or the first of "header (2)", "header (3)" that nobody has."""
    if header not in taken:
        return header
    count = 2
    while f"{header} ({count})" in taken:
        count += 1
    return f"{header} ({count})"


def _lost_cells(parts: Sequence[tuple[FloatArray, Sequence[Column]]], where: str) -> list[Finding]:
    lost = [column for _, columns in parts for column in columns if column.lost_cells]
    if not lost:
        return []
    total = sum(column.lost_cells for column in lost)
    samples = "1 sample holds no valid number and was" if total == 1 else (
        f"{total} samples hold no valid number and were")  # fmt: skip
    return [
        Finding(
            "lost-cells",
            where,
            f"{samples} left out ({name_some([f'{c.header} {c.lost_cells}' for c in lost])}).",
            "Nothing to do if these are few; many point to a loose plug or an overloaded logger.",
        )
    ]


def name_some(names: Sequence[str]) -> str:
    """The first names of a list, and how many more there are."""
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")
