"""Turbine, exhaust pulses and the pipe behind it.

Flow capacity follows Stodola's cone law; efficiency is the parabola over blade-speed ratio taken at
every instant, so that pulses raise the mean power above what mean pressures would give.
"""

from __future__ import annotations

from math import cos, exp, log, sqrt

from .gas import CP_EXHAUST, GAMMA_EXHAUST, R_EXHAUST
from .hardware import Turbine
from .jit import compiled


@compiled
def turbine(
    t: Turbine, p_in: float, t_in: float, p_out: float, speed: float, gate_open: float
) -> tuple[float, float, float]:
    """Mass flow (kg/s), shaft power (W) and outlet temperature (K) at one instant.

    ``gate_open`` 0..1 costs some efficiency: the bypassed jet disturbs the outlet.
    """
    if p_in <= p_out * 1.0005:
        return 0.0, 0.0, t_in
    back = p_out / p_in
    mass = 0.7337 * t.area * p_in / sqrt(R_EXHAUST * t_in) * sqrt(1.0 - back * back)
    drop = CP_EXHAUST * t_in * (1.0 - exp((GAMMA_EXHAUST - 1.0) / GAMMA_EXHAUST * log(back)))
    ratio = 0.5 * t.wheel * speed / sqrt(2.0 * drop) / t.best_speed_ratio
    share = max(t.efficiency * (1.0 - (1.0 - ratio) ** 2) * (1.0 - t.mixing_loss * gate_open), -0.2)
    if ratio > 2.2:
        share = -0.1
    return mass, mass * share * drop, t_in - share * drop / CP_EXHAUST


@compiled
def pulse(phase: float, depth: float) -> float:
    """Outflow of the cylinders over its own mean; ``phase`` in firing periods (rad), mean exactly 1."""
    lobe = 0.5 * (1.0 + cos(phase))
    return 1.0 - depth + depth * lobe * lobe * (8.0 / 3.0)
