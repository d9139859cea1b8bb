"""How likely a statement of the customer is under every cause: the one table behind `history`.

Every number here is common practice, no source: a judgement of the trade, not a count of cars. Numbers are
chances from 0 to 1. Causes are sorted into classes by how such a fault comes about; what is said of its
beginning goes by class, what is said of heat, weather, standing and parts goes by cause.
"""

from __future__ import annotations

from collections.abc import Mapping

STATUS = "common practice, no source"

Chances = Mapping[str, float]

HEALTHY = "healthy"
NONE_OF_THESE = "none-of-these"

# How a fault comes about.
CLASSES: dict[str, str] = {
    "wear": "worn with use",
    "fitting": "fitted or set wrongly",
    "blocked": "dirt, rust or water",
    "broken": "broke or came off",
    "mismatch": "parts that do not match",
    "electronics": "electrical, sensor or control unit",
}

# Shares of the classes among cars with each cause.
SHARES: dict[str, Chances] = {
    "port-too-small": {"mismatch": 0.9, "fitting": 0.1},
    "gate-travel-limited": {"fitting": 0.5, "mismatch": 0.3, "wear": 0.1, "blocked": 0.1},
    "port-entry-poor": {"fitting": 0.5, "mismatch": 0.5},
    "exhaust-freed": {"mismatch": 1.0},
    "engine-outgrew-gate": {"mismatch": 1.0},
    "dump-pipe-poor": {"mismatch": 0.6, "fitting": 0.4},
    "spring-droop": {"mismatch": 0.7, "fitting": 0.3},
    "twin-gates-unequal": {"wear": 0.4, "fitting": 0.4, "blocked": 0.1, "broken": 0.1},
    "spring-too-strong": {"fitting": 0.6, "mismatch": 0.4},
    "controller-set-high": {"fitting": 0.8, "wear": 0.2},
    "signal-line-open": {"broken": 0.5, "fitting": 0.5},
    "diaphragm-leak": {"wear": 0.5, "broken": 0.5},
    "signal-line-leak": {"wear": 0.5, "fitting": 0.3, "broken": 0.2},
    "reference-after-cooler": {"fitting": 0.6, "mismatch": 0.4},
    "solenoid-reversed": {"fitting": 1.0},
    "upper-chamber-trapped": {"blocked": 0.6, "fitting": 0.4},
    "gate-seized-shut": {"blocked": 0.6, "wear": 0.2, "broken": 0.2},
    "rod-detached": {"broken": 0.7, "fitting": 0.3},
    "target-table-wrong": {"fitting": 0.8, "electronics": 0.2},
    "sensor-scale-wrong": {"electronics": 0.6, "fitting": 0.3, "blocked": 0.1},
    "signal-line-restricted": {"fitting": 0.4, "blocked": 0.3, "mismatch": 0.3},
    "actuator-stiction": {"wear": 0.6, "blocked": 0.3, "fitting": 0.1},
    "controller-ball-sticky": {"blocked": 0.5, "wear": 0.5},
    "duty-feedforward-high": {"fitting": 0.7, "mismatch": 0.3},
    "loop-gain-high": {"fitting": 0.7, "mismatch": 0.3},
    "compressor-surge": {"mismatch": 0.9, "fitting": 0.1},
    "gate-flutter": {"wear": 0.5, "fitting": 0.3, "mismatch": 0.2},
    "spring-weak": {"wear": 0.6, "fitting": 0.4},
    "gate-not-seating": {"wear": 0.7, "fitting": 0.2, "blocked": 0.1},
    "charge-leak": {"broken": 0.4, "fitting": 0.35, "wear": 0.25},
    "recirculation-valve-leak": {"wear": 0.6, "broken": 0.25, "fitting": 0.15},
    "exhaust-leak-upstream": {"wear": 0.35, "broken": 0.35, "fitting": 0.3},
    "inlet-restricted": {"blocked": 0.8, "fitting": 0.2},
    "exhaust-restricted": {"blocked": 0.5, "broken": 0.3, "mismatch": 0.2},
    "turbo-worn": {"wear": 0.7, "broken": 0.3},
    "controller-passing": {"wear": 0.3, "fitting": 0.3, "blocked": 0.2, "electronics": 0.2},
    "exhaust-energy-low": {"fitting": 0.5, "wear": 0.3, "mismatch": 0.2},
    "gate-blown-open": {"mismatch": 0.7, "wear": 0.3},
    "compressor-choked": {"mismatch": 1.0},
    "cooler-restricted": {"blocked": 0.5, "mismatch": 0.4, "broken": 0.1},
    "bleed-blocked": {"blocked": 0.7, "fitting": 0.3},
    "vent-plugged": {"blocked": 0.8, "fitting": 0.2},
    "gate-stuck-open": {"blocked": 0.5, "broken": 0.3, "wear": 0.2},
    "return-weak": {"wear": 0.5, "fitting": 0.3, "blocked": 0.2},
    "solenoid-stuck": {"electronics": 0.6, "blocked": 0.4},
    "bleed-oversize": {"fitting": 0.7, "mismatch": 0.3},
    "controller-ball-stuck-shut": {"blocked": 0.7, "broken": 0.3},
    "line-blocked": {"blocked": 0.5, "fitting": 0.5},
    "actuator-ports-swapped": {"fitting": 1.0},
    "controller-reversed": {"fitting": 1.0},
    "ecu-protection": {"electronics": 0.6, "wear": 0.2, "fitting": 0.2},
    "misfire-under-boost": {"wear": 0.7, "electronics": 0.2, "fitting": 0.1},
    "engine-breathes-badly": {"wear": 0.6, "fitting": 0.4},
    "gate-mounted-reversed": {"fitting": 1.0},
    "gate-debris": {"broken": 0.6, "fitting": 0.4},
    "hot-binding": {"wear": 0.8, "fitting": 0.2},
}

# P(how it started | class); "healthy" is a sound car whose owner complains.
STARTED: dict[str, Chances] = {
    "wear": {"suddenly": 0.10, "grew": 0.70, "after work": 0.12, "from first start": 0.08},
    "fitting": {"suddenly": 0.05, "grew": 0.03, "after work": 0.62, "from first start": 0.30},
    "blocked": {"suddenly": 0.25, "grew": 0.50, "after work": 0.17, "from first start": 0.08},
    "broken": {"suddenly": 0.70, "grew": 0.10, "after work": 0.15, "from first start": 0.05},
    "mismatch": {"suddenly": 0.03, "grew": 0.07, "after work": 0.50, "from first start": 0.40},
    "electronics": {"suddenly": 0.50, "grew": 0.15, "after work": 0.22, "from first start": 0.13},
    HEALTHY: {"suddenly": 0.15, "grew": 0.20, "after work": 0.30, "from first start": 0.35},
}

# P(boost was right before, with the parts of today | class)
EVER_RIGHT: Chances = {
    "wear": 0.92, "fitting": 0.35, "blocked": 0.90, "broken": 0.95, "mismatch": 0.20, "electronics": 0.85,
    HEALTHY: 0.55,
}  # fmt: skip

# P(it shows only then | cause): the usual chance, then the causes that differ.
USUALLY = "usually"
# These act in the same way at all times, so that "only when" is half as likely to be said of them.
ALWAYS_THERE = (
    "actuator-ports-swapped", "controller-reversed", "solenoid-reversed", "gate-mounted-reversed",
    "reference-after-cooler", "signal-line-open", "rod-detached", "gate-stuck-open", "bleed-oversize",
)  # fmt: skip
_MORE_FLOW = ("port-too-small", "port-entry-poor", "exhaust-freed", "engine-outgrew-gate", "dump-pipe-poor")
ONLY_WHEN: dict[str, Chances] = {
    "hot": {
        USUALLY: 0.05, "hot-binding": 0.40, "upper-chamber-trapped": 0.24, "diaphragm-leak": 0.22,
        "ecu-protection": 0.20, "solenoid-stuck": 0.16, "actuator-stiction": 0.12, "cooler-restricted": 0.12,
        "gate-not-seating": 0.08, "misfire-under-boost": 0.09, "controller-ball-sticky": 0.07,
        "exhaust-leak-upstream": 0.03,
    },
    "cold": {
        USUALLY: 0.05, **dict.fromkeys(_MORE_FLOW, 0.13), "gate-travel-limited": 0.10,
        "exhaust-leak-upstream": 0.22, "actuator-stiction": 0.12, "ecu-protection": 0.12, "vent-plugged": 0.10,
        "controller-ball-sticky": 0.09, "charge-leak": 0.07, "hot-binding": 0.01, "upper-chamber-trapped": 0.03,
        "cooler-restricted": 0.02,
    },
    "first pull": {
        USUALLY: 0.04, "actuator-stiction": 0.20, "controller-ball-sticky": 0.18, "exhaust-leak-upstream": 0.09,
        "gate-seized-shut": 0.06, "hot-binding": 0.01, "bleed-blocked": 0.01, "vent-plugged": 0.02,
        "upper-chamber-trapped": 0.01, "return-weak": 0.01, "cooler-restricted": 0.01,
    },
    "later pulls": {
        USUALLY: 0.04, "hot-binding": 0.36, "bleed-blocked": 0.32, "vent-plugged": 0.26,
        "upper-chamber-trapped": 0.28, "return-weak": 0.24, "cooler-restricted": 0.16, "ecu-protection": 0.16,
        "diaphragm-leak": 0.10, "solenoid-stuck": 0.08, "actuator-stiction": 0.07, "misfire-under-boost": 0.05,
    },
    "top gear": {
        USUALLY: 0.05, **dict.fromkeys(_MORE_FLOW, 0.12), "duty-feedforward-high": 0.30,
        "misfire-under-boost": 0.18, "ecu-protection": 0.16, "compressor-choked": 0.13, "cooler-restricted": 0.13,
        "gate-blown-open": 0.11, "loop-gain-high": 0.09, "charge-leak": 0.09, "recirculation-valve-leak": 0.09,
        "exhaust-restricted": 0.09, "gate-travel-limited": 0.08,
    },
    "wet": {
        USUALLY: 0.025, "misfire-under-boost": 0.20, "inlet-restricted": 0.16, "vent-plugged": 0.16,
        "solenoid-stuck": 0.13, "upper-chamber-trapped": 0.12, "sensor-scale-wrong": 0.09, "line-blocked": 0.08,
        "ecu-protection": 0.07, "signal-line-restricted": 0.06, "bleed-blocked": 0.05,
    },
    "frost": {
        USUALLY: 0.02, "vent-plugged": 0.25, "line-blocked": 0.17, "upper-chamber-trapped": 0.17,
        "signal-line-restricted": 0.11, "bleed-blocked": 0.11, "solenoid-stuck": 0.09,
        "controller-ball-stuck-shut": 0.08, "controller-ball-sticky": 0.08, "actuator-stiction": 0.05,
        "sensor-scale-wrong": 0.04, **dict.fromkeys(_MORE_FLOW, 0.03), "hot-binding": 0.005,
    },
}  # fmt: skip
# Said together they are largely one thing said twice.
SAID_TOGETHER = (("hot", "later pulls"), ("cold", "first pull", "wet", "frost"))

# P(that the car stood unused is told | cause)
STOOD: Chances = {
    USUALLY: 0.04, "gate-seized-shut": 0.26, "gate-stuck-open": 0.20, "controller-ball-stuck-shut": 0.18,
    "actuator-stiction": 0.17, "line-blocked": 0.16, "controller-ball-sticky": 0.14, "vent-plugged": 0.14,
    "solenoid-stuck": 0.13, "bleed-blocked": 0.11, "diaphragm-leak": 0.11, "twin-gates-unequal": 0.10,
    "signal-line-open": 0.10, "signal-line-leak": 0.10, "exhaust-energy-low": 0.09, "misfire-under-boost": 0.09,
    "recirculation-valve-leak": 0.08, "return-weak": 0.08, "upper-chamber-trapped": 0.08, "inlet-restricted": 0.07,
    "hot-binding": 0.06, "charge-leak": 0.06, "turbo-worn": 0.05, "exhaust-freed": 0.02,
    "engine-outgrew-gate": 0.02,
}  # fmt: skip

# P(this part was changed, and the fault came with it or after it | cause). All others: chance alone.
BY_CHANCE = 0.05
BROUGHT: dict[str, Chances] = {
    "exhaust": {
        "exhaust-freed": 0.45, "dump-pipe-poor": 0.20, "exhaust-restricted": 0.15, "exhaust-leak-upstream": 0.15,
        "gate-travel-limited": 0.15, "rod-detached": 0.08,
    },
    "catalyst": {
        "exhaust-freed": 0.40, "exhaust-restricted": 0.18, "ecu-protection": 0.10, "exhaust-leak-upstream": 0.08,
    },
    "turbo": {
        "compressor-surge": 0.30, "port-too-small": 0.25, "port-entry-poor": 0.25, "compressor-choked": 0.25,
        "gate-travel-limited": 0.20, "gate-blown-open": 0.20, "spring-droop": 0.15, "spring-too-strong": 0.15,
        "actuator-ports-swapped": 0.15, "exhaust-leak-upstream": 0.15, "twin-gates-unequal": 0.15,
        "spring-weak": 0.12, "gate-not-seating": 0.12, "reference-after-cooler": 0.12, "signal-line-open": 0.12,
        "charge-leak": 0.12, "gate-debris": 0.12, "rod-detached": 0.10, "return-weak": 0.10,
        "signal-line-leak": 0.08, "signal-line-restricted": 0.08, "line-blocked": 0.08,
        "upper-chamber-trapped": 0.08, "turbo-worn": 0.06,
    },
    "gate": {
        "gate-mounted-reversed": 0.45, "dump-pipe-poor": 0.30, "actuator-ports-swapped": 0.30,
        "port-entry-poor": 0.25, "spring-too-strong": 0.25, "twin-gates-unequal": 0.25, "port-too-small": 0.20,
        "spring-droop": 0.20, "gate-travel-limited": 0.18, "spring-weak": 0.15, "upper-chamber-trapped": 0.15,
        "gate-blown-open": 0.15, "gate-debris": 0.15, "signal-line-open": 0.12, "gate-flutter": 0.12,
        "rod-detached": 0.12, "gate-not-seating": 0.10, "return-weak": 0.10, "exhaust-leak-upstream": 0.10,
    },
    "spring": {
        "spring-too-strong": 0.40, "spring-droop": 0.35, "spring-weak": 0.28, "gate-blown-open": 0.15,
        "return-weak": 0.15, "gate-flutter": 0.12, "gate-not-seating": 0.12, "gate-travel-limited": 0.12,
        "rod-detached": 0.12, "actuator-ports-swapped": 0.12, "signal-line-open": 0.10, "diaphragm-leak": 0.08,
        "twin-gates-unequal": 0.15,
    },
    "controller": {
        "controller-reversed": 0.45, "solenoid-reversed": 0.40, "controller-set-high": 0.30,
        "bleed-oversize": 0.25, "signal-line-restricted": 0.20, "actuator-ports-swapped": 0.20,
        "controller-passing": 0.15, "bleed-blocked": 0.15, "signal-line-open": 0.15,
        "reference-after-cooler": 0.15, "duty-feedforward-high": 0.15, "loop-gain-high": 0.15,
        "signal-line-leak": 0.12, "line-blocked": 0.12, "upper-chamber-trapped": 0.10, "solenoid-stuck": 0.08,
        "vent-plugged": 0.08,
    },
    "setting": {
        "controller-set-high": 0.45, "controller-passing": 0.20, "spring-too-strong": 0.15, "spring-weak": 0.12,
        "bleed-oversize": 0.10, "gate-not-seating": 0.08, "duty-feedforward-high": 0.10, "loop-gain-high": 0.10,
    },
    "hoses": {
        "actuator-ports-swapped": 0.40, "controller-reversed": 0.30, "reference-after-cooler": 0.30,
        "signal-line-open": 0.25, "signal-line-restricted": 0.25, "line-blocked": 0.25, "solenoid-reversed": 0.25,
        "signal-line-leak": 0.20, "charge-leak": 0.20, "upper-chamber-trapped": 0.12,
        "recirculation-valve-leak": 0.08, "inlet-restricted": 0.08,
    },
    "engine": {
        "engine-outgrew-gate": 0.45, "engine-breathes-badly": 0.30, "exhaust-energy-low": 0.20,
        "compressor-choked": 0.15, "misfire-under-boost": 0.12, "exhaust-leak-upstream": 0.10,
        "charge-leak": 0.10, "signal-line-open": 0.08,
    },
    "software": {
        "target-table-wrong": 0.40, "duty-feedforward-high": 0.35, "loop-gain-high": 0.35,
        "exhaust-energy-low": 0.20, "ecu-protection": 0.18, "sensor-scale-wrong": 0.15, "compressor-surge": 0.12,
        "compressor-choked": 0.12, "misfire-under-boost": 0.08,
    },
    "target": {
        "engine-outgrew-gate": 0.25, "target-table-wrong": 0.25, "compressor-choked": 0.25,
        "compressor-surge": 0.15, "gate-blown-open": 0.15, "duty-feedforward-high": 0.15, "port-too-small": 0.12,
        "loop-gain-high": 0.12, "ecu-protection": 0.12, "misfire-under-boost": 0.12, "controller-set-high": 0.10,
    },
    "fuel": {"exhaust-energy-low": 0.25, "ecu-protection": 0.25, "misfire-under-boost": 0.20},
    "intake": {
        "inlet-restricted": 0.30, "charge-leak": 0.15, "recirculation-valve-leak": 0.12, "sensor-scale-wrong": 0.08,
        "compressor-surge": 0.08, "engine-outgrew-gate": 0.08, "reference-after-cooler": 0.08,
        "signal-line-open": 0.08,
    },
    "cooler": {
        "cooler-restricted": 0.35, "charge-leak": 0.30, "reference-after-cooler": 0.20, "signal-line-open": 0.12,
        "signal-line-leak": 0.08, "recirculation-valve-leak": 0.08,
    },
    "sensor": {"sensor-scale-wrong": 0.45, "ecu-protection": 0.12, "target-table-wrong": 0.12, "loop-gain-high": 0.08},
    "pipes off for other work": {
        "signal-line-open": 0.35, "charge-leak": 0.30, "actuator-ports-swapped": 0.25, "solenoid-reversed": 0.25,
        "controller-reversed": 0.20, "line-blocked": 0.20, "signal-line-leak": 0.18, "inlet-restricted": 0.12,
        "signal-line-restricted": 0.12, "reference-after-cooler": 0.12, "recirculation-valve-leak": 0.10,
        "upper-chamber-trapped": 0.10, "solenoid-stuck": 0.10, "exhaust-leak-upstream": 0.08,
        "rod-detached": 0.08, "sensor-scale-wrong": 0.08,
    },
}  # fmt: skip
HEALTHY_AFTER_WORK = 0.08  # an owner listens to the car after work
# A fault that was there before the change was not brought by it; this much of the chance always remains,
# for a fault that the work replaced by another of its kind.
BEFORE_LEAST = 0.2

# Share of the cars with a cause that a sound part in this place makes right.
RENEWED: dict[str, Chances] = {
    "exhaust": {
        "exhaust-restricted": 0.9, "exhaust-freed": 0.6, "dump-pipe-poor": 0.5, "exhaust-leak-upstream": 0.2,
        "gate-travel-limited": 0.15,
    },
    "catalyst": {"exhaust-restricted": 0.6, "exhaust-freed": 0.2},
    "turbo": {
        "turbo-worn": 1.0, "gate-seized-shut": 0.8, "gate-not-seating": 0.8, "gate-stuck-open": 0.8,
        "gate-debris": 0.8, "hot-binding": 0.8, "gate-flutter": 0.5, "actuator-stiction": 0.5,
        "port-entry-poor": 0.5, "gate-travel-limited": 0.4, "port-too-small": 0.4, "compressor-choked": 0.4,
        "compressor-surge": 0.4, "exhaust-leak-upstream": 0.3, "twin-gates-unequal": 0.3,
    },
    "gate": {
        "gate-seized-shut": 0.95, "gate-not-seating": 0.95, "gate-stuck-open": 0.95, "gate-debris": 0.95,
        "hot-binding": 0.9, "actuator-stiction": 0.7, "gate-flutter": 0.6, "spring-too-strong": 0.5,
        "spring-weak": 0.5, "diaphragm-leak": 0.5, "return-weak": 0.5, "gate-travel-limited": 0.5,
        "twin-gates-unequal": 0.4, "spring-droop": 0.4, "rod-detached": 0.4, "port-entry-poor": 0.3,
        "gate-mounted-reversed": 0.3, "port-too-small": 0.2, "gate-blown-open": 0.2, "upper-chamber-trapped": 0.2,
    },
    "spring": {
        "spring-too-strong": 0.9, "spring-weak": 0.9, "spring-droop": 0.8, "return-weak": 0.5,
        "gate-flutter": 0.4, "gate-blown-open": 0.3,
    },
    "actuator": {
        "diaphragm-leak": 1.0, "spring-too-strong": 0.9, "spring-weak": 0.9, "spring-droop": 0.7,
        "return-weak": 0.7, "upper-chamber-trapped": 0.6, "actuator-stiction": 0.5, "gate-flutter": 0.4,
        "rod-detached": 0.4, "twin-gates-unequal": 0.3, "gate-travel-limited": 0.25, "gate-blown-open": 0.2,
        "actuator-ports-swapped": 0.2,
    },
    "controller": {
        "controller-ball-sticky": 1.0, "controller-ball-stuck-shut": 1.0, "controller-passing": 0.95,
        "controller-set-high": 0.9, "bleed-oversize": 0.9, "bleed-blocked": 0.9, "vent-plugged": 0.9,
        "solenoid-stuck": 0.85, "controller-reversed": 0.15, "solenoid-reversed": 0.1,
    },
    "setting": {
        "controller-set-high": 0.95, "controller-passing": 0.4, "spring-too-strong": 0.2, "spring-weak": 0.2,
    },
    "hoses": {
        "signal-line-open": 0.9, "signal-line-leak": 0.9, "line-blocked": 0.9, "signal-line-restricted": 0.85,
        "charge-leak": 0.4, "actuator-ports-swapped": 0.15, "solenoid-reversed": 0.15, "controller-reversed": 0.15,
        "vent-plugged": 0.2,
    },
    "engine": {"engine-breathes-badly": 0.8, "exhaust-energy-low": 0.3, "misfire-under-boost": 0.2},
    "software": {
        "target-table-wrong": 0.9, "duty-feedforward-high": 0.9, "loop-gain-high": 0.9, "ecu-protection": 0.4,
        "exhaust-energy-low": 0.4, "sensor-scale-wrong": 0.2,
    },
    "target": {"target-table-wrong": 0.7, "compressor-choked": 0.5, "compressor-surge": 0.4},
    "fuel": {"exhaust-energy-low": 0.4, "ecu-protection": 0.4, "misfire-under-boost": 0.3},
    "intake": {"inlet-restricted": 0.9, "charge-leak": 0.2},
    "cooler": {"cooler-restricted": 0.9, "charge-leak": 0.4},
    "sensor": {"sensor-scale-wrong": 0.85, "ecu-protection": 0.2},
    "pipes off for other work": {"charge-leak": 0.4, "signal-line-open": 0.3},
    "recirculation valve": {"recirculation-valve-leak": 0.95},
    "ignition": {"misfire-under-boost": 0.8},
}  # fmt: skip
# Renewed with an internal gate's turbo alone: an external gate stays on the car.
WITH_THE_TURBO_ONLY_IF_INTERNAL = (
    "gate-seized-shut", "gate-not-seating", "gate-stuck-open", "gate-debris", "hot-binding", "gate-flutter",
    "actuator-stiction", "port-entry-poor", "gate-travel-limited", "port-too-small", "twin-gates-unequal",
)  # fmt: skip

# P(result | the fault is not in the part that was put in)
ELSEWHERE: Chances = {"cured": 0.03, "better": 0.10, "no change": 0.75, "worse": 0.06, "new fault": 0.06}
# P(result | it was in that part, and the part put in is sound)
MENDED: Chances = {"cured": 0.66, "better": 0.22, "no change": 0.0, "worse": 0.06, "new fault": 0.06}
# P(result | one of two faults was in that part)
HALF_MENDED: Chances = {"cured": 0.06, "better": 0.47, "no change": 0.35, "worse": 0.06, "new fault": 0.06}
# Chance that the part put in has the same fault again.
WRONG_AGAIN: Chances = {"new": 0.12, "known good": 0.06, "used": 0.30}

# Chance that a statement is so; otherwise it tells nothing.
TRUST: Chances = {"own job sheet": 0.95, "other shop": 0.80, "customer": 0.60}
TRUST_TRIED = 0.85
TRUST_TRIED_RECORDED = 0.95  # recordings from before and after it stand in the case

# Words in a free text that name a part, looked for in this order.
WORDS: tuple[tuple[str, str], ...] = (
    ("recirculation", "recirculation valve"), ("blow-off", "recirculation valve"), ("bypass", "recirculation valve"),
    ("spring", "spring"), ("actuator", "actuator"), ("diaphragm", "actuator"), ("setting", "setting"),
    ("solenoid", "controller"), ("controller", "controller"), ("boost valve", "controller"), ("bleed valve", "controller"),
    ("hose", "hoses"), ("signal line", "hoses"), ("clip", "hoses"),
    ("plug", "ignition"), ("coil", "ignition"), ("ignition", "ignition"),
    ("cooler", "cooler"), ("sensor", "sensor"), ("filter", "intake"), ("catalyst", "catalyst"),
    ("downpipe", "exhaust"), ("exhaust", "exhaust"), ("gate", "gate"), ("turbo", "turbo"),
    ("software", "software"), ("fuel", "fuel"),
)  # fmt: skip
