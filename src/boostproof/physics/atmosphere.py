"""The standard atmosphere: for a barometer that nobody wrote down, and for the altitude of a reading."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.physics.gas import AIR_GAS_CONSTANT
from boostproof.physics.ranges import within

SEA_LEVEL_PRESSURE = 101325.0  # Pa, ISO 2533
SEA_LEVEL_TEMPERATURE = 288.15  # K, ISO 2533
EARTH_RADIUS = 6356766.0  # m, nominal radius of ISO 2533
_LAPSE = 0.0065  # K/m up to 11 km, ISO 2533
_GRAVITY = 9.80665  # m/s2
_GAS_CONSTANT = 287.05287  # J/(kg K), the standard's own value
_EXPONENT = _GRAVITY / (_LAPSE * _GAS_CONSTANT)
_LOWEST, _HIGHEST = -1000.0, 11000.0
_CHECK_UNIT = "Check the unit of the altitude."


def standard_temperature(altitude: ArrayLike) -> NDArray[np.float64]:
    """Temperature of the standard atmosphere.

    ``T = T0 - L h`` up to 11 km.

    Parameters
    ----------
    altitude : geopotential, any shape [m]

    Returns
    -------
    ndarray
        Same shape. [K]

    Raises
    ------
    InputRangeError
        Below -1000 m or above 11 000 m.

    Notes
    -----
    Source: ISO 2533 (T0 288.15 K, L 6.5 K/km), read in secondary sources.

    Examples
    --------
    >>> float(standard_temperature(1000.0))
    281.65
    """
    return np.asarray(SEA_LEVEL_TEMPERATURE - _LAPSE * _altitude(altitude, "standard_temperature"))


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
    return _pressure(_altitude(altitude, "standard_pressure"))


def standard_density(altitude: ArrayLike) -> NDArray[np.float64]:
    """Density of the standard atmosphere, ``p / (R T)`` with the standard's R of 287.05287 J/(kg K).

    Parameters
    ----------
    altitude : geopotential, any shape [m]

    Returns
    -------
    ndarray
        Same shape. [kg/m3]

    Raises
    ------
    InputRangeError
        Below -1000 m or above 11 000 m.

    Notes
    -----
    Source: ISO 2533, read in secondary sources.

    Examples
    --------
    >>> round(float(standard_density(1000.0)), 5)
    1.11164
    """
    h = _altitude(altitude, "standard_density")
    return np.asarray(_pressure(h) / (_GAS_CONSTANT * standard_temperature(h)))


def altitude_from_pressure(pressure_abs: ArrayLike) -> NDArray[np.float64]:
    """Geopotential altitude at which the standard atmosphere has a pressure: the inverse.

    ``h = (T0 / L) (1 - (p / p0) ** (L R / g))``. The weather moves a barometer by some hundred metres of
    such an altitude.

    Parameters
    ----------
    pressure_abs : any shape [Pa]

    Returns
    -------
    ndarray
        Same shape. [m]

    Raises
    ------
    InputRangeError
        If the pressure lies outside that of -1000 m to 11 000 m (113 929 Pa to 22 632 Pa).

    Notes
    -----
    Source: ISO 2533, read in secondary sources, solved for the altitude.

    Examples
    --------
    >>> round(float(altitude_from_pressure(89874.6)), 1)
    1000.0
    """
    p = within(
        pressure_abs, float(_pressure(np.asarray(_HIGHEST))), float(_pressure(np.asarray(_LOWEST))),
        name="pressure_abs", unit="Pa", where="altitude_from_pressure",
        do="Check the unit, and that the pressure is absolute.",
    )  # fmt: skip
    return np.asarray(SEA_LEVEL_TEMPERATURE / _LAPSE * (1.0 - (p / SEA_LEVEL_PRESSURE) ** (1.0 / _EXPONENT)))


def geopotential_altitude(geometric_altitude: ArrayLike) -> NDArray[np.float64]:
    """Geopotential altitude, which the standard atmosphere counts in, from the altitude on a map.

    ``h = r z / (r + z)`` with r 6 356 766 m: 0.3 m less at 1500 m.

    Parameters
    ----------
    geometric_altitude : above sea level, any shape [m]

    Returns
    -------
    ndarray
        Same shape. [m]

    Raises
    ------
    InputRangeError
        Below -1000 m or above 11 000 m.

    Notes
    -----
    Source: ISO 2533, read in secondary sources.

    Examples
    --------
    >>> round(float(geopotential_altitude(3000.0)), 2)
    2998.58
    """
    z = within(
        geometric_altitude, _LOWEST, _HIGHEST,
        name="geometric_altitude", unit="m", where="geopotential_altitude", do=_CHECK_UNIT,
    )  # fmt: skip
    return np.asarray(EARTH_RADIUS * z / (EARTH_RADIUS + z))


def geometric_altitude(altitude: ArrayLike) -> NDArray[np.float64]:
    """Altitude on a map from the geopotential one, ``z = r h / (r - h)``: the inverse.

    Parameters
    ----------
    altitude : geopotential, any shape [m]

    Returns
    -------
    ndarray
        Same shape. [m]

    Raises
    ------
    InputRangeError
        Below -1000 m or above 11 000 m.

    Notes
    -----
    Source: ISO 2533, read in secondary sources.

    Examples
    --------
    >>> round(float(geometric_altitude(2998.58)), 1)
    3000.0
    """
    h = _altitude(altitude, "geometric_altitude")
    return np.asarray(EARTH_RADIUS * h / (EARTH_RADIUS - h))


def air_density(pressure_abs: ArrayLike, temperature: ArrayLike) -> NDArray[np.float64]:
    """Density of dry air. [kg/m3] from absolute pressure [Pa] and temperature [K]

    >>> round(float(air_density(101325.0, 288.15)), 3)
    1.225
    """
    return np.asarray(np.asarray(pressure_abs, float) / (AIR_GAS_CONSTANT * np.asarray(temperature, float)))


def _altitude(altitude: ArrayLike, where: str) -> NDArray[np.float64]:
    return within(altitude, _LOWEST, _HIGHEST, name="altitude", unit="m", where=where, do=_CHECK_UNIT)


def _pressure(altitude: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(SEA_LEVEL_PRESSURE * (1.0 - _LAPSE * altitude / SEA_LEVEL_TEMPERATURE) ** _EXPONENT)
