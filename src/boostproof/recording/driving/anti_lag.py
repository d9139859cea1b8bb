"""Boost that is held with the throttle shut, or while the car stands: anti-lag and launch control.

Such boost is made on purpose, by burning in the exhaust or by cutting ignition at full throttle; it says nothing
about the gate. Boost that merely takes its time to go after a lift falls all the while, and is none of it.
"""

from __future__ import annotations

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.driving.events import Event
from boostproof.recording.driving.ready import Driving, pieces
from boostproof.recording.model import FloatArray
from boostproof.recording.signals.smooth import filled

_SHUT = 0.12  # of the way from the least opening to the full one
_BOOST = 20.0  # kPa gauge
_GONE_S, _HELD_S = 0.6, 0.8  # s after shutting in which boost may go; s for which it must stay
_KEPT = 0.7  # of what it was when it began to count, a second later
_RUNNING = 1200.0  # rpm
_IDLE = 1500.0
_STANDING, _ROLLING = 1.5, 5.5  # m/s
_LAUNCH_RPM, _LAUNCH_S = 2000.0, 1.0
_LEVEL, _MOSTLY = 0.06, 0.7  # the engine speed stays this close to one value, for this share of the rows


def find_anti_lag(driving: Driving) -> list[Event]:
    """Stretches of boost held with the throttle shut or the car standing.

    Parameters
    ----------
    driving : the recording made ready
    """
    if driving.boost is None:
        return []
    boost = driving.boost - _zero(driving)
    if float(boost.max()) <= _BOOST:
        return []
    return _throttle_shut(driving, boost) + _launches(driving, boost)


def _zero(driving: Driving) -> float:
    """kPa that the manifold channel reads with the engine stopped."""
    reading = driving.recording.key_on
    if reading is None:
        return 0.0
    around = driving.recording.barometer.value if reading.reference == "abs" else 0.0
    return (reading.mean - around) / 1e3


def _throttle_shut(driving: Driving, boost: FloatArray) -> list[Event]:
    lever = driving.lever
    if lever is None:
        return []
    least = float(np.percentile(lever.opening[:: max(1, len(boost) // 20_000)], 1.0))
    shut = lever.opening < least + _SHUT * (lever.level - least)
    high = shut & (boost > _BOOST)
    if not high.any():
        return []
    high &= driving.rpm > _RUNNING
    idle = shut & (driving.rpm > 500.0) & (driving.rpm < _IDLE)
    if idle.sum() > 5 and float(np.median(boost[idle])) > 0.25 * _BOOST:
        return []  # the channel never shows vacuum: it is off, or sits before the throttle
    time, step = driving.time, driving.step
    began = np.zeros(len(boost), dtype=np.intp)
    for first, last in pieces(shut, time, step):
        began[first:last] = first
    events = []
    for first, last in pieces(high, time, step):
        start = int(np.searchsorted(time, time[began[first]] + _GONE_S))
        start = max(first, start)
        if start >= last - 1 or time[last - 1] - time[start] < _HELD_S:
            continue
        later = min(int(np.searchsorted(time, time[start] + 1.0)), last - 1)
        if boost[later] >= _KEPT * boost[start]:
            rpm = driving.calm
            events.append(Event("anti-lag", first, last, float(rpm[first]), float(rpm[last - 1]), sure=True))
    return events


def _launches(driving: Driving, boost: FloatArray) -> list[Event]:
    """Full throttle with boost while the car stands, in a log in which it drives elsewhere."""
    speed = driving.recording.values("vehicle_speed")
    if speed is None or not np.isfinite(speed).any():
        return []
    speed = filled(speed)
    if float(np.percentile(speed, 99.0)) < _ROLLING:
        return []  # a dyno whose rollers the speed does not see
    standing = driving.full & (speed < _STANDING) & (boost > _BOOST) & (driving.rpm > _LAUNCH_RPM)
    events = []
    for first, last in pieces(standing, driving.time, driving.step):
        rpm = driving.calm[first:last]
        held = float(np.mean(np.abs(rpm / np.median(rpm) - 1.0) < _LEVEL)) > _MOSTLY
        if held and driving.time[last - 1] - driving.time[first] >= _LAUNCH_S:
            # The run-up to it is part of it, where the engine revs up at standstill.
            start = first
            while start > 0 and driving.full[start - 1] and speed[start - 1] < _STANDING:
                start -= 1
            events.append(Event("anti-lag", start, last, float(rpm[0]), float(rpm[-1]), sure=True))
    return events


def about_anti_lag(file: str, time: FloatArray, events: list[Event]) -> tuple[Finding, ...]:
    """One finding for all such stretches."""
    if not events:
        return ()
    spans = ", ".join(f"{time[e.start]:.1f} to {time[e.stop - 1]:.1f} s" for e in events)
    return (
        Finding(
            "anti-lag",
            f"{file}, {spans}",
            "Boost is held with the throttle shut or the car standing, as by anti-lag or launch control; these "
            "rows count as no pull.",
            "Switch it off for the next log, so that boost shows what turbo and gate do.",
        ),
    )
