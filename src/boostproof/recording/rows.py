"""Channels of several rates brought to shared rows, each keeping its own samples beside them.

Formats that store every channel, or every group of channels, with a clock of its own end here, and so do
several files of one pull. Nothing is invented: between two samples a straight line (a step for a channel of
few levels, such as a gear), beyond the first and last sample and across a hole nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import Column, FloatArray, Samples, Table

FASTEST = 250.0  # rows a second; boost and engine speed hold nothing faster, and knock signals need no rows
_SLOW = 100.0  # rows a second; fewer hide the shape of a pull that something faster shows
_KNOCK = 2000.0  # samples a second; what is sampled faster is no matter of rows
_HOLE = 4.0  # sampling periods; longer without a sample is a hole
_LEVELS = 12  # a whole-numbered channel with no more values than this moves in steps


def rate_of(time: FloatArray) -> float:
    """Samples a second, by the median step; 0 where there are fewer than two samples."""
    steps = np.diff(time)
    steps = steps[steps > 0.0]
    return float(1.0 / np.median(steps)) if steps.size else 0.0


def step_of(time: FloatArray, still: float = 1.0) -> float:
    """Usual step between samples [s]; ``still`` where time does not rise."""
    steps = np.diff(time)
    steps = steps[steps > 0.0]
    return float(np.median(steps)) if steps.size else still


def shared_rows(times: Sequence[FloatArray]) -> FloatArray:
    """The rows of a table that holds all these time bases.

    Parameters
    ----------
    times : seconds, rising, one array per time base

    Returns
    -------
    shape (rows,)
        The fastest steady time base of up to 250 rows a second that spans most of the whole; an even one of that
        rate where all are faster, or only slow ones are not; lengthened at its own rate where others begin
        earlier or end later.
    """
    filled = [time for time in times if len(time) >= 2]
    if not filled:
        return np.zeros(0)
    first, last = min(t[0] for t in filled), max(t[-1] for t in filled)
    spanning = [t for t in filled if t[-1] - t[0] >= 0.5 * (last - first) and _steady(t)]
    fitting = [t for t in spanning if rate_of(t) <= FASTEST]
    faster = any(FASTEST < rate_of(t) <= _KNOCK for t in spanning)
    if not fitting or (faster and max(map(rate_of, fitting)) < _SLOW):
        fastest = min(max(rate_of(t) for t in filled), FASTEST)
        return np.asarray(np.arange(first, last + 0.5 / fastest, 1.0 / fastest))
    best = max(fitting, key=rate_of)
    step = 1.0 / rate_of(best)
    before = best[0] - step * np.arange(1, int((best[0] - first) / step + 1e-6) + 1)[::-1]
    after = best[-1] + step * np.arange(1, int((last - best[-1]) / step + 1e-6) + 1)
    return np.concatenate([before, best, after])


def _steady(time: FloatArray) -> bool:
    """Sampled all along, not in bursts."""
    return bool(len(time) >= 0.5 * rate_of(time) * (time[-1] - time[0]))


def on_rows(samples: Samples, rows: FloatArray) -> FloatArray:
    """A channel at other times, NaN where it does not tell.

    Parameters
    ----------
    samples : the channel
    rows : seconds, rising, shape (rows,)
    """
    time, values = samples.time, samples.values
    if not len(time):
        return np.full(len(rows), np.nan)
    step = 1.0 / rate_of(time) if len(time) > 1 and rate_of(time) else 1.0
    after = np.clip(np.searchsorted(time, rows, side="left"), 0, len(time) - 1)
    before = np.clip(np.searchsorted(time, rows, side="right") - 1, 0, len(time) - 1)
    known = (rows >= time[0]) & (rows <= time[-1] + step) & (time[after] - time[before] <= _HOLE * step)
    if _steps(values):
        return np.where(known, values[before], np.nan)
    return np.where(known, np.interp(rows, time, values), np.nan)


def _steps(values: FloatArray) -> bool:
    """A channel of few whole levels: a gear, a switch."""
    some = values[:: max(1, len(values) // 4000)]
    return bool(np.all(some == np.round(some))) and len(np.unique(some)) <= _LEVELS


def table_of(
    file: str, kind: str, groups: Sequence[tuple[FloatArray, Sequence[Column]]], findings: Sequence[Finding] = ()
) -> Table:
    """A table from groups of columns that each have a clock of their own.

    Parameters
    ----------
    file, kind : as in `Table`
    groups : (seconds of each sample, columns whose ``values`` are those samples); times rise within a group
    findings : what the reader noticed

    Returns
    -------
    Table
        A first column "time" [s], then every column on the shared rows; one that was not sampled at just
        these rows keeps its own samples.
    """
    rows = shared_rows([time for time, _ in groups])
    columns = [Column("time", "s", rows)]
    for time, members in groups:
        same = len(time) == len(rows) and bool(np.array_equal(time, rows))
        for column in members:
            if same:
                columns.append(column)
                continue
            told = np.isfinite(column.values)
            samples = Samples(time[told], column.values[told])
            columns.append(replace(column, values=on_rows(samples, rows), samples=samples))
    return Table(file, kind, len(rows), tuple(columns), tuple(findings))
