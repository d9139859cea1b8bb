"""Measurement files of the ASAM MDF standard, versions 3 and 4 (asam.net, "MDF"), read through asammdf.

Every channel group keeps its own clock. Channels come in physical units: the file's own conversions are
applied. Raw CAN frames stored in such a file are translated by .dbc files, as those of a text log are.
"""

from __future__ import annotations

import gc
import importlib
import io
import logging
import sys
import traceback
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.model import Column, FloatArray, Table
from boostproof.recording.readers.dbc import databases_beside, no_database, read_databases, says_no_value
from boostproof.recording.readers.frames import decode_frames
from boostproof.recording.readers.grouped import Group, Offer, name_some, pick_channels, table_of_groups
from boostproof.recording.readers.mdf_frames import holds_frames, is_of_bus, read_frames

KIND = "mdf"
# Synchronisation of a master channel (MDF 4.1, block CN, cn_sync_type).
_TIME = 1
_INDEX = 4
_OTHER_MASTERS = {2: "an angle", 3: "a distance", _INDEX: "a running number"}
_VALUE_TO_TEXT, _RANGE_TO_TEXT = 7, 8  # MDF 4.1, block CC, cc_type
_DAY = 86_400.0


@dataclass(frozen=True)
class _Part:
    """A channel group of the file.

    Attributes
    ----------
    index : its number
    sort : what it runs over, by the numbers of the standard; 0 where that is nothing
    time : seconds of its samples; their running number where it does not run over time
    channels : numbers of its channels
    """

    index: int
    sort: int
    time: FloatArray
    channels: tuple[int, ...]


def read_mdf(path: Path, dbc_paths: Sequence[Path] | None = None) -> Table:
    """Read an MDF file.

    Parameters
    ----------
    path : the file
    dbc_paths : databases for raw CAN frames in it; None for the .dbc files in its folder

    Returns
    -------
    Table
        One column for each channel, each group with its own samples.

    Raises
    ------
    InputError
        If it cannot be opened or understood, holds no channel of numbers, or the library for it is missing;
        if it holds nothing but raw CAN frames and no database knows them.
    """
    library = _library(path.name)
    if not path.is_file():
        raise InputError(
            "The file cannot be opened.",
            kind="no-file",
            where=str(path),
            do="Check the path and that the file may be read.",
        )
    with path.open("rb") as stream:
        if stream.read(8).strip() not in (b"MDF", b"UnFinMF"):
            raise _bad_file("it does not begin like one", path.name)
    with _understood(path.name), library.MDF(path, process_bus_logging=False) as mdf:
        return _read(mdf, path, databases_beside(path) if dbc_paths is None else dbc_paths)


def _library(where: str) -> Any:
    try:
        return importlib.import_module("asammdf")
    except ImportError as error:
        raise InputError(
            "Reading MDF files needs a library that is not installed.",
            kind="missing-library",
            where=where,
            do='Install it with: pip install "boostproof[mdf]".',
        ) from error


@contextmanager
def _understood(where: str) -> Iterator[None]:
    """Whatever the library meets in a broken file, said in our words and not in its own."""
    log = logging.getLogger("asammdf")
    level = log.level
    log.setLevel(logging.CRITICAL + 1)
    try:
        with redirect_stdout(io.StringIO()):
            yield
    except InputError:
        raise
    except Exception as error:
        _let_go(error)
        raise _bad_file(next(iter(str(error).splitlines()), "") or type(error).__name__, where) from error
    finally:
        log.setLevel(level)


def _bad_file(says: str, where: str) -> InputError:
    return InputError(
        f"The MDF file cannot be understood ({says}).",
        kind="bad-mdf",
        where=where,
        do="Save or convert it again with the logging software; a broken copy is the usual cause.",
    )


def _let_go(error: Exception) -> None:
    """Drop the file that the library has half opened; its complaint on the way out says nothing more."""
    hook = sys.unraisablehook
    sys.unraisablehook = lambda _: None
    try:
        traceback.clear_frames(error.__traceback__)
        gc.collect()
    finally:
        sys.unraisablehook = hook


def _read(mdf: Any, path: Path, dbc_paths: Sequence[Path]) -> Table:
    where = path.name
    findings: list[Finding] = []
    parts, frame_groups = _parts(mdf, where, findings)
    groups = _read_parts(mdf, [part for part in parts if part.sort == _TIME], where, findings)
    if frame_groups and (dbc_paths or not groups):
        databases, noticed = read_databases(dbc_paths, where)
        frames, clock = read_frames(mdf, frame_groups, where)
        decoded, more = decode_frames(frames, databases, where)
        groups += decoded
        findings += [*noticed, *clock, *more]
    elif frame_groups:
        error = no_database(where)
        findings.append(Finding(error.kind, where, error.says, error.do))
    if groups:
        findings += _not_over_time([part for part in parts if part.sort != _TIME], where)
        return table_of_groups(where, KIND, _near_zero(groups), findings, by_group=False)
    return _without_clock(mdf, parts, where, findings)


def _not_over_time(parts: Sequence[_Part], where: str) -> list[Finding]:
    findings = []
    for sort in sorted({part.sort for part in parts}):
        over = _OTHER_MASTERS.get(sort, "nothing")
        count = sum(len(part.channels) for part in parts if part.sort == sort)
        says = f"Channels that run over {over} instead of time were passed over ({count})."
        findings.append(Finding("not-over-time", where, says, "Record them over time if they are needed."))
    return findings


def _parts(mdf: Any, where: str, findings: list[Finding]) -> tuple[list[_Part], list[int]]:
    """Groups with channels of their own, and the numbers of those that hold raw CAN frames."""
    parts, frame_groups = [], []
    arrays: list[str] = []
    for index, group in enumerate(mdf.groups):
        if not group.channel_group.cycles_nr:
            continue
        if holds_frames(group):
            frame_groups.append(index)
        channels = _plain_channels(mdf, index, group, arrays)
        if not channels:
            continue
        sort = _master_sort(mdf, index, group)
        clock = mdf.get_master(index) if sort == _TIME else range(group.channel_group.cycles_nr)
        parts.append(_Part(index, sort, np.asarray(clock, dtype=np.float64), tuple(channels)))
    if arrays:
        says = f"Channels that hold tables instead of single numbers were passed over ({name_some(arrays)})."
        findings.append(Finding("array-channels", where, says))
    return parts, frame_groups


def _master_sort(mdf: Any, index: int, group: Any) -> int:
    """What the group runs over, by the numbers of the standard; 0 without a master channel."""
    # Version 4.2 may keep the clock of a group in another one.
    home = index if index in mdf.masters_db else getattr(group.channel_group, "cg_master_index", None)
    if home not in mdf.masters_db:
        return 0
    master = mdf.groups[home].channels[mdf.masters_db[home]]
    return int(getattr(master, "sync_type", _TIME))  # version 3 knows time only


def _plain_channels(mdf: Any, index: int, group: Any, arrays: list[str]) -> list[int]:
    """Channels of single numbers (or texts): no clock, no array or its elements, no part of a bus frame."""
    master = mdf.masters_db.get(index)
    dependencies = group.channel_dependencies or []
    tables, kept = [], []
    for place, channel in enumerate(group.channels):
        if place == master or is_of_bus(channel.name):
            continue
        inside = dependencies[place] if place < len(dependencies) else None
        if inside and isinstance(inside, list) and isinstance(inside[0], tuple):
            continue  # a structure; its members stand beside it as channels
        if inside:
            tables.append(channel.name)
        elif not any(channel.name.startswith(f"{table}[") for table in tables):
            kept.append(place)
    arrays += tables
    return kept


def _read_parts(mdf: Any, parts: Sequence[_Part], where: str, findings: list[Finding]) -> list[Group]:
    """Channels of all groups on their clocks."""
    places = [(part, place) for part in parts for place in part.channels]
    offers = []
    for part, place in places:
        group = mdf.groups[part.index]
        channel = group.channels[place]
        offers.append(Offer(_name(channel), str(getattr(channel, "unit", "") or ""), group.channel_group.cycles_nr))
    kept, noticed = pick_channels(offers, [part.time for part in parts], where)
    findings += noticed
    wanted: dict[int, list[int]] = defaultdict(list)
    for number in kept:
        part, place = places[number]
        wanted[part.index].append(place)
    passed: list[str] = []
    groups = []
    for part in parts:
        columns = _columns(mdf, part.index, wanted[part.index], passed)
        if columns:
            length = min(len(part.time), *(len(column.values) for column in columns))
            cut = tuple(replace(column, values=column.values[:length]) for column in columns)
            groups.append(Group("", part.time[:length], cut))
    if passed:
        says = f"Channels that hold no numbers were passed over ({name_some(passed)})."
        findings.append(Finding("no-number-channels", where, says))
    return groups


def _name(channel: Any) -> str:
    r"""The name without the device that some tools put behind it ("speed\XCP:1")."""
    return str(channel.name).split("\\")[0]


def _columns(mdf: Any, index: int, places: Sequence[int], passed: list[str]) -> list[Column]:
    columns = []
    for place, signal in zip(places, _select(mdf, index, places), strict=True):
        channel = mdf.groups[index].channels[place]
        values = None if signal is None else _numbers(signal.samples)
        if values is None:
            passed.append(_name(channel))
            continue
        values[_invalid(mdf, index, place, signal)] = np.nan
        values[~np.isfinite(values)] = np.nan
        columns.append(Column(_name(channel), str(signal.unit or ""), values))
    return columns


def _select(mdf: Any, index: int, places: Sequence[int], *, raw: bool = False) -> list[Any]:
    """Signals of a group, read at once; one by one where a broken one stops that, None for that one."""
    try:
        return list(
            mdf.select(
                [(None, index, place) for place in places],
                raw=raw,
                ignore_value2text_conversions=True,
                copy_master=False,
            )
        )
    except Exception:
        if len(places) == 1:
            return [None]
    return [signal for place in places for signal in _select(mdf, index, [place], raw=raw)]


def _numbers(samples: NDArray[Any]) -> FloatArray | None:
    """Samples as numbers; None for texts, structures and arrays."""
    if samples.ndim != 1:
        return None
    if samples.dtype.kind in "biuf":
        return samples.astype(np.float64)
    if samples.dtype.kind not in "SU" or not len(samples):
        return None
    text = samples if samples.dtype.kind == "U" else np.char.decode(samples, "utf-8", "replace")
    try:
        return np.char.strip(text, " \t\r\n\0").astype(np.float64)
    except ValueError:
        return None


def _invalid(mdf: Any, index: int, place: int, signal: Any) -> NDArray[np.bool_]:
    """Samples that the file marks as invalid, or that stand for a text such as "not available"."""
    invalid = np.zeros(len(signal.samples), dtype=bool)
    if signal.invalidation_bits is not None:
        invalid |= np.asarray(signal.invalidation_bits, dtype=bool)
    ranges = _texts_without_value(mdf.groups[index].channels[place].conversion)
    (raw,) = _select(mdf, index, [place], raw=True) if ranges else (None,)
    if raw is not None and raw.samples.dtype.kind in "biuf":
        for low, high in ranges:
            invalid |= (raw.samples >= low) & (raw.samples <= high)
    return invalid


def _texts_without_value(conversion: Any) -> list[tuple[float, float]]:
    """Raw numbers, from and to, that a conversion turns into a text instead of a value.

    In a table of texts only (gears, switches) the numbers stay, but for those called invalid; beside a
    conversion to numbers every text is something else than a value.
    """
    sort = getattr(conversion, "conversion_type", None)
    blocks = getattr(conversion, "referenced_blocks", None)
    if sort not in (_VALUE_TO_TEXT, _RANGE_TO_TEXT) or not blocks:
        return []
    low, high = ("val", "val") if sort == _VALUE_TO_TEXT else ("lower", "upper")
    default = blocks.get("default_addr")
    beside_numbers = default is not None and not isinstance(default, bytes)
    found = []
    count = sum(name.startswith("text_") for name in blocks)
    for number in range(count):
        text = blocks[f"text_{number}"]
        if not isinstance(text, bytes) or not (beside_numbers or says_no_value(text.decode("utf-8", "replace"))):
            continue
        found.append((float(conversion[f"{low}_{number}"]), float(conversion[f"{high}_{number}"])))
    return found


def _near_zero(groups: Sequence[Group]) -> list[Group]:
    """Clocks that count from some other age begin at zero; those of a drive stay."""
    first = min(float(np.nanmin(group.time)) for group in groups if len(group.time))
    if abs(first) <= _DAY:
        return list(groups)
    return [replace(group, time=group.time - first) for group in groups]


def _without_clock(mdf: Any, parts: Sequence[_Part], where: str, findings: list[Finding]) -> Table:
    """A file that knows no time: the longest group as plain rows."""
    counted = [part for part in parts if part.sort in (0, _INDEX)]
    if counted:
        longest = max(counted, key=lambda part: (len(part.time), len(part.channels)))
        groups = _read_parts(mdf, [longest], where, findings)
        findings += _not_over_time([part for part in parts if part is not longest], where)
        if groups:
            table = table_of_groups(where, KIND, groups, findings, by_group=False)
            return replace(table, columns=table.columns[1:])
    raise InputError(
        "The file holds no channel of numbers over time.",
        kind="no-numbers",
        where=where,
        do="Record or export it again with the channels over time.",
    )
