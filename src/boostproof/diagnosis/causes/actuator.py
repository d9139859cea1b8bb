"""Causes in the actuator: spring, diaphragm."""

from __future__ import annotations

from boostproof.diagnosis.causes.model import Cause, add, one, scale

CAUSES = (
    Cause(
        "spring-too-strong", 9, "Actuator spring too strong or preload too long",
        "Level but too high, also with the controller out.",
        "Correct spring, correct rod length.",
        3.5, "spring-up", one(scale("opening_pressure", 1.12, 1.9)), "opening_pressure",
        45.0, 60.0, direct_test="actuator-sweep",
    ),
    Cause(
        "diaphragm-leak", 12, "Actuator diaphragm leaks",
        "Boost high, more so the faster the flow past the leak; worse hot.",
        "New actuator.",
        4.5, "diaphragm", one(add("diaphragm_leak", 8.0e-8, 6.0e-6)), "diaphragm_leak",
        60.0, 140.0, direct_test="actuator-sweep",
    ),
    Cause(
        "spring-weak", 28, "Actuator spring weak or without preload",
        "Level but too low; a control unit hides part of it with more duty.",
        "Preload, spring, or actuator.",
        4.0, "spring-down", one(scale("opening_pressure", 0.90, 0.35)), "opening_pressure",
        45.0, 60.0, direct_test="actuator-sweep",
    ),
)  # fmt: skip
