"""Fuel metering: what a leak or a wrong sensor does to the mixture."""

from __future__ import annotations

from boostproof.physics.ops import clip, component, maximum


@component
def mixture_in_cylinder(wanted, swallowed, metered, pressure, pressure_shown, by_air_meter, by_pressure):
    """Lambda in the cylinder when the control unit fuels for another air flow than the engine gets. [1]

    An air meter counts what leaks away behind it: rich, ``lambda = wanted m_engine / m_meter``. Speed
    density goes by the manifold sensor: ``lambda = wanted p / p_shown``.

    Parameters
    ----------
    wanted : lambda that the control unit aims at [1]
    swallowed, metered : air flow into the engine and through the meter [kg/s]
    pressure, pressure_shown : manifold pressure and what its sensor shows, absolute [Pa]
    by_air_meter, by_pressure : 1 for the way that the car meters its fuel [1]

    >>> round(float(mixture_in_cylinder(0.8, 0.18, 0.20, 2e5, 2e5, 1.0, 0.0)), 3)
    0.72
    >>> round(float(mixture_in_cylinder(0.8, 0.2, 0.2, 2.0e5, 1.9e5, 0.0, 1.0)), 3)
    0.842
    """
    by_flow = clip(swallowed / maximum(metered, 0.2 * swallowed + 1e-5), 0.4, 1.6)
    by_sensor = clip(pressure / maximum(pressure_shown, 1e4), 0.4, 2.5)
    return wanted * (1.0 + by_air_meter * (by_flow - 1.0)) * (1.0 + by_pressure * (by_sensor - 1.0))
