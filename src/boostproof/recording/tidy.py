"""Rows as the logger wrote them put right: rows written twice, rows a few samples out of order.

Pure: a table in, a table out, before anybody knows what its columns mean but the clock.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from boostproof.findings import Finding
from boostproof.recording.model import FloatArray, Table
from boostproof.recording.signals.smooth import filled

_COARSE = 0.3  # share of equal times from which a clock may just be coarser than the rows
_BACK = 8.0  # usual steps; a larger step back is another run or a counter that wrapped
_DISPLACED = 6  # rows that a row may have to move to its place
_EVENTS = 200
_BACKWARDS = 0.9  # share of steps back in time of a log written from its end

Rows = NDArray[np.intp]


def tidied(table: Table, clock: int | None) -> Table:
    """The table without rows written twice, and with rows in the order of their times.

    Parameters
    ----------
    table : as a reader made it
    clock : index of the time column, None where there is none: then nothing can be told

    Returns
    -------
    Table
        Rows, lost cells and findings agree with each other; the same object where nothing was wrong.
    """
    if clock is None or table.rows < 8:
        return table
    time = table.columns[clock].values
    if not np.isfinite(time).any():
        return table
    table = _newest_last(table, clock)
    time = table.columns[clock].values
    doubled = _doubled(table, filled(time))
    if doubled.size:
        keep = np.ones(table.rows, dtype=bool)
        keep[doubled] = False
        table = _taken(table, np.flatnonzero(keep), _about_doubled(table, doubled))
    time = filled(table.columns[clock].values)
    order = _order(time)
    if order is not None:
        moved = int(np.count_nonzero(np.diff(order) < 0))
        places = "1 place" if moved == 1 else f"{moved} places"
        finding = Finding(
            "rows-out-of-order",
            table.file,
            f"Rows stand out of order in {places}, by a few samples; they were put in the order of "
            "their times.",
        )
        table = _taken(table, order, finding)
    return table


def _newest_last(table: Table, clock: int) -> Table:
    """A log that was written out from its end to its beginning, turned round."""
    steps = np.diff(filled(table.columns[clock].values))
    if np.mean(steps < 0.0) < _BACKWARDS:
        return table
    finding = Finding(
        "rows-reversed", table.file, "The rows run from the newest to the oldest; they were read from the oldest on."
    )
    return _taken(table, np.arange(table.rows)[::-1], finding)


def _about_doubled(table: Table, doubled: Rows) -> Finding:
    rows = "1 row stands" if doubled.size == 1 else f"{doubled.size} rows stand"
    return Finding(
        "duplicate-rows",
        table.file,
        f"{rows} twice in the file, with the same time and the same values; each was read once.",
    )


def _taken(table: Table, rows: Rows, finding: Finding) -> Table:
    columns = []
    for column in table.columns:
        values = column.values[rows]
        lost = int(np.count_nonzero(np.isnan(values))) if column.lost_cells else 0
        columns.append(replace(column, values=values, lost_cells=lost))
    return replace(table, rows=len(rows), columns=tuple(columns), findings=(*table.findings, finding))


def _equal(table: Table, first: Rows, second: Rows) -> NDArray[np.bool_]:
    """Where two rows hold the same in every column."""
    same = np.ones(len(first), dtype=bool)
    for column in table.columns:
        a, b = column.values[first], column.values[second]
        same &= (a == b) | (np.isnan(a) & np.isnan(b))
    return same


def _doubled(table: Table, time: FloatArray) -> Rows:
    """Rows that repeat an earlier one: the row before, or a whole block of rows written again."""
    steps = np.diff(time)
    still = np.flatnonzero(steps == 0.0)
    same = still[_equal(table, still, still + 1)] if still.size else still
    # A clock coarser than the rows stands still too; an engine at rest then looks the same row after row.
    least = 0.9 if still.size > _COARSE * len(steps) else 0.5
    if same.size < least * still.size or (same.size and _at_rest(table, steps)):
        same = same[:0]
    blocks = _blocks(table, time, np.flatnonzero(steps < 0.0))
    return np.unique(np.concatenate([same + 1, *blocks])) if same.size or blocks else same


def _at_rest(table: Table, steps: FloatArray) -> bool:
    """Whether most rows of different times hold the same as the row before."""
    ticks = np.flatnonzero(steps != 0.0)
    ticks = ticks[:: max(1, ticks.size // 5000)]
    if not ticks.size:
        return True
    quiet = np.ones(len(ticks), dtype=bool)
    for column in table.columns:
        a, b = column.values[ticks], column.values[ticks + 1]
        if np.mean(a != b) < 0.95:  # the clock itself always differs
            quiet &= (a == b) | (np.isnan(a) & np.isnan(b))
    return bool(quiet.mean() > 0.5)


def _blocks(table: Table, time: FloatArray, back: Rows) -> list[Rows]:
    """Blocks of rows that repeat those just before them, after which time goes on."""
    found: list[Rows] = []
    if not 0 < back.size <= _EVENTS:
        return found
    bounds = np.concatenate([[-1], back])
    for before, last in zip(bounds[:-1], back, strict=True):
        begin = int(before) + 1
        first = begin + int(np.searchsorted(time[begin : last + 1], time[last + 1]))
        beyond = np.flatnonzero(time[last + 1 : last + 2 + (last + 1 - first)] > time[last])
        count = int(beyond[0]) if beyond.size else min(last + 1 - first, len(time) - last - 1)
        if count < 2 or first + count > last + 1:
            continue
        repeat = np.arange(last + 1, last + 1 + count)
        if _equal(table, repeat, repeat - (last + 1 - first)).all():
            found.append(repeat)
    return found


def _order(time: FloatArray) -> Rows | None:
    """The order that puts rows right, None where none stands wrong.

    A step back may also be jitter of the clock. Rows were out of order where, once sorted, their steps are
    such as the clock makes elsewhere.
    """
    steps = np.diff(time)
    back = steps < 0.0
    if not back.any() or not (steps > 0.0).any():
        return None
    usual = float(np.median(steps[steps > 0.0]))
    far = steps < -_BACK * usual
    near = np.flatnonzero(back & ~far)
    if not near.size:
        return None
    # Each later run is lifted above the one before, so that one sort does for all.
    lift = np.concatenate([[0.0], np.cumsum(np.where(far, -steps + usual, 0.0))])
    order = np.argsort(time + lift, kind="stable")
    if int(np.abs(order - np.arange(len(time))).max()) > _DISPLACED:
        return None
    after = np.diff((time + lift)[order])
    around = np.unique(np.clip(near[:, None] + np.arange(-_DISPLACED, _DISPLACED + 1), 0, len(after) - 1))
    calm = np.ones(len(steps), dtype=bool)
    calm[around] = False
    elsewhere = steps[calm] if calm.any() else after
    low, high = np.percentile(elsewhere, [5.0, 95.0])
    fits = (after[around] >= min(0.6 * usual, low)) & (after[around] <= max(1.6 * usual, high))
    return order if float(fits.mean()) > 0.9 else None
