"""Columns that were sampled less often than the table has rows.

Two habits of loggers: a slow column is written only every so many rows, with blank cells between; or the
last answer of a slow sensor or a polled control unit is repeated until the next one comes. Either way the
column keeps its true samples, and its values on the rows are a straight line between them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.findings import Finding
from boostproof.recording.columns.lost_cells import about_lost_cells
from boostproof.recording.model import Column, FloatArray, Samples, Table
from boostproof.recording.rows import on_rows
from boostproof.recording.signals.smooth import filled, resolution

# Channels that move in steps by nature: a line between two of their values means nothing.
_STEPPING = frozenset({"time", "gear", "cut_active", "knock", "boost_target", "barometer"})
_LEAST_LOST = 0.4
_REGULAR = 1.6  # gaps between told cells may be this many times the usual one
_LEAST_HELD = 1.4  # rows a value stands for
_LEAST_CHANGES = 15
_LEAST_JUMP = 2.5  # resolutions; smaller jumps are what a slow, finely sampled channel does too
_ALIKE = 0.4  # share of jumps of one size
_MOVING = 0.05  # change of engine speed over two seconds, as a share of its highest
_STRETCHES = 64
_SEEN = 50_000  # rows to judge by in a log of very many rows a second

Rows = NDArray[np.intp]


@dataclass(frozen=True)
class _Slow:
    """A column with samples of its own, and how many of them there are a second."""

    column: Column
    rate: float


def with_own_rates(table: Table, time: FloatArray, rate: float | None, names: Mapping[int, str]) -> Table:
    """Give slow columns their own samples.

    Parameters
    ----------
    table : rows in order
    time : seconds of its rows
    rate : rows a second, None where the file has no time: then nothing is done
    names : channel names of the columns that were recognised, by index

    Returns
    -------
    Table
        With findings ``mixed-rates`` and ``stale-repeats``; the same object where every column is told in
        every row.
    """
    if rate is None or table.rows < 30:
        return table
    clock = {index for index, name in names.items() if name == "time"}
    columns = list(table.columns)
    mixed: dict[int, _Slow] = {}
    for index, column in enumerate(columns):
        slow = None if index in clock or column.samples is not None else _written_seldom(column, time, rate)
        if slow is not None:
            mixed[index], columns[index] = slow, slow.column
    held = _held(columns, time, rate, names)
    for index, slow in held.items():
        columns[index] = slow.column
    if not mixed and not held:
        return table
    findings = list(table.findings)
    if mixed:
        findings = [f for f in findings if f.kind != "lost-cells"]
        findings += about_lost_cells(columns, table.rows, table.file)
        findings.append(_about_mixed(table.file, list(mixed.values()), rate))
    if held:
        findings.append(_about_held(table.file, list(held.values()), rate))
    return replace(table, columns=tuple(columns), findings=tuple(findings))


def _about_mixed(file: str, slow: list[_Slow], rate: float) -> Finding:
    return Finding(
        "mixed-rates",
        file,
        f"Some columns are written less often than the file has rows ({rate:.3g} a second): {_rates(slow)}; "
        "the blank cells between are not lost, and were filled by straight lines.",
    )


def _about_held(file: str, slow: list[_Slow], rate: float) -> Finding:
    return Finding(
        "stale-repeats",
        file,
        f"The logger writes {rate:.3g} rows a second but repeats the last value until a new one comes: "
        f"{_rates(slow)}; straight lines were drawn between the new values.",
        "Log fewer channels, so that boost and engine speed come more often.",
    )


def _rates(slow: list[_Slow]) -> str:
    return ", ".join(f"{s.column.header} {s.rate:.2g} a second" for s in slow)


def _own(column: Column, rows: Rows, time: FloatArray) -> Column:
    samples = Samples(time[rows], column.values[rows])
    return replace(column, values=on_rows(samples, time), lost_cells=0, samples=samples)


# --- written every so many rows -------------------------------------------------------------------------


def _written_seldom(column: Column, time: FloatArray, rate: float) -> _Slow | None:
    """A column with blank cells in a steady pattern; cells lost by chance or for a while have none."""
    rows = len(column.values)
    if column.lost_cells < _LEAST_LOST * rows:
        return None
    told = np.flatnonzero(np.isfinite(column.values))
    if told.size < _LEAST_CHANGES:
        return None
    gaps = np.diff(told)
    every = float(np.median(gaps))
    ends = told[0] + rows - 1 - told[-1]
    if every < 2.0 or np.percentile(gaps, 95.0) > _REGULAR * every + 1.0 or ends > 0.2 * rows:
        return None
    whole = _own(column, told[np.concatenate([[True], np.diff(time[told]) > 0.0])], time)
    return _Slow(whole, rate / float(np.mean(gaps[gaps <= _REGULAR * every + 1.0])))


# --- repeated until the next ----------------------------------------------------------------------------


def _held(
    columns: list[Column], time: FloatArray, rate: float, names: Mapping[int, str]
) -> dict[int, _Slow]:
    speed = next((columns[index] for index, name in names.items() if name == "engine_speed"), None)
    if speed is None:
        return {}
    seen = _moving(filled(speed.values), rate)
    found: dict[int, _Slow] = {}
    if seen.size < 2 * _LEAST_CHANGES:
        return found
    for index, name in names.items():
        column = columns[index]
        if name in _STEPPING or column.samples is not None:
            continue
        every = _rows_held(column.values, seen)
        if every is not None:
            rows = _fresh(column.values, every)
            found[index] = _Slow(_own(column, rows, time), rate / every)
    return found


def _moving(speed: FloatArray, rate: float) -> Rows:
    """Rows of stretches in which the engine speed changes, of a long log only some."""
    half = max(2, round(rate))
    if len(speed) < 2 * half + 2 or not np.isfinite(speed).all():
        return np.zeros(0, dtype=np.intp)
    at = np.arange(half, len(speed) - half, max(1, half // 2))
    change = np.abs(speed[at + half] - speed[at - half])
    at = at[change > _MOVING * float(np.max(speed[:: max(1, len(speed) // 20_000)]))]
    stretches = max(4, min(_STRETCHES, _SEEN // half))
    if at.size > stretches:
        at = at[np.linspace(0, at.size - 1, stretches).astype(np.intp)]
    seen = np.zeros(len(speed), dtype=bool)
    for middle in at:
        seen[middle - half : middle + half + 1] = True
    return np.flatnonzero(seen)


def _rows_held(values: FloatArray, seen: Rows) -> float | None:
    """Rows for which a value usually stands, None where it is not repeated by the logger.

    Parameters
    ----------
    values : of the whole column
    seen : rows to judge by, in stretches of neighbours

    Notes
    -----
    Repeats have all nearly the same length, and the jumps between them are many steps of the resolution. A
    channel of coarse resolution rests as well, but jumps by one step; one that stands at its end or is
    commanded rests long now and changes row by row then.
    """
    here = values[seen]
    joined = np.diff(seen) == 1
    jumps = np.abs(np.diff(here))
    changes = np.flatnonzero(joined & (jumps > 0.0))
    if changes.size < _LEAST_CHANGES or changes.size > 0.75 * joined.sum():
        return None
    stretch = np.cumsum(~joined)
    lengths = np.diff(changes)[stretch[changes[1:]] == stretch[changes[:-1]]]
    if lengths.size < _LEAST_CHANGES:
        return None
    lengths = lengths[lengths <= 3.0 * np.median(lengths)]
    low, high = np.percentile(lengths, [10.0, 90.0])
    every = float(lengths.mean())
    if every < _LEAST_HELD or high > 2.0 * low + 1.0:
        return None
    # Short repeats among long ones: a fine channel that noise or a slow course makes rest at times.
    if every > 3.0 and np.mean(lengths < 0.4 * every) > 0.1:
        return None
    step, jumps = resolution(here), jumps[changes]
    usual = float(np.median(jumps))
    # Part of a column may be finer than the rest: jumps that are all alike are steps of the rest.
    alike = float(np.mean(np.abs(jumps - usual) <= 1.01 * step))
    return every if step > 0.0 and usual >= _LEAST_JUMP * step and alike < _ALIKE else None


def _fresh(values: FloatArray, every: float) -> Rows:
    """Rows with a new answer: where the value changes, and in long repeats each time one was due."""
    known = np.flatnonzero(np.isfinite(values))
    there = values[known]
    starts = np.concatenate([[0], np.flatnonzero(np.diff(there) != 0.0) + 1])
    lengths = np.diff(np.concatenate([starts, [len(there)]]))
    answers = np.maximum(1, np.floor(lengths / every + 0.25).astype(np.intp))
    nth = np.arange(int(answers.sum())) - np.repeat(np.cumsum(answers) - answers, answers)
    spacing = np.repeat(np.minimum(lengths / answers, every), answers)
    rows = np.repeat(starts, answers) + np.round(nth * spacing).astype(np.intp)
    return np.asarray(known[np.unique(rows)])
