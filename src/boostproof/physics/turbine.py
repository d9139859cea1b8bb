"""The turbine: flow and torque between exhaust manifold and exhaust system."""

from __future__ import annotations

from boostproof.physics.gas import EXHAUST_CP
from boostproof.physics.ops import clip, component, maximum, sqrt

BLADE_SPEED_OPTIMUM = (
    0.65  # blade speed over jet speed of radial turbines at best efficiency, 0.60-0.70 usual
)


@component
def turbine_flow_function(root):
    """Flow over ``A p3 / sqrt(R T3)``, from the fourth root of p4/p3, and its slope over p4/p3.

    ``0.74 sqrt(1 - (p4/p3)^1.5)``: radial turbines choke later than one nozzle (form of
    Eriksson, exponent within the published 1-3, from memory). [1], [1]

    >>> round(float(turbine_flow_function(0.5 ** 0.25)[0]), 3)
    0.593
    """
    e2 = root * root
    g = maximum(1.0 - e2 * e2 * e2, 0.0)
    size = g + 0.004
    scale = 0.74 / sqrt(size)
    return g * scale, -1.5 * e2 * scale * (0.5 * g + 0.004) / size


@component
def turbine_torque(flow, temperature_in, expansion, shaft_speed, diameter, efficiency):
    """Torque on the shaft, efficiency a parabola in blade speed ratio, and its slopes.

    ``P = m cp T3 eta (1 - (p4/p3)^k)``, ``eta = eta_max (2 b - b^2)``, ``b = BSR / BSR_opt``; divided
    by the speed analytically, so that it is finite at rest.

    Parameters
    ----------
    flow [kg/s], temperature_in [K]
    expansion : ``(p4/p3)^((gamma-1)/gamma)`` [1]
    shaft_speed [rad/s], diameter [m], efficiency at best [1]

    Returns
    -------
    torque [N m]; specific isentropic work [J/kg]; slope of the torque over flow [N m s/kg], over that
    work [N m kg/J] and over shaft speed [N m s]

    >>> round(float(turbine_torque(0.2, 1150.0, 0.85, 12000.0, 0.05, 0.68)[0]), 2)
    2.3
    """
    work = EXHAUST_CP * temperature_in * maximum(1.0 - expansion, 0.0)
    jet2 = 2.0 * work + 400.0
    inverse = 1.0 / sqrt(jet2)
    per_speed = (0.5 / BLADE_SPEED_OPTIMUM) * diameter * inverse
    blade = per_speed * shaft_speed
    lift = maximum(2.0 - blade, -1.0)
    below = clip((3.0 - blade) * 1e6, 0.0, 1.0)
    per_flow = work * efficiency * per_speed * lift
    over_work = flow * efficiency * per_speed * (lift - work * (lift - below * blade) * inverse * inverse)
    over_speed = -below * flow * work * efficiency * per_speed * per_speed
    return flow * per_flow, work, per_flow, over_work, over_speed
