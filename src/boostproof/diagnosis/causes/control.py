"""Causes in the engine control unit: target, duty, boost loop, protection."""

from __future__ import annotations

from boostproof.diagnosis.causes.model import Cause, add, closed_loop, one, scale, set_to
from boostproof.physics.change import Change

# a plate that is held back is a loss in the same place as the cooler's, and timing goes with it
_PLATE = (Change("cooler_loss", "scale", 5.0, 100.0, "log"), Change("ignition_retard", "add", 0.06, 0.25, "log"))
_CUT = (
    Change("target_shift", "add", -8.0e3, -7.0e4, "log"), Change("cooler_loss", "scale", 1.5, 20.0, "log"),
    Change("ignition_retard", "add", 0.06, 0.25, "log"),
)  # fmt: skip

CAUSES = (
    Cause(
        "target-table-wrong", 19, "Boost target of the control unit too high",
        "Level but too high, and the duty agrees with it.",
        "Put the target table right; keep the calibration as it came.",
        2.0, "target-up", one(add("target_shift", 8.0e3, 6.0e4)), "target_shift",
        40.0, 0.0, applies=closed_loop, direct_test="sensor-check",
    ),
    Cause(
        "duty-feedforward-high", 24, "Base duty too high, or integral part winds up",
        "Spike that grows in high gears; the duty falls late.",
        "Lower the base duty, hold the integral part while it cannot act.",
        1.5, "feed-forward",
        one(add("feed_forward", 0.08, 0.40), set_to("wind_up", 0.3, 1.0)), "feed_forward",
        60.0, 0.0, applies=closed_loop, direct_test="tip-in",
    ),
    Cause(
        "loop-gain-high", 25, "Gain of the boost loop too high",
        "A wave of 0.5 to 3 Hz on boost and duty.",
        "Retune the loop by engine speed.",
        1.2, "loop-gain", one(scale("loop_gain", 4.0, 25.0), scale("loop_integral", 3.0, 20.0)), "loop_gain",
        60.0, 0.0, applies=closed_loop, direct_test="tip-in",
    ),
    Cause(
        "ecu-protection", 51, "Control unit protects the engine",
        "Boost low or falling while plate, timing or target move.",
        "Read the fault memory, mend what it protects from.",
        1.5, "protection", one(*_PLATE), "cooler_loss",
        30.0, 20.0, direct_test="fault-memory-look",
        by_controller=dict.fromkeys(("solenoid 2-port", "solenoid 3-port", "solenoid 4-port"), one(*_CUT)),
    ),
)  # fmt: skip
