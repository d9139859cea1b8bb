"""Sensors that show one value throughout, and two sensors of one pressure that do not agree."""

from __future__ import annotations

import itertools

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.columns.thinned import thin
from boostproof.recording.model import Channel, Recording

_RPM = 30.0 / np.pi
_LEAST_ROWS, _LEAST_S = 20, 1.5
_MOVED_RPM, _MOVED_PA = 400.0, 30e3
_MANIFOLD = ("boost", "manifold_pressure", "boost_check")
_APART, _SHARE = 15e3, 0.2  # Pa, of the running rows; offsets of sound sensors and their delays are smaller
_RUNNING = 600.0
_UNIT = {"gauge": "kPa gauge", "abs": "kPa absolute"}


def is_dead(channel: Channel) -> bool:
    """One value in every row, as of a sensor that is not plugged in or not logged."""
    values = thin(channel.values)
    values = values[np.isfinite(values)]
    return bool(values.size >= _LEAST_ROWS) and float(np.ptp(values)) == 0.0


def dead_sensors(recording: Recording) -> tuple[Finding, ...]:
    """Findings ``frozen-channel`` of channels that never change, and ``sensors-disagree``.

    Parameters
    ----------
    recording : with its channels
    """
    if not recording.time_known or recording.time[-1] - recording.time[0] < _LEAST_S:
        return ()
    here = [recording.channels[name] for name in _MANIFOLD if name in recording.channels]
    dead = [channel for channel in here if is_dead(channel)]
    speed = recording.channels["engine_speed"]
    turning = thin(speed.values) * _RPM
    findings = []
    if is_dead(speed):
        moved = [c for c in here if c not in dead and float(np.nanmax(c.values) - np.nanmin(c.values)) > _MOVED_PA]
        if moved:
            findings.append(_stuck(recording.file, speed, f"{turning[0]:.0f} rpm", f"{moved[0].column} changes"))
    elif np.isfinite(turning).any() and float(np.nanmax(turning) - np.nanmin(turning)) > _MOVED_RPM:
        for channel in [] if _target_moves(recording) else dead:
            value = float(channel.values[np.isfinite(channel.values)][0]) / 1e3
            level = f"{value + 0.0:.1f} {_UNIT[channel.reference or 'gauge']}"
            findings.append(_stuck(recording.file, channel, level, "the engine speed changes"))
    for one, other in itertools.combinations([c for c in here if c not in dead], 2):
        findings += _disagree(recording, one, other, turning)
    return tuple(findings)


def _target_moves(recording: Recording) -> bool:
    """The target shows vacuum and boost: then its header stands over the sensor's numbers, which is told."""
    target = recording.channels.get("boost_target")
    if target is None or target.reference is None:
        return False
    values = recording.pressure_gauge("boost_target")
    return bool(np.isfinite(values).any()) and float(np.nanmin(values)) < -_MOVED_PA < _MOVED_PA < float(np.nanmax(values))


def _stuck(file: str, channel: Channel, level: str, meanwhile: str) -> Finding:
    return Finding(
        "frozen-channel",
        f"{file}: {channel.column}",
        f"It reads {level} in every row while {meanwhile}: the sensor is dead, unplugged or not logged.",
        "Check the sensor's plug and the logger; nothing can be told from this column.",
    )


def _disagree(recording: Recording, one: Channel, other: Channel, turning: np.ndarray) -> list[Finding]:
    a, b = (thin(np.asarray(recording.pressure_gauge(channel.name))) for channel in (one, other))
    told = np.isfinite(a) & np.isfinite(b) & (turning > _RUNNING)
    if told.sum() < _LEAST_ROWS:
        return []
    apart = np.abs(a - b)[told]
    if float(np.mean(apart > _APART)) < _SHARE:
        return []
    taken = recording.manifold_channel().column
    usual = float(np.median(apart[apart > _APART])) / 1e3
    return [
        Finding(
            "sensors-disagree",
            f"{recording.file}: {one.column}, {other.column}",
            f"Both should read the pressure in the manifold, but they differ by {usual:.0f} kPa for much of the log; "
            f"boost was taken from {taken}.",
            "Check both sensors against a gauge with a hand pump (test sensor-check).",
        )
    ]
