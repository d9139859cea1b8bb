"""The actuator: where spring, chamber pressure and exhaust push put the arm."""

from __future__ import annotations

from boostproof.physics.ops import clip, component, maximum, minimum


@component
def rest_travel(
    chamber_gauge,
    exhaust_difference,
    opening_pressure,
    spring_rate,
    assistance,
    fade,
    friction,
    travel,
    limit,
):
    """Travel at which the arm comes to rest, coming from where it is.

    Force balance as chamber pressure: ``rate x = p_a - p_open + a(x) (p3 - p4) -+ friction``. Dry
    friction holds the arm while the balance stays within it (play of the hysteresis kind).

    Parameters
    ----------
    chamber_gauge : chamber pressure over the air around [Pa]
    exhaust_difference : p3 - p4 [Pa]
    opening_pressure [Pa], spring_rate [Pa/m]
    assistance : share of p3 - p4 that acts as chamber pressure when seated [1]
    fade : its fall with travel, ``a / (1 + fade x)`` [1/m]
    friction : half the hysteresis [Pa]
    travel : present travel [m]
    limit : largest travel [m]

    Returns
    -------
    travel at rest [m], within 0 and limit

    >>> round(float(rest_travel(90e3, 0.0, 60e3, 3e6, 0.25, 60.0, 0.0, 0.0, 0.012)) * 1e3, 2)
    10.0
    >>> float(rest_travel(61e3, 0.0, 60e3, 3e6, 0.25, 60.0, 2e3, 0.0, 0.012))
    0.0
    """
    push = assistance / (1.0 + fade * travel) * exhaust_difference
    free = (chamber_gauge + push - opening_pressure) / spring_rate
    hold = friction / spring_rate
    held = maximum(minimum(travel, free + hold), free - hold)
    return clip(held, 0.0, limit)
