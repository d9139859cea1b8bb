"""Wastegate: lift, flow area and the push of the exhaust on its valve."""

from __future__ import annotations

from math import exp, pi, sin, sqrt

from .hardware import Gate
from .jit import compiled


@compiled
def lift(g: Gate, travel: float) -> float:
    """Valve lift (m) for a travel at the rod (m): a poppet moves with it, a flapper swings by angle."""
    if g.external > 0.5:
        return travel
    return g.flapper * sin(travel / g.lever)


@compiled
def open_area(g: Gate, travel: float) -> float:
    """Effective flow area (m2): curtain at low lift, port at high lift, plus the gap of a bad seat.

    The two limits are joined by a fourth-power blend, which turns sharper than a sum of squares.
    """
    port = g.discharge * 0.25 * pi * g.port * g.port
    high = 4.0 * lift(g, travel) / g.port
    if g.external > 0.5:
        high *= 0.88  # 45 degree seat: the curtain is narrower than the lift
    square = high * high
    return port * high / sqrt(sqrt(1.0 + square * square)) + g.gap_area


@compiled
def push(g: Gate, travel: float, difference: float) -> float:
    """Opening force at the rod (N) of the pressure difference across the valve (Pa)."""
    valve = 0.25 * pi * g.valve * g.valve
    ratio = 1.0 if g.external > 0.5 else g.flapper / g.lever
    share = g.push_open + (1.0 - g.push_open) * exp(-lift(g, travel) / (0.09 * g.port))
    return difference * valve * ratio * share
