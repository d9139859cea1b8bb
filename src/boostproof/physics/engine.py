"""The engine between charge side and exhaust manifold: breathing, exhaust temperature, torque."""

from __future__ import annotations

from boostproof.physics.gas import AIR_GAS_CONSTANT
from boostproof.physics.ops import clip, component, maximum, minimum

_HEAT_PER_AIR = 2.95e6  # J/kg: petrol of 43 MJ/kg at 14.6 kg of air; rich mixtures burn what the air allows
_RICH_COOLING = 550.0  # K per unit of lambda: half of the rich flame's slope, the rest goes to work and walls
_RETARD_HEATING = 340.0  # K/rad: 50-80 K per 10 degrees (from memory)
_RETARD_LOSS = 1.6  # 1/rad2: 5 % of torque at 10 degrees (from memory)
_LEAST_BREATH = 0.05  # of the best, far beyond redline
_LEAN_SIDE = 0.95  # lambda above which more air finds no more fuel


@component
def volumetric_efficiency(speed_fraction, level, tilt, bow, pressure_ratio, residual_effect):
    """Volumetric efficiency referred to the manifold, and its loss per unit of p3/pim over itself.

    A parabola over engine speed around 60 % of redline, times ``1 - residual (p3/pim - 1)``; the
    slope 0.088 is the tangent of Heywood's eq. 6.2 at equal pressures (compression ratio 9.5). [1], [1]

    >>> round(float(volumetric_efficiency(0.6, 0.95, 0.0, 0.3, 1.5, 0.088)[0]), 4)
    0.9082
    """
    d = speed_fraction - 0.6
    with_residual = 1.0 - residual_effect * (clip(pressure_ratio, 0.3, 4.0) - 1.0)
    return level * maximum(1.0 + d * (tilt - bow * d), _LEAST_BREATH) * with_residual, residual_effect / with_residual


@component
def swallowing(efficiency, displacement, engine_speed, temperature):
    """Air flow per manifold pressure of a four-stroke, ``eta Vd omega / (4 pi R T)``. [kg/(s Pa)]

    >>> round(float(swallowing(0.95, 2.0e-3, 628.319, 318.0)) * 200e3, 4)
    0.2081
    """
    return efficiency * displacement * engine_speed * (0.0795775 / AIR_GAS_CONSTANT) / temperature


@component
def exhaust_temperature(base, rise, speed_fraction, manifold, mixture, wanted, retard):
    """Gas temperature before the turbine, affine in what the engine flows. [K]

    ``T = T0 + rise n p_im/bar + 550 K (lambda - wanted) + 340 K/rad retard``: ``base`` and ``rise`` hold for
    the mixture wanted and usual timing (form of Eriksson 2003, from memory; the two slopes are estimates).

    >>> round(float(exhaust_temperature(1040.0, 70.0, 0.9, 2e5, 0.82, 0.82, 0.0)))
    1166
    """
    return (
        base
        + rise * speed_fraction * manifold * 1e-5
        + _RICH_COOLING * (minimum(mixture, 1.0) - wanted)
        + _RETARD_HEATING * retard
    )


@component
def brake_torque(air, engine_speed, mixture, efficiency, retard, displacement, friction, manifold, exhaust):
    """Torque at the crank, work of the burnt fuel less friction and gas exchange. [N m]

    ``T = eta Q m / omega - (p_f + p3 - pim) Vd / (4 pi)``; rich mixtures burn what the air allows,
    lean ones what fuel there is.

    Parameters
    ----------
    air : swallowed [kg/s], engine_speed [rad/s], mixture [1]
    efficiency : indicated, at usual timing [1]
    retard : ignition later than usual [rad]
    displacement [m3], friction : mean effective pressure of friction [Pa]
    manifold, exhaust : absolute [Pa]

    >>> round(float(brake_torque(0.2, 600.0, 0.82, 0.36, 0.0, 2e-3, 1.8e5, 2e5, 2.4e5)))
    319
    """
    burnt = minimum(1.0, _LEAN_SIDE / mixture)
    timed = maximum(1.0 - _RETARD_LOSS * retard * retard, 0.3)
    lost = (friction + exhaust - manifold) * displacement * 0.0795775
    return efficiency * timed * _HEAT_PER_AIR * burnt * air / engine_speed - lost


def residual_bracket(pressure_ratio: float, compression_ratio: float, gamma: float = 1.3) -> float:
    """Back-pressure factor of the volumetric efficiency, Heywood eq. 6.2 (from memory). [1]

    ``r/(r-1) - [p_e/p_i + (gamma - 1)] / [gamma (r - 1)]``.

    >>> [round(residual_bracket(x, 9.5), 4) for x in (0.8, 1.0, 1.2, 1.5, 2.0)]
    [1.0181, 1.0, 0.9819, 0.9548, 0.9095]
    """
    r = compression_ratio
    return r / (r - 1.0) - (pressure_ratio + gamma - 1.0) / (gamma * (r - 1.0))


def residual_gas_share(
    intake: float, exhaust: float, revolutions: float, overlap: float, compression_ratio: float, ratio: float
) -> float:
    """Share of residual gas with valve overlap, Fox, Cheng and Heywood 1993 (from memory). [1]

    ``1.266 OF/N (p_i/p_e)^-0.87 sqrt|p_e - p_i| + 0.632 phi (p_i/p_e)^-0.74 / r``, pressures in bar inside.

    Parameters
    ----------
    intake, exhaust : absolute [Pa]
    revolutions : [1/s]
    overlap : overlap factor [deg/m]
    compression_ratio, ratio : r, and fuel to air equivalence phi [1]

    >>> [round(residual_gas_share(2e5, p, 100.0, 0.5, 9.5, 1.2), 3) for p in (2.0e5, 2.6e5, 3.0e5)]
    [0.08, 0.103, 0.117]
    """
    share = intake / exhaust
    step = (abs(exhaust - intake) / 1e5) ** 0.5
    through = 1.266 * overlap / revolutions * share**-0.87 * step
    return float(through + 0.632 * ratio * share**-0.74 / compression_ratio)
