"""Moist air: saturation pressure, vapour pressure, humidity ratio, dry-air pressure and density."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError
from boostproof.physics.ranges import within

#: Molar mass of water over that of dry air. [1]
WATER_TO_AIR = 0.621945  # ASHRAE Handbook Fundamentals 2017, chapter 1
_TRIPLE_POINT = 273.16  # K

# ln(p/Pa) = c0/T + c1 + c2 T + c3 T^2 + ... + c_last ln T; Hyland and Wexler 1983 as printed in ASHRAE
# Handbook Fundamentals 2017, chapter 1, equations 5 (ice) and 6 (water), read in an open library.
_OVER_ICE = (
    -5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019,
)  # fmt: skip
_OVER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)


def saturation_pressure_water(temperature: ArrayLike) -> NDArray[np.float64]:
    """Pressure of water vapour over liquid water.

    Parameters
    ----------
    temperature : any shape, 273.15 to 473.15 [K]

    Returns
    -------
    ndarray
        Same shape. [Pa]

    Raises
    ------
    InputRangeError
        Outside this range.

    Notes
    -----
    Hyland and Wexler 1983, as in ASHRAE Handbook Fundamentals 2017, chapter 1, equation 6; within
    300 ppm of IAPWS-95 between 0 and 100 degC.

    Examples
    --------
    >>> round(float(saturation_pressure_water(293.15)), 2)
    2338.8
    """
    t = within(
        temperature, 273.15, 473.15, name="temperature over water", unit="K",
        where="saturation_pressure_water", do="Below freezing use saturation_pressure_ice.",
    )  # fmt: skip
    return _saturation(t, _OVER_WATER)


def saturation_pressure_ice(temperature: ArrayLike) -> NDArray[np.float64]:
    """Pressure of water vapour over ice.

    Parameters
    ----------
    temperature : any shape, 173.15 to 273.16 [K]

    Returns
    -------
    ndarray
        Same shape. [Pa]

    Raises
    ------
    InputRangeError
        Outside this range.

    Notes
    -----
    Hyland and Wexler 1983, as in ASHRAE Handbook Fundamentals 2017, chapter 1, equation 5.

    Examples
    --------
    >>> round(float(saturation_pressure_ice(263.15)), 2)
    259.9
    """
    t = within(
        temperature, 173.15, _TRIPLE_POINT, name="temperature over ice", unit="K",
        where="saturation_pressure_ice", do="Above freezing use saturation_pressure_water.",
    )  # fmt: skip
    return _saturation(t, _OVER_ICE)


def saturation_pressure(temperature: ArrayLike) -> NDArray[np.float64]:
    """Pressure of water vapour over ice below the triple point (273.16 K), over water above.

    Parameters
    ----------
    temperature : any shape, 173.15 to 473.15 [K]

    Returns
    -------
    ndarray
        Same shape. [Pa]

    Raises
    ------
    InputRangeError
        Outside this range.

    Notes
    -----
    ASHRAE Handbook Fundamentals 2017, chapter 1, equations 5 and 6.

    Examples
    --------
    >>> [round(float(value), 1) for value in saturation_pressure([263.15, 298.15])]
    [259.9, 3169.2]
    """
    t = within(
        temperature, 173.15, 473.15, name="temperature", unit="K", where="saturation_pressure",
        do="Check the unit; temperatures are in kelvin.",
    )  # fmt: skip
    return np.where(t < _TRIPLE_POINT, _saturation(t, _OVER_ICE), _saturation(t, _OVER_WATER))


def vapour_pressure(temperature: ArrayLike, relative_humidity: ArrayLike) -> NDArray[np.float64]:
    """Partial pressure of the water vapour in air, relative humidity times saturation pressure.

    Parameters
    ----------
    temperature : of the air, any shape, 173.15 to 473.15 [K]
    relative_humidity : 0 to 1 [1]

    Returns
    -------
    ndarray
        Broadcast shape. [Pa]

    Raises
    ------
    InputRangeError
        Outside these ranges; 50 for fifty per cent is outside.

    Notes
    -----
    Below freezing the humidity counts over ice here (ASHRAE); weather stations count over supercooled
    water, which at 263 K makes a tenth more vapour: at most 27 Pa, nothing to an engine.

    Examples
    --------
    >>> round(float(vapour_pressure(303.15, 0.6)), 1)
    2547.6
    """
    humidity = within(
        relative_humidity, 0.0, 1.0, name="relative_humidity", unit="", where="vapour_pressure",
        do="It is a share: 0.5 for 50 %.",
    )  # fmt: skip
    return np.asarray(humidity * saturation_pressure(temperature))


def dry_air_pressure(
    pressure_abs: ArrayLike, temperature: ArrayLike, relative_humidity: ArrayLike
) -> NDArray[np.float64]:
    """Partial pressure of the dry air, ``p - p_v``, which the correction standards count in.

    Parameters
    ----------
    pressure_abs : of the moist air, any shape [Pa]
    temperature : 173.15 to 473.15 [K]
    relative_humidity : 0 to 1 [1]

    Returns
    -------
    ndarray
        Broadcast shape, above zero. [Pa]

    Raises
    ------
    InputRangeError
        Outside these ranges, or if the vapour would fill the whole pressure.

    Notes
    -----
    Dalton's law; see :func:`vapour_pressure` for the vapour.

    Examples
    --------
    >>> round(float(dry_air_pressure(100e3, 303.15, 0.6)), 1)
    97452.4
    """
    return _parts(pressure_abs, temperature, relative_humidity, "dry_air_pressure")[0]


def humidity_ratio(
    pressure_abs: ArrayLike, temperature: ArrayLike, relative_humidity: ArrayLike
) -> NDArray[np.float64]:
    """Mass of water vapour over mass of dry air, ``0.621945 p_v / (p - p_v)``.

    Parameters
    ----------
    pressure_abs : of the moist air, any shape [Pa]
    temperature : 173.15 to 473.15 [K]
    relative_humidity : 0 to 1 [1]

    Returns
    -------
    ndarray
        Broadcast shape. [kg/kg]

    Raises
    ------
    InputRangeError
        Outside these ranges, or if the vapour would fill the whole pressure.

    Notes
    -----
    ASHRAE Handbook Fundamentals 2017, chapter 1 (equation 20, number from memory); ideal gases.

    Examples
    --------
    >>> round(float(humidity_ratio(101325.0, 298.15, 0.5)), 5)
    0.00988
    """
    dry, vapour = _parts(pressure_abs, temperature, relative_humidity, "humidity_ratio")
    return np.asarray(WATER_TO_AIR * vapour / dry)


def moist_air_density(
    pressure_abs: ArrayLike, temperature: ArrayLike, relative_humidity: ArrayLike
) -> NDArray[np.float64]:
    """Density of moist air by CIPM-2007, 400 ppm of CO2.

    ``rho = p M_a / (Z R T) (1 - x_v (1 - M_v / M_a))`` with the standard's own saturation pressure,
    enhancement factor f and compressibility Z.

    Parameters
    ----------
    pressure_abs : any shape, 60 to 110 kPa [Pa]
    temperature : 273.15 to 323.15 [K]
    relative_humidity : 0 to 1 [1]

    Returns
    -------
    ndarray
        Broadcast shape. [kg/m3]

    Raises
    ------
    InputRangeError
        Outside these ranges.

    Notes
    -----
    The formula is stated for 60 to 110 kPa and 15 to 27 degC, where it is good to 22 ppm. At 0 to
    50 degC, which workshops see, it stays within 200 ppm of CoolProp's humid air; see the tests.
    Source: Picard et al., Metrologia 45 (2008) 149; constants from memory, checked by their results.

    Examples
    --------
    >>> round(float(moist_air_density(101325.0, 293.15, 0.5)), 5)
    1.19931
    """
    where = "moist_air_density"
    p = within(
        pressure_abs, 60e3, 110e3, name="pressure_abs", unit="Pa", where=where,
        do="Check the unit, and that the pressure is absolute.",
    )  # fmt: skip
    t = within(
        temperature, 273.15, 323.15, name="temperature", unit="K", where=where,
        do="Check the unit; temperatures are in kelvin.",
    )  # fmt: skip
    humidity = within(
        relative_humidity, 0.0, 1.0, name="relative_humidity", unit="", where=where,
        do="It is a share: 0.5 for 50 %.",
    )  # fmt: skip
    celsius = t - 273.15
    saturation = np.exp(1.2378847e-5 * t * t - 1.9121316e-2 * t + 33.93711047 - 6.3431645e3 / t)
    enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * celsius * celsius
    x = humidity * enhancement * saturation / p
    first = (
        1.58123e-6 - 2.9331e-8 * celsius + 1.1043e-10 * celsius * celsius
        + (5.707e-6 - 2.051e-8 * celsius) * x
        + (1.9898e-4 - 2.376e-6 * celsius) * x * x
    )  # fmt: skip
    z = 1.0 - p / t * first + (p / t) ** 2 * (1.83e-11 - 0.765e-8 * x * x)
    molar_air, molar_water, universal = 28.96546e-3, 18.01528e-3, 8.314472  # the formula's own
    return np.asarray(p * molar_air / (z * universal * t) * (1.0 - x * (1.0 - molar_water / molar_air)))


def _saturation(temperature: NDArray[np.float64], c: tuple[float, ...]) -> NDArray[np.float64]:
    t = temperature
    return np.asarray(
        np.exp(c[0] / t + c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5]))) + c[6] * np.log(t))
    )


def _parts(
    pressure_abs: ArrayLike, temperature: ArrayLike, relative_humidity: ArrayLike, where: str
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Partial pressures of dry air and of vapour."""
    vapour = vapour_pressure(temperature, relative_humidity)
    dry = np.asarray(np.asarray(pressure_abs, dtype=float) - vapour)
    if np.any(dry <= 0.0):
        raise InputRangeError(
            f"pressure_abs must exceed that of the water vapour, up to {np.nanmax(vapour):g} Pa here, "
            f"got {np.nanmin(np.asarray(pressure_abs, dtype=float)):g} Pa.",
            kind="range",
            where=where,
            do="Check the units, and that the pressure is absolute.",
        )
    return dry, vapour
