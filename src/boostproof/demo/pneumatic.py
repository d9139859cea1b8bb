"""From the take-off to the rod: hoses, controller, actuator chamber, rod with friction.

One step serves both the car and the bench: on the bench the supply is a regulator and there is no
exhaust push. The three small volumes are advanced together, implicitly in their pressures, and what
leaves one enters the next, so that no air is made or lost; the rod goes with semi-implicit Euler and
stick-slip, and takes the chamber's volume with it at one mass of air.
"""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from .gas import R_AIR, hole, steepness
from .gate import push
from .hardware import Actuator, Gate, Signal
from .jit import compiled

# Places in the state of the signal side
INLET, LINE, CHAMBER, TRAVEL, SPEED, BALL, VALVE, VENTED, LINE_TEMP = 0, 1, 2, 3, 4, 5, 6, 7, 8
STATES = 9


def signal_at_rest(pressure: float) -> NDArray[np.float64]:
    """State of the signal side with everything at one pressure (Pa absolute) and the gate shut."""
    state = np.zeros(STATES)
    state[[INLET, LINE, CHAMBER]] = pressure
    state[LINE_TEMP] = 310.0
    return state


@compiled
def chamber_volume(a: Actuator, travel: float) -> float:
    """Air space of the actuator (m3) at a travel of its rod (m)."""
    return a.volume + a.area * (1.0 - a.area_fall * travel) * travel


@compiled
def signal_step(
    s: Signal,
    a: Actuator,
    g: Gate,
    ambient: float,
    supply: float,
    supply_area: float,
    powered: float,
    difference: float,
    state: NDArray[np.float64],
    dt: float,
) -> None:
    """Advance the signal side by ``dt`` seconds, in place.

    ``supply`` Pa absolute behind ``supply_area`` m2 (0 = shut off), ``powered`` 0 or 1 for the
    solenoid, ``difference`` Pa across the gate. ``state[VENTED]`` is left holding the flow (kg/s)
    that leaves by bleed, vent and leaks of the line.
    """
    temp = state[LINE_TEMP]
    rt = R_AIR * temp
    inlet, line, chamber = state[INLET], state[LINE], state[CHAMBER]
    # the path through the controller
    path = s.path_area
    vent = s.bleed_area
    if s.kind == 1.0:
        if s.ball_stuck > 0.5:
            state[BALL] = 0.0
        else:
            seat_area = 0.25 * pi * s.seat * s.seat
            excess = (inlet - line - s.offset) * seat_area - s.ball_stiffness * state[BALL]
            stick = s.ball_stick * seat_area
            move = 0.0
            if excess > stick:
                move = (excess - stick) / s.ball_stiffness
            elif excess < -stick:
                move = (excess + stick) / s.ball_stiffness
            state[BALL] = min(max(state[BALL] + move * min(1.0, dt / 0.004), 0.0), 0.25 * s.seat)
        path = min(s.path_area, 0.7 * pi * s.seat * state[BALL] * 0.71) + s.ball_leak
    elif s.kind == 3.0:
        wish = powered
        if s.stuck >= 0.0:
            wish = s.stuck
        if s.reversed > 0.5:
            wish = 1.0 - wish
        state[VALVE] += (wish - state[VALVE]) * min(1.0, dt / 0.002)
        path = s.supply_port * (1.0 - state[VALVE])
        vent = s.bleed_area + s.vent_port * state[VALVE]
    area = a.area * (1.0 - a.area_fall * state[TRAVEL])
    volume = chamber_volume(a, state[TRAVEL])
    # flows now, and how they answer to the pressures on either side
    open_area = vent + s.leak_area
    m_in, g_in = hole(supply_area, supply, inlet, temp), steepness(supply_area, supply, inlet, temp)
    m_path, g_path = hole(path, inlet, line, temp), steepness(path, inlet, line, temp)
    m_open, g_open = hole(open_area, line, ambient, temp), steepness(open_area, line, ambient, temp)
    m_hose, g_hose = hole(s.hose_area, line, chamber, temp), steepness(s.hose_area, line, chamber, temp)
    m_skin, g_skin = hole(a.leak_area, chamber, ambient, temp), steepness(a.leak_area, chamber, ambient, temp)
    # three volumes in a row: eliminate the ends, solve for the middle
    c_inlet, c_line, c_chamber = dt * rt / s.supply_volume, dt * rt / s.hose_volume, dt * rt / volume
    first, last = 1.0 / c_inlet + g_in + g_path, 1.0 / c_chamber + g_hose + g_skin
    net_first, net_last = m_in - m_path, m_hose - m_skin
    middle = 1.0 / c_line + g_path + g_open + g_hose - g_path * g_path / first - g_hose * g_hose / last
    net = m_path - m_open - m_hose + g_path * net_first / first + g_hose * net_last / last
    d_line = net / middle
    d_inlet = (net_first + g_path * d_line) / first
    d_chamber = (net_last + g_hose * d_line) / last
    m_in -= g_in * d_inlet
    m_path += g_path * (d_inlet - d_line)
    m_open += g_open * d_line
    m_hose += g_hose * (d_line - d_chamber)
    m_skin += g_skin * d_chamber
    inlet += c_inlet * (m_in - m_path)
    line += c_line * (m_path - m_open - m_hose)
    chamber += c_chamber * (m_hose - m_skin)
    state[INLET], state[LINE], state[CHAMBER] = inlet, line, chamber
    state[VENTED] = m_open
    # the rod
    stop = min(a.stroke, g.free_travel)
    x, v = state[TRAVEL], state[SPEED]
    force = (chamber - ambient) * area - a.preload - a.stiffness * x + push(g, x, difference)
    if v == 0.0:
        # a shut valve first needs its seat unloaded; friction then holds it until it breaks away
        if x <= 0.0:
            held = force <= a.static_friction
        elif x >= stop:
            held = force >= -a.static_friction
        else:
            held = abs(force) <= a.static_friction
        if held:
            return
        v = dt * (force - (a.friction if force > 0.0 else -a.friction)) / a.mass
    else:
        free = v + dt * (force - a.damping * v) / a.mass
        rub = dt * a.friction / a.mass
        if abs(free) <= rub:
            v = 0.0
        else:
            v = free - rub if free > 0.0 else free + rub
            if v * state[SPEED] < 0.0:
                v = 0.0
    x += dt * v
    if x <= 0.0:
        x, v = 0.0, 0.0
    elif x >= stop:
        x, v = stop, 0.0
    state[TRAVEL], state[SPEED] = x, v
    state[CHAMBER] = chamber * volume / chamber_volume(a, x)


def critical_damping(mass: float, stiffness: float, share: float) -> float:
    """Damping (N s/m) as a share of critical."""
    return 2.0 * share * sqrt(mass * stiffness)
