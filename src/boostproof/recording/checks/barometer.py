"""Pressure of the air around during a recording: logged, given, or reasoned from sensors at rest.

Nothing here corrects a value. Tolerances are common practice, no source, except the given barometer's,
which is that of the table in ``sources.tolerances`` for a weather station.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from boostproof.findings import Finding
from boostproof.physics.atmosphere import geopotential_altitude, standard_pressure
from boostproof.recording.model import STANDARD_ATMOSPHERE, Barometer, Channel, KeyOn

_LOGGED_SD = 0.3e3
_GIVEN_SD = 0.3e3
_KEY_ON_SD = 1.5e3  # one sensor at rest: its own offset
_AGREED_SD = 0.5e3  # several sensors at rest, beside half their spread
_SUBTRACTED_SD = 1.2e3
_ALTITUDE_SD = 1.2e3  # the weather, and some metres of a receiver
_UNKNOWN_SD = 2.5e3  # weather, and a shop some way up a hill
_LEAST, _MOST = 70e3, 105e3  # what a sound sensor can read at rest: up to about 3000 m, and the highest highs
_NEAR_ZERO = 0.7e3  # a gauge channel nearer to zero than this tells nothing about the air
# Sensors that a logger turns into gauge itself. Those for exhaust pressure often are true gauge sensors.
_COMPUTED_GAUGE = ("boost", "boost_check", "compressor_outlet_pressure")


def find_barometer(
    channels: Mapping[str, Channel],
    key_on: Mapping[str, KeyOn],
    given: float | None = None,
    altitude: float | None = None,
) -> Barometer:
    """Pressure of the air around.

    Parameters
    ----------
    channels : recognised channels by our names
    key_on : readings with the engine stopped, by our names
    given : as a person wrote it [Pa abs]
    altitude : height above the sea where it was logged [m]

    Returns
    -------
    Barometer
        The first that is there of: the logged one; the given one (before any key-on reading, which
        would hide the offset of a faulty sensor); absolute sensors at rest; the altitude; the standard atmosphere plus
        what a gauge channel rests at, where that makes an air pressure; the standard atmosphere.
    """
    logged = channels.get("barometer")
    if logged is not None and np.isfinite(logged.values).any():
        middle = float(np.nanmedian(logged.values))
        if 55e3 < middle < 110e3:
            return Barometer(middle, _LOGGED_SD, "logged")
    if given is not None:
        return Barometer(given, _GIVEN_SD, "given")
    resting = [r.mean for r in key_on.values() if r.reference == "abs" and _LEAST <= r.mean <= _MOST]
    if len(resting) == 1:
        return Barometer(resting[0], _KEY_ON_SD, "key-on")
    if resting:
        spread = float(np.ptp(resting)) / 2.0
        return Barometer(float(np.median(resting)), float(np.hypot(spread, _AGREED_SD)), "key-on")
    if altitude is not None:
        height = float(geopotential_altitude(altitude))
        return Barometer(float(standard_pressure(height)), _ALTITUDE_SD, "altitude")
    shift = subtracted(key_on)
    if shift is not None:
        return Barometer(STANDARD_ATMOSPHERE + shift, _SUBTRACTED_SD, "standard atmosphere")
    return Barometer(STANDARD_ATMOSPHERE, _UNKNOWN_SD, "standard atmosphere")


def subtracted(key_on: Mapping[str, KeyOn]) -> float | None:
    """What a manifold channel in gauge rests at [Pa], where it can be the weather.

    Many loggers make gauge pressure by subtracting 101 325 Pa whatever the barometer; with the engine
    stopped such a channel shows the barometer less that. None where it rests near zero, where no air
    pressure would come of it, or where another channel of that kind rests elsewhere: then it is the sensor.
    """
    gauge = [key_on[n].mean for n in _COMPUTED_GAUGE if n in key_on and key_on[n].reference == "gauge"]
    if "boost" not in key_on or not gauge:
        return None
    rest = key_on["boost"].mean
    if abs(rest) < _NEAR_ZERO or not _LEAST <= STANDARD_ATMOSPHERE + rest <= _MOST:
        return None
    return rest if max(abs(other - rest) for other in gauge) < _NEAR_ZERO else None


def about_barometer(
    file: str, channels: Mapping[str, Channel], key_on: Mapping[str, KeyOn], around: Barometer
) -> tuple[Finding, ...]:
    """What a person should know about how the barometer was come by."""
    if around.source == "altitude":
        return (
            Finding(
                "barometer-from-altitude",
                file,
                f"There is no barometer in the log; {around.value / 1e3:.1f} kPa was taken from its altitude, which "
                "knows nothing of the weather.",
                "Write the barometer at the shop into car.toml or pulls.toml, or log it.",
            ),
        )
    shift = subtracted(key_on)
    if around.source != "standard atmosphere" or shift is None:
        return ()
    column = channels["boost"].column
    return (
        Finding(
            "barometer-from-gauge",
            f"{file}: {column}",
            f"Nothing tells the pressure of the air around, and with the engine stopped boost reads "
            f"{shift / 1e3:+.1f} kPa. Either the logger subtracts a fixed 101.3 kPa on a day of "
            f"{around.value / 1e3:.1f} kPa, or the sensor is off. The first was taken for the air around; boost was left "
            "as logged.",
            "Write the barometer at the shop into car.toml or pulls.toml: it tells which.",
        ),
    )
