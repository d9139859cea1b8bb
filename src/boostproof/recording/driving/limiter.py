"""The rev limiter: engine speed saw-tooths below a ceiling while fuel or ignition is cut.

Its rows are no part of a pull: boost and power flutter with the cuts. A speed that a brake holds is smooth, and a
cut that comes with boost at its highest and still rising is the guard against too much boost, not the limiter.
At a few samples a second some saw-tooths look like a hunting brake; then the hold alone ends the pull.
"""

from __future__ import annotations

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.driving.events import Event
from boostproof.recording.driving.ready import Driving, runs_of
from boostproof.recording.model import FloatArray

_TOOTH, _TOOTH_SHARE, _NOISES = 40.0, 0.006, 6.0  # rpm; share of the speed; sd of the engine speed
_DEEPEST = 0.10  # of the speed; what falls deeper is a gear change
_SAME_TOP = 0.015  # tops of the teeth lie this close, or within 60 % of a tooth
_SLOWEST = 0.35  # s from a turn to the next; a brake that hunts is slower
_LEAST_TURNS = 4  # two teeth
_FEW_S, _DEEP_TOOTH = 0.08, 100.0  # s between rows from which teeth are seen at odd places; rpm
_SLOW_TURN, _FEW_TURNS = 0.8, 3  # what then counts, where the teeth are deep: no brake hunts by that much
_BACK_S = 0.5  # s over which a fall is looked for
_SETTLE_S = 0.6  # s after the throttle opened in which a shuffling drive line saw-tooths by itself
_RISING = 12.0  # kPa that boost gained in the half second before the first cut
_HIGHEST = 0.97


def find_limiter(driving: Driving) -> list[Event]:
    """Stretches of full throttle against the limiter.

    Parameters
    ----------
    driving : the recording made ready
    """
    events: list[Event] = []
    for first, last in driving.runs():
        if last - first >= 6:
            events += _in_run(driving, first, last)
    return events


def _in_run(driving: Driving, first: int, last: int) -> list[Event]:
    time, rpm = driving.time, driving.rpm[first:last]
    back = max(2, round(_BACK_S / driving.step))
    if (
        float((np.maximum.accumulate(rpm) - rpm).max()) < _TOOTH
        and "cut_active" not in driving.recording.channels
    ):
        return []
    fall = _sliding_max(rpm, back) - rpm
    height = np.maximum(np.maximum(_TOOTH, _TOOTH_SHARE * rpm), _NOISES * driving.raw_noise)
    cut = _cut_rows(driving, first, last)
    near = (fall >= height) & (fall < _DEEPEST * rpm)
    if not near.any() and not cut.any():
        return []
    # Teeth are no further apart than the time over which a fall is seen.
    joined = near.copy()
    for a, b in runs_of(~near):
        if a > 0 and b < len(near) and b - a <= back:
            joined[a:b] = True
    events = []
    for a, b in runs_of(joined):
        found = _teeth(driving, rpm, max(a - back, 0), b, float(height[a]), first)
        if found is None:
            continue
        start, stop = found
        late = (
            time[first + start] - time[first] > _SETTLE_S
            or time[first + stop - 1] - time[first + start] > 1.2
        )
        if late and not _boost_cut(driving, first + start):
            events.append(_event(driving, first + start, first + stop, bool(cut[start:stop].any())))
    return events or _by_cut_channel(driving, first, rpm, cut)


def _teeth(
    driving: Driving, rpm: FloatArray, start: int, stop: int, height: float, offset: int
) -> tuple[int, int] | None:
    """(first top, end) of a saw-tooth of level tops, None where it is none."""
    turns = _turns(rpm[start:stop], 0.75 * height)
    # The first turn that counts is a top; what comes before is the rise.
    tops = [i for i, up in turns if up]
    if len(turns) < _FEW_TURNS or len(tops) < 2:
        return None
    heights = rpm[start + np.array(tops)]
    lows = rpm[start + np.array([i for i, up in turns if not up])]
    tooth = float(np.median(heights) - np.median(lows))
    if float(np.ptp(heights)) > max(_SAME_TOP * float(heights.max()), 0.6 * tooth):
        return None
    few = driving.step >= _FEW_S and tooth >= _DEEP_TOOTH
    rows = offset + start + np.array([i for i, _ in turns])
    slowest = _SLOW_TURN if few else max(_SLOWEST, 2.5 * driving.step)
    if len(turns) < (_FEW_TURNS if few else _LEAST_TURNS) or np.median(np.diff(driving.time[rows])) > slowest:
        return None
    return start + tops[0], min(stop + 1, len(rpm))


def _turns(values: FloatArray, height: float) -> list[tuple[int, bool]]:
    """(index, is a top) of the turning points of swings of at least ``height``."""
    turns: list[tuple[int, bool]] = []
    up, place = True, 0
    for i in range(1, min(len(values), 20_000)):
        change = values[i] - values[place]
        if (change > 0.0) == up and change != 0.0:
            place = i
        elif abs(change) >= height:
            turns.append((place, up))
            up, place = not up, i
    return turns


def _sliding_max(values: FloatArray, back: int) -> FloatArray:
    """Highest of each value and the ``back`` before it."""
    highest, width = values.copy(), 1
    while width <= back:
        shift = min(width, back + 1 - width)
        highest[shift:] = np.maximum(highest[shift:], highest[:-shift])
        width += shift
    return highest


def _boost_cut(driving: Driving, row: int) -> bool:
    """Boost was at its highest and still rising fast when the first cut came."""
    boost = driving.boost
    if boost is None:
        return False
    back = max(2, round(0.5 / driving.step))
    before = boost[max(row - back, 0) : row + 2]
    highest = float(np.percentile(boost[driving.full], 99.5)) if driving.full.any() else float(boost.max())
    at = float(before[-2:].max())
    return at >= _HIGHEST * highest and at - float(before[0]) > _RISING


def _cut_rows(driving: Driving, first: int, last: int) -> np.ndarray:
    channel = driving.recording.values("cut_active")
    if channel is None:
        return np.zeros(last - first, dtype=bool)
    return np.asarray(np.nan_to_num(channel[first:last]) > 0.0)


def _by_cut_channel(driving: Driving, first: int, rpm: FloatArray, cut: np.ndarray) -> list[Event]:
    """The cut is logged, and comes at the highest speed of the run: too few samples to see its teeth."""
    top = float(rpm.max())
    events = []
    for a, b in runs_of(cut):
        held = float(rpm[a:b].max() - rpm[a]) < 0.02 * top
        if rpm[a:b].min() > 0.95 * top and held and b - a >= 2 and not _boost_cut(driving, first + a):
            events.append(_event(driving, first + a, first + b, True))
    return events


def _event(driving: Driving, start: int, stop: int, sure: bool) -> Event:
    # A tooth's worth of rows after the last one: the speed is still on its way back up.
    rpm = driving.rpm[start:stop]
    return Event("limiter", start, stop, float(rpm.max()), float(rpm.min()), True, "ceiling", sure)


def about_limiter(file: str, time: FloatArray, events: list[Event]) -> tuple[Finding, ...]:
    """One finding for all stretches against the limiter."""
    if not events:
        return ()
    spans = ", ".join(f"{time[e.start]:.1f} to {time[e.stop - 1]:.1f} s" for e in events)
    speed = round(max(e.rpm_from for e in events), -1)
    sure = any(e.sure for e in events)
    cut = "and the log shows the cut" if sure else "as under a limiter that cuts fuel or ignition"
    return (
        Finding(
            "limiter",
            f"{file}, {spans}",
            f"At full throttle the engine speed saw-tooths below {speed:.0f} rpm, {cut}; these rows were left out "
            "of the pulls, since boost flutters with the cuts.",
            "End the next pull just before the limiter.",
        ),
    )
