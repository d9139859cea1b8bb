"""The engine control unit's boost loop: feed-forward plus proportional and integral part."""

from __future__ import annotations

from boostproof.physics.ops import clip, component, maximum

_SPOOL_GAIN = 6.0e-5  # 1/Pa, duty per boost error beyond the band


@component
def loop_duty(error, integral, feed_forward, gain, spool_band, limit, closed_loop, logged_duty):
    """Duty commanded, and 1 where the loop is in its linear range.

    Within ``spool_band`` of the target the duty is ``feed_forward + gain error + integral``, clipped.
    Further below it a strong extra term drives the duty to its limit within a few kPa, and the integral
    part rests; it rests too where the duty is at either end (no wind-up). Open loop: the logged duty.

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
    over = maximum(error - spool_band, 0.0)
    raw = feed_forward + gain * error + integral + _SPOOL_GAIN * over
    free = clip(1.0 - over * 2.5e-4, 0.0, 1.0)
    inside = clip((raw + 0.02) * 50.0, 0.0, 1.0) * clip((limit + 0.02 - raw) * 50.0, 0.0, 1.0)
    return closed_loop * clip(raw, 0.0, limit) + (1.0 - closed_loop) * logged_duty, free * inside
