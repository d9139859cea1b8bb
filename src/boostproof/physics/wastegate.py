"""The wastegate: effective area over lift."""

from __future__ import annotations

from boostproof.physics.ops import component, sqrt

_PI = 3.14159265
CURTAIN_FLOW = 0.70  # discharge coefficient of the curtain at low lift, 0.60-0.75 (valve data, Heywood ch. 6)


@component
def gate_area(lift, diameter, port_flow, count, leak):
    """Effective area of a gate and its slope over lift.

    ``1/A^2 = 1/A_curtain^2 + 1/A_port^2`` with ``A_curtain = Cd pi d L``, ``A_port = Cd pi d^2/4``.

    Parameters
    ----------
    lift : of the valve centre [m]
    diameter : of the port [m]
    port_flow : discharge coefficient of the port [1]
    count : gates in parallel [1]
    leak : effective area when shut [m2]

    Returns
    -------
    area [m2], slope d area / d lift [m]

    >>> area, slope = gate_area(0.0065, 0.026, 0.7, 1.0, 0.0)
    >>> round(float(area) * 1e4, 3), bool(slope > 0)
    (2.628, True)
    """
    port = port_flow * (0.25 * _PI) * diameter * diameter
    per_lift = CURTAIN_FLOW * _PI * diameter
    ratio = per_lift * lift / port
    r2 = 1.0 + ratio * ratio
    inverse = 1.0 / sqrt(r2)
    return count * per_lift * lift * inverse + leak, count * per_lift * inverse / r2
