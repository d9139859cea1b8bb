"""The engine control unit's boost loop: feed-forward plus proportional and integral part."""

from __future__ import annotations

from boostproof.physics.ops import clip, component, where


@component
def loop_duty(error, integral, feed_forward, gain, spool_band, limit, closed_loop, logged_duty):
    """Duty commanded, and 1 where the loop is in its linear range.

    While boost is more than ``spool_band`` below target the duty is held at its limit; within the
    band it is ``feed_forward + gain error + integral``, clipped. Open loop: the logged duty.

    Parameters
    ----------
    error : target minus measured boost [Pa]
    integral : integral part [1]
    feed_forward, limit : duties [1]
    gain [1/Pa], spool_band [Pa]
    closed_loop : 1 or 0
    logged_duty [1]

    >>> duty, active = loop_duty(50e3, 0.0, 0.5, 4e-6, 12e3, 0.95, 1.0, 0.0)
    >>> float(duty), float(active)
    (0.95, 0.0)
    """
    raw = feed_forward + gain * error + integral
    inside = clip(raw, 0.0, limit)
    spooling = error > spool_band
    duty = where(spooling, limit, inside)
    free = where(spooling, 0.0 * error, 1.0 + 0.0 * error)
    wound = where(raw > limit, 0.0 * error, where(raw < 0.0, 0.0 * error, free))
    return closed_loop * duty + (1.0 - closed_loop) * logged_duty, wound
