"""Full-load pulls in a recording: full throttle, engine speed rising, no lift and no gear change inside.

Pure: arrays in, spans of rows out; `find_pulls` puts them together with their metrics.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.recording.model import Ended, FloatArray, Metric, Pull, Recording
from boostproof.recording.pulls.load import (
    FULL_SHARE,
    LEAST_FULL,
    before_lift,
    by_mixture,
    held_level,
    opening_of,
)
from boostproof.recording.pulls.metrics import METRICS, measure
from boostproof.recording.signals.glitches import engine_speed, without_glitches
from boostproof.recording.signals.limits import find_limit
from boostproof.recording.signals.smooth import filled, noise_gain, noise_of, smooth, window_for

_RPM = 30.0 / np.pi
_LEAST_PART = 0.15
_LEAST_RISE = 400.0  # rpm
_LEAST_RATIO = 0.2  # of the engine speed at its start
_LEAST_TIME = 1.5  # s
_LEAST_RATE = 25.0  # rpm/s
_DROP, _LEAST_DROP = 0.04, 150.0  # fall of engine speed that parts two gears: share, rpm
_CALM_RPM = 25.0  # noise that smoothing brings engine speed down to, within half a second
_LOADED = -10.0  # kPa gauge; at full load the manifold is below the air around by the filter alone
_GLITCH_KPA = 40.0
_GLITCH_STEP = 0.12  # s; between samples further apart boost can rise and fall by more than that
_SAME_TOP = 0.012  # two pulls that end this close ended at a ceiling

_MANY_TOLD = 0.95

Rows = NDArray[np.bool_]


@dataclass(frozen=True)
class Span:
    """Rows of one pull, whether at full load, how it ended, and if its throttle was seen opening."""

    start: int
    stop: int
    full_load: bool
    ended: Ended
    tip_in: bool


def find_pulls(
    recording: Recording,
    *,
    part_load: bool = False,
    redline: float | None = None,
    excluded: Sequence[tuple[float | None, float | None]] = (),
) -> tuple[Pull, ...]:
    """The pulls of a recording, measured.

    Parameters
    ----------
    recording : with engine speed, and throttle, pedal or boost to tell full load
    part_load : also give the sweeps with rising engine speed at steady part throttle (``full_load`` False);
        their metrics are all None, since each is defined at full load
    redline : rpm, where known: a pull that reaches it ended at its ceiling
    excluded : (from, to) in seconds that must not be used; None for the file's own end

    Returns
    -------
    tuple of Pull
        In order of time; empty where there is none.
    """
    pulls = []
    boost = _boost(recording)
    speed = engine_speed(recording.channels["engine_speed"].values * _RPM, _step(recording.time))[0]
    limit = None if boost is None or not recording.time_known else find_limit(boost, recording.time)
    for span in find_spans(recording, redline=redline, excluded=excluded):
        if not span.full_load and not part_load:
            continue
        rows = slice(span.start, span.stop)
        rpm = speed[rows]
        metrics: dict[str, Metric | None] = dict.fromkeys(METRICS)
        if span.full_load:
            told = rows if boost is None else _told(recording, span)
            metrics = measure(
                recording.time[told] if recording.time_known else None,
                speed[told],
                None if boost is None else boost[told],
                tip_in=span.tip_in,
                limit=None if limit is None else limit.value,
            )
        ends = smooth(rpm, window_for(0.3, _step(recording.time[rows]), len(rpm)), 1)
        pulls.append(
            Pull(
                recording,
                span.start,
                span.stop,
                float(recording.time[span.start]),
                float(recording.time[span.stop - 1]),
                float(ends[0]),
                float(ends[-1]),
                span.full_load,
                span.ended,
                metrics,
            )
        )
    return tuple(pulls)


def find_spans(
    recording: Recording,
    *,
    redline: float | None = None,
    excluded: Sequence[tuple[float | None, float | None]] = (),
) -> list[Span]:
    """Rows of every pull and part-throttle sweep, in order."""
    time = recording.time
    step = _step(time)
    rpm, lost = engine_speed(recording.channels["engine_speed"].values * _RPM, step)
    if len(rpm) < 4 or not np.isfinite(rpm).any():
        return []
    boost = _boost(recording)
    if not recording.time_known:
        return _spans_of_table(rpm, boost)
    usable = _usable(time, lost, excluded)
    calm, window, noise = _calm(rpm, step)
    drop = max(_LEAST_DROP, 7.0 * noise)
    lever = opening_of(recording, step, boost)
    spans: list[Span] = []
    if lever is not None:
        opening, slack = lever
        level = held_level(opening, step)
        full = level >= LEAST_FULL
        wide = _closed(opening >= FULL_SHARE * level - slack, step) & usable
        spans += _pieces(wide, time, calm, step, drop, full_load=full)
        spans += _part_load(opening, level, wide, usable, time, calm, step, drop)
    elif boost is not None:
        loaded = _closed((boost > _LOADED) & (rpm > 1000.0), step) & usable
        spans += _by_boost(recording, _pieces(loaded, time, calm, step, drop, full_load=True), boost, calm)
    spans.sort(key=lambda span: span.start)
    return _with_ceilings(spans, rpm, redline, window, noise)


def _boost(recording: Recording) -> FloatArray | None:
    """Boost in kPa gauge without holes, None where no manifold channel is there."""
    if not {"boost", "manifold_pressure"} & set(recording.channels):
        return None
    step = _step(recording.time)
    boost = filled(recording.boost_gauge() / 1e3)
    if recording.time_known and step <= _GLITCH_STEP:
        boost = without_glitches(boost, step, least=_GLITCH_KPA)
    return boost if np.isfinite(boost).all() else None


def _told(recording: Recording, span: Span) -> slice | NDArray[np.intp]:
    """Rows to measure; where many cells are lost only those that hold boost, so that its noise shows."""
    told = np.isfinite(recording.manifold_channel().values[span.start : span.stop])
    if told.mean() > _MANY_TOLD or told.sum() < 8:
        return slice(span.start, span.stop)
    told[0] = True  # times count from here
    return span.start + np.flatnonzero(told)


def _calm(rpm: FloatArray, step: float) -> tuple[FloatArray, int, float]:
    """Engine speed smoothed as much as its noise asks for, over how many samples, and the sd left [rpm]."""
    running = rpm[rpm > 500.0]
    noise = noise_of(running) if running.size > 8 else 0.0
    seconds = min(max(0.12, (noise / _CALM_RPM) ** 2 * step), 0.5)
    window = window_for(seconds, step, len(rpm))
    return smooth(rpm, window, 1), window, noise * noise_gain(window, 1)


def _by_boost(recording: Recording, spans: list[Span], boost: FloatArray, rpm: FloatArray) -> list[Span]:
    """Spans that boost alone told: cut where the driver lifts, and without the leaner ones."""
    time, cut = recording.time, []
    for span in spans:
        stop = before_lift(span.start, span.stop, time, boost)
        if stop == span.stop:
            cut.append(span)
        elif _is_pull(span.start, stop, time, rpm):
            ended: Ended = span.ended if span.ended == "ceiling" else "lifted"
            cut.append(replace(span, stop=stop, ended=ended))
    full = by_mixture(recording, [(span.start, span.stop) for span in cut])
    return [replace(span, full_load=load) for span, load in zip(cut, full, strict=True)]


def _step(time: FloatArray) -> float:
    steps = np.diff(time)
    steps = steps[steps > 0.0]
    return float(np.median(steps)) if steps.size else 1.0


def _usable(time: FloatArray, lost: Rows, excluded: Sequence[tuple[float | None, float | None]]) -> Rows:
    """Rows that are not excluded, and whose engine speed is not lost for long."""
    usable = np.ones(len(time), dtype=bool)
    for start, stop in excluded:
        usable &= ~(
            (time >= (-np.inf if start is None else start)) & (time <= (np.inf if stop is None else stop))
        )
    for first, last in _runs(lost):
        if time[last - 1] - time[first] > 0.5:
            usable[first:last] = False
    return usable


def _closed(rows: Rows, step: float) -> Rows:
    """Holes of up to a tenth of a second filled: a flicker of the channel is no lift."""
    closed = rows.copy()
    longest = max(1, round(0.1 / step))
    for first, last in _runs(~rows):
        if first > 0 and last < len(rows) and last - first <= longest:
            closed[first:last] = True
    return closed


def _runs(rows: Rows) -> list[tuple[int, int]]:
    """(first, one past last) of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], rows, [False]]).astype(np.int8)))
    return list(zip(edges[0::2].tolist(), edges[1::2].tolist(), strict=True))


def _pieces(
    rows: Rows, time: FloatArray, rpm: FloatArray, step: float, drop: float, *, full_load: bool
) -> list[Span]:
    """Runs of full throttle, cut at holes in the log and where the engine speed falls."""
    holes = np.flatnonzero(np.diff(time) > max(0.5, 6.0 * step)) + 1
    spans: list[Span] = []
    for first, last in _runs(rows):
        cuts = [first, *holes[(holes > first) & (holes < last)].tolist(), last]
        for a, b in itertools.pairwise(cuts):
            at_hole = b in holes or a in holes
            spans += _rising(
                a, b, time, rpm, step, drop, full_load, opened=a == first and a > 0 and not at_hole
            )
    return spans


def _rising(
    first: int,
    last: int,
    time: FloatArray,
    rpm: FloatArray,
    step: float,
    drop: float,
    full_load: bool,
    *,
    opened: bool,
) -> list[Span]:
    """Stretches of rising engine speed within rows of steady throttle."""
    spans: list[Span] = []
    start = first
    margin = max(2, round(0.06 / step))
    while start < last - 3:
        piece = rpm[start:last]
        highest = np.maximum.accumulate(piece)
        fallen = np.flatnonzero(highest - piece > np.maximum(_DROP * highest, drop))
        stop = start + int(np.argmax(piece[: fallen[0]])) + 1 if fallen.size else last
        kept, held = _without_hold(start, stop, time, rpm)
        if _is_pull(start, kept, time, rpm):
            ended: Ended = "unknown"
            if held:
                ended = "ceiling"
            elif kept >= len(time) - margin:
                ended = "end of file"
            elif not fallen.size and time[kept] - time[kept - 1] < max(0.5, 6.0 * step):
                ended = "lifted"
            spans.append(Span(start, kept, full_load, ended, opened and start == first))
        if not fallen.size:
            break
        # The next gear starts where the engine speed has come down to.
        after = start + int(fallen[0])
        until = min(last, int(np.searchsorted(time, time[after] + 1.0)))
        start = after + int(np.argmin(rpm[after : max(until, after + 1)]))
        if start <= after and start <= first:
            start = after + 1
    return spans


def _without_hold(start: int, stop: int, time: FloatArray, rpm: FloatArray) -> tuple[int, bool]:
    """End of the rise, and if full throttle went on for half a second at that speed (limiter, brake)."""
    piece = rpm[start:stop]
    top = start + int(np.argmax(piece >= 0.996 * piece.max()))
    rate = (rpm[top] - rpm[start]) / max(time[top] - time[start], 1e-9)
    expected = 0.004 * rpm[top] / max(rate, 1.0)
    if time[stop - 1] - time[top] > 0.5 + 3.0 * expected:
        return top + 1, True
    return stop, False


def _is_pull(start: int, stop: int, time: FloatArray, rpm: FloatArray) -> bool:
    if stop - start < 5:
        return False
    rise, seconds = rpm[stop - 1] - rpm[start], time[stop - 1] - time[start]
    return bool(
        rise >= max(_LEAST_RISE, _LEAST_RATIO * rpm[start])
        and seconds >= _LEAST_TIME
        and rise / max(seconds, 1e-9) >= _LEAST_RATE
        and rpm[stop - 1] > 1500.0
    )


def _part_load(
    opening: FloatArray,
    level: float,
    wide: Rows,
    usable: Rows,
    time: FloatArray,
    rpm: FloatArray,
    step: float,
    drop: float,
) -> list[Span]:
    """Sweeps at a steady opening below full load."""
    window = window_for(0.3, step, len(opening))
    drift = np.abs(np.gradient(smooth(opening, window, 1), time + 1e-9 * np.arange(len(time))))
    steady = (opening > _LEAST_PART * level) & ~wide & (drift < 0.08 * level) & usable
    return _pieces(_closed(steady, step), time, rpm, step, drop, full_load=False)


def _with_ceilings(
    spans: list[Span], rpm: FloatArray, redline: float | None, window: int, noise: float
) -> list[Span]:
    """A pull that reached the redline, or the same highest speed as another pull, ended at a ceiling."""
    # The last rows inside: beyond them the engine speed already falls.
    last = {
        span: float(smooth(rpm[span.start : span.stop], min(window, (span.stop - span.start - 1) | 1), 1)[-1])
        for span in spans
    }
    tops = [last[span] for span in spans if span.full_load]
    if not tops:
        return spans
    highest = max(tops)
    # At its end a straight line through the window is twice as uncertain as in its middle.
    same = max(_SAME_TOP * highest, 4.0 * noise)
    repeated = sum(top > highest - same for top in tops) > 1
    result = []
    for span in spans:
        top = last[span]
        at_redline = redline is not None and top > 0.98 * redline
        at_same = repeated and top > highest - same
        ceiling = span.full_load and span.ended in ("lifted", "unknown") and (at_redline or at_same)
        result.append(replace(span, ended="ceiling") if ceiling else span)
    return result


def _spans_of_table(rpm: FloatArray, boost: FloatArray | None) -> list[Span]:
    """A table without time: every run of rows with rising engine speed is a pull."""
    rising = np.concatenate([[True], np.diff(rpm) > 0.0])
    starts = np.flatnonzero(~rising).tolist()
    cuts = [0, *starts, len(rpm)]
    spans: list[Span] = []
    for a, b in itertools.pairwise(cuts):
        if b - a >= 4 and rpm[b - 1] - rpm[a] >= _LEAST_RISE and (boost is None or boost[a:b].max() > 0.0):
            spans.append(Span(a, b, True, "end of file" if b == len(rpm) else "unknown", False))
    return spans
