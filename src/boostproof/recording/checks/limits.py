"""Sensors at the ends of their range."""

from __future__ import annotations

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import Channel, FloatArray, Recording
from boostproof.recording.signals.limits import find_limit

_RPM = 30.0 / np.pi
_PRESSURES = ("boost", "manifold_pressure", "compressor_outlet_pressure", "turbine_inlet_pressure")
_LEAST_UPPER = 20e3  # Pa; what stands lower than that is no upper end
_LOWER_S = 0.8
_LONGER = 4.0  # times the longest rest at any other value
_LOWER_RPM = 100.0  # engine speed must change by this much meanwhile: an idle may hold its vacuum


def sensors_at_limit(recording: Recording) -> list[Finding]:
    """Findings ``sensor-at-limit``.

    Parameters
    ----------
    recording : with its channels. Only pressures are judged, at the lower end only the manifold's: other
        places rest at the air around, and a throttle has ends of its own
    """
    findings = []
    for name in _PRESSURES:
        channel = recording.channels.get(name)
        if channel is not None:
            findings += _upper(recording, channel)
    if {"boost", "manifold_pressure"} & set(recording.channels):
        findings += _lower(recording, recording.manifold_channel())
    return findings


def _longest_rest(values: FloatArray, without: float) -> int:
    """Most rows in a row of one value other than a given one."""
    told = values[np.isfinite(values)]
    starts = np.concatenate([[0], np.flatnonzero(np.diff(told) != 0.0) + 1])
    lengths = np.diff(np.concatenate([starts, [len(told)]]))
    return int(np.max(lengths, where=told[starts] != without, initial=1))


def _unit(channel: Channel) -> str:
    return "kPa gauge" if channel.reference == "gauge" else "kPa absolute"


def _upper(recording: Recording, channel: Channel) -> list[Finding]:
    """A pressure that stands at its highest value for a while."""
    limit = find_limit(channel.values, recording.time)
    if limit is None or limit.value < _LEAST_UPPER:
        return []
    first, last = recording.time[limit.first], recording.time[limit.last]
    return [
        Finding(
            "sensor-at-limit",
            f"{recording.file}: {channel.column}, {first:.1f} to {last:.1f} s",
            f"It stands at {limit.value / 1e3:.1f} {_unit(channel)} without any ripple: "
            "the sensor or the logger ends there, and the true pressure may have been higher.",
            "Do not drive further pulls on this sensor; log with one of a wider range.",
        )
    ]


def _lower(recording: Recording, channel: Channel) -> list[Finding]:
    """A manifold pressure that stands at its lowest value while the engine turns and changes its speed."""
    rpm = recording.channels["engine_speed"].values * _RPM
    values = np.where(rpm > 400.0, channel.values, np.nan)
    lowest = find_limit(-values, recording.time)
    if lowest is None or recording.time[lowest.last] - recording.time[lowest.first] < _LOWER_S:
        return []
    if float(np.ptp(rpm[lowest.first : lowest.last + 1])) < _LOWER_RPM:
        return []
    # An overrun holds its vacuum well: a channel that rests elsewhere too tells nothing by resting there.
    if lowest.last - lowest.first + 1 < _LONGER * _longest_rest(values, -lowest.value):
        return []
    first, last = recording.time[lowest.first], recording.time[lowest.last]
    return [
        Finding(
            "sensor-at-limit",
            f"{recording.file}: {channel.column}, {first:.1f} to {last:.1f} s",
            f"It stands at {-lowest.value / 1e3:.1f} {_unit(channel)}, its lowest, without any ripple: "
            "the sensor or the logger ends there, and the true pressure may have been lower.",
            "Nothing for boost; vacuum cannot be read from this log.",
        )
    ]
