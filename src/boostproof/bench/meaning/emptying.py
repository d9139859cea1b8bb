"""A volume that empties through a hole: the area behind a fall of pressure, and the hole that fits it.

Isentropic flow through the hole, to the air around; in the volume ``dp/dt = -n R T m / V`` with n from 1 (slow:
the walls keep the air warm) to 1.4 (fast).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.physics.gas import AIR_GAS_CONSTANT
from boostproof.physics.orifice import ANR_DENSITY, isentropic_flow_function

Array = NDArray[np.float64]

TEMPERATURE = 293.15  # K, shop air
HOLE_FLOW = 0.65  # discharge coefficient of a small sharp-edged hole, 0.60-0.70 (textbooks, from memory)
HOLE_FLOW_SD = 0.04
_HIGHEST = 2.5e6  # Pa gauge, above any shop air
_POINTS = 4001


def flow_per_area(pressure: ArrayLike, air: float, temperature: float = TEMPERATURE) -> Array:
    """Mass flow to the air around per effective area, choked where it chokes. [kg/(s m2)]

    Parameters
    ----------
    pressure : gauge, not below zero, any shape [Pa]
    air : pressure around [Pa abs]
    temperature : upstream [K]

    >>> round(float(flow_per_area(100e3, 101325.0)) * 1e-6 / 1.185 * 6e4, 1)  # L/min of free air through 1 mm2
    24.1
    """
    p = np.maximum(np.asarray(pressure, float), 0.0) + air
    psi = isentropic_flow_function(np.minimum(air / p, 1.0))
    return np.asarray(p / np.sqrt(AIR_GAS_CONSTANT * temperature) * psi)


@lru_cache(maxsize=8)
def _table(air: float) -> tuple[Array, Array]:
    """Root of the gauge pressure, and the integral of 1/flow from zero up to it."""
    root = np.linspace(0.0, np.sqrt(_HIGHEST), _POINTS)
    middle = 0.5 * (root[1:] + root[:-1])
    # in the root of the pressure the integrand stays finite where the flow dies out
    steps = 2.0 * middle / flow_per_area(middle**2, air) * np.diff(root)
    return root, np.concatenate(([0.0], np.cumsum(steps)))


def emptied(start: ArrayLike, end: ArrayLike, air: float) -> Array:
    """Integral of dp over flow per area, from one gauge pressure down to another. [Pa s m2/kg]

    Negative where the end lies above the start; pressures below zero count as zero.
    """
    root, total = _table(float(air))

    def at(p: ArrayLike) -> Array:
        return np.asarray(np.interp(np.sqrt(np.maximum(np.asarray(p, float), 0.0)), root, total))

    return at(start) - at(end)


def area_of_fall(
    start: ArrayLike, end: ArrayLike, seconds: ArrayLike, volume: ArrayLike, air: float, exponent: ArrayLike = 1.0
) -> Array:
    """Effective area through which a volume fell from one gauge pressure to another in a time.

    Parameters
    ----------
    start, end : gauge [Pa]
    seconds : above zero [s]
    volume : [m3]
    air : pressure around [Pa abs]
    exponent : n, 1 to 1.4 [1]

    Returns
    -------
    ndarray
        [m2]

    >>> area = area_of_fall(100e3, 50e3, 0.25, 60e-6, 101325.0)  # a 0.8 mm hole, physics of a bleed
    >>> round(float(np.sqrt(4 * area / 0.7 / np.pi)) * 1e3, 2)
    0.8
    """
    warm = np.asarray(exponent, float) * AIR_GAS_CONSTANT * TEMPERATURE
    return np.asarray(np.asarray(volume) / (warm * np.asarray(seconds)) * emptied(start, end, air))


def rate_at_start(start: ArrayLike, end: ArrayLike, seconds: ArrayLike, air: float) -> Array:
    """How fast the pressure fell at the start of a fall; the volume does not matter. [Pa/s]"""
    return np.asarray(emptied(start, end, air) * flow_per_area(start, air) / np.asarray(seconds))


def area_of_flow(flow: ArrayLike, pressure: ArrayLike, air: float) -> Array:
    """Effective area that passes a flow of free air at a gauge pressure. [m2] from [m3/s ANR] and [Pa]"""
    return np.asarray(np.asarray(flow) * ANR_DENSITY / np.maximum(flow_per_area(pressure, air), 1e-3))


def hole_of(area: ArrayLike, discharge: ArrayLike = HOLE_FLOW) -> Array:
    """Diameter of the sharp-edged hole that passes as much as an effective area. [m]

    >>> round(float(hole_of(0.65 * np.pi / 4 * 1e-6)) * 1e3, 3)
    1.0
    """
    return np.asarray(np.sqrt(4.0 * np.maximum(np.asarray(area, float), 0.0) / (np.pi * np.asarray(discharge))))
