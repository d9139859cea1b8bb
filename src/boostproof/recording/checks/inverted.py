"""Channels that run the wrong way round: a throttle written as 100 % shut, a pressure of the wrong sign."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import Channel, FloatArray, Samples
from boostproof.recording.signals.smooth import filled

_RPM = 30.0 / np.pi
_SEEN = 20_000
_STOPPED, _IDLE = 50.0, 1300.0  # rpm
_PULL_S, _PULL_SHARE = 1.5, 0.12  # a rise of engine speed at load: over that time, of its highest
_FAR = 0.4  # of the throttle's span between load and rest
_LEAST_PA = 10e3
_REST_PA = 8e3
_LEAST_S = 1.0


def turned_right(
    channel: Channel, channels: Mapping[str, Channel], time: FloatArray, file: str
) -> tuple[Channel, tuple[Finding, ...]]:
    """A channel the right way round, where that is certain.

    Parameters
    ----------
    channel : just recognised
    channels : those before it: engine speed before the throttle, the throttle before pressures
    time : seconds of the rows
    file : for the finding
    """
    if channel.name in ("throttle", "pedal"):
        return _throttle(channel, channels.get("engine_speed"), time, file)
    opening = channels.get("throttle") or channels.get("pedal")
    if channel.name in ("boost", "manifold_pressure", "boost_check") and opening is not None:
        return _manifold(channel, opening, channels.get("engine_speed"), time, file)
    if channel.name == "compressor_outlet_pressure" and opening is not None:
        return _outlet(channel, opening, time, file)
    return channel, ()


def _mapped(channel: Channel, sign: float, offset: float, why: str) -> Channel:
    own = channel.samples
    samples = None if own is None else Samples(own.time, offset + sign * own.values)
    return replace(
        channel, values=offset + sign * channel.values, samples=samples, why=f"{channel.why}; {why}"
    )


def _finding(channel: Channel, file: str, says: str, do: str) -> tuple[Finding, ...]:
    return (Finding("inverted-channel", f"{file}: {channel.column}", says, do),)


def _throttle(
    channel: Channel, speed: Channel | None, time: FloatArray, file: str
) -> tuple[Channel, tuple[Finding, ...]]:
    """Wide open with the engine stopped, idling or on the overrun, shut while it gains speed at load."""
    if speed is None or len(time) < 30 or not np.isfinite(channel.values).any():
        return channel, ()
    every = max(1, len(time) // _SEEN)
    clock, opening = time[::every], filled(channel.values[::every])
    rpm = filled(speed.values[::every] * _RPM)
    if not (np.isfinite(rpm).all() and np.isfinite(opening).all()):
        return channel, ()
    low, high = (float(level) for level in np.percentile(opening, [1.0, 99.0]))
    if high - low < 0.3 or high > 1.1 or low < -0.1:
        return channel, ()
    gain, fall = _gains(clock, rpm)
    rest = (rpm < _STOPPED) | ((rpm < _IDLE) & ~gain) | fall
    if not _enough(clock, rest) or not _enough(clock, gain):
        return channel, ()
    at_rest, at_load = float(np.median(opening[rest])), float(np.median(opening[gain]))
    if at_rest - at_load < max(_FAR * (high - low), 0.3) or at_load > low + 0.2 * (high - low):
        return channel, ()
    says = (
        f"It reads {100 * at_rest:.0f} % with the engine at rest or slowing down and {100 * at_load:.0f} % "
        "while it gains speed: it counts the wrong way round and was read as 100 % less what it says."
    )
    return _mapped(channel, -1.0, 1.0, "turned round"), _finding(
        channel, file, says, "Check the ends of the throttle or pedal in the logger's set-up."
    )


def _gains(time: FloatArray, rpm: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Rows at which the engine gains speed for long, as only load can make it, and those where it loses it."""
    later = np.minimum(np.searchsorted(time, time + _PULL_S), len(time) - 1)
    rise = (rpm[later] - rpm) / np.maximum(time[later] - time, 1e-9) * _PULL_S
    least = _PULL_SHARE * float(rpm.max())
    whole = (time[later] - time <= 1.5 * _PULL_S) & (rpm > _IDLE)
    gaining, losing = whole & (rise > least), whole & (rise < -least)
    # Judged in the middle of the span, where neither a lift nor an opening is near.
    middle = np.minimum(np.searchsorted(time, time + 0.5 * _PULL_S), len(time) - 1)
    gain, fall = np.zeros(len(time), dtype=bool), np.zeros(len(time), dtype=bool)
    gain[middle[gaining]], fall[middle[losing]] = True, True
    return gain, fall & ~gain


def _enough(time: FloatArray, rows: np.ndarray) -> bool:
    return bool(rows.sum() >= 5) and float(rows.mean()) * float(time[-1] - time[0]) >= _LEAST_S


def _manifold(
    channel: Channel, opening: Channel, speed: Channel | None, time: FloatArray, file: str
) -> tuple[Channel, tuple[Finding, ...]]:
    """Pressure with the throttle shut and vacuum with it wide open."""
    every = max(1, len(time) // _SEEN)
    plate = opening.values[::every]
    if not np.isfinite(plate).any():
        return channel, ()
    plate = plate / max(float(np.nanpercentile(plate, 99.5)), 1e-6)
    values = channel.values[::every]
    told = np.isfinite(values) & np.isfinite(plate)
    running = np.ones(len(plate), dtype=bool) if speed is None else speed.values[::every] * _RPM > 500.0
    shut, wide = told & running & (plate < 0.2), told & running & (plate > 0.9)
    if not _enough(time[::every], shut) or not _enough(time[::every], wide):
        return channel, ()
    closed, loaded = float(np.median(values[shut])), float(np.median(values[wide]))
    low, high = np.percentile(values[told], [0.5, 99.5])
    if closed - loaded < max(_FAR * (high - low), _LEAST_PA):
        return channel, ()
    stopped = told & ~running
    rest = float(np.median(values[stopped])) if stopped.sum() >= 5 else 0.0
    certain = channel.reference == "gauge" and closed > 0.5 * _LEAST_PA and loaded < -0.5 * _LEAST_PA
    says = (
        f"It falls from {closed / 1e3:.0f} to {loaded / 1e3:.0f} kPa when the throttle opens, where the "
        "pressure in the manifold must rise: it has the wrong sign"
    )
    do = "Check the scaling of this sensor in the logger's set-up."
    if certain and abs(rest) < _REST_PA:
        return _mapped(channel, -1.0, 0.0, "sign turned"), _finding(
            channel, file, says + "; read with the other one.", do
        )
    return channel, _finding(channel, file, says + " or is another channel; left as it is.", do)


def _outlet(
    channel: Channel, opening: Channel, time: FloatArray, file: str
) -> tuple[Channel, tuple[Finding, ...]]:
    """The compressor outlet far below the air around at full load, and at the air around without."""
    every = max(1, len(time) // _SEEN)
    plate, values = opening.values[::every], channel.values[::every]
    if channel.reference != "gauge" or not np.isfinite(plate).any():
        return channel, ()
    plate = plate / max(float(np.nanpercentile(plate, 99.5)), 1e-6)
    told = np.isfinite(values) & np.isfinite(plate)
    wide, shut = told & (plate > 0.9), told & (plate < 0.2)
    if not _enough(time[::every], wide) or not _enough(time[::every], shut):
        return channel, ()
    loaded, closed = float(np.median(values[wide])), float(np.median(values[shut]))
    if loaded > -2.0 * _LEAST_PA or abs(closed) > _REST_PA:
        return channel, ()
    says = (
        f"It falls to {loaded / 1e3:.0f} kPa at full load, where the compressor must bring it above the air "
        "around: it has the wrong sign; read with the other one."
    )
    return _mapped(channel, -1.0, 0.0, "sign turned"), _finding(
        channel, file, says, "Check the scaling of this sensor in the logger's set-up."
    )
