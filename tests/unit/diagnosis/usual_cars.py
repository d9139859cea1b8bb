"""Usual cars for signatures: two litres, one turbo, about 90 kPa, sound in every part (judgement)."""

from __future__ import annotations

import numpy as np
from tests.unit.diagnosis.signature_table import BALL, EDGE, EXTERNAL, LOOP, SMALL, TWIN

from boostproof.diagnosis.causes import Fitted
from boostproof.physics import layout
from boostproof.physics.hardware import CONTROLLERS, GATES, fitted

TARGET = 9.0e4  # Pa gauge
_USUAL = {
    "turbine_efficiency": 0.58, "compressor_work": 0.92, "turbine_area": 5.2e-4, "pulse_gain": -0.1,
    "shaft_inertia": 3.0e-5, "spring_rate": 2.2e6, "compressor_area": 1.3e-3, "exhaust_loss": 1.2e5,
}  # fmt: skip
_TUNED = {"closed_loop": 1.0, "spool_band": 4.0e4, "feed_forward": 0.40, "loop_gain": 2.0e-6, "loop_integral": 3.0e-6}
_KINDS = {
    LOOP: ("solenoid 3-port", "internal flapper", {"port_diameter": 0.0245, **_TUNED}),
    EDGE: ("solenoid 3-port", "internal flapper", {"port_diameter": 0.0215, **_TUNED, "compressor_area": 1.5e-3}),
    BALL: ("ball and spring", "internal flapper", {"port_diameter": 0.0245}),
    SMALL: ("ball and spring", "internal flapper", {"port_diameter": 0.031, "turbine_area": 3.4e-4}),
    EXTERNAL: ("solenoid 3-port", "external poppet", {"port_diameter": 0.030, "opening_pressure": 7.0e4, **_TUNED}),
    TWIN: ("solenoid 3-port", "twin gates", {"port_diameter": 0.0155, "other_gates": 0.0, **_TUNED}),
}
FITTED = {
    LOOP: Fitted("solenoid 3-port", closed_loop=True),
    EDGE: Fitted("solenoid 3-port", closed_loop=True),
    BALL: Fitted("ball and spring"),
    SMALL: Fitted("ball and spring"),
    EXTERNAL: Fitted("solenoid 3-port", external=True, closed_loop=True),
    TWIN: Fitted("solenoid 3-port", gates=2, closed_loop=True),
}


def usual_car(kind: str, count: int = 1) -> np.ndarray:
    """``count`` equal sound cars of a kind, (parameters, count)."""
    controller, gate, own = _KINDS[kind]
    par = np.array([[p.neutral] * count for p in layout.PARAMETERS])
    for settings in (CONTROLLERS[controller], GATES[gate], _USUAL, own):
        par = fitted(par, settings)
    return par
