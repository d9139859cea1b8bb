"""The standard atmosphere, for a barometer that nobody wrote down."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError
from boostproof.physics.gas import AIR_GAS_CONSTANT

SEA_LEVEL_PRESSURE = 101325.0  # Pa, ISO 2533
SEA_LEVEL_TEMPERATURE = 288.15  # K, ISO 2533
_LAPSE = 0.0065  # K/m up to 11 km, ISO 2533
_GRAVITY = 9.80665  # m/s2
_GAS_CONSTANT = 287.05287  # J/(kg K), the standard's own value
_EXPONENT = _GRAVITY / (_LAPSE * _GAS_CONSTANT)
_HIGHEST = 11000.0


def standard_pressure(altitude: ArrayLike) -> NDArray[np.float64]:
    """Pressure of the standard atmosphere.

    ``p = p0 (1 - L h / T0) ** (g / (L R))`` up to 11 km.

    Parameters
    ----------
    altitude : geopotential, any shape [m]

    Returns
    -------
    ndarray
        Same shape. [Pa]

    Raises
    ------
    InputRangeError
        Below -1000 m or above 11 000 m.

    Notes
    -----
    Source: ISO 2533 (values as printed in its tables, read in secondary sources).

    Examples
    --------
    >>> round(float(standard_pressure(1000.0)), 1)
    89874.6
    """
    h = np.asarray(altitude, dtype=float)
    if np.any((h < -1000.0) | (h > _HIGHEST)):
        raise InputRangeError(
            f"altitude must lie between -1000 m and {_HIGHEST:.0f} m, got {h.min():g} to {h.max():g} m.",
            kind="range",
            where="standard_pressure",
            do="Check the unit of the altitude.",
        )
    return np.asarray(SEA_LEVEL_PRESSURE * (1.0 - _LAPSE * h / SEA_LEVEL_TEMPERATURE) ** _EXPONENT)


def air_density(pressure_abs: ArrayLike, temperature: ArrayLike) -> NDArray[np.float64]:
    """Density of dry air. [kg/m3] from absolute pressure [Pa] and temperature [K]

    >>> round(float(air_density(101325.0, 288.15)), 3)
    1.225
    """
    return np.asarray(np.asarray(pressure_abs, float) / (AIR_GAS_CONSTANT * np.asarray(temperature, float)))
