"""The time of every row: seconds that never run backwards, whatever clock the logger kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.columns.clock_faults import Rows, holes, steadied_clock, unwrapped
from boostproof.recording.columns.time_units import time_unit
from boostproof.recording.model import Column, FloatArray
from boostproof.units import Unit

_SINCE_LONG_AGO = 1e7  # s


@dataclass(frozen=True)
class TimeAxis:
    """Seconds per row, samples per second (None without a time column), unit of the file, findings."""

    time: FloatArray
    rate_hz: float | None
    unit: str
    findings: tuple[Finding, ...]


def looks_like_time(values: FloatArray) -> bool:
    """Rising all the way in nearly equal steps, as a clock does and a distance does not."""
    steps = np.diff(values[np.isfinite(values)])
    if len(steps) < 5 or not (steps > 0.0).all():
        return False
    usual = float(np.median(steps))
    return bool(np.mean(np.abs(steps - usual) < 0.3 * usual) > 0.9)


def counts_rows(values: FloatArray) -> bool:
    """One more in every row: a running number, which says nothing of time."""
    told = values[np.isfinite(values)]
    return bool(told.size > 1 and np.all(np.diff(told) == 1.0) and float(told[0]) in (0.0, 1.0))


def without_time(rows: int, where: str) -> TimeAxis:
    """Row numbers in place of a clock, with the finding that says so."""
    says = "The file has no time column: rows keep their order, but nothing is given in seconds."
    do = "Name the time column in pulls.toml if there is one, or log with time."
    if rows < 2:
        says, do = "The file holds a single row: nothing is told over time.", "Record or export the log again."
    finding = Finding("no-time", where, says, do)
    return TimeAxis(np.arange(rows, dtype=np.float64), None, "", (finding,))


def time_axis(
    column: Column,
    unit: Unit | None,
    engine_speed: FloatArray | None,
    where: str,
    *,
    named: bool = True,
) -> TimeAxis:
    """Seconds per row from a time column.

    Parameters
    ----------
    column : the time column as written
    unit : its unit where the file names one
    engine_speed : numbers of the engine speed column as written, to judge a clock that counts in ones,
        wraps or jitters
    where : for the findings
    named : its header says time; else it only runs like a clock
    """
    findings: list[Finding] = []
    values = column.values
    finite = np.isfinite(values)
    if finite.sum() < 2:
        return without_time(len(values), where)
    taken = time_unit(column, unit, engine_speed, named=named)
    if unit is not None and not column.clock and taken.name != unit.name:
        findings.append(
            Finding(
                "time-unit",
                where,
                f"The time column says {unit.name}, but its steps are those of {taken.name}; "
                f"read as {taken.name}.",
            )
        )
    rows = np.arange(len(values))
    seconds = (
        np.asarray(values if finite.all() else np.interp(rows, rows[finite], values[finite])) * taken.factor
    )
    if not column.clock and abs(seconds[0]) > _SINCE_LONG_AGO:
        seconds = seconds - seconds[0]  # since 1970 or 1900: nobody looks for second 1983110405 of a log
    seconds = unwrapped(seconds, engine_speed, where, findings)
    seconds = _spread_repeats(seconds, where, findings)
    seconds, joined = _join_rewinds(seconds, where, findings)
    seconds = steadied_clock(seconds, engine_speed, where, findings)
    findings += holes(seconds, joined, where)
    steps = np.diff(seconds)
    rising = steps[steps > 0.0]
    if not rising.size:
        return without_time(len(values), where)
    return TimeAxis(seconds, float(1.0 / np.median(rising)), taken.name, tuple(findings))


def _spread_repeats(seconds: FloatArray, where: str, findings: list[Finding]) -> FloatArray:
    """A clock coarser than the rows (whole seconds at ten rows a second) is spread evenly over its rows."""
    steps = np.diff(seconds)
    if len(steps) < 4 or np.mean(steps == 0.0) < 0.3:
        return seconds
    starts = np.concatenate([[0], np.flatnonzero(steps != 0.0) + 1])
    if len(starts) < 3:
        return seconds
    counts = np.diff(starts)
    usual = float(np.median(counts))
    last = starts[-1] + usual
    # The first run may have begun in the middle of its second: count it from its end.
    anchors = np.concatenate([[starts[1] - usual], starts[1:], [max(last, len(seconds))]])
    tick = float(np.median(np.diff(seconds[starts])))
    marks = np.concatenate([seconds[starts], [seconds[-1] + tick * max(last, len(seconds)) / last]])
    findings.append(
        Finding(
            "coarse-clock",
            where,
            f"The clock stands still for about {usual:.0f} rows at a time; the rows were "
            "spread evenly between its ticks.",
        )
    )
    return np.asarray(np.interp(np.arange(len(seconds)), anchors, marks))


def _join_rewinds(
    seconds: FloatArray, where: str, findings: list[Finding]
) -> tuple[FloatArray, Rows]:
    """A clock that starts again is carried on one second after where it stopped; and the rows before."""
    steps = np.diff(seconds)
    back = np.flatnonzero(steps < 0.0)
    if not back.size:
        return seconds, back
    rising = steps[steps > 0.0]
    usual = float(np.median(rising)) if rising.size else 1.0
    shift = np.zeros(len(seconds))
    # A step back of less than three samples is jitter of the logger: that row takes its neighbour's time.
    jitter = back[-steps[back] < 3.0 * usual]
    resets = back[-steps[back] >= 3.0 * usual]
    for row in resets:
        shift[row + 1 :] += seconds[row] - seconds[row + 1] + max(1.0, 5.0 * usual)
    if resets.size:
        rows = ", ".join(str(row + 2) for row in resets[:5])
        findings.append(
            Finding(
                "time-rewound",
                where,
                f"The time jumps back at row {rows}; what follows is read as a later run, "
                "its time carried on.",
                "Nothing, if the log was started again there.",
            )
        )
    joined = seconds + shift
    return (np.maximum.accumulate(joined) if jitter.size else joined), resets
