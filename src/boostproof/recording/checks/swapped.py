"""Channels that behave like another one of the file: told and asked, never swapped.

Physics that does not depend on the car: behind a shut throttle a running engine makes vacuum; neither the
compressor nor the exhaust does; air in the manifold stays below 200 C, exhaust at full load does not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import Channel, FloatArray, Recording

_RPM = 30.0 / np.pi
_ZERO_C = 273.15
_SEEN = 20_000
_SHUT, _RUNNING = 0.2, 600.0
_VACUUM, _NONE = -20e3, -8e3  # Pa gauge
_IMPOSSIBLE = 30e3  # Pa gauge, with the throttle shut, of a compressor outlet or exhaust
_HOTTEST_AIR, _COLDEST_EXHAUST = _ZERO_C + 200.0, _ZERO_C + 150.0
_SLOWEST_ROAD, _SLOWEST_IDLE = 15.0, 400.0  # rpm
_STILL, _THIN_AIR, _THICK_AIR = 3e3, 60e3, 108e3  # Pa
_LOADED_S, _SHUT_S = 3.0, 1.5
_OTHERS = ("turbine_inlet_pressure", "turbine_outlet_pressure", "compressor_outlet_pressure", "boost_target")
_DO = "Look which sensor is on which plug or input, and name the columns in pulls.toml under [recording.channels]."


@dataclass(frozen=True)
class _Thin:
    """Every so many rows of what is judged: throttle as a share of its highest, rpm, seconds per row."""

    every: int
    opening: FloatArray
    rpm: FloatArray
    step: float

    def lasts(self, rows: np.ndarray, seconds: float) -> bool:
        return bool(rows.sum() >= 5) and float(rows.sum()) * self.step >= seconds


def swapped_channels(recording: Recording) -> tuple[Finding, ...]:
    """Findings ``swapped-channels``.

    Parameters
    ----------
    recording : with its channels; one without throttle and pedal tells nothing
    """
    lever = recording.channels.get("throttle") or recording.channels.get("pedal")
    if lever is None or not recording.time_known or not np.isfinite(lever.values).any():
        return ()
    every = max(1, recording.rows // _SEEN)
    opening = lever.values[::every]
    opening = opening / max(float(np.nanpercentile(opening, 99.5)), 1e-6)
    rpm = recording.channels["engine_speed"].values[::every] * _RPM
    step = every / recording.rate_hz if recording.rate_hz else 1.0
    thin = _Thin(every, opening, rpm, step)
    findings = [*_pressures(recording, thin), *_temperatures(recording, thin), *_speed(recording, thin)]
    return (*findings, *_still_manifold(recording, thin))


def _pressures(recording: Recording, thin: _Thin) -> list[Finding]:
    shut = (thin.opening < _SHUT) & (thin.rpm > _RUNNING)
    if not thin.lasts(shut, _SHUT_S):
        return []
    manifold = None
    if {"boost", "manifold_pressure"} & set(recording.channels):
        manifold = recording.manifold_channel()
    low = None if manifold is None else _level(recording, manifold, thin, shut)
    findings = []
    for name in _OTHERS:
        other = recording.channels.get(name)
        level = None if other is None else _level(recording, other, thin, shut)
        if other is None or level is None:
            continue
        label = name.replace("_", " ")
        vacuum_elsewhere = low is not None and low > _NONE
        if name == "boost_target" and not vacuum_elsewhere:
            continue  # some control units ask for vacuum too
        if level < _VACUUM:
            says = (
                f"With the throttle shut the {label} reads {-level / 1e3:.0f} kPa below the air around, as "
                "only the manifold does"
            )
        elif level > _IMPOSSIBLE and vacuum_elsewhere and name != "boost_target":
            # An absolute column under the wrong name may have been read as gauge.
            says = f"With the throttle shut the {label} stands {level / 1e3:.0f} kPa above the air around"
        else:
            continue
        if manifold is not None and vacuum_elsewhere:
            says += (
                f", and {manifold.column} shows no vacuum there: the two columns are most likely swapped. "
                "They were left as named."
            )
        else:
            says += ": the column most likely holds another sensor. It was left as named."
        findings.append(Finding("swapped-channels", f"{recording.file}: {other.column}", says, _DO))
    return findings


def _level(recording: Recording, channel: Channel, thin: _Thin, rows: np.ndarray) -> float | None:
    """Median in Pa gauge at these rows."""
    values = recording.pressure_gauge(channel.name)[:: thin.every][rows]
    values = values[np.isfinite(values)]
    return float(np.median(values)) if values.size >= 5 else None


def _temperatures(recording: Recording, thin: _Thin) -> list[Finding]:
    loaded = (thin.opening > 0.9) & (thin.rpm > 2500.0)
    if not thin.lasts(loaded, _LOADED_S):
        return []
    intake = _hottest(recording.channels.get("intake_temperature"), thin, loaded)
    exhaust_channel = recording.channels.get("exhaust_temperature_before_turbine")
    exhaust = _hottest(exhaust_channel, thin, loaded)
    hot = intake is not None and intake > _HOTTEST_AIR
    cold = exhaust is not None and exhaust < _COLDEST_EXHAUST and _lives(exhaust_channel, thin)
    if not hot and not cold:
        return []
    told = []
    if hot and intake is not None:
        told.append(f"the intake temperature reaches {intake - _ZERO_C:.0f} C, which no charge air does")
    if cold and exhaust is not None:
        told.append(f"the exhaust temperature stays below {exhaust - _ZERO_C:.0f} C at full load")
    guess = "the two are most likely swapped" if hot and cold else "it most likely holds another sensor"
    says = " and ".join(told)
    return [
        Finding(
            "swapped-channels", recording.file, f"{says[0].upper()}{says[1:]}: {guess}. Left as named.", _DO
        )
    ]


def _hottest(channel: Channel | None, thin: _Thin, rows: np.ndarray) -> float | None:
    if channel is None:
        return None
    values = channel.values[:: thin.every][rows]
    values = values[np.isfinite(values)]
    return float(np.percentile(values, 98.0)) if values.size >= 5 else None


def _lives(channel: Channel | None, thin: _Thin) -> bool:
    """A thermocouple that is not plugged in stands still; another sensor moves."""
    if channel is None:
        return False
    values = channel.values[:: thin.every]
    values = values[np.isfinite(values)]
    return bool(values.size) and float(np.ptp(values)) > 3.0


def _speed(recording: Recording, thin: _Thin) -> list[Finding]:
    """An engine that pulls wide open below any idle speed: the numbers are those of the wheels."""
    wide = thin.opening > 0.9
    top = float(np.nanpercentile(thin.rpm, 99.5)) if np.isfinite(thin.rpm).any() else 0.0
    if not thin.lasts(wide, _LOADED_S) or not _SLOWEST_ROAD < top < _SLOWEST_IDLE:
        return []
    channel = recording.channels["engine_speed"]
    says = (
        f"The engine speed never goes above {top:.0f} rpm although the throttle opens wide: the column "
        "most likely holds another speed, such as that of the car. It was left as named."
    )
    return [Finding("swapped-channels", f"{recording.file}: {channel.column}", says, _DO)]


def _still_manifold(recording: Recording, thin: _Thin) -> list[Finding]:
    """A manifold that always shows the air around."""
    if not {"boost", "manifold_pressure"} & set(recording.channels):
        return []
    channel = recording.manifold_channel()
    running = thin.rpm > _RUNNING
    wide, shut = running & (thin.opening > 0.9), running & (thin.opening < _SHUT)
    if channel.reference != "abs" or not thin.lasts(wide, _LOADED_S) or not thin.lasts(shut, _SHUT_S):
        return []
    values = channel.values[:: thin.every][running]
    values = values[np.isfinite(values)]
    low, high = np.percentile(values, [1.0, 99.0]) if values.size else (0.0, np.inf)
    if high - low > _STILL or not _THIN_AIR < low < _THICK_AIR:
        return []
    says = (
        f"It stays at {0.5 * (low + high) / 1e3:.1f} kPa whatever the throttle does, like the air around: "
        "the column most likely holds the barometer, or the sensor's hose is off. It was left as named."
    )
    return [Finding("swapped-channels", f"{recording.file}: {channel.column}", says, _DO)]
