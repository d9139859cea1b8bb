"""Slip told by the ratio of engine speed to vehicle speed, which is constant in one gear.

Told, never cut out: the engine is at full load all the same. Speeds of satellite receivers come late, so that their
ratio is too high while the car gains speed and falls from the start of a pull on; only what exceeds that counts.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.driving.events import Event
from boostproof.recording.driving.ready import Driving, Rows
from boostproof.recording.model import FloatArray

_LEAST_SPEED = 3.0  # m/s
_LEAST_S = 2.5
_LATER_S = 3.0
_LEAST_POINTS = 8
_FLARE = 1.15  # of the ratio at the end, at the start of a pull
_STEADY = 0.03
_SLIP = 0.06
_SLIP_S = 0.5


def _ratio(driving: Driving, first: int, last: int) -> tuple[FloatArray, FloatArray] | None:
    """(times, ratio in rpm per m/s) at the rows where the vehicle speed was written anew."""
    speed = driving.recording.values("vehicle_speed")
    if speed is None:
        return None
    piece = speed[first:last]
    rows = np.flatnonzero(np.isfinite(piece) & (piece > _LEAST_SPEED))
    if rows.size < _LEAST_POINTS:
        return None
    # Slow channels are repeated row by row: only where the value changes it is up to date.
    new = rows[np.concatenate([[False], np.diff(piece[rows]) != 0.0])]
    if new.size < _LEAST_POINTS:
        return None
    ratio = driving.calm[first + new] / piece[new]
    return driving.time[first + new], ratio


def ratio_over(driving: Driving, start: int, stop: int, last: int) -> float | None:
    """Ratio of the speeds after some rows over that before them, by which it stays; None where none can be told.

    Parameters
    ----------
    start, stop : rows of the change
    last : end of the run at full throttle: slip is gone some seconds later, another gear is not
    """
    speed = driving.recording.values("vehicle_speed")
    if speed is None:
        return None
    beside = max(3, round(0.8 / driving.step))
    later = min(stop + max(3, round(_LATER_S / driving.step)), last)
    both = []
    for a, b in (
        (max(start - beside, 0), start + 1),
        (stop, min(stop + beside, last)),
        (later - beside, later),
    ):
        piece = speed[max(a, 0) : b]
        good = np.isfinite(piece) & (piece > _LEAST_SPEED)
        if good.sum() < 2:
            return None
        both.append(float(np.median(driving.calm[max(a, 0) : b][good] / piece[good])))
    return min(both[1], both[2]) / both[0]


def find_slip_by_ratio(driving: Driving, parts: Sequence[tuple[int, int]], known: Rows) -> list[Event]:
    """Converter flare and clutch slip within rises of engine speed at full throttle.

    Parameters
    ----------
    driving : the recording made ready
    parts : rows (first, one past last) of the rises
    known : rows that something else explains
    """
    events = []
    for first, last in parts:
        if driving.time[last - 1] - driving.time[first] < _LEAST_S or known[first:last].any():
            continue
        found = _ratio(driving, first, last)
        if found is None:
            continue
        event = _of_ratio(driving, first, last, *found)
        events += [] if event is None else [event]
    return events


def _of_ratio(driving: Driving, first: int, last: int, time: FloatArray, ratio: FloatArray) -> Event | None:
    if float(ratio.max()) < (1.0 + _SLIP) * float(ratio.min()):
        return None
    ratio = _calm(ratio)
    begin, end = float(driving.time[first]), float(driving.time[last - 1])
    late = ratio[time > 0.5 * (begin + end)]
    early = ratio[(time > begin + 0.2) & (time < begin + 1.0)]
    if late.size < 4 or not early.size:
        return None
    final, least = float(np.median(late)), float(np.percentile(ratio, 10.0))
    steady = float(np.percentile(late, 90.0) - np.percentile(late, 10.0)) < _STEADY * final
    start = float(np.median(early))
    if steady and start > _FLARE * final:
        until = time[ratio > (1.0 + _SLIP) * final]
        return _event(driving, "converter-flare", first, float(until[-1]), begin, start / final - 1.0)
    above = time[ratio > (1.0 + _SLIP) * least]
    if not above.size or above[-1] - above[0] < _SLIP_S:
        return None
    # Slip begins in the course of the pull: before it the ratio is that of the gear.
    leaves = time[ratio > (1.0 + _STEADY) * least][0]
    before = ratio[time < leaves]
    if before.size < 4 or leaves - begin < 0.5:
        return None
    gear = float(np.median(before))
    inside = ratio[(time >= above[0]) & (time <= above[-1])]
    share = float(np.median(inside)) / gear - 1.0
    same = float(np.mean(inside > (1.0 + 0.5 * _SLIP) * gear)) > 0.9
    if share > _SLIP and same:
        return _event(driving, "clutch-slip", first, float(above[-1]), float(above[0]), share)
    return None


def _calm(ratio: FloatArray) -> FloatArray:
    """Running median of five: a single odd speed is no slip."""
    padded = np.pad(ratio, 2, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1))


def _event(driving: Driving, kind: str, first: int, until: float, begin: float, share: float) -> Event:
    a, b = (int(np.searchsorted(driving.time, t)) for t in (begin, until))
    a, b = max(a, first), min(b + 1, len(driving.rpm))
    rpm = driving.calm
    return Event(kind, a, b, float(rpm[a]), float(rpm[b - 1]), False, sure=True, level=share)


def about_ratio(file: str, time: FloatArray, events: Sequence[Event]) -> list[Finding]:
    """Findings of the events that the ratio of the speeds told (those with a level)."""
    findings = []
    for event in events:
        if event.kind not in ("converter-flare", "clutch-slip") or not event.level:
            continue
        slip = (
            "the torque converter or the clutch slips"
            if event.kind == "converter-flare"
            else "clutch or wheels slip"
        )
        findings.append(
            Finding(
                event.kind,
                f"{file}, {time[event.start]:.1f} to {time[event.stop - 1]:.1f} s",
                f"From {event.rpm_from:.0f} to {event.rpm_to:.0f} rpm the engine turns up to {100 * event.level:.0f} % "
                f"faster for the vehicle's speed than elsewhere in this pull: {slip}; nothing was cut out for it.",
                "Look at clutch, converter and tyres before judging how fast boost comes.",
            )
        )
    return findings
