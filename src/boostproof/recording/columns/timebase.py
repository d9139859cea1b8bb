"""The time of every row: seconds that never run backwards, whatever clock the logger kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.columns.clock_faults import Rows, holes, steadied_clock, unwrapped
from boostproof.recording.model import Column, FloatArray
from boostproof.units import Unit, find_unit


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


def without_time(rows: int, where: str) -> TimeAxis:
    """Row numbers in place of a clock, with the finding that says so."""
    finding = Finding(
        "no-time",
        where,
        "The file has no time column: rows keep their order, but nothing is given in seconds.",
        "Name the time column in pulls.toml if there is one, or log with time.",
    )
    return TimeAxis(np.arange(rows, dtype=np.float64), None, "", (finding,))


def time_axis(column: Column, unit: Unit | None, engine_speed: FloatArray | None, where: str) -> TimeAxis:
    """Seconds per row from a time column.

    Parameters
    ----------
    column : the time column as written
    unit : its unit where the file names one
    engine_speed : numbers of the engine speed column as written, to judge a clock that counts in ones,
        wraps or jitters
    where : for the findings
    """
    findings: list[Finding] = []
    values = column.values
    finite = np.isfinite(values)
    if finite.sum() < 2:
        return without_time(len(values), where)
    taken = _unit_of(column, unit, engine_speed)
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


def _unit_of(column: Column, unit: Unit | None, engine_speed: FloatArray | None) -> Unit:
    seconds, milliseconds, microseconds = (find_unit(name, "time") for name in ("s", "ms", "us"))
    assert seconds is not None and milliseconds is not None and microseconds is not None
    if column.clock:
        return seconds
    values = column.values[np.isfinite(column.values)]
    steps = np.diff(values)
    rising = steps[steps > 0.0]
    step = float(np.median(rising)) if rising.size else 0.0
    if unit is not None and unit.name not in ("s", "ms"):
        return unit
    if unit is not None and unit.name == "ms":
        return seconds if step < 0.2 else milliseconds
    if unit is not None:
        # No log that is of use takes a sample every three seconds or less often.
        return milliseconds if step > 3.0 and len(values) > 30 else seconds
    whole = bool(np.all(values == np.round(values)))
    if not whole:
        return milliseconds if step > 3.0 else seconds
    if step >= 2000.0:
        return microseconds
    if step > 1.0:
        return milliseconds
    if engine_speed is None:
        return seconds
    change = np.abs(np.diff(engine_speed[np.isfinite(engine_speed)]))
    return seconds if change.size and float(np.percentile(change, 99.0)) > 30.0 else milliseconds


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
