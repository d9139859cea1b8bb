"""Sensors at the ends of their range."""

from __future__ import annotations

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import Channel, FloatArray, Recording
from boostproof.recording.signals.limits import Limit, find_limit

_RPM = 30.0 / np.pi
_PRESSURES = ("boost", "manifold_pressure", "compressor_outlet_pressure", "turbine_inlet_pressure")
_LEAST_UPPER = 20e3  # Pa; what stands lower than that is no upper end
_LEAST_ROWS = 8
_UPPER_S = 1.0
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


def _coarse_limit(recording: Recording, channel: Channel) -> Limit | None:
    """The upper end of a coarse channel: it rests far longer there than at any other pressure of boost."""
    around = 0.0 if channel.reference == "gauge" else recording.barometer.value
    loaded = np.where(channel.values > around + _LEAST_UPPER, channel.values, np.nan)
    limit = find_limit(loaded, recording.time, coarse=True)
    if limit is None or recording.time[limit.last] - recording.time[limit.first] < _UPPER_S:
        return None
    rows = limit.last - limit.first + 1
    # A plateau calmer than one step rests as well, but then it rests below its top too.
    return limit if rows > _LONGER * _longest_rest(loaded, limit.value) and _many(loaded) else None


def _many(values: FloatArray) -> bool:
    """Enough different pressures to know how long it rests at one."""
    return np.unique(values[np.isfinite(values)][:100_000]).size > 15


def _longest_rest(values: FloatArray, without: float) -> int:
    """Most rows in a row of one value other than a given one."""
    told = values[np.isfinite(values)]
    starts = np.concatenate([[0], np.flatnonzero(np.diff(told) != 0.0) + 1])
    lengths = np.diff(np.concatenate([starts, [len(told)]]))
    return int(np.max(lengths, where=told[starts] != without, initial=1))


def _unit(channel: Channel) -> str:
    return "kPa gauge" if channel.reference == "gauge" else "kPa absolute"


def upper_limit(recording: Recording, channel: Channel) -> Limit | None:
    """The highest value of a pressure, where it stands there as only the end of a range does."""
    if np.isnan(channel.values).all() or np.nanmax(channel.values) < _LEAST_UPPER:
        return None
    if np.count_nonzero(channel.values == np.nanmax(channel.values)) < _LEAST_ROWS:
        return None
    limit = find_limit(channel.values, recording.time) or _coarse_limit(recording, channel)
    around = 0.0 if channel.reference == "gauge" else recording.barometer.value
    return None if limit is None or limit.value - around < _LEAST_UPPER else limit


def _upper(recording: Recording, channel: Channel) -> list[Finding]:
    """A pressure that stands at its highest value for a while."""
    limit = upper_limit(recording, channel)
    if limit is None:
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
    lowest = find_limit(-values, recording.time, coarse=True)
    if lowest is None or not _many(values) or recording.time[lowest.last] - recording.time[lowest.first] < _LOWER_S:
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
