"""How the engine breathes, what leaves it, and what torque it makes."""

from __future__ import annotations

from math import exp, pi

from .gas import CP_EXHAUST, R_AIR
from .hardware import Engine
from .jit import compiled

STOICHIOMETRIC = 14.6
HEAT_PER_AIR = 2.95e6  # J released per kg of air burnt with enough fuel; 43 MJ/kg over 14.6


@compiled
def breathed(e: Engine, rpm: float, p_in: float, t_in: float, p_exhaust: float) -> float:
    """Air into the cylinders, kg/s: tuned filling times what the residual gas leaves room for.

    Residual: the clearance volume filled at exhaust pressure expands before fresh charge can enter
    (Heywood, eq. 6.2, gamma 1.3).
    """
    tuned = (rpm - e.hump_speed) / e.hump_width
    fill = e.breathing + e.hump * exp(-tuned * tuned)
    room = 1.0 + (1.0 - p_exhaust / max(p_in, 2e4)) / (1.3 * (e.compression - 1.0))
    warm = (t_in / 313.0) ** 0.25
    filled: float = max(fill * room * warm, 0.05)
    return filled * p_in * e.displacement * rpm / (120.0 * R_AIR * t_in)


@compiled
def port_temperature(e: Engine, rpm: float, t_in: float, lam: float, burning: float) -> float:
    """Gas temperature at the exhaust port, K: a share of the heat of combustion stays in the gas."""
    if burning < 0.5:
        return t_in + 230.0
    share = e.heat_share + e.heat_slope * (rpm * 1e-3 - 4.0)
    heat = HEAT_PER_AIR * min(1.0, 1.0 / lam)
    return t_in + share * heat / ((1.0 + 1.0 / (STOICHIOMETRIC * lam)) * CP_EXHAUST)


@compiled
def torque(e: Engine, rpm: float, air_flow: float, lam: float, burning: float) -> float:
    """Crank torque, N m: a share of the heat as work, less friction that grows with speed."""
    speed = max(rpm, 300.0) * pi / 30.0
    drag = (e.friction + 9.0 * rpm) * e.displacement / (4.0 * pi)
    if burning < 0.5:
        return -drag
    return e.work_share * HEAT_PER_AIR * min(1.0, 1.0 / lam) * air_flow / speed - drag
