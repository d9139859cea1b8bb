"""A compressor as head against flow, with surge to the left and choke to the right.

Head coefficient: the rational form of Jensen & Kristensen (as reviewed in SAE 1999-01-0908),
``psi = (k1 + k2 phi) / (k3 - phi)``, written here by its zero-flow head, its zero-head flow and how
far the pole lies beyond it. The zero-head flow follows the speed of sound (choke). Left of the peak
the line falls off again, so that the duct surges when it is throttled. Work comes from a straight
Euler line, so that efficiency is a result and not a second map.
"""

from __future__ import annotations

from math import pi, sqrt

from .gas import CP_AIR, R_AIR
from .hardware import Compressor
from .jit import compiled


@compiled
def compressor(
    c: Compressor, mass_flow: float, speed: float, p_in: float, t_in: float
) -> tuple[float, float, float, float]:
    """One point of the map.

    ``mass_flow`` kg/s, ``speed`` rad/s, inlet totals in Pa and K. Returns total pressure ratio, its
    slope against mass flow (1/(kg/s)), specific work (J/kg) and the flow as a share of the
    zero-head flow.
    """
    tip = max(0.5 * c.wheel * speed, 5.0)
    mach = tip / sqrt(1.4 * R_AIR * t_in)
    phi_end = c.flow_scale / sqrt(1.0 + c.flow_bend * mach * mach)
    unit_flow = p_in / (R_AIR * t_in) * 0.25 * pi * c.wheel * c.wheel * tip
    x = mass_flow / (unit_flow * phi_end)
    edge = 1.0 + 0.6 * c.pole
    at = min(max(x, 0.0), edge)
    below = 1.0 - at / (1.0 + c.pole)
    head = c.head_zero_flow * (1.0 - at) / below
    slope = c.head_zero_flow * (-below + (1.0 - at) / (1.0 + c.pole)) / (below * below)
    if x > edge:
        head += slope * (x - edge)
    elif at < c.surge_at:
        left = 1.0 - at / c.surge_at
        dip = 0.35 * min(1.0, mach * mach)
        keep = 1.0 - dip * left * left
        slope = slope * keep + head * 2.0 * dip * left / c.surge_at
        head *= keep
    step = tip * tip / (2.0 * CP_AIR * t_in)
    y = max(1.0 + head * step, 0.2)
    root = sqrt(y)
    ratio = y * y * y * root
    ratio_slope = 3.5 * y * y * root * step * slope / (unit_flow * phi_end)
    work = c.work_zero_flow - c.work_slope * at
    if at < c.surge_at:
        work += 0.4 * (1.0 - at / c.surge_at) ** 2
    if mach > 1.2:
        work *= 1.0 + 0.35 * (mach - 1.2) ** 2
    return ratio, ratio_slope, max(work, 0.02) * 0.5 * tip * tip / c.efficiency, x


def efficiency(c: Compressor, mass_flow: float, speed: float, p_in: float, t_in: float) -> float:
    """Isentropic total efficiency at a point of the map."""
    ratio, _, work, _ = compressor(c, mass_flow, speed, p_in, t_in)
    ideal: float = ratio ** (1.0 / 3.5) - 1.0
    return CP_AIR * t_in * ideal / work
