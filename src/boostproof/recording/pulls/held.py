"""Openings of the throttle at a held speed: no pulls with rising engine speed, yet boost comes up and settles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from boostproof.recording.driving.ready import driving_of
from boostproof.recording.model import FloatArray, Pull, Recording

_LEAST_TIME = 1.0  # s at full throttle
_HELD = 0.2  # rise or fall of engine speed meanwhile, as share
_TURNING = 1500.0  # rpm
_CRUISING = 0.3  # s of less than full throttle before it


@dataclass(frozen=True)
class Held:
    """Rows ``start`` to ``stop`` (exclusive) of one stretch of full throttle, from its opening on."""

    start: int
    stop: int
    from_s: float
    to_s: float


def find_held(
    recording: Recording,
    *,
    pulls: Sequence[Pull] = (),
    excluded: Sequence[tuple[float | None, float | None]] = (),
) -> tuple[Held, ...]:
    """Stretches of full throttle at a held speed, each seen from its opening on.

    Parameters
    ----------
    recording : with engine speed, boost, and throttle or pedal, without which nothing tells the opening
    pulls : those found already; what they cover is left to them
    excluded : (from, to) in seconds that must not be used; None for the file's own end

    Returns
    -------
    tuple of Held
        In order of time; empty where there is none.
    """
    driving = driving_of(recording)
    if driving is None or not driving.told or driving.lever is None or driving.boost is None:
        return ()
    time, found = driving.time, []
    for first, last in driving.runs():
        if first == 0 or driving.full[first - 1] or time[first] - time[first - 1] > max(_CRUISING, 3.0 * driving.step):
            continue
        taken = any(p.full_load and p.start < last and p.stop > first for p in pulls)
        if taken or _touches(time[first], time[last - 1], excluded):
            continue
        if _held(driving.calm[first:last], time[first:last]):
            found.append(Held(first, last, float(time[first]), float(time[last - 1])))
    return tuple(found)


def _held(rpm: FloatArray, time: FloatArray) -> bool:
    lasts = float(time[-1] - time[0])
    return bool(lasts >= _LEAST_TIME and rpm.min() > _TURNING and np.ptp(rpm) <= _HELD * rpm.min())


def _touches(begin: float, end: float, excluded: Sequence[tuple[float | None, float | None]]) -> bool:
    return any(
        (start is None or start <= end) and (stop is None or stop >= begin) for start, stop in excluded
    )
