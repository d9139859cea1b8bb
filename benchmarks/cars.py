"""Random cars of every kind, and the pull that they drive, for benchmarks and accuracy checks."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.physics import layout, system
from boostproof.physics.hardware import CONTROLLERS, GATES, fitted
from boostproof.physics.stepping import pull_steps

Floats = NDArray[np.floating[Any]]

PULL_SECONDS = 6.0
_SWITCHES = (
    "check", "solenoid", "interrupts", "closed_loop", "other_gates", "gate_count", "dump_apart", "ports_swapped",
    "duty_limit", "take_off", "leak_after_cooler", "bypass_recirculates", "air_metered", "pressure_metered",
    "seat_cosine", "seat_slope", "lever_arm", "duty_stuck", "duty_reversed",
)  # fmt: skip


def random_cars(n: int, *, seed: int = 1, spread: float = 0.1) -> tuple[Floats, list[str], list[str]]:
    """Cars of every kind of controller and gate, each number with a lognormal spread.

    Returns parameters (parameters, n) in float32, and the kinds of controller and gate of each car. Seven
    in ten of those with a solenoid run closed loop.
    """
    rng = np.random.default_rng(seed)
    low, high = np.array([(p.low, p.high) for p in layout.PARAMETERS]).T[:, :, None]
    par: Floats = np.array([[p.neutral] * n for p in layout.PARAMETERS])
    controllers, gates = list(CONTROLLERS), list(GATES)
    controller, gate = rng.integers(len(controllers), size=n), rng.integers(len(gates), size=n)
    for number, kind in enumerate(controllers):
        par = fitted(par, CONTROLLERS[kind], controller == number)
    for number, kind in enumerate(gates):
        par = fitted(par, GATES[kind], gate == number)
    solenoid = par[layout.INDEX["solenoid"]] > 0.0
    par[layout.INDEX["closed_loop"]] = solenoid & (rng.random(n) < 0.7)
    factors = np.exp(rng.normal(0.0, spread, par.shape))
    factors[[layout.INDEX[name] for name in _SWITCHES]] = 1.0
    par = np.clip(par * factors, low, high).astype(np.float32)
    return par, [controllers[i] for i in controller], [gates[i] for i in gate]


def pull(steps: Floats | None = None) -> tuple[Floats, Floats]:
    """Inputs in the middle of each step, and steps, of full load from 2,500 to 6,500 rpm in 6 s from a tip-in."""
    steps = pull_steps(PULL_SECONDS) if steps is None else steps
    t = np.cumsum(steps) - 0.5 * steps
    values = {
        "engine_speed": (2500 + 4000 * t / PULL_SECONDS) * np.pi / 30,
        "throttle": np.minimum(1.0, 0.2 + 8 * t),
        "target": 1.2e5,
        "logged_duty": 0.4,
        "ambient_pressure": 101_325.0,
        "ambient_temperature": 298.0,
        "gate_heat": 0.0,
    }
    return np.column_stack([np.broadcast_to(values[name], t.shape) for name in system.INPUTS]), steps
