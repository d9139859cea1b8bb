"""Corrected flow and speed: what a machine measured in one air would show in another.

Every map is printed for some reference air. The three pairs met in practice differ by up to 8 % in flow,
so the reference travels with the numbers and is never assumed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError

_LOWEST_PRESSURE, _HIGHEST_PRESSURE = 1.0e4, 1.0e6  # Pa: outside it is another unit, or gauge
_LOWEST_TEMPERATURE, _HIGHEST_TEMPERATURE = 200.0, 1500.0  # K: below it is degrees Celsius


def _checked(values: ArrayLike, name: str, unit: str, low: float, high: float) -> NDArray[np.float64]:
    array = np.asarray(values, float)
    if not np.all((array >= low) & (array <= high)):  # NaN fails as well
        raise InputRangeError(
            f"{name} must lie between {low:g} and {high:g} {unit}, got {array.min():g} to {array.max():g}.",
            kind="range",
            where="corrected quantities",
            do="Give absolute pressure in pascal and absolute temperature in kelvin.",
        )
    return array


@dataclass(frozen=True)
class ReferenceConditions:
    """The air that corrected numbers are referred to.

    Attributes
    ----------
    pressure : total pressure, absolute [Pa]
    temperature : total temperature [K]
    source : where the pair comes from

    Raises
    ------
    InputRangeError
        If the pressure is not within 10 kPa and 1 MPa, or the temperature not within 200 and 1500 K.

    Examples
    --------
    >>> ReferenceConditions(98e3, 293.15, "the bench's own sheet").temperature
    293.15
    """

    pressure: float
    temperature: float
    source: str

    def __post_init__(self) -> None:
        _checked(self.pressure, "reference pressure", "Pa", _LOWEST_PRESSURE, _HIGHEST_PRESSURE)
        _checked(self.temperature, "reference temperature", "K", _LOWEST_TEMPERATURE, _HIGHEST_TEMPERATURE)


#: Present gas-stand practice. From memory.
SAE_J1826 = ReferenceConditions(100e3, 298.0, "SAE J922 and J1826, current")
#: What many older printed maps use (85 degF, 28.4 inHg). From memory.
OLDER_MAPS = ReferenceConditions(96.2e3, 302.8, "older printed maps")
#: Standard atmosphere at sea level, ISO 2533; aircraft and industrial machines.
ISO_2533 = ReferenceConditions(101325.0, 288.15, "ISO 2533 at sea level")

REFERENCES: tuple[ReferenceConditions, ...] = (SAE_J1826, OLDER_MAPS, ISO_2533)


def corrected_flow(
    pressure_abs: ArrayLike, temperature: ArrayLike, flow: ArrayLike, reference: ReferenceConditions
) -> NDArray[np.float64]:
    """Mass flow as the reference air would show it, ``m sqrt(T / Tref) / (p / pref)``.

    Parameters
    ----------
    pressure_abs : total pressure before the machine, absolute, any shape [Pa]
    temperature : total temperature there [K]
    flow : mass flow [kg/s]
    reference : the air to refer to

    Returns
    -------
    ndarray
        Corrected mass flow, broadcast shape. [kg/s]

    Raises
    ------
    InputRangeError
        If a pressure is not within 10 kPa and 1 MPa, or a temperature not within 200 and 1500 K.

    Notes
    -----
    Equal Mach numbers at the inlet; gamma and gas constant are taken as equal, viscosity is left out. Source:
    SAE J922 (from memory); any text on turbomachines.

    Examples
    --------
    >>> round(float(corrected_flow(97e3, 305.0, 0.200, SAE_J1826)), 5)
    0.20859
    """
    return np.asarray(flow, float) * _flow_factor(pressure_abs, temperature, reference)


def actual_flow(
    pressure_abs: ArrayLike, temperature: ArrayLike, corrected: ArrayLike, reference: ReferenceConditions
) -> NDArray[np.float64]:
    """Mass flow in the air at hand from the corrected one; the way back of `corrected_flow`. [kg/s]

    Parameters, errors and source as there; ``corrected`` is the corrected mass flow [kg/s].

    Examples
    --------
    >>> round(float(actual_flow(97e3, 305.0, 0.20859, SAE_J1826)), 4)
    0.2
    """
    return np.asarray(corrected, float) / _flow_factor(pressure_abs, temperature, reference)


def corrected_speed(
    temperature: ArrayLike, speed: ArrayLike, reference: ReferenceConditions
) -> NDArray[np.float64]:
    """Shaft speed of equal Mach number in the reference air, ``N / sqrt(T / Tref)``.

    Parameters
    ----------
    temperature : total temperature before the machine, any shape [K]
    speed : shaft speed in any unit; the answer has the same [rad/s]
    reference : the air to refer to

    Returns
    -------
    ndarray
        Broadcast shape. [rad/s]

    Raises
    ------
    InputRangeError
        If a temperature is not within 200 and 1500 K.

    Examples
    --------
    >>> round(float(corrected_speed(305.0, 12000.0, SAE_J1826)), 1)
    11861.5
    """
    return np.asarray(speed, float) / _speed_factor(temperature, reference)


def actual_speed(
    temperature: ArrayLike, corrected: ArrayLike, reference: ReferenceConditions
) -> NDArray[np.float64]:
    """Shaft speed in the air at hand; the way back of `corrected_speed`, with its errors. [rad/s]

    Examples
    --------
    >>> round(float(actual_speed(305.0, 11861.5, SAE_J1826)), 0)
    12000.0
    """
    return np.asarray(corrected, float) * _speed_factor(temperature, reference)


def flow_for_reference(
    corrected: ArrayLike, given: ReferenceConditions, wanted: ReferenceConditions
) -> NDArray[np.float64]:
    """Corrected flow of one reference as another reference shows it. [kg/s]

    Examples
    --------
    >>> round(float(flow_for_reference(1.0, SAE_J1826, OLDER_MAPS)), 3)
    0.954
    """
    return corrected_flow(given.pressure, given.temperature, corrected, wanted)


def speed_for_reference(
    corrected: ArrayLike, given: ReferenceConditions, wanted: ReferenceConditions
) -> NDArray[np.float64]:
    """Corrected speed of one reference as another reference shows it. [rad/s]

    Examples
    --------
    >>> round(float(speed_for_reference(1.0, SAE_J1826, OLDER_MAPS)), 4)
    1.008
    """
    return corrected_speed(given.temperature, corrected, wanted)


def _flow_factor(
    pressure_abs: ArrayLike, temperature: ArrayLike, reference: ReferenceConditions
) -> NDArray[np.float64]:
    pressure = _checked(pressure_abs, "pressure", "Pa", _LOWEST_PRESSURE, _HIGHEST_PRESSURE)
    return _speed_factor(temperature, reference) * (reference.pressure / pressure)


def _speed_factor(temperature: ArrayLike, reference: ReferenceConditions) -> NDArray[np.float64]:
    t = _checked(temperature, "temperature", "K", _LOWEST_TEMPERATURE, _HIGHEST_TEMPERATURE)
    return np.asarray(np.sqrt(t / reference.temperature))
