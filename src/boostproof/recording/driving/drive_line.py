"""What gearbox, converter, clutch and wheels do at full throttle, told from engine speed, gear and vehicle speed.

A gear change up lets the engine speed fall; one down, a slipping clutch, a converter or spinning wheels let it
jump. Turbo and gate see another engine speed then than the pull would have, so such rows are cut out where the
jump is clear, and always told. Spool-up makes the engine speed rise faster too, but it stays faster afterwards.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.driving.events import Event
from boostproof.recording.driving.ready import Driving, Rise, Rows, rises, runs_of
from boostproof.recording.driving.speed_ratio import about_ratio, find_slip_by_ratio, ratio_over
from boostproof.recording.model import FloatArray

_GRID_S = 0.1  # s; drive lines change within a few of these
_SLOW_S = 0.08  # s between rows
_LEAST_S = 0.8  # s of full throttle
_FASTER, _LEAST_RATE = 2.0, 250.0  # times the rate around; rpm/s
_LEAST_JUMP, _JUMP_SHARE, _NOISES = 120.0, 0.03, 6.0  # rpm above the trend; share of the speed; sd
_CLEAR_JUMP, _CLEAR_SHARE = 250.0, 0.12  # the same for a jump that stays
_JUMP_S = 1.1  # s that a jump may take
_RETURN_S = 1.5  # s within which spun wheels grip again
_RETURNED = 0.35  # of the jump left
_KICKDOWN = 1.2  # ratio of engine speeds, gears of automatics are 1.25 to 1.8 apart; common practice
_START_S = 0.5
_SHIFT, _WIDEST, _LEAST_FALL = 1.12, 2.4, 400.0  # ratios of a change up; rpm
_SHIFT_S = 1.0
_STEPS, _FOOT_OFF_S = 0.02, 0.8  # s; engine braking in gear takes longer to slow the engine by as much


@dataclass(frozen=True)
class _Grid:
    """Engine speed of one run of full throttle in even steps; ``noise`` is the sd of one value [rpm]."""

    time: FloatArray
    rpm: FloatArray
    rate: FloatArray
    step: float
    noise: float

    def between(self, start: float, stop: float) -> FloatArray:
        """Rates from one time to another."""
        first, last = np.searchsorted(self.time[:-1], [start - 1e-9, stop - 1e-9])
        return self.rate[first:last]


def find_drive_line(driving: Driving, known: Rows) -> list[Event]:
    """Gear changes, jumps and slip at full throttle.

    Parameters
    ----------
    driving : the recording made ready
    known : rows that something else explains (limiter, launch)
    """
    events: list[Event] = []
    time = driving.time
    for first, last in driving.runs():
        if (
            last - first < 4
            or time[last - 1] - time[first] < _LEAST_S
            or driving.rpm[first:last].max() < 1500.0
        ):
            continue
        found = [] if known[first:last].all() else _jumps(driving, first, last, known)
        parts = rises(first, last, time, driving.calm, driving.drop)
        found += _changes_up(driving, parts, last, [e for e in found if e.kind == "wheel-slip"], known)
        if not any(e.kind != "gear-change" for e in found):
            found += find_slip_by_ratio(driving, [(p.start, p.stop) for p in parts], known)
        events += found
    return events + _foot_off(driving, events)


def _foot_off(driving: Driving, known: Sequence[Event]) -> list[Event]:
    """Changes up for which the throttle was let go for a moment: runs of full throttle that follow at once."""
    time, rpm, events, runs = driving.time, driving.calm, [], driving.runs()
    for (_, top), (again, last) in itertools.pairwise(runs):
        if not _STEPS <= time[again] - time[top - 1] <= _FOOT_OFF_S + 2.0 * driving.step:
            continue
        high = top - 1 - int(np.argmax(rpm[max(top - 5, 0) : top][::-1]))
        low = again + int(np.argmin(rpm[again : again + max(2, round(0.3 / driving.step))]))
        ratio, fall = rpm[high] / max(rpm[low], 1.0), rpm[high] - rpm[low]
        goes_on = time[last - 1] - time[low] >= 0.4 and rpm[low:last].max() - rpm[low] >= 50.0
        if (
            _SHIFT <= ratio <= _WIDEST
            and fall >= _LEAST_FALL
            and goes_on
            and high not in {e.start for e in known}
        ):
            gear = _gear_step(driving, high, low)
            events.append(_event(driving, "gear-change", high, low, sure=gear is not None and gear > 0))
    return events


def _changes_up(
    driving: Driving, parts: Sequence[Rise], last: int, slips: Sequence[Event], known: Rows
) -> list[Event]:
    """Falls of engine speed between two rises at full throttle."""
    time, rpm, events = driving.time, driving.calm, []
    for part in parts:
        top, bottom = part.stop - 1, part.after
        if part.fallen is None or bottom >= last or any(e.start <= top < e.stop for e in slips) or known[top]:
            continue
        ratio, fall = rpm[top] / max(rpm[bottom], 1.0), rpm[top] - rpm[bottom]
        quick = time[bottom] - time[top] <= _SHIFT_S + 2.0 * driving.step
        goes_on = time[last - 1] - time[bottom] >= 0.4 and rpm[bottom:last].max() - rpm[bottom] >= 50.0
        if _SHIFT <= ratio <= _WIDEST and fall >= _LEAST_FALL and quick and goes_on:
            gear = _gear_step(driving, top, bottom)
            events.append(_event(driving, "gear-change", top, bottom, sure=gear is not None and gear > 0))
    return events


def _grid(driving: Driving, first: int, last: int) -> _Grid:
    time = driving.time
    step = max(_GRID_S, driving.step)
    even = np.arange(time[first], time[last - 1] + 1e-9, step)
    # Three samples of a slow log smoothed span more than a jump takes.
    fine = driving.step < _SLOW_S
    speed, noise = (driving.calm, driving.noise) if fine else (driving.rpm, driving.raw_noise)
    rpm = np.interp(even, time[first:last], speed[first:last])
    return _Grid(even, rpm, np.diff(rpm) / step, step, noise)


def _trend(rate: FloatArray, half: int) -> FloatArray:
    """Median of the rates within ``half`` to either side."""
    padded = np.pad(rate, half, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    return np.asarray(np.median(windows, axis=1))


def _jumps(driving: Driving, first: int, last: int, known: Rows) -> list[Event]:
    grid = _grid(driving, first, last)
    if len(grid.rate) < 6:
        return []
    noise = 1.5 * grid.noise / grid.step
    slowest = float(np.partition(grid.rate, len(grid.rate) // 10)[len(grid.rate) // 10])
    if float(grid.rate.max()) <= max(_LEAST_RATE, _FASTER * slowest):
        return []
    trend = np.maximum(_trend(grid.rate, min(round(1.5 / grid.step), len(grid.rate) - 1)), 0.0)
    fast = grid.rate > np.maximum(np.maximum(_FASTER * trend, trend + 3.0 * noise), _LEAST_RATE)
    for a, b in runs_of(~fast):
        fast[a:b] |= b - a == 1 and a > 0 and b < len(fast)
    events: list[Event] = []
    for a, b in runs_of(fast):
        # Rows of the jump: a step to either side may hold part of it.
        row = int(np.searchsorted(driving.time, grid.time[a]))
        if not known[row : row + 2].any() and (not events or row >= events[-1].stop):
            event = _judged(driving, grid, a, b, first, last)
            events += [] if event is None else [event]
    return events


def _judged(driving: Driving, grid: _Grid, a: int, b: int, first: int, last: int) -> Event | None:
    """What a stretch of fast rise is: slip that comes back, a change down, a flare, or nothing."""
    start, stop = float(grid.time[a]), float(grid.time[b])
    base = _base(grid, start, stop)
    if base is None:
        return None
    excess = float(grid.rpm[b] - grid.rpm[a]) - base * (stop - start)
    noise = _NOISES * grid.noise
    if excess < max(_LEAST_JUMP, _JUMP_SHARE * grid.rpm[a], noise):
        return None
    until = int(np.searchsorted(grid.time, stop + _RETURN_S))
    left = grid.rpm[b:until] - (grid.rpm[a] + base * (grid.time[b:until] - start))
    back = np.flatnonzero(left < _RETURNED * excess)
    place = _rows(driving, start, stop, first, last)
    if _stood_still(driving, place[0]):
        return None
    if back.size:
        rows = (place[0], _rows(driving, start, float(grid.time[b + back[0]]), first, last)[1])
        piece = driving.calm[rows[0] : rows[1]]
        fell = float(piece.max() - piece[int(np.argmax(piece)) :].min())
        return _event(driving, "wheel-slip", *rows, cuts=fell > max(0.04 * float(piece.max()), driving.drop))
    if stop - start > _JUMP_S + grid.step or excess < max(_CLEAR_JUMP, _CLEAR_SHARE * float(grid.rpm[a])):
        return None
    gear = _gear_step(driving, place[0], place[1])
    kept = ratio_over(driving, place[0], place[1], last)
    early = start - float(driving.time[first]) < _START_S
    down = gear < 0 if gear is not None else kept is not None and kept >= _KICKDOWN
    told = gear is not None or kept is not None
    if down or (not told and not early and grid.rpm[b] / grid.rpm[a] >= _KICKDOWN):
        return _event(driving, "kickdown", *place, sure=down)
    if early:
        return _event(driving, "converter-flare", *place, sure=told)
    return _event(driving, "clutch-slip", *place, sure=told) if told else None


def _base(grid: _Grid, start: float, stop: float) -> float | None:
    """Rate at which the engine speed would have risen: that before, or after it, whichever is higher."""
    before = grid.between(start - 1.2, start - 0.5 * grid.step)
    after = grid.between(stop + 0.3, stop + 2.0)
    known = [float(np.median(part)) for part in (before, after) if part.size >= 3]
    return max(*known, 0.0) if known else None


def _stood_still(driving: Driving, row: int) -> bool:
    """The channel did not move at all before: it was frozen, and now catches up."""
    before = driving.recording.channels["engine_speed"].values[
        max(row - max(5, round(0.4 / driving.step)), 0) : row
    ]
    return before.size >= 4 and float(np.ptp(before[:-1])) == 0.0


def _rows(driving: Driving, start: float, stop: float, first: int, last: int) -> tuple[int, int]:
    a = int(np.searchsorted(driving.time, start - 1e-9))
    b = int(np.searchsorted(driving.time, stop + 1e-9))
    return max(a, first), max(min(b, last), a + 2)


def _gear_step(driving: Driving, start: int, stop: int) -> int | None:
    """Gears up (positive) or down that a gear channel tells across these rows; None without one."""
    gear = driving.recording.values("gear")
    if gear is None:
        return None
    beside = max(1, round(0.5 / driving.step))
    before, after = gear[max(start - beside, 0) : start + 1], gear[stop - 1 : stop + beside]
    before, after = before[before >= 1.0], after[after >= 1.0]
    return round(float(np.median(after) - np.median(before))) if before.size and after.size else None


def _event(
    driving: Driving, kind: str, start: int, stop: int, *, cuts: bool = True, sure: bool = False
) -> Event:
    rpm = driving.calm
    at = min(stop, len(rpm) - 1)
    cuts = cuts and kind != "gear-change"  # the fall of engine speed parts the pulls already
    return Event(kind, start, stop, float(rpm[start]), float(rpm[at]), cuts, sure=sure)


def about_drive_line(file: str, time: FloatArray, events: Sequence[Event]) -> tuple[Finding, ...]:
    """One finding for each kind of event.

    Parameters
    ----------
    time : seconds, shape (rows,)
    events : of the kinds of this file and of the ratio of speeds
    """
    findings = []
    for kind, (what, then, do) in _WORDS.items():
        told = [e for e in events if e.kind == kind and not e.level]
        if not told:
            continue
        spans = ", ".join(f"{time[e.start]:.1f} to {time[e.stop - 1]:.1f} s" for e in told)
        speeds = ", ".join(f"{_round(e.rpm_from)} to {_round(e.rpm_to)} rpm" for e in told)
        cut = then if any(e.cuts for e in told) or kind == "gear-change" else "nothing was cut out for it"
        findings.append(Finding(kind, f"{file}, {spans}", f"{what} ({speeds}); {cut}.", do))
    return (*findings, *about_ratio(file, time, events))


def _round(rpm: float) -> int:
    return round(rpm / 10.0) * 10


_WORDS = {
    "gear-change": (
        "The gear changed up between or within runs at full throttle",
        "the pulls before and after it were measured apart",
        "Log one pull in one gear.",
    ),
    "kickdown": (
        "The engine speed jumped up at full throttle, as when the gearbox changes down",
        "the jump was cut out, and the pull before it and the one after it were measured apart",
        "Lock the gear, or floor the pedal in the gear that the pull is to be in.",
    ),
    "converter-flare": (
        "The engine speed ran up at once when the throttle opened, as a torque converter or a slipping clutch "
        "lets it, or a change down",
        "the run-up was cut out, and times from the opening of the throttle are not told",
        "Lock the gear and the converter, or pull from a higher engine speed.",
    ),
    "clutch-slip": (
        "The engine speed ran away from the vehicle's at full throttle, in one gear",
        "the run-up was cut out",
        "Look at the clutch or the converter before judging boost.",
    ),
    "wheel-slip": (
        "The engine speed ran ahead and fell back at full throttle, as when wheels spin and grip again",
        "these rows were cut out",
        "Repeat the pull in a higher gear or on a drier road.",
    ),
}
