"""Causes in the signal line and the boost controller."""

from __future__ import annotations

from boostproof.diagnosis.causes.model import Cause, Fitted, add, one, scale, set_to, two_sided
from boostproof.physics.change import Change


def _ball(car: Fitted) -> bool:
    return car.controller == "ball and spring"


def _manual(car: Fitted) -> bool:
    return car.controller in ("ball and spring", "bleed valve")


def _solenoid(car: Fitted) -> bool:
    return car.solenoid


def _controlled(car: Fitted) -> bool:
    return car.controller != "none"



CAUSES = (
    Cause(
        "controller-set-high", 10, "Boost controller set too high",
        "Level but too high; right with the controller out.",
        "Reset and lock.",
        5.0, "controller-up", one(Change("offset", "add", 8.0e3, 9.0e4, "log")), "offset",
        10.0, 0.0, applies=_manual, direct_test="controller-sweep",
        by_controller={"bleed valve": one(scale("bleed_area", 1.3, 12.0))},
    ),
    Cause(
        "signal-line-open", 11, "Signal line off or split right through",
        "Boost runs away from the threshold on.",
        "New line and clips.",
        4.0, "line-open",
        ((0.6, (Change("line_leak", "set", 6.0e-6, 2.0e-5, "log"),)),
         (0.4, (Change("line_leak", "set", 6.0e-6, 2.0e-5, "log"), set_to("line_area", 1e-8)))),
        "line_leak", 15.0, 10.0, direct_test="cold-look",
    ),
    Cause(
        "signal-line-leak", 13, "Small leak in the signal line",
        "Boost high in proportion.",
        "Seal the line.",
        4.5, "line-leak", one(add("line_leak", 8.0e-8, 6.0e-6)), "line_leak",
        20.0, 10.0, direct_test="controller-sweep",
    ),
    Cause(
        "reference-after-cooler", 14, "Signal taken after the cooler or throttle",
        "High at the compressor by the cooler's loss, level at the manifold.",
        "Move the take-off or accept it.",
        2.5, "take-off", one(set_to("take_off", 1.0)), "take_off",
        30.0, 15.0, direct_test="cold-look",
    ),
    Cause(
        "solenoid-reversed", 15, "Solenoid plumbed backwards",
        "Duty acts the wrong way round or not at all.",
        "Replumb so that no power means lowest boost.",
        2.5, "solenoid-reversed", one(set_to("duty_reversed", 1.0)), "duty_reversed",
        20.0, 0.0, applies=_solenoid, direct_test="solenoid-check",
    ),
    Cause(
        "signal-line-restricted", 21, "Signal line narrow",
        "Overshoot at tip-in that settles; with a bleed below it, steady over-boost.",
        "Short 4 mm line, bigger restrictor.",
        3.0, "line-narrow", ((0.5, (scale("line_area", 0.35, 0.015),)),
         (0.5, (Change("hose_area", "set", 8.0e-7, 3.0e-8, "log"),))),
        "line_area",
        20.0, 10.0, direct_test="hose-flow",
    ),
    Cause(
        "controller-ball-sticky", 23, "Controller ball sticks",
        "Scatter from run to run; opens late.",
        "Clean or replace the controller.",
        2.5, "ball-late", one(Change("ball_stick", "set", 2.0e4, 2.5e5, "log")), "ball_stick",
        20.0, 50.0, applies=_ball, direct_test="controller-sweep",
    ),
    Cause(
        "controller-passing", 36, "Controller passes the signal through",
        "Boost low, near the level without the controller.",
        "Clean, reset or replace the controller.",
        2.5, "controller-down",
        ((1.0, (Change("offset", "scale", 0.75, 0.02, "log"), Change("duty_stuck", "set", 0.35, 1.0))),),
        "offset", 20.0, 60.0, applies=_controlled, direct_test="controller-sweep",
    ),
    Cause(
        "bleed-blocked", 41, "Controller bleed blocked or missing",
        "First pull right, the next slow and low: pressure stays trapped on the actuator.",
        "Open the bleed to size, fit a filter.",
        3.0, "bleed-shut", one(scale("bleed_area", 0.15, 1e-4)), "bleed_area",
        15.0, 5.0, applies=_manual, remembers=True, direct_test="controller-sweep",
    ),
    Cause(
        "vent-plugged", 42, "Controller vent plugged",
        "Boost low: the actuator cannot be vented.",
        "Clear the vent, route it upwards.",
        2.0, "vent-shut",
        ((1.0, (Change("vent_area", "scale", 0.4, 1e-3, "log"), Change("bleed_area", "scale", 0.15, 1e-4, "log"))),),
        "vent_area", 15.0, 5.0, applies=_solenoid, remembers=True, direct_test="solenoid-check",
    ),
    Cause(
        "solenoid-stuck", 45, "Solenoid stuck or dead",
        "Duty has no effect.",
        "New solenoid or wiring.",
        4.5, "solenoid-stuck",
        ((0.65, (Change("duty_stuck", "set", 0.6, 1.0), set_to("duty_stuck_at", 0.0))),
         (0.35, (Change("duty_stuck", "set", 0.6, 1.0), set_to("duty_stuck_at", 1.0)))),
        "duty_stuck", 30.0, 70.0, applies=_solenoid, direct_test="solenoid-check",
    ),
    Cause(
        "bleed-oversize", 46, "Bleed hole too large",
        "Boost high in proportion; hiss at every setting.",
        "Correct bleed.",
        2.5, "bleed-open", one(scale("bleed_area", 1.5, 22.0)), "bleed_area",
        15.0, 5.0, applies=_ball, direct_test="controller-vent",
    ),
    Cause(
        "controller-ball-stuck-shut", 47, "Controller ball stuck shut",
        "No signal at any setting; boost runs away.",
        "Clean or replace the controller.",
        2.5, "ball-shut", one(set_to("ball_stick", 6.0e5), set_to("line_area", 1e-9)), "ball_stick",
        20.0, 50.0, applies=_ball, direct_test="controller-vent",
    ),
    Cause(
        "line-blocked", 48, "Signal line blocked or kinked",
        "Boost runs away; nothing arrives at the actuator.",
        "Clear or replace the line.",
        3.0, "line-blocked", ((0.5, (scale("line_area", 0.03, 3e-4),)),
         (0.5, (Change("hose_area", "set", 6.0e-8, 6.0e-10, "log"),))),
        "line_area",
        20.0, 10.0, direct_test="hose-flow",
    ),
    Cause(
        "actuator-ports-swapped", 49, "Hose on the spring side of the actuator",
        "Boost runs away: pressure holds the gate shut.",
        "Hose to the port that opens the gate, the other one vented.",
        0.8, "ports-swapped", one(set_to("ports_swapped", 1.0)), "ports_swapped",
        15.0, 0.0, applies=two_sided, direct_test="cold-look",
    ),
    Cause(
        "controller-reversed", 50, "Boost controller the wrong way round in the line",
        "Boost runs away: the ball shuts against the signal, the bleed hisses at the inlet.",
        "Turn it round.",
        0.8, "controller-reversed",
        # the bleed stands before the ball: it hisses, while the hose behind gets next to nothing
        one(set_to("offset", 0.0), Change("hose_area", "set", 3.0e-9, 1.0e-10, "log")),
        "hose_area", 15.0, 0.0, applies=_ball, direct_test="cold-look",
    ),
)  # fmt: skip
