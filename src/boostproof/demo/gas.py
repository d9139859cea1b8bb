"""Gas numbers and flow through small and large holes.

Flow uses the elliptic law of ISO 6358-1 (critical ratio and conductance, here written with an
effective area) rather than the isentropic nozzle formula: it needs no powers, and for an ideal
nozzle the two differ by 0.3 % at most.
"""

from __future__ import annotations

from math import sqrt

from .jit import compiled

R_AIR = 287.05
CP_AIR = 1006.0
CV_AIR = CP_AIR - R_AIR
# Burnt rich mixture (lambda about 0.85) near 1100 K: R and gamma from an equilibrium table, cp follows.
R_EXHAUST = 296.3
GAMMA_EXHAUST = 1.295
CP_EXHAUST = R_EXHAUST * GAMMA_EXHAUST / (GAMMA_EXHAUST - 1.0)
CV_EXHAUST = CP_EXHAUST - R_EXHAUST
CHOKED_AIR = 0.6847
CHOKED_EXHAUST = 0.667


@compiled
def flow(
    area: float, p_from: float, t_from: float, p_to: float, t_to: float, r: float, linear: float
) -> float:
    """Mass flow (kg/s, positive from -> to) through an area; linear in the last ``linear`` part.

    ``p`` Pa absolute, ``t`` K, ``r`` J/(kg K). Critical ratio 0.53 and choked flow of a gas with
    gamma 1.4 for air, 1.295 where ``r`` is the exhaust's.
    """
    if area <= 0.0:
        return 0.0
    if p_to > p_from:
        high, low, temp, sign = p_to, p_from, t_to, -1.0
    else:
        high, low, temp, sign = p_from, p_to, t_from, 1.0
    critical = 0.528
    choked = 0.6847
    if r > 290.0:
        critical = 0.546
        choked = 0.667
    ratio = low / high
    if ratio <= critical:
        share = 1.0
    elif ratio < 1.0 - linear:
        a = (ratio - critical) / (1.0 - critical)
        share = sqrt(1.0 - a * a)
    else:
        a = (1.0 - linear - critical) / (1.0 - critical)
        share = sqrt(1.0 - a * a) * (1.0 - ratio) / linear
    return sign * choked * area * high / sqrt(r * temp) * share


@compiled
def hole(area: float, p_from: float, p_to: float, temp: float) -> float:
    """Signed mass flow of air (kg/s) through a small hole of effective ``area`` at one temperature."""
    return flow(area, p_from, temp, p_to, temp, 287.05, 0.03)


@compiled
def steepness(area: float, p_one: float, p_two: float, temp: float) -> float:
    """Flow of :func:`hole` over the pressure difference (kg/(s Pa)), for the implicit step of a small volume.

    Where flow is linear in the difference this is its slope, at equal pressures too.
    """
    high = max(p_one, p_two)
    low = min(min(p_one, p_two), 0.97 * high)
    return hole(area, high, low, temp) / (high - low)
