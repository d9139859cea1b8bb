"""The compressor: head over flow as a super-ellipse, work by the wheel's tip speed.

Flow is explicit in speed and pressure, so nothing is iterated. Head runs in isentropic enthalpy over
tip speed squared, as in the published parametric maps (super-ellipse family: Llamas & Eriksson,
J. Eng. Gas Turb. Power 139(1) 012601, from memory); work follows Euler's equation, so that
efficiency is the quotient of the two and stays finite down to no head.
"""

from __future__ import annotations

from boostproof.physics.gas import AIR_CP, AIR_GAMMA, AIR_GAS_CONSTANT, fourth_root, isentropic_ratio_air
from boostproof.physics.ops import absolute, clip, component, maximum, minimum, sqrt

_CHOKE_HEAD = 0.12  # isentropic head over tip speed squared where the wheel is choked
_SOFT = 0.15  # width of the smooth turn at the surge side
_FULL = (1.0 + _SOFT) ** 0.5  # keeps the flow without head at the choke flow
_LEAST_WORK = 0.1  # over tip speed squared; a wheel that is driven round never drives
_BACKFLOW = -0.15  # largest flow back through a surging wheel, of the choke flow
_SPEED_OF_SOUND_2 = AIR_GAMMA * AIR_GAS_CONSTANT

#: Added to tip speed squared under the head [m2/s2]: below some 50 m/s the wheel is a passive part, no steeper
#: than this.
WINDMILL = 2500.0


@component
def isentropic_head(pressure_ratio, temperature_in):
    """Isentropic enthalpy rise, ``cp T1 (PI^0.2857 - 1)``, and its slope over ln PI. [J/kg], [J/kg]

    >>> round(float(isentropic_head(2.0, 298.15)[0]) / 1e3, 2)
    65.6
    """
    ratio = isentropic_ratio_air(fourth_root(clip(pressure_ratio, 0.2, 8.0)))
    return AIR_CP * temperature_in * (ratio - 1.0), AIR_GAS_CONSTANT * temperature_in * ratio


@component
def choke_flow(tip_speed, area, pressure_in, temperature_in):
    """Largest flow at a tip speed: in proportion to it until the inducer chokes; and its slope.

    ``m (1 + m^8)^(-1/8)`` of the choked flow, m = 0.72 U/a: 0.3 to 0.8 of the flow error of a slower
    saturation on tables of published forms (tests/published/test_compressor_map.py).

    ``area`` [m2] effective inducer area, tip speed [m/s], absolute pressure [Pa], temperature [K].
    [kg/s]; d ln flow / d ln tip speed [1]

    >>> round(float(choke_flow(400.0, 1.0e-3, 100e3, 298.0)[0]), 3)
    0.19
    """
    m = 0.72 * tip_speed / sqrt(_SPEED_OF_SOUND_2 * temperature_in)
    m4 = m * m * m * m
    growth = 1.0 + m4 * m4
    most = 0.68473 * area * pressure_in / sqrt(AIR_GAS_CONSTANT * temperature_in)
    return most * m * fourth_root(1.0 / sqrt(growth)), 1.0 / growth


@component
def map_flow(head_coefficient, head_limit):
    """Flow on the map over the choke flow, and how fast it falls with the head coefficient.

    The ellipse ``W = W_ch sqrt(1 - y^2 (1 + y^2)/2)`` in ``y = (psi - psi_ch)/(psi_0 - psi_ch)``,
    made smooth beyond the surge side, where the flow turns back a little.

    Parameters
    ----------
    head_coefficient : isentropic head over tip speed squared [1]
    head_limit : its value at the surge side [1]

    Returns
    -------
    flow over choke flow [1]; its slope over the head coefficient, never positive, held beyond the ends [1]

    >>> round(float(map_flow(0.12, 0.62)[0]), 3), bool(map_flow(0.5, 0.62)[1] < 0)
    (1.0, True)
    """
    span = 1.0 / (head_limit - _CHOKE_HEAD)
    y = clip((head_coefficient - _CHOKE_HEAD) * span, 0.0, 1.6)
    y2 = y * y
    q = 1.0 - 0.5 * y2 * (1.0 + y2)
    size = absolute(q) + _SOFT
    root = 1.0 / sqrt(size)
    fraction = q * root * _FULL
    # beyond the ends too: a step must not jump over the steep part unaware
    slope = -1.0 * (_FULL * span) * y * (1.0 + 2.0 * y2) * (0.5 * absolute(q) + _SOFT) * root * root * root
    return maximum(fraction, _BACKFLOW), slope


@component
def work_coefficient(flow_fraction, work, work_slope):
    """Enthalpy rise over tip speed squared, falling from surge to choke, and its slope over flow. [1], [1]

    >>> round(float(work_coefficient(0.5, 0.86, 0.33)[0]), 3)
    0.695
    """
    held = clip(flow_fraction, 0.0, 1.2)
    left = work - work_slope * held
    inside = clip(minimum(minimum(flow_fraction, 1.2 - flow_fraction), left - _LEAST_WORK) * 1e6, 0.0, 1.0)
    return maximum(left, _LEAST_WORK), -1.0 * work_slope * inside


@component
def pass_through(area, pressure_in, pressure_out, temperature_in):
    """Flow drawn through a wheel that turns too slowly, and its slope over the outlet pressure.

    Where the engine pulls the outlet below the inlet the wheel is a hole; linear in the drop, about
    a nozzle of the inducer's area at 5 % drop. [kg/s], [kg/(s Pa)]

    >>> float(pass_through(1e-3, 1e5, 1.2e5, 298.0)[0])
    0.0
    """
    conductance = area * (6.0 / sqrt(AIR_GAS_CONSTANT * temperature_in))
    drop = pressure_in - pressure_out
    open_ = clip(drop, 0.0, 1.0)
    return conductance * maximum(drop, 0.0), -conductance * open_
