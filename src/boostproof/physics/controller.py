"""What stands in the signal line to hold pressure back from the actuator: ball, bleed, solenoid valve."""

from __future__ import annotations

from boostproof.physics.ops import clip, component, maximum, where
from boostproof.physics.orifice import restricted_flow


@component
def through_ball(area, supply, behind, ambient, temperature, offset, fitted):
    """Flow through a restriction with, or without, a ball and spring in it, and its slopes.

    A ball floats on its spring: the air behind it is driven by what the spring leaves of the supply,
    ``p_s - offset``, and near the opening the flow grows with the pressure that lifts it. Nothing
    flows back through a ball.

    Parameters
    ----------
    area : effective [m2]
    supply, behind, ambient : absolute [Pa]
    temperature : [K]
    offset : pressure that the spring takes off [Pa]
    fitted : 1 where there is a ball, 0 where the way is free in both directions [1]

    Returns
    -------
    flow [kg/s]; slopes over supply and over the pressure behind [kg/(s Pa)]

    >>> shut, flowing = (through_ball(4e-6, p, 160e3, 100e3, 300.0, 30e3, 1.0)[0] for p in (185e3, 195e3))
    >>> abs(float(shut)), bool(flowing > 0.0)
    (0.0, True)
    """
    driving = maximum(supply - fitted * offset, 0.5 * ambient)
    flow, over_supply, over_behind = restricted_flow(area, driving, behind, temperature, fitted)
    passing = where(flow < 0.0, 1.0 - fitted, 1.0 + 0.0 * fitted)
    return flow * passing, over_supply * passing, over_behind * passing


@component
def valve_duty(duty, stuck, stuck_at, reversed_):
    """Share of the time that the vent leg is open, with what a faulty valve makes of the command. [1]

    >>> float(valve_duty(0.4, 1.0, 0.0, 0.0)), float(valve_duty(0.4, 0.0, 0.0, 0.0))
    (0.0, 0.4)
    >>> round(float(valve_duty(0.3, 0.0, 0.0, 1.0)), 3)
    0.7
    """
    asked = duty + reversed_ * (1.0 - 2.0 * duty)
    return clip(asked + stuck * (stuck_at - asked), 0.0, 1.0)


@component
def supply_share(vent_share, solenoid, interrupts):
    """Share of the time that the supply leg is open. [1]

    A 3- or 4-port valve interrupts the supply while it vents; a 2-port valve, or a 3-port one on a
    T-piece, only bleeds beside a restrictor that stays open.

    >>> float(supply_share(0.3, 1.0, 1.0)), float(supply_share(0.3, 1.0, 0.0))
    (0.7, 1.0)
    """
    return 1.0 - solenoid * interrupts * vent_share
