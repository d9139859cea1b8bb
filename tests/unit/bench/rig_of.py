"""A candidate car on the demo's bench rig, which was written apart from the model that infers.

The demo's rig follows volumes, ball, valve pulses and a rod with stick-slip in small steps of time; the model
under test solves for rest. What they share is a parameter's meaning, stated here row by row.
"""

from __future__ import annotations

import numpy as np

from boostproof.demo.hardware import BALL, BLEED, NONE, SOLENOID, Actuator, Gate, Signal
from boostproof.demo.pneumatic import LINE_TEMP, critical_damping, signal_at_rest
from boostproof.demo.rig import Rig
from boostproof.physics import layout

AMBIENT = 101325.0
OPEN = 1.0e-5  # m2, effective: a short wide hose, as the rig itself takes for air straight on the actuator
KINDS = {"none": NONE, "ball and spring": BALL, "bleed valve": BLEED, "solenoid 3-port": SOLENOID}


def value(par: np.ndarray, name: str) -> float:
    """One row of one car, (parameters,)."""
    return float(par[layout.INDEX[name]])


def actuator_of(par: np.ndarray, added: float = 0.0) -> Actuator:
    """Can, spring and rod; ``added`` a reservoir on the chamber [m3]."""
    area = value(par, "diaphragm_area")
    rate = value(par, "spring_rate") * area
    rub = value(par, "friction") * area
    return Actuator(
        area=area,
        area_fall=0.0,
        stiffness=rate,
        preload=value(par, "opening_pressure") * area,
        mass=0.12,
        damping=critical_damping(0.12, rate, 0.3),
        friction=rub,
        static_friction=rub,
        stroke=value(par, "gate_travel"),
        volume=value(par, "chamber_volume") + value(par, "line_volume") + added,
        leak_area=value(par, "diaphragm_leak"),
    )


def signal_of(par: np.ndarray, kind: str, direct: bool) -> Signal:
    """Controller and hoses, or nothing but a wide hose where the air goes straight on the actuator."""
    through = not direct
    return Signal(
        kind=KINDS[kind] if through else NONE,
        take_off=0.0,
        supply_area=OPEN,
        supply_volume=2.0e-5,
        path_area=OPEN if direct or kind == "ball and spring" else value(par, "line_area"),
        hose_area=value(par, "hose_area") if through else OPEN,
        hose_volume=4.0e-6,
        leak_area=value(par, "line_leak") if through else 0.0,
        bleed_area=value(par, "bleed_area") if through else 0.0,
        offset=value(par, "offset"),
        seat=8.0e-3,
        ball_stiffness=300.0,
        ball_leak=1.0e-11,
        ball_stick=0.0,
        ball_stuck=0.0,
        supply_port=value(par, "line_area"),
        vent_port=value(par, "vent_area"),
        frequency=30.0,
        stuck=-1.0,
        reversed=0.0,
    )


def rig_of(par: np.ndarray, kind: str, *, direct: bool = False, added: float = 0.0) -> Rig:
    """The car's signal side behind a regulator, at rest.

    The area from take-off to actuator side stands in the hose before a ball, else in the controller's own way.
    """
    state = signal_at_rest(AMBIENT)
    state[LINE_TEMP] = 293.15
    gate = Gate(0.0, 0.028, 0.7, 0.025, 0.018, 0.0, 0.5, value(par, "free_travel"), 0.03)
    hose = value(par, "line_area") if kind == "ball and spring" and not direct else 3.0 * OPEN
    return Rig(signal_of(par, kind, direct), actuator_of(par, added), gate, AMBIENT, state, hose)


def sweep_up_and_down(rig: Rig, up_to: float) -> dict[str, float]:
    """First movement (0.2 mm), full travel, home again, largest travel; nan where it never was."""
    up = rig.ramp(0.0, up_to, rate=8e3)
    at = np.linspace(0.0, up_to, len(up))
    down = rig.ramp(up_to, 0.0, rate=8e3)
    falling = np.linspace(up_to, 0.0, len(down))
    travel = float(up[:, 0].max())
    stop = min(rig.actuator.stroke, rig.gate.free_travel)
    moved = np.flatnonzero(up[:, 0] > 2e-4)
    there = np.flatnonzero(up[:, 0] > stop - 1e-5)
    out = np.flatnonzero(down[:, 0] > 1e-6)
    return {
        "first_movement": float(at[moved[0]]) if len(moved) else np.nan,
        "full_travel": float(at[there[0]]) if len(there) else np.nan,
        "last_return": float(falling[out[-1]]) if len(moved) and len(out) < len(down) else np.nan,
        "travel": travel,
    }
