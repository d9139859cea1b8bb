"""Weather correction of measured full-load power: SAE J1349 and ISO 1585, with the limits of each.

Both factors were made for engines that breathe the air around: less dense air, less power. An engine
whose boost control holds an absolute pressure makes up for the weather by itself, and a factor on top of
that corrects twice. The uncorrected power belongs beside every corrected one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from boostproof.physics.moist_air import dry_air_pressure
from boostproof.physics.ranges import within

REFERENCE_DRY_PRESSURE = 99e3  # Pa, both standards
REFERENCE_TEMPERATURE = 298.0  # K, both standards; 25 degC, counted as degC + 273
_MECHANICAL_EFFICIENCY_TERM = 0.18  # J1349: a mechanical efficiency of 85 %, (1 - 0.85) / 0.85

#: What neither factor covers, in sentences for a reader.
NOT_COVERED = (
    "Boost held to an absolute pressure does not move with the barometer: the factor then corrects twice.",
    "Boost held by a spring or to a gauge pressure moves with the barometer by the same pascals, not in "
    "proportion, so the factor is not exact for it either.",
    "Ignition timing that the control unit changes with intake temperature or knock is not covered.",
    "Heat soak of the charge cooler and the loss of the driveline are not weather and stay in the figure.",
)


@dataclass(frozen=True)
class LimitExceeded:
    """A limit of a standard that a test day or its factor does not keep.

    Attributes
    ----------
    quantity : "temperature", "dry pressure" or "factor"
    value : as it is [K, Pa or 1]
    low, high : where the standard holds, in the same unit
    """

    quantity: str
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class PowerCorrection:
    """A factor and how far to trust it.

    Attributes
    ----------
    standard : its name
    factor : corrected power over measured power [1]
    pressure_dry : of the test day [Pa]
    exceeded : limits of the standard that are not kept; empty when the factor is within its range
    not_covered : what the factor says nothing about, whatever the day
    """

    standard: str
    factor: float
    pressure_dry: float
    exceeded: tuple[LimitExceeded, ...]
    not_covered: tuple[str, ...] = NOT_COVERED

    @property
    def valid(self) -> bool:
        """Whether every limit of the standard is kept; not whether it suits the engine."""
        return not self.exceeded


def correct_power_sae_j1349(
    pressure_abs: float, temperature: float, relative_humidity: float
) -> PowerCorrection:
    """Factor of SAE J1349 for a spark-ignition engine at full load.

    ``1.18 (99 kPa / p_d) sqrt(T / 298 K) - 0.18``, p_d the pressure of the dry air.

    Parameters
    ----------
    pressure_abs : of the air around, moist [Pa]
    temperature : of the air at the intake [K]
    relative_humidity : 0 to 1 [1]

    Returns
    -------
    PowerCorrection
        Limits: 15 to 35 degC, dry pressure 90 to 105 kPa, factor 0.93 to 1.07.

    Raises
    ------
    InputRangeError
        If an input is not finite, beyond what :func:`dry_air_pressure` takes, or no weather at all
        (outside 50 to 120 kPa and 230 to 340 K).

    Notes
    -----
    Equation of the issue of June 1990, read in a secondary source; the limits are from memory, check them
    against the issue that you cite. The standard counts kelvins as degC + 273, and so does this function.

    Examples
    --------
    >>> day = correct_power_sae_j1349(100e3, 303.15, 0.60)
    >>> round(day.factor, 5), day.valid
    (1.02875, True)
    >>> [limit.quantity for limit in correct_power_sae_j1349(95e3, 308.15, 0.40).exceeded]
    ['factor']
    """
    dry, kelvin = _test_day(pressure_abs, temperature, relative_humidity, "correct_power_sae_j1349")
    breathing = REFERENCE_DRY_PRESSURE / dry * math.sqrt(kelvin / REFERENCE_TEMPERATURE)
    factor = (1.0 + _MECHANICAL_EFFICIENCY_TERM) * breathing - _MECHANICAL_EFFICIENCY_TERM
    limits = (
        ("temperature", kelvin, 288.0, 308.0),
        ("dry pressure", dry, 90e3, 105e3),
        ("factor", factor, 0.93, 1.07),
    )
    return PowerCorrection("SAE J1349", factor, dry, _exceeded(limits))


def correct_power_iso_1585(
    pressure_abs: float, temperature: float, relative_humidity: float
) -> PowerCorrection:
    """Factor of ISO 1585 (and UN Regulation 85) for a spark-ignition engine at full load.

    ``(99 kPa / p_d) ** 1.2 (T / 298 K) ** 0.6``, p_d the pressure of the dry air.

    Parameters
    ----------
    pressure_abs : of the air around, moist [Pa]
    temperature : of the air at the intake [K]
    relative_humidity : 0 to 1 [1]

    Returns
    -------
    PowerCorrection
        Limits: 288 to 308 K, dry pressure 80 to 110 kPa, factor 0.93 to 1.07.

    Raises
    ------
    InputRangeError
        As for :func:`correct_power_sae_j1349`.

    Notes
    -----
    Equation and limits from memory; the reference state is as printed in the European directive's
    summary. Kelvins are degC + 273. Read the present annex 5 of the regulation before correcting a
    turbocharged engine: working-party paper GRPE-70-02 (2015) takes the factor away from engines that
    compensate for the weather.

    Examples
    --------
    >>> day = correct_power_iso_1585(100e3, 303.15, 0.60)
    >>> round(day.factor, 5), day.valid
    (1.02931, True)
    """
    dry, kelvin = _test_day(pressure_abs, temperature, relative_humidity, "correct_power_iso_1585")
    factor = (REFERENCE_DRY_PRESSURE / dry) ** 1.2 * (kelvin / REFERENCE_TEMPERATURE) ** 0.6
    limits = (
        ("temperature", kelvin, 288.0, 308.0),
        ("dry pressure", dry, 80e3, 110e3),
        ("factor", factor, 0.93, 1.07),
    )
    return PowerCorrection("ISO 1585", factor, dry, _exceeded(limits))


def _test_day(
    pressure_abs: float, temperature: float, relative_humidity: float, where: str
) -> tuple[float, float]:
    """Pressure of the dry air [Pa] and temperature in the standards' count [K]."""
    for name, value, low, high, unit in (
        ("pressure_abs", pressure_abs, 50e3, 120e3, "Pa"),
        ("temperature", temperature, 230.0, 340.0, "K"),
        ("relative_humidity", relative_humidity, 0.0, 1.0, ""),
    ):
        within(
            value, low, high, name=name, unit=unit, where=where, gaps=False,  # half a weather report is no factor
            do="Check the unit; pressures are absolute, temperatures in kelvin, humidity a share.",
        )  # fmt: skip
    dry = float(dry_air_pressure(pressure_abs, temperature, relative_humidity))
    return dry, temperature - 0.15


def _exceeded(limits: tuple[tuple[str, float, float, float], ...]) -> tuple[LimitExceeded, ...]:
    # The limits are printed numbers: what rounding alone puts outside is inside.
    return tuple(
        LimitExceeded(*limit)
        for limit in limits
        if not limit[2] * (1.0 - 1e-9) <= limit[1] <= limit[3] * (1.0 + 1e-9)
    )
