"""Causes on the charge and exhaust side, in the turbo, the engine and the sensor."""

from __future__ import annotations

from boostproof.diagnosis.causes.model import Cause, add, one, scale, set_to
from boostproof.physics.change import Change

CAUSES = (
    Cause(
        "exhaust-freed", 4, "Exhaust made freer than the gate allows",
        "Creep that came with new exhaust parts.",
        "Larger port; never a restriction. Local law applies to exhaust changes.",
        2.0, "exhaust-freed", one(scale("exhaust_loss", 0.7, 0.2)), "exhaust_loss",
        240.0, 250.0, direct_test="exhaust-back-pressure",
    ),
    Cause(
        "engine-outgrew-gate", 5, "Engine flows more than the gate was made for",
        "Creep at the old hardware after engine work or with a lower target.",
        "Resize the gate.",
        2.0, "engine-flow", one(scale("breathing", 1.05, 1.30)), "breathing",
        240.0, 250.0, direct_test="floor-pull",
    ),
    Cause(
        "sensor-scale-wrong", 20, "Manifold sensor reads wrong",
        "Only one instrument shows it; inside a boost loop it moves the real boost.",
        "Replace or rescale the sensor.",
        4.0, "sensor",
        ((0.3, (Change("boost_gain", "scale", 1.03, 1.30),)),
         (0.3, (Change("boost_gain", "scale", 0.97, 0.75),)),
         (0.2, (Change("boost_offset", "add", 4e3, 4e4, "log"),)),
         (0.2, (Change("boost_offset", "add", -4e3, -4e4, "log"),))),
        "boost_gain", 20.0, 60.0, direct_test="sensor-check",
    ),
    Cause(
        "charge-leak", 30, "Charge pipe leaks after the compressor",
        "Later and lower boost; the turbo works harder.",
        "Seal the joint.",
        6.0, "charge-leak", one(add("charge_leak", 2.0e-5, 3.0e-4)), "charge_leak",
        40.0, 30.0, direct_test="intake-pressurise",
    ),
    Cause(
        "recirculation-valve-leak", 31, "Recirculation valve leaks under boost",
        "As a charge leak above its lift pressure.",
        "Valve or spring.",
        4.5, "bypass-leak", one(add("bypass_leak", 2.0e-5, 3.0e-4)), "bypass_leak",
        40.0, 90.0, direct_test="intake-pressurise",
    ),
    Cause(
        "exhaust-restricted", 34, "Exhaust restricted",
        "Slow spool, boost falls at high rpm; creep disappears.",
        "Clear it; then check the floor again.",
        4.5, "exhaust-tight", one(scale("exhaust_loss", 1.8, 20.0)), "exhaust_loss",
        90.0, 250.0, direct_test="exhaust-back-pressure",
    ),
    Cause(
        "turbo-worn", 35, "Turbo worn or damaged",
        "Late and low all over.",
        "Rebuild or match.",
        4.5, "turbo-worn",
        one(scale("compressor_work", 1.04, 1.35), scale("turbine_efficiency", 0.96, 0.72),
            scale("shaft_drag", 1.5, 12.0), set_to("turbo_wear", 0.3, 1.0)),
        "compressor_work", 240.0, 700.0, direct_test="shaft-check",
    ),
    Cause(
        "compressor-choked", 39, "Compressor at its flow limit",
        "Falls with rpm while the gate is shut.",
        "Smaller target or larger unit.",
        3.0, "compressor-small", one(scale("compressor_area", 0.85, 0.50)), "compressor_area",
        300.0, 900.0,
    ),
    Cause(
        "compressor-surge", 26, "Compressor surges at low rpm",
        "Flutter at 5 to 20 Hz where boost is high and flow low; a noisy air meter.",
        "Lower target at low rpm, or a wheel that fits; a recirculation valve for the lift-off.",
        0.7, "compressor-large", one(scale("compressor_area", 1.25, 2.4)), "compressor_area",
        120.0, 300.0,
    ),
    Cause(
        "exhaust-leak-upstream", 32, "Exhaust leaks before the turbine",
        "Late spool and a ticking noise; a false lean reading at idle and light load.",
        "Gasket, crack or flange.",
        2.5, "exhaust-leak", one(add("exhaust_leak", 1.5e-5, 2.8e-4)), "exhaust_leak",
        120.0, 60.0, direct_test="exhaust-smoke",
    ),
    Cause(
        "inlet-restricted", 33, "Air filter or inlet duct restricted",
        "Falls towards high rpm; the shaft turns faster for the same boost.",
        "Filter, duct.",
        1.5, "inlet-tight", one(Change("filter_loss", "add", 1.0e5, 9.0e5, "log")), "filter_loss",
        15.0, 40.0, direct_test="cold-look",
    ),
    Cause(
        "cooler-restricted", 40, "Charge cooler or duct restricted",
        "Boost at the manifold falls with rpm while the compressor's outlet is level.",
        "Larger or clean core.",
        1.2, "charge-tight", one(scale("cooler_loss", 2.5, 25.0)), "cooler_loss",
        120.0, 250.0,
    ),
)  # fmt: skip
