"""What every cause should look like, as the trade reasons it, and where the simulation is believed instead.

The table is that of the project's physics notes, section 3.2: reasoned from force balance and flow, not
measured. A code is boost | duty | line | travel | exhaust ratio | after turbine | spool | return, each against
a sound car at the same engine speed; alternatives stand side by side, "." where the table says nothing.
Letters as `boostproof.diagnosis.catalogue.signature.letters`; "no effect" is "none", "l 2nd" is "2", "+ trapped"
is "trapped".
"""

from __future__ import annotations

from boostproof.diagnosis.catalogue.signature import QUANTITIES

LOOP, BALL = "closed loop", "ball and spring"
EDGE, SMALL = "closed loop, gate just large enough", "ball and spring, small turbine"
EXTERNAL, TWIN = "external gate, closed loop", "twin gates, closed loop"
BOTH = (LOOP, BALL)

TABLE: dict[str, tuple[str | tuple[str, ...], str]] = {
    "port-too-small": (LOOP, "K|0|+|M|+|=|=|="),
    "gate-travel-limited": (LOOP, "K|0|+|M|+|=|=|="),
    "port-entry-poor": (LOOP, "K|0|+|M|+|=|=|="),
    "exhaust-freed": (EDGE, "K|0|+|M|=|-|e|="),
    "engine-outgrew-gate": (EDGE, "K|0|+|M|+|+|=|="),
    "dump-pipe-poor": (EXTERNAL, "K|0|+|M|+|=|=|="),
    "spring-droop": (BOTH, "G|- 0|+|+|=|=|=|="),
    "twin-gates-unequal": (TWIN, "K G|0|+|M|+|=|=|="),
    "spring-too-strong": (LOOP, "H|0|+|=|=|=|e|="),
    "controller-set-high": (BALL, "H|n|-|=|=|=|e|="),
    "signal-line-open": (LOOP, "R|none|0|0|+|+|e|="),
    "diaphragm-leak": (LOOP, "H G|0|-|-|+|+|e|f"),
    "signal-line-leak": (LOOP, "H|0|-|=|=|=|e|f"),
    "reference-after-cooler": (BOTH, "H L|=|-|=|=|=|=|="),
    "solenoid-reversed": (LOOP, "H R|reversed|-|-|+|+|e|="),
    "upper-chamber-trapped": (EXTERNAL, "H|0|=|-|+|+|e|s"),
    "gate-seized-shut": (LOOP, "R|0|+|0|+|+|e|="),
    "rod-detached": (LOOP, "Lo R|0 1|=|0 +|+ -|=|l e|="),
    "target-table-wrong": (LOOP, "H|=|=|=|=|=|=|="),
    "sensor-scale-wrong": (LOOP, "H Lo|=|=|=|=|=|=|="),
    "signal-line-restricted": (LOOP, "S|=|late|late|=|=|=|s"),
    "actuator-stiction": (LOOP, "S|V|=|late|=|=|=|s"),
    "controller-ball-sticky": (BALL, "V|V|V|V|=|=|V|V"),
    "duty-feedforward-high": (LOOP, "S|late|late|late|=|=|e|="),
    "loop-gain-high": (LOOP, "O|O|O|O|O|=|=|="),
    "compressor-surge": (LOOP, "O|=|=|=|=|=|=|="),
    "gate-flutter": (LOOP, "L|+|=|leaks|=|=|l|="),
    "spring-weak": (BOTH, "Lo|1|-|=|-|-|=|="),
    "gate-not-seating": (LOOP, "Lo|1|=|leaks|-|=|l|="),
    "charge-leak": (LOOP, "Lo|1|-|-|+|=|l|f"),
    "recirculation-valve-leak": (LOOP, "Lo|1|-|-|+|=|l|f"),
    "exhaust-leak-upstream": (LOOP, "Lo|1|-|-|-|-|l|="),
    "inlet-restricted": (BOTH, "T|1|=|-|+|=|=|="),
    "exhaust-restricted": (BOTH, "T|1|=|-|+|+|l|="),
    "turbo-worn": (LOOP, "Lo|1|-|0|+|=|l|="),
    "controller-passing": (LOOP, "Lo|none|+|+|-|-|l|="),
    "exhaust-energy-low": (LOOP, "Lo|1|-|-|-|-|l|="),
    "gate-blown-open": ((LOOP, SMALL), "T|1|=|+|=|=|=|="),
    "compressor-choked": (LOOP, "T|1|=|0|+|=|=|="),
    "cooler-restricted": (BOTH, "T|1|=|=|+|=|=|="),
    "bleed-blocked": (BALL, "L Lo|1|trapped|+|-|=|2|n"),
    "vent-plugged": (LOOP, "L Lo|1|trapped|+|-|=|2|n"),
    "gate-stuck-open": (LOOP, "Lo|1|=|M|-|=|l|n"),
    "return-weak": (LOOP, "V|V|=|+|=|=|2|s"),
    "solenoid-stuck": (LOOP, "Lo R H|none|+ 0 -|+ 0 -|- +|- +|l e|="),
    "bleed-oversize": (BALL, "H|.|-|.|.|.|.|f"),
    "controller-ball-stuck-shut": (BALL, "R|.|0|0|.|.|.|."),
    "line-blocked": (LOOP, "R S H|.|.|.|.|.|.|."),
    "actuator-ports-swapped": (EXTERNAL, "R|.|.|0|.|.|.|."),
    "controller-reversed": (BALL, "R|.|.|.|.|.|.|."),
    "ecu-protection": (LOOP, "Lo T|.|.|.|.|.|.|."),
    "misfire-under-boost": (LOOP, "Lo|.|.|.|.|.|.|."),
    "engine-breathes-badly": (LOOP, ".|.|.|.|.|.|l|."),
    "gate-mounted-reversed": (EXTERNAL, "K G|.|.|.|.|.|.|."),
    "gate-debris": (LOOP, "Lo K|1|=|leaks|-|=|l|="),
    "hot-binding": (LOOP, "V|.|.|.|.|.|.|."),
}

REASONS: dict[str, str] = {
    "early": "The gate is shut during spool in any case; the threshold moves by less than 100 rpm.",
    "more exhaust": "More flow brings the turbine up earlier.",
    "more flow": "More boost is more flow, and the pressure after the turbine grows with its square.",
    "less flow": "Less boost is less flow, and the pressure after the turbine falls with its square.",
    "gives back": "The gate still has opening to give back: duty rises and the gate shuts further, but neither reaches "
                  "its end (the table's own note says so of these causes).",
    "as far as asked": "The loop takes away as much duty as the excess asks for; it need not reach zero.",
    "together": "Both pressures move together: their ratio changes by less than 4 %, or rises where the turbine has "
                "to work harder below the target.",
    "passed on": "A boost loop passes more or less of the boost on to the actuator, as its duty does; the table's "
                 "'=' is that of a car without a loop.",
    "more duty": "More boost needs a gate that opens less, and that takes more duty.",
    "same opening": "At a level that is held the gate must open as far as before; where boost climbs it opens less.",
    "met later": "At rest the gate stands where it stood; at a tip-in it begins to open later.",
    "blown open": "Nothing pushes from the line, but the exhaust pushes the gate part open.",
    "further home": "More boost and a gate at its stop have further to come home.",
    "opening vents": "The opening vents what little pressure arrives.",
    "wider way": "The solenoid's own way home is wider than the leak.",
    "vent leg": "With the legs swapped the actuator empties through the other, smaller one.",
    "nothing pulls": "Neither spring nor diaphragm pulls the gate home.",
    "pipe": "The charge pipe empties more slowly than the actuator: what it still holds decides. The bench shows it.",
    "scatter": "In the model the ball sticks by the same pressure every time: its level is there, the scatter is not.",
    "no unit": "There is no control unit behind this controller.",
    "between pulls": "The gate is not further open in the pull; it stays open between the pulls, and the second "
                     "one differs.",
    "from the start": "The valve cannot vent from the first pull on, so that this one is late already.",
}

OVERRULED: dict[str, dict[str, tuple[str, str]]] = {
    "port-too-small": {"after turbine": ("+", "more flow"), "return": ("s", "further home")},
    "port-entry-poor": {"after turbine": ("+", "more flow"), "return": ("s", "further home")},
    "exhaust-freed": {"duty": ("-", "as far as asked"), "spool": ("=", "early")},
    "engine-outgrew-gate": {"duty": ("-", "as far as asked"), "spool": ("e", "more exhaust")},
    "dump-pipe-poor": {"exhaust ratio": ("=", "together")},
    "spring-droop": {"travel": ("- =", "same opening")},
    "spring-too-strong": {"duty": ("-", "as far as asked"), "travel": ("late", "met later"), "spool": ("=", "early")},
    "controller-set-high": {"after turbine": ("+", "more flow"), "spool": ("=", "early")},
    "signal-line-open": {
        "travel": ("-", "blown open"), "spool": ("=", "early"), "return": ("f", "opening vents"),
    },
    "diaphragm-leak": {"exhaust ratio": ("=", "together"), "spool": ("=", "early"), "return": ("=", "wider way")},
    "signal-line-leak": {"spool": ("=", "early")},
    "solenoid-reversed": {"spool": ("=", "early"), "return": ("s", "vent leg")},
    "upper-chamber-trapped": {"line": ("+", "passed on"), "spool": ("=", "early")},
    "gate-seized-shut": {"spool": ("=", "early")},
    "rod-detached": {
        "line": ("-", "passed on"), "after turbine": ("-", "less flow"), "return": ("n", "nothing pulls"),
    },
    "target-table-wrong": {
        "duty": ("+", "more duty"), "line": ("-", "passed on"), "after turbine": ("+", "more flow"),
    },
    "sensor-scale-wrong": {"line": ("+ -", "passed on")},
    "actuator-stiction": {"line": ("+", "passed on")},
    "controller-ball-sticky": {
        "boost": ("H R", "scatter"), "duty": ("n", "no unit"), "line": ("-", "scatter"), "travel": ("-", "scatter"),
        "after turbine": ("+", "more flow"), "spool": ("=", "scatter"), "return": ("f", "scatter"),
    },
    "duty-feedforward-high": {"after turbine": ("+", "more flow"), "spool": ("=", "early")},
    "spring-weak": {"duty": ("+", "gives back"), "exhaust ratio": ("=", "together")},
    "gate-not-seating": {"duty": ("+", "gives back"), "exhaust ratio": ("+ =", "together")},
    "charge-leak": {"duty": ("+", "gives back")},
    "recirculation-valve-leak": {"duty": ("+", "gives back")},
    "exhaust-leak-upstream": {"exhaust ratio": ("+ =", "together")},
    "inlet-restricted": {"duty": ("+", "gives back")},
    "exhaust-restricted": {"duty": ("+", "gives back")},
    "controller-passing": {"exhaust ratio": ("=", "together"), "return": ("n s", "pipe")},
    "exhaust-energy-low": {"duty": ("+", "gives back"), "exhaust ratio": ("=", "together")},
    "gate-blown-open": {"line": ("-", "passed on")},
    "compressor-choked": {
        "duty": ("+", "gives back"), "line": ("-", "passed on"), "travel": ("-", "gives back"),
    },
    "cooler-restricted": {"duty": ("+", "gives back")},
    "bleed-blocked": {
        "duty": ("n", "no unit"), "travel": ("V", "between pulls"), "exhaust ratio": ("=", "together"),
    },
    "vent-plugged": {"exhaust ratio": ("=", "together"), "spool": ("l", "from the start")},
    "gate-stuck-open": {
        "line": ("-", "passed on"), "exhaust ratio": ("+ =", "together"), "after turbine": ("+ -", "less flow"),
    },
    "return-weak": {"travel": ("V", "between pulls")},
    "bleed-oversize": {"return": ("=", "pipe")},
    "controller-ball-stuck-shut": {"travel": ("-", "blown open")},
    "gate-debris": {"duty": ("+", "gives back"), "exhaust ratio": ("+ =", "together")},
}


def page() -> str:
    """The page that says where the simulation overrules the table."""
    lines = [
        "# Signatures of the causes",
        "",
        "Every cause is simulated on a usual car (a quarter, half, three quarters and all of its severity; slow ramp,",
        "tip-in at held speed, second pull after two seconds) and put into letters by stated rules",
        "(`boostproof.diagnosis.catalogue.signature`). They are held against a table of what the trade reasons",
        "(`tests/unit/diagnosis/signature_table.py`). A letter of the table is right where it shows at any of the",
        "severities. The others stand here with what the simulation shows and why it is believed; a test keeps this",
        "page, table and simulation together. Neither has been measured on engines.",
        "",
        "| cause | of | table | simulated | why |",
        "|---|---|---|---|---|",
    ]
    for cause, letters in OVERRULED.items():
        code = dict(zip(QUANTITIES, TABLE[cause][1].split("|"), strict=True))
        for quantity, (found, reason) in letters.items():
            lines.append(f"| {cause} | {quantity} | {code[quantity]} | {found} | {REASONS[reason]} |")
    return "\n".join(lines) + "\n"
