"""Flow through restrictions: choked or not, both ways, smooth at equal pressures."""

from __future__ import annotations

import numpy as np

from boostproof.errors import InputRangeError
from boostproof.physics.gas import (
    AIR_GAMMA,
    AIR_GAS_CONSTANT,
    EXHAUST_GAMMA,
)
from boostproof.physics.ops import absolute, clip, component, maximum, minimum, sqrt, where

ANR_DENSITY = 1.185  # kg/m3, reference air of ISO 8778: 293.15 K, 100 kPa, 65 % humidity


def critical_pressure_ratio(gamma: float) -> float:
    """Downstream over upstream pressure at which a nozzle chokes.

    ``(2 / (gamma + 1)) ** (gamma / (gamma - 1))``; any compressible-flow text.

    >>> round(critical_pressure_ratio(1.4), 4), round(critical_pressure_ratio(1.33), 4)
    (0.5283, 0.5404)
    """
    return float((2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0)))


def choked_flow_function(gamma: float) -> float:
    """Largest value of psi, ``sqrt(g) (2/(g+1))**((g+1)/(2(g-1)))``.

    >>> round(choked_flow_function(1.4), 5), round(choked_flow_function(1.33), 5)
    (0.68473, 0.67263)
    """
    return float(np.sqrt(gamma) * (2.0 / (gamma + 1.0)) ** ((gamma + 1.0) / (2.0 * (gamma - 1.0))))


def isentropic_flow_function(pressure_ratio, gamma: float = AIR_GAMMA):
    """Exact psi of ``m = Cd A p01 / sqrt(R T01) psi``, choked below the critical ratio.

    Parameters
    ----------
    pressure_ratio : array_like
        Downstream static over upstream total pressure, 0 to 1. [1]
    gamma : float
        Ratio of specific heats. [1]

    Returns
    -------
    ndarray
        psi. [1]

    Raises
    ------
    InputRangeError
        If a ratio lies outside 0 to 1 (swap the sides for reverse flow).

    Examples
    --------
    >>> round(float(isentropic_flow_function(0.8) / choked_flow_function(1.4)), 4)
    0.8188
    """
    ratio = np.asarray(pressure_ratio, dtype=float)
    if np.any((ratio < 0.0) | (ratio > 1.0)):
        raise InputRangeError(
            f"pressure_ratio must lie between 0 and 1, got {ratio.min():g} to {ratio.max():g}.",
            kind="range",
            where="isentropic_flow_function",
            do="Swap the sides where the flow runs back.",
        )
    p = np.maximum(ratio, critical_pressure_ratio(gamma))
    return np.sqrt(2.0 * gamma / (gamma - 1.0) * (p ** (2.0 / gamma) - p ** ((gamma + 1.0) / gamma)))


def iso6358_mass_flow(
    pressure_upstream_abs,
    pressure_downstream_abs,
    temperature_upstream,
    conductance,
    critical_ratio=0.5,
    exponent=0.5,
):
    """Mass flow of a pneumatic part by ISO 6358-1.

    ``m = C p1 rho0 sqrt(T0/T1)`` times ``(1 - ((p2/p1 - b)/(1 - b))**2)**exponent`` above b.

    Parameters
    ----------
    pressure_upstream_abs, pressure_downstream_abs : array_like
        Pressures, absolute. [Pa]
    temperature_upstream : array_like
        [K]
    conductance : array_like
        Sonic conductance C. [m3/(s Pa)], 1 dm3/(s bar) = 1e-8
    critical_ratio, exponent : float
        b and the subsonic index. [1]

    Returns
    -------
    ndarray
        [kg/s]

    Examples
    --------
    >>> round(float(iso6358_mass_flow(200e3, 100e3, 293.15, 1e-8, 0.5)) * 1e3, 3)
    2.37
    """
    p1 = np.asarray(pressure_upstream_abs, dtype=float)
    ratio = np.asarray(pressure_downstream_abs, dtype=float) / p1
    y = np.clip((ratio - critical_ratio) / (1.0 - critical_ratio), 0.0, 1.0)
    choked = conductance * p1 * ANR_DENSITY * np.sqrt(293.15 / np.asarray(temperature_upstream, dtype=float))
    return choked * (1.0 - y * y) ** exponent


def conductance_from_area(effective_area):
    """Sonic conductance of an effective area, ``C = psi* CdA / (rho0 sqrt(R T0))``. [m3/(s Pa)]

    >>> round(float(conductance_from_area(1e-6)) * 1e8, 4)
    0.1992
    """
    return (
        choked_flow_function(AIR_GAMMA) * effective_area / (ANR_DENSITY * np.sqrt(AIR_GAS_CONSTANT * 293.15))
    )


# The quarter ellipse stands for psi in the transient model (ISO 6358 uses the same shape). _SOFT turns the
# vertical slope at equal pressures into a steep finite one; with it the model is off the isentropic form by
# up to 0.011 psi* at ratios of 0.8-0.9 and 0.042 close to 1. _FULL keeps the choked value at 1.
_AIR_CRITICAL = critical_pressure_ratio(AIR_GAMMA)
_AIR_PSI = choked_flow_function(AIR_GAMMA)
_EXHAUST_CRITICAL = critical_pressure_ratio(EXHAUST_GAMMA)
_EXHAUST_PSI = choked_flow_function(EXHAUST_GAMMA)
_AIR_SPAN = 1.0 / (1.0 - _AIR_CRITICAL)
_EXHAUST_SPAN = 1.0 / (1.0 - _EXHAUST_CRITICAL)
_SOFT = 0.02
_FULL = (1.0 + _SOFT) ** 0.5
# A hose rubs, a ball floats on its spring: there the flow goes over from the pressure difference itself to
# choking. It is also what keeps the small volumes of the line from being stiffer than a step can bear.
_TUBE_SOFT = 0.3
_TUBE_FULL = (1.0 + _TUBE_SOFT) ** 0.5


@component
def _signed_flow(scale, pressure_from, pressure_to, soft):
    """``scale`` times the root of the ellipse, signed, and its slopes over both pressures."""
    high = maximum(pressure_from, pressure_to)
    low = minimum(pressure_from, pressure_to)
    difference = pressure_from - pressure_to
    d = clip(_AIR_SPAN * difference, -1.0 * high, high)
    size = absolute(d)
    under = size * (2.0 * high - size)
    inverse = 1.0 / sqrt(under + soft * high * high)
    flow = scale * d * (2.0 * high - size) * inverse
    # slope over the lower pressure at the higher one held; the other by homogeneity of first degree
    over_low = -2.0 * _AIR_SPAN * scale * (high - size) * inverse * (1.0 - 0.5 * under * inverse * inverse)
    over_high = (absolute(flow) - low * over_low) / high
    forward = where(difference > 0.0, over_high, -1.0 * over_low)
    backward = where(difference > 0.0, over_low, -1.0 * over_high)
    return flow, forward, backward


@component
def air_flow(area, pressure_from, pressure_to, temperature):
    """Mass flow of air through an effective area, signed, and its slopes over both pressures.

    The ellipse of ISO 6358 with the critical ratio of a nozzle,
    ``m = A psi* p1 / sqrt(R T) sqrt(1 - ((p2/p1 - b)/(1 - b))**2)``, written in the pressures themselves:
    with ``d = (p1 - p2)/(1 - b)``, at most p1, the root is that of ``d (2 p1 - d)``. Odd in the pressure
    difference, so that reverse flow needs no case of its own.

    Parameters
    ----------
    area : effective [m2]
    pressure_from, pressure_to : absolute, above zero [Pa]
    temperature : of the air on either side [K]

    Returns
    -------
    flow [kg/s], negative when it runs back
    d flow / d pressure_from, never negative; d flow / d pressure_to, never positive [kg/(s Pa)]

    >>> round(float(air_flow(1e-6, 200e3, 100e3, 300.0)[0]) * 1e3, 4)
    0.4667
    >>> air_flow(1e-6, 100e3, 200e3, 300.0)[0] == -air_flow(1e-6, 200e3, 100e3, 300.0)[0]
    True
    """
    scale = area * (_FULL * _AIR_PSI / sqrt(AIR_GAS_CONSTANT * temperature))
    return _signed_flow(scale, pressure_from, pressure_to, _SOFT)


@component
def restricted_flow(area, pressure_from, pressure_to, temperature, rubbing):
    """As `air_flow`, with a flow that begins in proportion to the pressure difference. [kg/s], slopes

    ``rubbing`` is 1 for a hose, or for a ball on its spring, and 0 for a sharp orifice: between the two the
    flow at small differences falls, the choked one is the same.

    >>> [round(float(restricted_flow(1e-6, p, 100e3, 300.0, 1.0)[0]) * 1e6, 1) for p in (100.5e3, 101e3, 300e3)]
    [9.9, 19.1, 700.0]
    """
    soft = _SOFT + (_TUBE_SOFT - _SOFT) * rubbing
    full = _FULL + (_TUBE_FULL - _FULL) * rubbing  # exact at 0 and 1
    scale = area * full * (_AIR_PSI / sqrt(AIR_GAS_CONSTANT * temperature))
    return _signed_flow(scale, pressure_from, pressure_to, soft)


@component
def tube_flow(area, pressure_from, pressure_to, temperature):
    """`restricted_flow` of a hose. [kg/s], slopes [kg/(s Pa)]

    >>> float(tube_flow(1e-6, 101e3, 101e3, 300.0)[0])
    0.0
    """
    scale = area * (_TUBE_FULL * _AIR_PSI / sqrt(AIR_GAS_CONSTANT * temperature))
    return _signed_flow(scale, pressure_from, pressure_to, _TUBE_SOFT)


@component
def exhaust_flow_function(ratio):
    """psi of exhaust gas through a nozzle at p4/p3, zero at 1 and above, and its slope. [1], [1]

    >>> round(float(exhaust_flow_function(0.3)[0]), 3)
    0.666
    """
    y = maximum(minimum(ratio, 1.0) - _EXHAUST_CRITICAL, 0.0) * _EXHAUST_SPAN
    g = 1.0 - y * y
    size = g + _SOFT
    root = _EXHAUST_PSI * _FULL / sqrt(size)
    return g * root, -2.0 * y * _EXHAUST_SPAN * (0.5 * g + _SOFT) * root / size


def series_area(first, second):
    """Effective area of two restrictions in a row, ``1/A^2 = 1/A1^2 + 1/A2^2``. [m2]

    Exact for small pressure drops; when choked up to 12 % less than two nozzles pass, never more.

    >>> round(float(series_area(3.0, 4.0)), 2)
    2.4
    """
    return first * second / np.sqrt(first * first + second * second + 1e-24)


def flow_in_series(areas, pressure_upstream_abs, pressure_downstream_abs, temperature):
    """Mass flow through orifices in a row, and the pressures between them, by solving for the nodes.

    The flow lies between nothing and what the narrowest would pass alone; for a flow the pressures follow
    one after the other from the last orifice. Reverse flow where the second pressure is the higher.

    Parameters
    ----------
    areas : (k,) effective, in the order from the first pressure, above zero [m2]
    pressure_upstream_abs, pressure_downstream_abs : above zero [Pa]
    temperature : of the air everywhere [K]

    Returns
    -------
    flow [kg/s], negative when it runs back; (k - 1,) pressures between [Pa]

    Raises
    ------
    InputRangeError
        No area, or an area or pressure that is not above zero.

    Notes
    -----
    Flow form of `air_flow`. Source: steady flow balance of the nodes.

    Examples
    --------
    >>> flow, between = flow_in_series([1e-6, 1e-6], 200e3, 101325.0, 293.15)
    >>> round(flow * 1e6), (between / 1e3).round(1).tolist()
    (375, [162.4])
    """
    area = np.asarray(areas, dtype=float)
    high, low = float(pressure_upstream_abs), float(pressure_downstream_abs)
    if area.ndim != 1 or not area.size or np.any(area <= 0.0) or min(high, low) <= 0.0:
        raise InputRangeError(
            f"areas and pressures must be above zero, got areas {area.tolist()} and {high:g} to {low:g} Pa.",
            kind="range",
            where="flow_in_series",
            do="Pressures are absolute; leave a blocked line out.",
        )
    if low > high:
        flow, between = flow_in_series(area[::-1], low, high, temperature)
        return -flow, between[::-1]

    def before(opening: float, pressure: float, flow: float) -> float:
        """Pressure that drives a flow through one orifice; the first pressure where even that does not."""
        below, above = pressure, high
        for _ in range(60):
            middle = 0.5 * (below + above)
            if air_flow(opening, middle, pressure, temperature)[0] < flow:
                below = middle
            else:
                above = middle
        return above

    # from the last orifice to the first, since a choked one leaves the pressure behind it open
    least, most = 0.0, float(air_flow(area.min(), high, low, temperature)[0])
    between = np.full(area.size - 1, low)
    for _ in range(60):
        flow, pressure = 0.5 * (least + most), low
        for i in range(area.size - 1, 0, -1):
            pressure = before(float(area[i]), pressure, flow)
            between[i - 1] = pressure
        if air_flow(float(area[0]), high, pressure, temperature)[0] > flow:
            least = flow
        else:
            most = flow
    return 0.5 * (least + most), between
