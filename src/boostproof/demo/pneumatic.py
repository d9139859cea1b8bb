"""From the take-off to the rod: hoses, controller, actuator chamber, rod with friction.

One step serves both the car and the bench: on the bench the supply is a regulator and there is no
exhaust push. Small volumes are advanced half-implicitly (pressure over conductance), the rod with
semi-implicit Euler and stick-slip.
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
    m_in = hole(supply_area, supply, inlet, temp)
    m_path = hole(path, inlet, line, temp)
    g_path = steepness(m_path, inlet, line)
    gain = dt * rt / s.supply_volume
    inlet += gain * (m_in - m_path) / (1.0 + gain * (steepness(m_in, supply, inlet) + g_path))
    m_vent = hole(vent, line, ambient, temp)
    m_leak = hole(s.leak_area, line, ambient, temp)
    m_hose = hole(s.hose_area, line, chamber, temp)
    g_hose = steepness(m_hose, line, chamber)
    gain = dt * rt / s.hose_volume
    slopes = g_path + g_hose + steepness(m_vent + m_leak, line, ambient)
    line += gain * (m_path - m_vent - m_leak - m_hose) / (1.0 + gain * slopes)
    m_skin = hole(a.leak_area, chamber, ambient, temp)
    area = a.area * (1.0 - a.area_fall * state[TRAVEL])
    volume = a.volume + area * state[TRAVEL]
    gain = dt * rt / volume
    change = gain * (m_hose - m_skin) - dt * chamber * area * state[SPEED] / volume
    chamber += change / (1.0 + gain * (g_hose + steepness(m_skin, chamber, ambient)))
    state[INLET], state[LINE], state[CHAMBER] = inlet, line, chamber
    state[VENTED] = m_vent + m_leak
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


def critical_damping(mass: float, stiffness: float, share: float) -> float:
    """Damping (N s/m) as a share of critical."""
    return 2.0 * share * sqrt(mass * stiffness)
