"""Causes in the actuator: spring, diaphragm."""

from __future__ import annotations

from boostproof.diagnosis.causes.model import Cause, add, one, scale, two_sided
from boostproof.physics.change import Change

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
    Cause(
        "spring-droop", 7, "Actuator spring too stiff or diaphragm too small",
        "Boost rises gently and straight from the threshold on, without a knee.",
        "Softer, longer spring with more preload, larger actuator, or closed-loop duty.",
        2.0, "spring-stiff", one(scale("spring_rate", 1.6, 5.0)), "spring_rate",
        60.0, 120.0, direct_test="actuator-sweep",
    ),
    Cause(
        "upper-chamber-trapped", 16, "Air trapped on the spring side of the actuator",
        "Boost high and drifting up while the pressure there builds.",
        "Clear the vent, route it away from heat and water.",
        1.0, "upper-trapped",
        # the vent passes less and less, and what seeps past the diaphragm stays
        one(scale("upper_vent", 1e-3, 1e-6), Change("diaphragm_leak", "add", 5.0e-9, 3.0e-7, "log")), "upper_vent",
        20.0, 10.0, applies=two_sided, remembers=True, direct_test="cold-look",
    ),
    Cause(
        "return-weak", 44, "Gate does not come home: weak return, rod binding open",
        "The pressure at which the gate shuts lies far below that at which it opened; the second pull is late.",
        "Align the rod, new spring or bush.",
        1.0, "return",
        # more friction on the way home alone: opening pressure and friction add to the same first movement
        one(Change("friction", "add", 6.0e3, 4.0e4, "log"), Change("opening_pressure", "add", -6.0e3, -4.0e4, "log")),
        "friction", 60.0, 60.0, direct_test="actuator-sweep",
    ),
)  # fmt: skip
