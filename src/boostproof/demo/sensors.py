"""From true values to what a logger holds: lag, noise, scale and steps of each sensor."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import loop
from .draw import Car
from .jit import compiled

Array = NDArray[np.float64]
Rng = np.random.Generator
KELVIN = 273.15
MAP_RANGE = 300e3  # Pa absolute, the usual manifold sensor; it reads no higher


@compiled
def _follow(values: Array, share: float) -> Array:
    out = np.empty_like(values)
    state = values[0]
    for k in range(values.shape[0]):
        state += share * (values[k] - state)
        out[k] = state
    return out


def lagged(values: Array, dt: float, lag: float) -> Array:
    """First-order lag (s) of evenly spaced samples."""
    return _follow(np.ascontiguousarray(values), dt / (lag + dt)) if lag > dt else values.copy()


def channels(car: Car, true: Array, dt: float, rng: Rng) -> dict[str, Array]:
    """Every channel that a log could hold, SI (Pa absolute, K, rpm, kg/s), on the true time grid.

    ``true`` rows of ``loop.COLUMNS`` evenly spaced by ``dt``; gaps in time between stretches are
    allowed, the lag then runs on from stretch to stretch.
    """
    h = car.hardware
    n = len(true)

    def noisy(values: Array, sd: float) -> Array:
        return values + rng.normal(0.0, sd, n)

    seen_by_map = lagged(true[:, loop.P_MANIFOLD], dt, h.ecu.sensor_lag)
    pressure_noise = float(rng.uniform(150.0, 600.0))
    ecu_map = noisy(seen_by_map * h.ecu.sensor_gain + h.ecu.sensor_offset, pressure_noise)
    ecu_map = np.minimum(ecu_map, MAP_RANGE)
    tapped = float(rng.uniform(0.03, 0.12))
    plate = np.clip(true[:, loop.PLATE], 0.0, 1.0)
    lam = lagged(true[:, loop.LAMBDA], dt, 0.12)
    advance = np.where(
        plate > 0.7,
        24.0 - 1.1e-4 * (true[:, loop.P_MANIFOLD] - h.air.pressure) + 1e-3 * true[:, loop.RPM],
        28.0 + 2e-3 * true[:, loop.RPM],
    )
    advance[true[:, loop.RPM] < 300.0] = 0.0
    return {
        "rpm": true[:, loop.RPM] + rng.normal(0.0, 4.0, n) * (true[:, loop.RPM] > 300.0),
        "throttle": np.clip(0.992 * plate, 0.0, 1.0) + rng.normal(0.0015, 0.0015, n),
        "map": ecu_map,
        "compressor": noisy(lagged(true[:, loop.P_COMPRESSOR], dt, 0.02), 350.0),
        "pipe": noisy(lagged(true[:, loop.P_PIPE], dt, 0.02), 350.0),
        "exhaust_in": noisy(lagged(true[:, loop.P_EXHAUST], dt, tapped), 900.0),
        "exhaust_out": noisy(lagged(true[:, loop.P_BACK], dt, tapped), 500.0),
        "iat": noisy(lagged(true[:, loop.T_MANIFOLD], dt, float(rng.uniform(2.0, 6.0))), 0.25),
        "egt": noisy(lagged(true[:, loop.T_EXHAUST], dt, float(rng.uniform(0.8, 2.5))), 2.0),
        "air_flow": np.maximum(
            lagged(true[:, loop.AIR_FLOW], dt, 0.05) * (1.0 + rng.normal(0.0, 0.008, n)), 0.0
        ),
        "lambda": noisy(np.clip(lam, 0.65, 1.6), 0.006),
        "duty": true[:, loop.DUTY],
        "shaft": lagged(true[:, loop.SHAFT_SPEED], dt, 0.05) * (1.0 + rng.normal(0.0, 0.002, n)),
        "torque": lagged(true[:, loop.TORQUE], dt, 0.15) * 0.86 + rng.normal(0.0, 2.0, n),
        "line": noisy(lagged(true[:, loop.P_CHAMBER], dt, 0.03), 400.0),
        "advance": np.round(advance * 2.0) / 2.0,
        "barometer": np.full(n, h.air.pressure),
    }
