"""Restrictions between the parts: filter, cooler and pipes, throttle, exhaust system."""

from __future__ import annotations

from boostproof.physics.gas import AIR_GAS_CONSTANT, EXHAUST_GAS_CONSTANT
from boostproof.physics.ops import clip, component, maximum, sqrt


@component
def inlet_pressure(ambient, loss, flow):
    """Pressure before the compressor, ``p_amb - loss m^2``, at least half the air around. [Pa]

    ``loss`` [Pa s2/kg2]; usual filters and ducts take 1-5 kPa at full flow (estimate).

    >>> round(float(inlet_pressure(101325.0, 5e4, 0.2)))
    99325
    """
    return maximum(ambient - loss * flow * flow, 0.5 * ambient)


@component
def pressure_behind(pressure, per_pressure, loss, temperature):
    """Pressure after a lossy duct when the flow is proportional to it, and the share z of the loss.

    ``p2^2 - p^2 = loss R T m^2`` with ``m = per_pressure p``: explicit, and it covers the wide open
    cooler as well as the nearly closed throttle. ``z = (p2^2 - p^2) / p2^2`` gives its derivatives:
    ``dp/p = dp2/p2 - z (d per_pressure / per_pressure + dT / 2T)``. [Pa], [1]

    >>> round(float(pressure_behind(200e3, 1.0e-6, 7.0e5, 320.0)[0]))
    193864
    """
    q = loss * AIR_GAS_CONSTANT * temperature * per_pressure * per_pressure
    inverse = 1.0 / sqrt(1.0 + q)
    return pressure * inverse, q * inverse * inverse


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
    """Pressure after the turbine, ``p4 (p4 - pamb) = loss R m^2 T4``, and d p4 / d ln m. [Pa], [Pa]

    ``d p4 / d ln T4`` is half the second.

    >>> round(float(exhaust_pressure(0.2, 1000.0, 4.5e4, 101325.0)[0]))
    106340
    """
    source = loss * EXHAUST_GAS_CONSTANT * flow * flow * temperature
    square = 0.25 * ambient * ambient + source
    inverse = 1.0 / sqrt(square)
    return 0.5 * ambient + square * inverse, source * inverse


@component
def leaking_valve_area(area, lift_pressure, pressure, ambient):
    """Area of a recirculation valve that leaks once boost has lifted it, within 10 kPa. [m2]

    >>> float(leaking_valve_area(1e-4, 2e4, 2.0e5, 1e5)), float(leaking_valve_area(1e-4, 2e4, 1.1e5, 1e5))
    (0.0001, 0.0)
    """
    return area * clip((pressure - ambient - lift_pressure) * 1e-4, 0.0, 1.0)
