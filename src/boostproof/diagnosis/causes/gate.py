"""Causes at the gate: port, travel, seat, motion."""

from __future__ import annotations

from boostproof.diagnosis.causes.model import Cause, add, one, scale, set_to
from boostproof.physics.change import Change


def _external(controller: str, external: bool) -> bool:
    return external


CAUSES = (
    Cause(
        "port-too-small", 1, "Gate port too small for this engine and target",
        "Boost levels at first, then climbs with rpm once the gate is wide open.",
        "Bigger port and flapper, or an external gate; then a pull with the gate held open.",
        5.0, "port-size", one(scale("port_diameter", 0.86, 0.50)), "port_diameter",
        240.0, 250.0, direct_test="port-measure",
    ),
    Cause(
        "gate-travel-limited", 2, "Gate cannot open far enough",
        "As a small port, but the knee comes earlier; the signal rises without more travel.",
        "Clear what the arm or flapper meets, clock the actuator, longer stroke.",
        4.0, "gate-travel", one(Change("free_travel", "share", 0.75, 0.10, "log", other="gate_travel")),
        "free_travel", 90.0, 40.0, direct_test="free-travel",
    ),
    Cause(
        "port-entry-poor", 3, "Poor way into the gate port",
        "As a small port although the bore measures right.",
        "Blend the entry, recut the gasket.",
        1.5, "gate-flow", one(scale("gate_flow", 0.80, 0.35)), "gate_flow",
        180.0, 60.0, direct_test="port-measure",
    ),
    Cause(
        "dump-pipe-poor", 6, "Dump pipe of the gate too tight",
        "As a small port; pressure rises behind the gate.",
        "Larger dump pipe, rejoin further down at a shallow angle.",
        1.0, "gate-flow", one(scale("gate_flow", 0.80, 0.35)), "gate_flow",
        180.0, 150.0, applies=_external, direct_test="floor-pull",
    ),
    Cause(
        "gate-seized-shut", 17, "Gate seized shut",
        "Boost runs away although the signal is right; the arm does not move.",
        "Free or replace flapper, bush or valve.",
        3.5, "friction", one(set_to("friction", 1.5e5, 2.0e6)), "friction",
        150.0, 120.0, direct_test="free-travel",
    ),
    Cause(
        "actuator-stiction", 22, "Gate or actuator sticks",
        "Spike, and a plateau that differs rising and falling.",
        "Align the rod, new bush or actuator.",
        3.0, "stiction", one(Change("friction", "set", 8.0e3, 1.2e5, "log")), "friction",
        90.0, 120.0, direct_test="actuator-sweep",
    ),
    Cause(
        "gate-not-seating", 29, "Gate does not close fully",
        "Boost comes late and is low at low rpm, nearly right higher up.",
        "Reface, new bush, rod length.",
        4.0, "gate-leak", one(add("gate_leak", 1.2e-5, 2.2e-4)), "gate_leak",
        150.0, 100.0, direct_test="seat-leak",
    ),
)  # fmt: skip
