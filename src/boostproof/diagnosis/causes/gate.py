"""Causes at the gate: port, travel, seat, motion."""

from __future__ import annotations

from boostproof.diagnosis.causes.model import (
    Cause,
    add,
    external,
    like,
    one,
    scale,
    set_to,
    twin_gates,
)
from boostproof.physics.change import Change

# a second gate that is a twin of the first, before it is given its fault
_OTHER_ALIKE = (
    set_to("other_gates", 1.0), like("other_travel", "free_travel"), like("other_flow", "gate_flow"),
    like("other_friction", "friction"), set_to("other_opening", 0.0),
)  # fmt: skip

_SMALL_PORT = scale("port_diameter", 0.86, 0.50)

CAUSES = (
    Cause(
        "port-too-small", 1, "Gate port too small for this engine and target",
        "Boost levels at first, then climbs with rpm once the gate is wide open.",
        "Bigger port and flapper, or an external gate; then a pull with the gate held open.",
        5.0, "port-size",
        # the valve of a larger port on it, or one made to fit: then the exhaust pushes on less area as well
        ((0.5, (_SMALL_PORT,)), (0.5, (_SMALL_PORT, scale("assistance", 0.86**2, 0.50**2)))), "port_diameter",
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
        180.0, 150.0, applies=external, direct_test="floor-pull",
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
    Cause(
        "twin-gates-unequal", 8, "One of two gates does less than the other",
        "Partial creep, more on the side of the lazy gate.",
        "Match ports, travel and actuators as a pair.",
        2.5, "twin-gates",
        ((0.4, (*_OTHER_ALIKE, like("other_travel", "free_travel", 0.75, 0.03))),
         (0.3, (*_OTHER_ALIKE, like("other_flow", "gate_flow", 0.80, 0.20))),
         (0.3, (*_OTHER_ALIKE, Change("other_opening", "set", 8.0e3, 1.5e5, "log")))),
        "other_travel", 180.0, 200.0, applies=twin_gates, direct_test="free-travel",
    ),
    Cause(
        "rod-detached", 18, "Rod off the gate, clip lost",
        "Mostly blown open: late, low boost and a rattle; a runaway only where the gate jams shut.",
        "New clip, rod set to length.",
        # one that jams shut is simulated as gate-seized-shut
        1.5, "rod-off", one(set_to("rod_off", 1.0), scale("assistance", 0.5, 1.2)),
        "rod_off", 20.0, 10.0, direct_test="cold-look",
    ),
    Cause(
        "gate-flutter", 27, "Gate flutters on the exhaust pulses",
        "Rattle at low rpm; boost comes late because the gate leaks at every pulse.",
        "Preload, damper or spring.",
        # the mean over a pulse of a gate that lifts at every peak is a leak of the shut gate
        0.7, "gate-leak", one(add("gate_leak", 1.2e-5, 2.2e-4)), "gate_leak",
        60.0, 80.0, direct_test="actuator-sweep",
    ),
    Cause(
        "gate-blown-open", 38, "Exhaust pressure blows the gate open",
        "Falls with rpm although the signal is below the opening pressure.",
        "Stronger spring with less offset, larger diaphragm or both chambers in use.",
        1.5, "gate-pushed", one(scale("assistance", 1.4, 4.0), scale("spring_rate", 0.85, 0.40)), "assistance",
        90.0, 150.0, direct_test="line-pressure-log",
    ),
    Cause(
        "gate-stuck-open", 43, "Gate stuck open",
        "Late and low, then climbing along what the open gate lets the turbo make.",
        "Free or replace flapper, bush or valve.",
        2.0, "gate-open", one(add("gate_leak", 8.0e-5, 4.8e-4), set_to("friction", 1.5e5, 2.0e6)), "gate_leak",
        150.0, 120.0, direct_test="free-travel",
    ),
    Cause(
        "gate-mounted-reversed", 54, "External gate mounted the wrong way round",
        "Exhaust pressure holds the gate shut instead of pushing it open: creep where there was a taper.",
        "Mount it as its arrow says.",
        0.5, "gate-reversed", one(scale("assistance", -0.4, -1.3)), "assistance",
        120.0, 40.0, applies=external, direct_test="cold-look",
    ),
    Cause(
        "gate-debris", 55, "Debris or a loose seat ring in the gate",
        "As a gate that does not close: late and low at low rpm.",
        "Clear it, mend the seat.",
        0.8, "gate-leak", one(add("gate_leak", 1.2e-5, 2.2e-4)), "gate_leak",
        150.0, 120.0, direct_test="seat-leak",
    ),
    Cause(
        "hot-binding", 56, "Gate binds only when hot",
        "The first pull is right, later ones are not.",
        "New bush or flapper, heat shield.",
        1.0, "heat-binding", one(Change("heat_binding", "set", 3.0e4, 1.0e6, "log")), "heat_binding",
        150.0, 120.0, direct_test="hot-repeat",
    ),
)  # fmt: skip
