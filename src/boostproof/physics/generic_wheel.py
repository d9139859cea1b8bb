"""Usual compressor and turbine wheels, by size, where no map is known.

Wheels of one family are scaled copies: areas go with the square of the diameter, inertia with the fifth
power, coefficients stay. The numbers here are those of the prior of a car (`boostproof.car.prior`); they
are the middle of a spread, not a part that can be bought.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError
from boostproof.physics.compressor_map import USUAL_HEAD, USUAL_WORK, USUAL_WORK_SLOPE, CompressorNumbers
from boostproof.physics.gas import AIR_CP, AIR_GAMMA

#: Effective over geometric area of the inducer circle: hub and blades take the rest. From memory.
INDUCER_SHARE = 0.78
#: Exducer and effective area of the reference wheel, from which the prior scales.
_EXDUCER, _AREA = 0.058, 1.15e-3
_USUAL_INDUCER = float(np.sqrt(_AREA / (INDUCER_SHARE * np.pi / 4.0))) / _EXDUCER  # 0.747, trim 55.8
_TURBINE_SIZE = 0.87  # turbine over compressor wheel
# The prior's effective turbine area, 5.4e-4 m2, and compressor area, 1.32 m/191 m2 s/kg, of one engine of
# 0.211 kg/s.
_TURBINE_AREA_SHARE = 5.4e-4 / (1.32 * 0.211 / 191.0)
_USUAL_TURBINE_TRIM = 76.0  # per cent, 70 to 85 usual; common practice, no source

NICKEL_ALLOY_DENSITY = 8200.0  # kg/m3, cast turbine wheels
ALUMINIUM_DENSITY = 2750.0  # kg/m3, compressor wheels
#: Inertia over density and the fifth power of the diameter, estimated from the shape of the wheels.
TURBINE_SHAPE, COMPRESSOR_SHAPE = 0.008, 0.007

#: Drag torque of an oil-lubricated bearing over shaft speed, of one turbocharger. [N m s] An estimate;
#: 4e-6 takes 0.6 kW at 120 000 rpm. Spread: a factor of two either way.
USUAL_SHAFT_DRAG = 4.0e-6

#: Tip speeds at which cast aluminium wheels reach their limit, first and last. [m/s] From memory.
TIP_SPEED_LIMIT = (500.0, 560.0)


@dataclass(frozen=True)
class TurbineNumbers:
    """The three numbers by which the transient model knows one turbine.

    Attributes
    ----------
    area : effective flow area [m2]
    diameter : of the wheel at its inlet [m]
    efficiency : best, bearings included [1]

    Examples
    --------
    >>> TurbineNumbers(5.4e-4, 0.050, 0.55).parameters(count=2)["turbine_area"]
    0.00108
    """

    area: float
    diameter: float
    efficiency: float

    def parameters(self, count: int = 1) -> dict[str, float]:
        """The numbers under the model's names; ``count`` equal turbines in parallel add their areas."""
        return {
            "turbine_area": self.area * count,
            "turbine_diameter": self.diameter,
            "turbine_efficiency": self.efficiency,
        }


@dataclass(frozen=True)
class WheelClass:
    """What compressors of one size of wheel usually do. Common practice, no source.

    Attributes
    ----------
    name : size class
    exducer : smallest and largest outer diameter [m]
    flow : smallest and largest corrected flow, 298 K and 100 kPa [kg/s]
    speed : usual shaft speeds at full load [rad/s]
    """

    name: str
    exducer: tuple[float, float]
    flow: tuple[float, float]
    speed: tuple[float, float]


_RPM = np.pi / 30.0
WHEEL_CLASSES: tuple[WheelClass, ...] = (
    WheelClass("small", (0.040, 0.046), (0.02, 0.14), (120e3 * _RPM, 230e3 * _RPM)),
    WheelClass("medium", (0.048, 0.056), (0.04, 0.25), (90e3 * _RPM, 180e3 * _RPM)),
    WheelClass("large", (0.058, 0.071), (0.06, 0.45), (70e3 * _RPM, 140e3 * _RPM)),
)
#: Largest pressure ratios of usual maps, smallest and largest. Common practice, no source.
USUAL_LARGEST_PRESSURE_RATIO = (2.3, 3.8)


def trim(small_diameter: float, large_diameter: float) -> float:
    """Trim of a wheel, ``100 (small / large)^2``: inducer over exducer of a compressor. [%]

    Compressors have 45 to 60, turbines (exducer over inducer) 70 to 85; common practice, no source.

    Raises
    ------
    InputRangeError
        If a diameter is not positive or the small one is not the smaller.

    Examples
    --------
    >>> round(trim(0.0433, 0.058), 1)
    55.7
    """
    if not 0.0 < small_diameter < large_diameter:
        raise InputRangeError(
            f"The smaller diameter must be positive and below the larger, got {small_diameter:g} and "
            f"{large_diameter:g} m.",
            kind="range",
            where="trim",
            do="A compressor's inducer and a turbine's exducer are the smaller ends.",
        )
    return 100.0 * (small_diameter / large_diameter) ** 2


def effective_inducer_area(inducer: ArrayLike) -> NDArray[np.float64]:
    """Effective area that chokes a compressor wheel, 0.78 of the inducer circle. [m2] from [m]

    The prior of a car gives it 10 % of spread.

    >>> round(float(effective_inducer_area(0.0433)) * 1e3, 3)
    1.149
    """
    return np.asarray(INDUCER_SHARE * np.pi / 4.0 * np.asarray(inducer, float) ** 2)


def generic_compressor(exducer: float, inducer: float | None = None) -> CompressorNumbers:
    """The model's five numbers of a usual compressor wheel.

    Parameters
    ----------
    exducer : outer diameter, 25 to 120 mm [m]
    inducer : inlet diameter; without it trim 55.8 [m]

    Returns
    -------
    CompressorNumbers

    Raises
    ------
    InputRangeError
        If the exducer is not within 25 and 120 mm, or the inducer's trim not within 35 and 75.

    Notes
    -----
    Area ``0.78 pi/4 d^2``; coefficients those of the prior of a car: head 0.62, work 0.92, slope 0.33.

    Examples
    --------
    >>> wheel = generic_compressor(0.058)
    >>> round(wheel.area * 1e3, 3), wheel.head
    (1.15, 0.62)
    """
    _check_size(exducer, "exducer", 0.025, 0.12)
    inlet = _USUAL_INDUCER * exducer if inducer is None else inducer
    _check_trim(trim(inlet, exducer), 35.0, 75.0)
    area = float(effective_inducer_area(inlet))
    return CompressorNumbers(exducer, area, USUAL_HEAD, USUAL_WORK, USUAL_WORK_SLOPE)


def generic_turbine(
    compressor: CompressorNumbers, inducer: float | None = None, exducer: float | None = None
) -> TurbineNumbers:
    """The model's numbers of a turbine that usually drives a compressor.

    Parameters
    ----------
    compressor : what it drives
    inducer : inlet diameter of the turbine wheel; without it 0.87 of the compressor wheel [m]
    exducer : outlet diameter; without it trim 76 [m]

    Returns
    -------
    TurbineNumbers
        The area is as uncertain as a factor of 1.25, since the housing decides it as much as the wheel.

    Raises
    ------
    InputRangeError
        If the inducer is not within 20 and 110 mm, or the exducer's trim not within 55 and 95.

    Notes
    -----
    Effective area 0.37 of the compressor's, by the square of the exducer where wheels differ from the usual
    size. Estimates, as the prior of a car has them; efficiency 0.55 with bearings and mean of pulses.

    Examples
    --------
    >>> turbine = generic_turbine(generic_compressor(0.058))
    >>> round(turbine.diameter * 1e3, 1), round(turbine.area * 1e4, 2)
    (50.5, 4.26)
    """
    usual = _TURBINE_SIZE * compressor.diameter
    inlet = usual if inducer is None else inducer
    _check_size(inlet, "inducer", 0.02, 0.11)
    outlet = inlet * float(np.sqrt(_USUAL_TURBINE_TRIM / 100.0)) if exducer is None else exducer
    own_trim = trim(outlet, inlet)
    _check_trim(own_trim, 55.0, 95.0)
    wheel = (inlet / usual) ** 2 * own_trim / _USUAL_TURBINE_TRIM
    return TurbineNumbers(_TURBINE_AREA_SHARE * compressor.area * wheel, inlet, 0.55)


def rotor_inertia(
    turbine_diameter: ArrayLike,
    compressor_diameter: ArrayLike,
    *,
    turbine_density: float = NICKEL_ALLOY_DENSITY,
    compressor_density: float = ALUMINIUM_DENSITY,
) -> NDArray[np.float64]:
    """Inertia of both wheels, ``0.008 rho_t D_t^5 + 0.007 rho_c D_c^5``; the shaft adds little.

    Parameters
    ----------
    turbine_diameter, compressor_diameter : outer diameters, broadcast together [m]
    turbine_density, compressor_density : of the wheels [kg/m3]

    Returns
    -------
    ndarray
        Known to a factor of 1.5 or so. [kg m2]

    Notes
    -----
    Shape factors are estimated: a solid disk of width ``w`` has ``pi w / (32 D)``, so 0.008 is a disk of 8 %
    of its diameter. Published point: 5e-5 kg m2 (Pukrushpan 2003).

    Examples
    --------
    >>> round(float(rotor_inertia(0.045, 0.050)) * 1e5, 1)
    1.8
    """
    dt, dc = np.asarray(turbine_diameter, float), np.asarray(compressor_diameter, float)
    return np.asarray(TURBINE_SHAPE * turbine_density * dt**5 + COMPRESSOR_SHAPE * compressor_density * dc**5)


def tip_speed(diameter: ArrayLike, speed: ArrayLike) -> NDArray[np.float64]:
    """Speed of the rim, ``D w / 2``. [m/s] from [m] and [rad/s]

    >>> round(float(tip_speed(0.050, 150e3 * np.pi / 30)), 1)
    392.7
    """
    return np.asarray(0.5 * np.asarray(diameter, float) * np.asarray(speed, float))


def pressure_ratio_of_tip_speed(
    tip: ArrayLike, temperature_in: ArrayLike, head: float = USUAL_HEAD
) -> NDArray[np.float64]:
    """Pressure ratio that a wheel makes at a tip speed, ``(1 + psi U^2 / (cp T))^3.5``.

    Parameters
    ----------
    tip : tip speed, any shape [m/s]
    temperature_in : inlet total temperature, broadcast with it [K]
    head : isentropic head over tip speed squared; default: the surge side of a usual wheel, its most [1]

    Returns
    -------
    ndarray
        Broadcast shape. [1]

    Examples
    --------
    >>> round(float(pressure_ratio_of_tip_speed(392.7, 298.15, head=0.6)), 3)
    2.565
    """
    u = np.asarray(tip, float)
    rise = head * u * u / (AIR_CP * np.asarray(temperature_in, float))
    return np.asarray((1.0 + rise) ** (AIR_GAMMA / (AIR_GAMMA - 1.0)))


def tip_speed_margin(diameter: ArrayLike, speed: ArrayLike) -> NDArray[np.float64]:
    """What is left to the lower limit of cast wheels, 500 m/s, as a share of it; negative beyond. [1]

    A case whose data imply less than nothing has a wrong diameter, a wrong speed, or an overspeeding wheel.

    >>> round(float(tip_speed_margin(0.050, 150e3 * np.pi / 30)), 3)
    0.215
    """
    return np.asarray(1.0 - tip_speed(diameter, speed) / TIP_SPEED_LIMIT[0])


def _check_size(diameter: float, name: str, low: float, high: float) -> None:
    if not low <= diameter <= high:
        raise InputRangeError(
            f"{name} must lie between {low * 1e3:.0f} and {high * 1e3:.0f} mm, got {diameter * 1e3:g} mm.",
            kind="range",
            where="generic wheel",
            do="Give diameters in metres.",
        )


def _check_trim(value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise InputRangeError(
            f"The two diameters make a trim of {value:.0f}, wheels have {low:.0f} to {high:.0f}.",
            kind="range",
            where="generic wheel",
            do="Check that both diameters are of the same wheel.",
        )
