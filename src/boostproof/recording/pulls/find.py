"""Full-load pulls in a recording: full throttle, engine speed rising, no lift and no gear change inside.

Pure: arrays in, spans of rows out; `find_pulls` puts them together with their metrics.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from boostproof.recording.checks.dead import is_dead
from boostproof.recording.driving.aspirated import no_boost_at_all
from boostproof.recording.driving.events import Event, events_of
from boostproof.recording.driving.load import FULL_SHARE, Lever, before_lift, by_mixture, by_vacuum
from boostproof.recording.driving.lost_boost import boost_lost
from boostproof.recording.driving.ready import (
    Driving,
    Rows,
    boost_of,
    closed,
    driving_of,
    holes_of,
    pieces,
    rises,
    runs_of,
    speed_of,
)
from boostproof.recording.model import Ended, FloatArray, Metric, Pull, Recording
from boostproof.recording.pulls.measured import measure_rows
from boostproof.recording.pulls.metrics import METRICS
from boostproof.recording.pulls.replicas import COPIES, FEWER
from boostproof.recording.rows import step_of
from boostproof.recording.signals.limits import find_limit
from boostproof.recording.signals.smooth import filled, smooth, window_for

_LEAST_PART = 0.15
_LEAST_RISE = 400.0  # rpm
_LEAST_RATIO = 0.2  # of the engine speed at its start
_LEAST_TIME = 1.5  # s
# Of a pull that the driver ended early, where none was longer: s, kPa of boost, and rpm/s, above which the turbo lags
# so far behind that such a moment tells nothing.
_CUT_SHORT, _RAN_UP, _SLOW_ENOUGH = 0.8, 15.0, 1000.0
_LEAST_RATE = 25.0  # rpm/s
_TURNING = 500.0  # rpm
_MANY_PULLS = 24  # in one recording: no shop drives more in a day, and each takes its time to measure
_SAME_TOP = 0.012  # two pulls that end this close ended at a ceiling


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
    recording : with engine speed, and throttle, pedal or boost (else torque or air flow) to tell full load
    part_load : also give the sweeps with rising engine speed at steady part throttle (``full_load`` False);
        their metrics are all None, since each is defined at full load; so are those of a recording in which
        the manifold never rises above the air around
    redline : rpm, where known: a pull that reaches it ended at its ceiling
    excluded : (from, to) in seconds that must not be used; None for the file's own end

    Returns
    -------
    tuple of Pull
        In order of time; empty where there is none.
    """
    pulls = []
    boost = boost_of(recording)
    speed = speed_of(recording)[0]
    limit = None if boost is None or not recording.time_known else find_limit(boost, recording.time)
    spans = find_spans(recording, redline=redline, excluded=excluded)
    full = [(span.start, span.stop) for span in spans if span.full_load]
    alive = boost is None or not recording.time_known or not is_dead(recording.manifold_channel())
    boosted = alive and not no_boost_at_all(recording, full, speed, boost)
    for span in spans:
        if not span.full_load and not part_load:
            continue
        rows = slice(span.start, span.stop)
        rpm = speed[rows]
        metrics: dict[str, Metric | None] = dict.fromkeys(METRICS)
        if span.full_load and boosted and not boost_lost(recording, span.start, span.stop):
            metrics = measure_rows(
                recording,
                span.start,
                span.stop,
                speed,
                boost,
                tip_in=span.tip_in,
                limit=None if limit is None else limit.value,
                copies=COPIES if len(full) <= _MANY_PULLS else FEWER,
            )
        ends = smooth(rpm, window_for(0.3, step_of(recording.time[rows]), len(rpm)), 1)
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
    driving = driving_of(recording)
    if driving is None:
        rpm = speed_of(recording)[0]
        if recording.time_known or len(rpm) < 4 or not np.isfinite(rpm).any():
            return []
        return _spans_of_table(rpm, boost_of(recording), _wide_rows(recording, len(rpm)))
    time, rpm, lever = driving.time, driving.rpm, driving.lever
    usable = _usable(time, driving.lost, excluded)
    wide = driving.full & usable
    cut = [event for event in events_of(driving) if event.cuts]
    kept = wide.copy()
    for event in cut:
        kept[event.start : event.stop] = False
    spans = _of_runs(driving, kept, driving.told or lever is None, _Edges(wide, cut))
    if lever is not None:
        if not spans and driving.boost is not None:
            short = _of_runs(driving, kept, driving.told, _Edges(wide, cut), least=_CUT_SHORT)
            spans = _cut_short(driving, short, driving.boost)
        spans = _behind_a_plate(lever, driving.boost, spans)
        spans += _part_load(driving, lever, wide, usable)
    elif driving.boost is not None:
        spans = _by_boost(recording, spans, driving.boost, driving.calm)
    spans.sort(key=lambda span: span.start)
    return _with_ceilings(spans, rpm, redline, driving.window, driving.noise)


def _behind_a_plate(lever: Lever, boost: FloatArray | None, spans: list[Span]) -> list[Span]:
    full = by_vacuum(lever, boost, [(span.start, span.stop) for span in spans])
    return [replace(span, full_load=span.full_load and load) for span, load in zip(spans, full, strict=True)]


class _Edges:
    """Where a run of full throttle begins or ends at a cut, and so not by the driver's foot."""

    def __init__(self, wide: Rows, cut: Sequence[Event]) -> None:
        self.wide = wide
        self.ended: Mapping[int, Ended] = {event.start: event.ended for event in cut}
        self.after = {event.stop for event in cut}

    def opened(self, first: int) -> bool:
        """The throttle was seen opening at this row."""
        return first > 0 and first not in self.after and not self.wide[first - 1]

    def how(self, last: int) -> Ended | None:
        """How a pull ended that runs up to this row (exclusive), None where it is no cut."""
        return self.ended.get(last)


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


def _usable(time: FloatArray, lost: Rows, excluded: Sequence[tuple[float | None, float | None]]) -> Rows:
    """Rows that are not excluded, and whose engine speed is not lost for long."""
    usable = np.ones(len(time), dtype=bool)
    for start, stop in excluded:
        usable &= ~(
            (time >= (-np.inf if start is None else start)) & (time <= (np.inf if stop is None else stop))
        )
    for first, last in runs_of(lost):
        if time[last - 1] - time[first] > 0.5:
            usable[first:last] = False
    return usable


def _cut_short(driving: Driving, spans: list[Span], boost: FloatArray) -> list[Span]:
    """Short runs in which the driver opened the throttle, boost came up, and he lifted: it may have run away."""

    def rate(s: Span) -> float:
        rise = driving.calm[s.stop - 1] - driving.calm[s.start]
        return float(rise / (driving.time[s.stop - 1] - driving.time[s.start]))

    lifted = [s for s in spans if s.tip_in and s.ended == "lifted" and rate(s) < _SLOW_ENOUGH]
    return [s for s in lifted if boost[s.start : s.stop].max() > _RAN_UP]


def _of_runs(
    driving: Driving, rows: Rows, full_load: bool, edges: _Edges | None = None, *, least: float = _LEAST_TIME
) -> list[Span]:
    """Runs of steady throttle, cut at holes in the log and where the engine speed falls."""
    holes = set(holes_of(driving.time, driving.step).tolist())
    edges = _Edges(rows, ()) if edges is None else edges
    spans: list[Span] = []
    for first, last in pieces(rows, driving.time, driving.step):
        opened = not {first, last} & holes and edges.opened(first)
        spans += _rising(driving, first, last, full_load, edges.how(last), opened=opened, least=least)
    return spans


def _rising(
    driving: Driving, first: int, last: int, full_load: bool, how: Ended | None, *, opened: bool, least: float
) -> list[Span]:
    """Stretches of rising engine speed within rows of steady throttle."""
    spans: list[Span] = []
    time, rpm, step = driving.time, driving.calm, driving.step
    margin = max(2, round(0.06 / step))
    for rise in rises(first, last, time, rpm, driving.drop):
        kept, held = _without_hold(rise.start, rise.stop, time, rpm)
        if not _is_pull(rise.start, kept, time, rpm, least):
            continue
        ended: Ended = "unknown"
        if held:
            ended = "ceiling"
        elif rise.fallen is None and how is not None:
            ended = how
        elif kept >= len(time) - margin:
            ended = "end of file"
        elif rise.fallen is None and time[kept] - time[kept - 1] < max(0.5, 6.0 * step):
            ended = "lifted"
        spans.append(Span(rise.start, kept, full_load, ended, opened and rise.start == first))
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


def _is_pull(start: int, stop: int, time: FloatArray, rpm: FloatArray, least: float = _LEAST_TIME) -> bool:
    if stop - start < 5:
        return False
    rise, seconds = rpm[stop - 1] - rpm[start], time[stop - 1] - time[start]
    return bool(
        rise >= max(_LEAST_RISE, _LEAST_RATIO * rpm[start])
        and seconds >= least
        and rise / max(seconds, 1e-9) >= _LEAST_RATE
        and rpm[stop - 1] > 1500.0
    )


def _part_load(driving: Driving, lever: Lever, wide: Rows, usable: Rows) -> list[Span]:
    """Sweeps at a steady opening below full load."""
    time, step, level = driving.time, driving.step, lever.level
    window = window_for(0.3, step, len(lever.opening))
    drift = np.abs(np.gradient(smooth(lever.opening, window, 1), time + 1e-9 * np.arange(len(time))))
    steady = (lever.opening > _LEAST_PART * level) & ~wide & (drift < 0.08 * level) & usable
    return _of_runs(driving, closed(steady, step), full_load=False)


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


def _wide_rows(recording: Recording, rows: int) -> Rows:
    """Rows of a table with the throttle open as wide as it ever is; all of them where that is not told."""
    for name in ("pedal", "throttle"):
        values = recording.values(name)
        if values is not None and np.isfinite(values).any():
            opening = filled(values)
            return np.asarray(opening >= FULL_SHARE * float(np.percentile(opening, 99.0)))
    return np.ones(rows, dtype=bool)


def _spans_of_table(rpm: FloatArray, boost: FloatArray | None, wide: Rows) -> list[Span]:
    """A table without time: every run of rows with rising engine speed and an open throttle is a pull."""
    running = wide & (rpm > _TURNING)
    spans: list[Span] = []
    for first, last in runs_of(running):
        falls = first + 1 + np.flatnonzero(np.diff(rpm[first:last]) <= 0.0)
        for a, b in itertools.pairwise([first, *falls.tolist(), last]):
            if b - a >= 4 and rpm[b - 1] - rpm[a] >= _LEAST_RISE and (boost is None or boost[a:b].max() > 0.0):
                spans.append(Span(a, b, True, "end of file" if b == len(rpm) else "unknown", False))
    return spans
