"""The engine between charge side and exhaust manifold, and the restrictions on either side."""

from __future__ import annotations

from boostproof.physics.gas import AIR_GAS_CONSTANT, EXHAUST_GAS_CONSTANT
from boostproof.physics.ops import clip, component, sqrt


@component
def volumetric_efficiency(speed_fraction, level, tilt, bow, pressure_ratio, residual_effect):
    """Volumetric efficiency referred to the manifold, with the loss by back-pressure. [1]

    A parabola over engine speed around 60 % of redline, times ``1 - residual (p3/pim - 1)``; the
    slope 0.088 is the tangent of Heywood's eq. 6.2 at equal pressures (compression ratio 9.5).

    >>> round(float(volumetric_efficiency(0.6, 0.95, 0.0, 0.3, 1.5, 0.088)), 4)
    0.9082
    """
    d = speed_fraction - 0.6
    return (
        level
        * (1.0 + d * (tilt - bow * d))
        * (1.0 - residual_effect * (clip(pressure_ratio, 0.3, 4.0) - 1.0))
    )


@component
def swallowing(efficiency, displacement, engine_speed, temperature):
    """Air flow per manifold pressure of a four-stroke, ``eta Vd omega / (4 pi R T)``. [kg/(s Pa)]

    >>> round(float(swallowing(0.95, 2.0e-3, 628.319, 318.0)) * 200e3, 4)
    0.2081
    """
    return efficiency * displacement * engine_speed * (0.0795775 / AIR_GAS_CONSTANT) / temperature


@component
def pressure_behind(pressure, per_pressure, loss, temperature):
    """Pressure after a lossy duct when the flow is proportional to it. [Pa]

    ``p2^2 - p^2 = loss R T m^2`` with ``m = per_pressure p``: explicit, and it covers the wide open
    cooler as well as the nearly closed throttle.

    >>> round(float(pressure_behind(200e3, 1.0e-6, 7.0e5, 320.0)))
    193864
    """
    return pressure / sqrt(1.0 + loss * AIR_GAS_CONSTANT * temperature * per_pressure * per_pressure)


@component
def throttle_loss(opening):
    """Loss coefficient of the throttle plate over its opening (0 shut to 1 wide open). [1/m4]

    >>> bool(throttle_loss(1.0) < 2e5), bool(throttle_loss(0.1) > 1e8)
    (True, True)
    """
    area = 1.0e-5 + 2.6e-3 * opening * opening
    return 0.9 / (area * area)


@component
def exhaust_pressure(flow, temperature, loss, ambient):
    """Pressure after the turbine, ``p4 (p4 - pamb) = loss R m^2 T4``. [Pa]

    >>> round(float(exhaust_pressure(0.2, 1000.0, 4.5e4, 101325.0)))
    106340
    """
    return 0.5 * ambient + sqrt(
        0.25 * ambient * ambient + loss * EXHAUST_GAS_CONSTANT * flow * flow * temperature
    )
