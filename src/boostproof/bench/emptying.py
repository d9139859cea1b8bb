"""How long air takes to leave a chamber through a hole: isothermal, with an arm that comes home meanwhile."""

from __future__ import annotations

import numpy as np

from boostproof.bench.parts import row
from boostproof.bench.response import Array
from boostproof.physics import rigs
from boostproof.physics.gas import AIR_GAS_CONSTANT
from boostproof.physics.orifice import ANR_DENSITY

_POINTS = 12  # of the quadrature; 24 change the time by less than 0.5 %
_SEEP = 1e-11  # m2, what sound seals pass


def actuator_side_outlet(par: Array) -> Array:
    """Area through which the actuator side empties with the supply shut: bleed, leaks. [m2]"""
    lost = row(par, "line_leak") + _in_series(row(par, "diaphragm_leak"), row(par, "upper_vent")) + _SEEP
    return np.asarray(_in_series(row(par, "bleed_area"), row(par, "hose_area")) + lost)


def _in_series(first: Array, second: Array) -> Array:
    return np.asarray(first * second / np.sqrt(first**2 + second**2 + 1e-24))


def actuator_side_volume(par: Array, pressure: Array, start: Array) -> tuple[Array, Array]:
    """Air space on the actuator side on the way down from ``start``, and its slope over pressure.

    Parameters
    ----------
    par : (parameters, n)
    pressure, start : gauge, any shape that ends in n [Pa]

    Returns
    -------
    volume [m3], slope [m3/Pa]
    """
    rate, opening, friction = row(par, "spring_rate"), row(par, "opening_pressure"), row(par, "friction")
    full = rigs.full_travel(par)
    raised = np.clip((start - opening - friction) / rate, 0.0, full)
    falling = (pressure - opening + friction) / rate
    travel = np.minimum(np.clip(falling, 0.0, full), raised)
    moving = (falling > 0.0) & (falling < raised)
    area = row(par, "diaphragm_area")
    volume = row(par, "chamber_volume") + row(par, "line_volume") + area * travel
    return np.asarray(volume), np.asarray(np.where(moving, area / rate, 0.0))


def emptying_time(par: Array, start: Array | float, end: Array | float, area: Array, added: float = 0.0) -> Array:
    """Time in which the actuator side falls from one gauge pressure to another. [s]

    ``d(p V) = -R T m dt`` at constant temperature, integrated over pressure by Gauss-Legendre quadrature.

    Parameters
    ----------
    par : (parameters, n)
    start, end : gauge, start above end [Pa]
    area : effective, of what lets the air out [m2]
    added : volume of a reservoir on the same side [m3]
    """
    n = par.shape[1]
    high, low = np.broadcast_to(np.asarray(start, float), n), np.broadcast_to(np.asarray(end, float), n)
    nodes, weights = np.polynomial.legendre.leggauss(_POINTS)
    pressure = low + 0.5 * (high - low) * (1.0 + nodes[:, None])
    volume, slope = actuator_side_volume(par, pressure, high)
    absolute = pressure + rigs.AMBIENT
    flow = rigs.bleed_flow(par, pressure, area + 0.0 * pressure) * ANR_DENSITY
    rate = (volume + added + absolute * slope) / (AIR_GAS_CONSTANT * rigs.TEMPERATURE * np.maximum(flow, 1e-15))
    return np.asarray(0.5 * (high - low) * (weights[:, None] * rate).sum(axis=0)).clip(0.0)
