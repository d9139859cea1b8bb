"""Full-load pulls in a recording: full throttle, engine speed rising, no lift and no gear change inside.

Pure: arrays in, spans of rows out; `find_pulls` puts them together with their metrics.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.recording.limits import find_limit
from boostproof.recording.metrics import measure
from boostproof.recording.model import Ended, FloatArray, Pull, Recording
from boostproof.recording.smooth import filled, smooth, window_for

_RPM = 30.0 / np.pi
_FULL_SHARE = 0.95  # of the channel's own full-load level (formats.md)
_LEAST_FULL = 0.6  # a highest throttle below this is no full load, whatever its own scale
_LEAST_PART = 0.15
_LEAST_RISE = 400.0  # rpm
_LEAST_TIME = 1.0  # s
_LEAST_RATE = 25.0  # rpm/s
_DROP = 0.04  # fall of engine speed that parts two gears
_SAME_TOP = 0.012  # two pulls that end this close ended at a ceiling

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
    part_load : also give the sweeps with rising engine speed at steady part throttle (``full_load`` False)
    redline : rpm, where known: a pull that reaches it ended at its ceiling
    excluded : (from, to) in seconds that must not be used; None for the file's own end

    Returns
    -------
    tuple of Pull
        In order of time; empty where there is none.
    """
    pulls = []
    boost = _boost(recording)
    limit = None if boost is None or not recording.time_known else find_limit(boost, recording.time)
    for span in find_spans(recording, redline=redline, excluded=excluded):
        if not span.full_load and not part_load:
            continue
        rows = slice(span.start, span.stop)
        rpm = filled(recording.channels["engine_speed"].values[rows] * _RPM)
        metrics = measure(
            recording.time[rows] if recording.time_known else None,
            rpm,
            None if boost is None else boost[rows],
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
    rpm = filled(recording.channels["engine_speed"].values * _RPM)
    if len(rpm) < 4 or not np.isfinite(rpm).any():
        return []
    if not recording.time_known:
        return _spans_of_table(rpm, _boost(recording))
    step = _step(time)
    usable = _usable(recording, excluded)
    calm = smooth(rpm, window_for(0.12, step, len(rpm)), 1)
    lever = recording.channels.get("pedal") or recording.channels.get("throttle")
    spans: list[Span] = []
    if lever is not None and np.isfinite(lever.values).any():
        opening = filled(lever.values)
        level = _held_level(opening, step)
        full = level >= _LEAST_FULL
        wide = _closed(opening >= _FULL_SHARE * level, step) & usable
        spans += _pieces(wide, time, calm, step, full_load=full)
        spans += _part_load(opening, level, wide, usable, time, calm, step)
    else:
        boost = _boost(recording)
        if boost is None:
            return []
        loaded = _closed((boost > -10.0) & (rpm > 1000.0), step) & usable
        spans += _pieces(loaded, time, calm, step, full_load=True)
    spans.sort(key=lambda span: span.start)
    return _with_ceilings(spans, rpm, redline)


def _boost(recording: Recording) -> FloatArray | None:
    """Boost in kPa gauge without holes, None where no manifold channel is there."""
    if not {"boost", "manifold_pressure"} & set(recording.channels):
        return None
    boost = filled(recording.boost_gauge() / 1e3)
    return boost if np.isfinite(boost).all() else None


def _step(time: FloatArray) -> float:
    steps = np.diff(time)
    steps = steps[steps > 0.0]
    return float(np.median(steps)) if steps.size else 1.0


def _usable(recording: Recording, excluded: Sequence[tuple[float | None, float | None]]) -> Rows:
    """Rows that are not excluded, and whose engine speed is not lost for long."""
    time = recording.time
    usable = np.ones(len(time), dtype=bool)
    for start, stop in excluded:
        usable &= ~(
            (time >= (-np.inf if start is None else start)) & (time <= (np.inf if stop is None else stop))
        )
    lost = ~np.isfinite(recording.channels["engine_speed"].values)
    if lost.any():
        for first, last in _runs(lost):
            if time[last - 1] - time[first] > 0.5:
                usable[first:last] = False
    return usable


def _held_level(opening: FloatArray, step: float) -> float:
    """Highest opening that is held for about a third of a second: a single spike is no full load."""
    count = int(min(max(3, round(0.3 / step)), max(len(opening) // 4, 1)))
    lowest = opening.copy()
    width = 1
    while width < count:
        shift = min(width, count - width)
        lowest = np.minimum(lowest[:-shift], lowest[shift:])
        width += shift
    return float(lowest.max()) if lowest.size else float(opening.max())


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


def _pieces(rows: Rows, time: FloatArray, rpm: FloatArray, step: float, *, full_load: bool) -> list[Span]:
    """Runs of full throttle, cut at holes in the log and where the engine speed falls."""
    holes = np.flatnonzero(np.diff(time) > max(0.5, 6.0 * step)) + 1
    spans: list[Span] = []
    for first, last in _runs(rows):
        cuts = [first, *holes[(holes > first) & (holes < last)].tolist(), last]
        for a, b in itertools.pairwise(cuts):
            at_hole = b in holes or a in holes
            spans += _rising(
                a, b, time, rpm, len(time), step, full_load, opened=a == first and a > 0 and not at_hole
            )
    return spans


def _rising(
    first: int,
    last: int,
    time: FloatArray,
    rpm: FloatArray,
    rows: int,
    step: float,
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
        fallen = np.flatnonzero(highest - piece > np.maximum(_DROP * highest, 150.0))
        stop = start + int(np.argmax(piece[: fallen[0]])) + 1 if fallen.size else last
        kept, held = _without_hold(start, stop, time, rpm)
        if _is_pull(start, kept, time, rpm):
            ended: Ended = "unknown"
            if held:
                ended = "ceiling"
            elif kept >= rows - margin:
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
        rise >= max(_LEAST_RISE, 0.1 * rpm[start])
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
) -> list[Span]:
    """Sweeps at a steady opening below full load."""
    window = window_for(0.3, step, len(opening))
    drift = np.abs(np.gradient(smooth(opening, window, 1), time + 1e-9 * np.arange(len(time))))
    steady = (opening > _LEAST_PART * level) & ~wide & (drift < 0.08 * level) & usable
    return _pieces(_closed(steady, step), time, rpm, step, full_load=False)


def _with_ceilings(spans: list[Span], rpm: FloatArray, redline: float | None) -> list[Span]:
    """A pull that reached the redline, or the same highest speed as another pull, ended at a ceiling."""
    # The last rows inside: beyond them the engine speed already falls.
    last = {span: float(np.median(rpm[max(span.start, span.stop - 3) : span.stop])) for span in spans}
    tops = [last[span] for span in spans if span.full_load]
    if not tops:
        return spans
    highest = max(tops)
    repeated = sum(top > (1.0 - _SAME_TOP) * highest for top in tops) > 1
    result = []
    for span in spans:
        top = last[span]
        at_redline = redline is not None and top > 0.98 * redline
        at_same = repeated and top > (1.0 - _SAME_TOP) * highest
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
