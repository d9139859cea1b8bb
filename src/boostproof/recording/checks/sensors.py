"""What a recording says about its own sensors: air around, key-on readings, frozen or clipped channels.

Nothing here corrects a value. A sensor that is off may be the fault that is looked for.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.checks.barometer import subtracted
from boostproof.recording.checks.dead import dead_sensors, is_dead
from boostproof.recording.checks.delays import channel_delays
from boostproof.recording.checks.limits import sensors_at_limit
from boostproof.recording.checks.no_vacuum import no_vacuum
from boostproof.recording.checks.rates import slow_logger
from boostproof.recording.checks.swapped import swapped_channels
from boostproof.recording.columns.pressure_reference import key_on_rows
from boostproof.recording.model import (
    STANDARD_ATMOSPHERE,
    Channel,
    FloatArray,
    KeyOn,
    Recording,
)
from boostproof.recording.signals.limits import ripples, ripples_near
from boostproof.recording.signals.smooth import resolution
from boostproof.recording.signals.stretches import stretches_of

_RPM = 30.0 / np.pi
_RESTLESS = 5e3  # Pa; sd from which a sensor is not at rest, whatever the engine speed reads
_KEY_ON_TOLERANCE = 2.0e3  # Pa; common practice, no source: what a sound boost sensor is off at most at rest
_SENSED = (
    "boost",
    "manifold_pressure",
    "boost_check",
    "compressor_outlet_pressure",
    "turbine_inlet_pressure",
    "turbine_outlet_pressure",
    "line_pressure",
    "upper_line_pressure",
)
_LIVELY = (
    "engine_speed",
    "boost",
    "manifold_pressure",
    "compressor_outlet_pressure",
    "turbine_inlet_pressure",
    "air_flow",
    "shaft_speed",
    "line_pressure",
)
_FROZEN_S = 1.5
_SEEN = 20_000
_COARSE_RPM = 8.0
_FROZEN_RPM, _FROZEN_PA = 400.0, 20e3  # what the other channel moves by meanwhile


def measure_key_on(channels: Mapping[str, Channel]) -> dict[str, KeyOn]:
    """Every pressure channel with the engine stopped; empty without such rows."""
    speed = channels.get("engine_speed")
    rows = key_on_rows(None if speed is None else speed.values * _RPM)
    found: dict[str, KeyOn] = {}
    if not rows.any():
        return found
    for name in _SENSED:
        channel = channels.get(name)
        if channel is None or channel.reference is None:
            continue
        values = channel.values[rows & np.isfinite(channel.values)]
        if values.size >= 3 and float(values.std()) < _RESTLESS:
            found[name] = KeyOn(
                name, channel.reference, float(values.mean()), float(values.std(ddof=1)), values.size
            )
    return found


def check_channels(recording: Recording, given: float | None) -> tuple[Finding, ...]:
    """Findings about the channels of a recording."""
    findings = [*_air(recording, given), *_key_on(recording)]
    findings += [*dead_sensors(recording), *no_vacuum(recording)]
    findings += [*_still(recording), *sensors_at_limit(recording), *_doubts(recording)]
    findings += [*swapped_channels(recording), *channel_delays(recording), *slow_logger(recording)]
    if not {"boost", "manifold_pressure"} & set(recording.channels):
        findings.append(
            Finding(
                "no-boost",
                recording.file,
                "No column was recognised as boost or manifold pressure.",
                "Name it with --column, or in pulls.toml under [recording.channels].",
            )
        )
    return tuple(findings)


def _air(recording: Recording, given: float | None) -> list[Finding]:
    around = recording.barometer
    findings = []
    if around.source == "logged" and given is not None and abs(given - around.value) > 2e3:
        findings.append(
            Finding(
                "barometer-differs",
                recording.file,
                f"The logged barometer reads {around.value / 1e3:.1f} kPa, "
                f"the given one {given / 1e3:.1f} kPa; "
                "the logged one was taken.",
                "A weather report gives the pressure at sea level, not at the shop: check which is right.",
            )
        )
    absolute = any(c.reference == "abs" and c.name != "barometer" for c in recording.channels.values())
    if absolute and around.source == "standard atmosphere":
        findings.append(
            Finding(
                "no-barometer",
                recording.file,
                "Nothing tells the pressure of the air around; 101.3 kPa was taken, "
                "so boost may be off by several kPa, and by 12 kPa for every 1,000 m above the sea.",
                "Write the barometer at the shop into car.toml or pulls.toml, or log a second "
                "with the key on and the engine stopped.",
            )
        )
    return findings


def _key_on(recording: Recording) -> list[Finding]:
    """Sensors that at rest do not read the air around."""
    findings = []
    around = recording.barometer
    for name, reading in recording.key_on_all.items():
        if is_dead(recording.channels[name]):
            continue
        if reading.reference == "abs" and around.source == "key-on" and len(recording.key_on_all) < 2:
            continue
        off = reading.mean - (around.value if reading.reference == "abs" else 0.0)
        label = name.replace("_", " ")
        fixed = around.value - STANDARD_ATMOSPHERE
        known = around.source in ("logged", "given", "altitude")
        if name == "boost" and around.source == "standard atmosphere" and subtracted(recording.key_on_all):
            continue  # told with the air around
        if reading.reference == "gauge" and known and abs(fixed) > 0.7e3 and abs(off - fixed) < 0.6e3:
            findings.append(
                Finding(
                    "gauge-from-standard-atmosphere",
                    f"{recording.file}: {label}",
                    f"With the engine stopped it reads {off / 1e3:+.1f} kPa: that is the barometer "
                    f"({around.value / 1e3:.1f} kPa) less 101.3 kPa, so the logger subtracts a "
                        f"fixed atmosphere.",
                    "Nothing to mend; the values were left as logged.",
                )
            )
        elif abs(off) > _KEY_ON_TOLERANCE + 2.0 * around.sd * (reading.reference == "abs"):
            findings.append(
                Finding(
                    "key-on-offset",
                    f"{recording.file}: {label}",
                    f"With the engine stopped it reads {off / 1e3:+.1f} kPa against the air around. "
                    "The values were left as logged.",
                    "Check the sensor against a gauge with a hand pump (test sensor-check)"
                    + (", and the barometer that was given." if around.source == "given" else "."),
                )
            )
    return findings + _below_vacuum(recording)


def _below_vacuum(recording: Recording) -> list[Finding]:
    """A gauge channel that goes below the barometer's own vacuum counts from a higher pressure "
    "than that."""
    boost, around = recording.channels.get("boost"), recording.barometer
    if boost is None or around.source not in ("logged", "given") or recording.key_on is not None:
        return []
    if not bool(np.any(boost.values < -around.value)):
        return []
    low = boost.values[np.isfinite(boost.values)]
    least = float(np.percentile(low, 0.2)) if low.size else 0.0
    if least > -around.value - 0.2e3 or around.value > STANDARD_ATMOSPHERE - 1e3:
        return []
    return [
        Finding(
            "gauge-from-standard-atmosphere",
            f"{recording.file}: boost",
            f"On the overrun it reads {least / 1e3:.1f} kPa, more than the {around.value / 1e3:.1f} "
                f"kPa of air "
            "around allow: the logger most likely subtracts a fixed 101.3 kPa.",
            "Log a second with the key on and the engine stopped: it must read zero. The values "
            "were left as logged.",
        )
    ]


def _still(recording: Recording) -> list[Finding]:
    """Channels that stand still while the engine speed changes."""
    findings = []
    speed = recording.channels["engine_speed"].values * _RPM
    for name in _LIVELY:
        channel = recording.channels.get(name)
        if channel is None or not ripples(stretches_of(channel.values)):
            continue
        beside, least, what = speed, _FROZEN_RPM, "the engine speed does"
        if name == "engine_speed":
            if not {"boost", "manifold_pressure"} & set(recording.channels) or _coarse(speed):
                continue
            beside, least, what = recording.boost_gauge(), _FROZEN_PA, "the pressure in the manifold does"
        run = _frozen_run(channel.values, beside, least, recording.time)
        if run is not None:
            first, last = run
            findings.append(
                Finding(
                    "frozen-channel",
                    f"{recording.file}: {channel.column}, {recording.time[first]:.1f} to "
                    f"{recording.time[last]:.1f} s",
                    f"{name.replace('_', ' ').capitalize()} does not change while {what}.",
                    "Check the sensor's plug and the logger; do not trust this stretch.",
                )
            )
    return findings


def _may_stand(values: FloatArray, time: FloatArray) -> bool:
    """Whether a stretch as long as is looked for can be there: cheap for a long log, which seldom has one."""
    usual = float(np.median(np.diff(time[:_SEEN])))
    if len(values) < _SEEN or usual <= 0.0:
        return True
    # A tenth of the shortest stretch apart, seven neighbours are the same inside one.
    every = max(1, int(0.1 * _FROZEN_S / usual / 2.0))
    some = values[::every]
    same = some[1:] == some[:-1]
    runs = same[:-5]
    for shift in range(1, 6):
        runs = runs & same[shift : len(same) - 5 + shift]
    return bool(runs.any())


def _coarse(speed: FloatArray) -> bool:
    """An engine speed in steps so coarse that it stands while the engine turns evenly."""
    return resolution(speed[: _SEEN]) > _COARSE_RPM


def _frozen_run(
    values: FloatArray, beside: FloatArray, least: float, time: FloatArray
) -> tuple[int, int] | None:
    """Longest run of one value over 1.5 s and ``least`` of another channel, away from its own ends."""
    if not _may_stand(values, time):
        return None
    finite = values[np.isfinite(values)]
    if finite.size < 20:
        return None
    low, high = float(finite.min()), float(finite.max())
    change = np.flatnonzero(np.diff(values) != 0.0)
    starts = np.concatenate([[0], change + 1])
    stops = np.concatenate([change, [len(values) - 1]])
    long = np.flatnonzero(time[stops] - time[starts] >= _FROZEN_S)
    for index in sorted(long, key=lambda i: time[starts[i]] - time[stops[i]]):
        start, stop = int(starts[index]), int(stops[index])
        value = values[start]
        # Channels written in coarse steps rest now and then; ends are clipping, told of elsewhere.
        if not np.isfinite(value) or (low < high and value in (low, high)) or stop - start < 12:
            continue
        piece = beside[start : stop + 1]
        moved = np.isfinite(piece).any() and float(np.nanmax(piece) - np.nanmin(piece)) > least
        if moved and ripples_near(values, float(value)):
            return start, stop
    return None


def _doubts(recording: Recording) -> list[Finding]:
    """Channels that matter and were recognised without much certainty."""
    findings = []
    for channel in recording.channels.values():
        if channel.sure < 0.6 and not channel.said_unit and channel.name in (
            *_SENSED,
            "engine_speed",
            "throttle",
            "boost_target",
            "barometer",
        ):
            findings.append(
                Finding(
                    "unsure-channel",
                    f"{recording.file}: {channel.column}",
                    f"Taken for {channel.name.replace('_', ' ')} with {100 * channel.sure:.0f} % "
                        f"certainty: "
                    f"{channel.why}.",
                    "If that is wrong, name the column in pulls.toml under [recording.channels].",
                )
            )
    return findings
