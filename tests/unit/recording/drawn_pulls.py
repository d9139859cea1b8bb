"""Pulls drawn by hand with known scatter, wander, noise and delay: no model of a car, and no smoothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.recording import Barometer, Channel, Pull, Recording

Array = NDArray[np.float64]


def channel(name: str, values: Array, *, unit: str = "", reference: Any = None) -> Channel:
    return Channel(name, name, unit, reference, 1.0, "drawn", 0, np.asarray(values, float))


def boost_at(rpm: Array, *, plateau: float = 90.0, knee: float = 3400.0, creep: float = 0.0) -> Array:
    """Boost [kPa gauge] that rises to a knee and then lies flat, or creeps [kPa per 1000 rpm]."""
    rise = plateau * np.clip((rpm - 1800.0) / (knee - 1800.0), 0.0, 1.0) ** 1.6
    return np.asarray(rise + creep * np.clip(rpm - knee, 0.0, None) / 1000.0)


def wander(rng: np.random.Generator, count: int, step_rpm: float, sd: float, reach: float) -> Array:
    """A first-order chain: neighbours hang together over ``reach`` rpm."""
    stay = np.exp(-step_rpm / reach)
    out = np.empty(count)
    out[0] = rng.normal()
    for i in range(1, count):
        out[i] = stay * out[i - 1] + np.sqrt(1.0 - stay * stay) * rng.normal()
    return sd * out


def drawn_pull(
    rng: np.random.Generator,
    *,
    scatter: float = 2.5,
    whole: float = 0.5,
    reach: float = 300.0,
    noise: float = 0.6,
    offset: float = 0.0,
    shift: float = 0.0,
    rate: float = 20.0,
    ramp: float = 500.0,
    rpm_from: float = 2000.0,
    rpm_to: float = 6400.0,
    delay: float = 0.0,
    reference: str = "gauge",
    barometer: Barometer | None = None,
    file: str = "drawn.csv",
    more: Mapping[str, Array] | None = None,
    **curve: float,
) -> Pull:
    """One full-load pull.

    ``scatter`` kPa between runs, of which the share ``whole`` of the variance moves the whole curve and the
    rest wanders over ``reach`` rpm; ``noise`` kPa of single samples; ``shift`` kPa, what was changed;
    ``offset`` kPa of the sensor; ``delay`` s by which boost is logged late.
    """
    time = np.arange(0.0, (rpm_to - rpm_from) / ramp, 1.0 / rate)
    rpm = rpm_from + ramp * time
    clean = boost_at(rpm - ramp * (delay + rng.uniform(-0.5, 0.5) / rate), **curve)
    level = rng.normal(0.0, scatter * np.sqrt(whole))
    slow = wander(rng, time.size, ramp / rate, scatter * np.sqrt(1.0 - whole), reach)
    boost = clean + shift + offset + level + slow + rng.normal(0.0, noise, time.size)
    around = barometer or Barometer(101_325.0, 300.0, "given")
    name, values = ("boost", boost) if reference == "gauge" else ("manifold_pressure", boost + around.value / 1e3)
    speed = (rpm + rng.normal(0.0, 5.0, time.size)) * np.pi / 30.0
    channels = {
        "engine_speed": channel("engine_speed", speed, unit="rpm"),
        name: channel(name, 1e3 * values, unit="kPa", reference=reference),
    } | {other: channel(other, drawn) for other, drawn in (more or {}).items()}
    recording = Recording(file, "csv", time.size, rate, time, channels, barometer=around)
    return Pull(
        recording, 0, time.size, 0.0, float(time[-1]), rpm_from, float(rpm[-1]), True, "ceiling", {}
    )  # fmt: skip


def drive_around(rng: np.random.Generator, pull: Pull, torque: float) -> Iterator[tuple[float, float, float, float]]:
    """Engine speed [rpm], throttle [%], boost [kPa gauge] and torque [Nm] twenty times a second: cruise, pull, coast."""
    for _ in range(60):
        yield 2000.0 + rng.normal(0.0, 3.0), 10.0, -50.0 + rng.normal(0.0, 0.3), 20.0
    rpm = pull.recording.channels["engine_speed"].values * 30.0 / np.pi
    for speed, boost in zip(rpm, pull.recording.boost_gauge() / 1e3, strict=True):
        yield speed, 99.0, boost, torque
    for step in range(60):
        yield 6400.0 - 70.0 * step, 0.5, -60.0 + rng.normal(0.0, 0.3), 0.0


def drawn_set(rng: np.random.Generator, count: int, **how: Any) -> list[Pull]:
    """Repeats of one set-up."""
    return [drawn_pull(rng, **how) for _ in range(count)]
