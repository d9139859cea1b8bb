"""The actuator: where spring, chamber pressures, exhaust push and friction put the arm."""

from __future__ import annotations

from boostproof.physics.ops import clip, component, maximum, minimum


@component
def rest_travel(
    opening_force,
    exhaust_difference,
    opening_pressure,
    spring_rate,
    assistance,
    fade,
    friction,
    travel,
    limit,
):
    """Travel at which the arm comes to rest, coming from where it is, and its slopes.

    Force balance as chamber pressure: ``rate x = p_l - p_u - p_open + a(x) (p3 - p4) -+ friction``. Dry
    friction holds the arm while the balance stays within it (play of the hysteresis kind).

    Parameters
    ----------
    opening_force : lower minus upper chamber pressure [Pa]
    exhaust_difference : p3 - p4 [Pa]
    opening_pressure [Pa], spring_rate [Pa/m]
    assistance : share of p3 - p4 that acts as chamber pressure when seated [1]
    fade : its fall with travel, ``a / (1 + fade x)`` [1/m]
    friction : half the hysteresis [Pa]
    travel : present travel [m]
    limit : largest travel [m]

    Returns
    -------
    travel at rest, within 0 and limit [m]; its slope over the opening force [m/Pa], over the exhaust
    difference [m/Pa] and, of a sliding arm, over the present travel [1] and the opening force [m/Pa]

    >>> round(float(rest_travel(90e3, 0.0, 60e3, 3e6, 0.25, 60.0, 0.0, 0.0, 0.012)[0]) * 1e3, 2)
    10.0
    >>> float(rest_travel(61e3, 0.0, 60e3, 3e6, 0.25, 60.0, 2e3, 0.0, 0.012)[0])
    0.0
    """
    compliance = 1.0 / spring_rate
    fading = 1.0 / (1.0 + fade * travel)
    share = assistance * fading
    free = (opening_force + share * exhaust_difference - opening_pressure) * compliance
    hold = friction * compliance
    held = maximum(minimum(travel, free + hold), free - hold)
    within = clip(minimum(held, limit - held) * 1e12, 0.0, 1.0)
    sliding = clip((maximum(travel - free, free - travel) - hold) * 1e12, 0.0, 1.0)
    moving = within * sliding
    # of a held arm the true slope is 1, but that of a sliding one keeps a step stable in which it lets go
    over_travel = -1.0 * share * fading * fade * exhaust_difference * compliance
    return (
        clip(held, 0.0, limit), moving * compliance, moving * share * compliance, over_travel,
        compliance,
    )  # fmt: skip


def opening_pressure_of(spring_force: float, effective_area: float) -> float:
    """Gauge pressure at which the arm leaves its seat on the bench, ``F0 / A_d``. [Pa]

    >>> round(opening_pressure_of(55.7, 1.590e-3) / 1e3, 1)
    35.0
    """
    return spring_force / effective_area


def spring_rate_as_pressure(rate: float, effective_area: float) -> float:
    """Chamber pressure per travel, ``k / A_d``: what makes boost droop or creep softly. [Pa/m]

    >>> round(spring_rate_as_pressure(6000.0, 1.590e-3) * 10e-3 / 1e3, 1)
    37.7
    """
    return rate / effective_area


def exhaust_assistance(valve_area: float, effective_area: float, lever: float, seated: float = 1.0) -> float:
    """Share of p3 - p4 that acts as chamber pressure, ``lambda kappa A_v / A_d``. [1]

    Parameters
    ----------
    valve_area, effective_area : of valve and diaphragm [m2]
    lever : flapper arm over rod arm, 1 for an external poppet [1]
    seated : 1 on the seat, 0.3 to 0.7 open (estimate) [1]

    >>> from math import pi
    >>> round(exhaust_assistance(pi / 4 * 0.028**2, pi / 4 * 0.045**2, 0.6), 2)
    0.23
    """
    return lever * seated * valve_area / effective_area
