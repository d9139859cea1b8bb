"""Causes in the engine: what it breathes, and what it leaves for the turbine."""

from __future__ import annotations

from boostproof.diagnosis.causes.model import Cause, Variants, add, one, scale

# A cylinder that does not burn gives neither torque nor heat.
_MISFIRE: Variants = one(scale("exhaust_temperature_base", 0.96, 0.72), scale("indicated_efficiency", 0.98, 0.75))
# Ignition too early, or too much fuel: torque stays about as it was, the heat for the turbine does not.
_ENERGY: Variants = (
    (0.5, (add("ignition_retard", -0.04, -0.26), scale("exhaust_temperature_base", 0.985, 0.88))),
    (0.5, (scale("mixture", 0.97, 0.84), scale("exhaust_temperature_base", 0.975, 0.80))),
)

CAUSES = (
    Cause(
        "exhaust-energy-low", 37, "Too little exhaust energy for the turbine",
        "Late spool, exhaust temperature off its norm.",
        "Timing, mixture and valve timing first.",
        1.0, "exhaust-energy", _ENERGY, "exhaust_temperature_base",
        90.0, 20.0,
    ),
    Cause(
        "misfire-under-boost", 52, "Misfire under boost",
        "Low and ragged, with lean spikes on the oxygen sensor.",
        "Plugs, gap, coils, fuel pressure.",
        1.2, "misfire", _MISFIRE, "indicated_efficiency",
        45.0, 60.0, direct_test="plugs-and-fuel",
    ),
    Cause(
        "engine-breathes-badly", 53, "Engine breathes badly: cam timing, compression",
        "Late, with little air flow for its boost.",
        "Cam timing, valves, rings.",
        1.0, "engine-breathing", one(scale("breathing", 0.93, 0.62)), "breathing",
        240.0, 300.0, direct_test="compression",
    ),
)  # fmt: skip
