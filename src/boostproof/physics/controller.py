"""What stands in the signal line to hold pressure back from the actuator: ball, bleed, solenoid valve."""

from __future__ import annotations

from boostproof.physics.ops import clip, component, maximum, minimum


@component
def ball_opening(difference, offset, span, fitted):
    """How far a ball and spring lets air through, and the slope over the pressure difference.

    The spring holds the ball until the supply stands ``offset`` above the line behind it; the lift then
    grows in proportion and is full at ``span`` above that (force balance of ball and spring). Air that
    bleeds away behind it costs lift, so the offset grows a little with flow.

    Parameters
    ----------
    difference : supply minus pressure behind the ball [Pa]
    offset, span : pressure that opens the ball, and that by which it is wide open [Pa]
    fitted : 1 where there is a ball, 0 where the way is free in both directions [1]

    Returns
    -------
    share of the free area [1], slope [1/Pa]

    >>> opening, slope = ball_opening(32e3, 30e3, 4e3, 1.0)
    >>> float(opening), float(slope)
    (0.5, 0.00025)
    >>> float(ball_opening(-5e3, 30e3, 4e3, 1.0)[0]), float(ball_opening(-5e3, 0.0, 4e3, 0.0)[0])
    (0.0, 1.0)
    """
    lift = (difference - offset) / span
    held = clip(lift, 0.0, 1.0)
    moving = clip(minimum(lift, 1.0 - lift) * 1e9, 0.0, 1.0)
    return 1.0 - fitted + fitted * held, fitted * moving / span


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
    return 1.0 - maximum(solenoid * interrupts, 0.0) * vent_share
