"""The wastegate: effective area over lift, for flappers and poppets, and what the dump pipe leaves of it."""

from __future__ import annotations

import math

from boostproof.physics.ops import clip, component, minimum, sqrt

_PI = 3.14159265
_WIDEST = 1.4  # rad, to which the sine is taken; flappers turn by 0.5-1.0
CURTAIN_FLOW = 0.70  # discharge coefficient of the curtain at low lift, 0.60-0.75 (valve data, Heywood ch. 6)


@component
def gate_lift(travel, ratio, arm):
    """Lift of the valve centre over travel at the rod, and its slope.

    A flapper turns by ``travel / arm`` and lifts by the sine of that angle; a poppet (``arm`` long)
    lifts straight.

    Parameters
    ----------
    travel [m]
    ratio : lift over travel where it begins [1]
    arm : length of the lever that the rod turns [m]

    >>> round(float(gate_lift(0.012, 1.0, 0.024)[0]) * 1e3, 2), round(24.0 * math.sin(0.5), 2)
    (11.5, 11.51)
    """
    asked = travel / arm
    angle = minimum(asked, _WIDEST)
    turning = clip((_WIDEST - asked) * 1e9, 0.0, 1.0)
    angle2 = angle * angle
    return ratio * arm * angle * (1.0 - 0.16666667 * angle2), ratio * turning * (1.0 - 0.5 * angle2)


@component
def gate_area(lift, diameter, port_flow, seat_cosine, seat_slope):
    """Effective area of one gate and its slope over lift.

    ``1/A^2 = 1/A_curtain^2 + 1/A_port^2`` with ``A_curtain = Cd pi L c (d + s c L)`` for a seat of slope
    angle a (c = cos a, s = sin a; flat: c 1, s 0) and ``A_port = Cd pi d^2/4``.

    Parameters
    ----------
    lift : of the valve centre [m]
    diameter : of the port [m]
    port_flow : discharge coefficient of the port [1]
    seat_cosine, seat_slope : c and s c of the seat [1]

    Returns
    -------
    area [m2], slope d area / d lift [m]

    >>> area, slope = gate_area(0.0065, 0.026, 0.7, 1.0, 0.0)
    >>> round(float(area) * 1e4, 3), bool(slope > 0)
    (2.628, True)
    """
    port = port_flow * (0.25 * _PI) * diameter * diameter
    width = CURTAIN_FLOW * _PI * seat_cosine
    curtain = width * lift * (diameter + seat_slope * lift)
    ratio = curtain / port
    inverse = 1.0 / sqrt(1.0 + ratio * ratio)
    slope = width * (diameter + 2.0 * seat_slope * lift)
    return curtain * inverse, slope * inverse * inverse * inverse


@component
def behind_dump_pipe(area, dump_area):
    """What a dump pipe in series leaves of the gate's area, and the factor on its slope. [m2], [1]

    >>> round(float(behind_dump_pipe(3e-4, 4e-4)[0]) * 1e4, 2)
    2.4
    """
    inverse = 1.0 / sqrt(area * area + dump_area * dump_area)
    share = dump_area * inverse
    return area * share, share * share * share


def seat(angle: float) -> tuple[float, float]:
    """``seat_cosine`` and ``seat_slope`` of a seat of slope angle. [rad]

    >>> [round(x, 4) for x in seat(math.pi / 4)]
    [0.7071, 0.5]
    """
    return math.cos(angle), math.sin(angle) * math.cos(angle)


def port_area(diameter: float, stem: float = 0.0) -> float:
    """Geometric area of the port less the valve's stem, ``pi/4 (d^2 - d_stem^2)``. [m2]

    >>> round(port_area(0.026) * 1e4, 3)
    5.309
    """
    return 0.25 * math.pi * (diameter**2 - stem**2)


def curtain_ratio(angle: float, arm: float, diameter: float) -> float:
    """Curtain over port area of a flapper at an opening angle, ``4 r sin(a) / d``. [1]

    Above 1 the port, below it the travel limits.

    >>> [round(curtain_ratio(math.radians(a), 0.020, 0.026), 2) for a in (5, 10, 15, 20, 30, 45)]
    [0.27, 0.53, 0.8, 1.05, 1.54, 2.18]
    """
    return 4.0 * arm * math.sin(angle) / diameter
