"""The repairs, one row each: what is done, what it undoes, in which sizes, how long it takes and what it costs.

Every cause of the catalogue has its usual repair here. Times, prices and tolerances of parts are judgement and
common practice without a source; a shop puts in its own.
"""

from __future__ import annotations

from boostproof.diagnosis.causes.model import Fitted, closed_loop, external, twin_gates, two_sided
from boostproof.repair import edits
from boostproof.repair.model import Repair, Size

_MM, _KPA = 1.0e-3, 1.0e3


def _lengths(low: float, high: float, step: float) -> tuple[float, ...]:
    """Sizes in millimetres as metres."""
    return tuple(round(low + i * step, 4) * _MM for i in range(round((high - low) / step) + 1))


def _adjustable(car: Fitted) -> bool:
    return car.controller in ("ball and spring", "bleed valve")


def _controlled(car: Fitted) -> bool:
    return car.controller != "none"


def _solenoid(car: Fitted) -> bool:
    return car.solenoid


def _internal(car: Fitted) -> bool:
    return not car.external


PORT = Size("diameter of the port", "length", 10 * _MM, 70 * _MM, _lengths(20, 46, 1), 0.15 * _MM, True, "30 mm", True)
GATE = Size(
    "valve of the gate", "length", 25 * _MM, 70 * _MM, tuple(d * _MM for d in (38, 40, 44, 46, 50, 60)), 0.1 * _MM,
    True, "44 mm", True,
)  # fmt: skip
TRAVEL = Size("travel at the rod", "length", 3 * _MM, 25 * _MM, _lengths(6, 20, 1), 0.3 * _MM, True, "14 mm", True)
OPENING = Size(
    "pressure at which the arm starts to move on the bench", "pressure", 5 * _KPA, 350 * _KPA,
    tuple(5.0 * _KPA * i for i in range(4, 41)), 2.0 * _KPA, False, "12 psi",
)  # fmt: skip
CAN = Size("diameter of the diaphragm", "length", 30 * _MM, 90 * _MM, _lengths(35, 75, 5), 0.5 * _MM, True, "50 mm")
TURNS = Size(
    "turns of the adjuster", "turns", -30.0, 30.0, tuple(0.5 * i for i in range(-12, 9)), 0.1, False, "2 turns out"
)
BORE = Size("bore of the hose", "length", 2 * _MM, 8 * _MM, _lengths(3, 6, 0.5), 0.1 * _MM, True, "4 mm")
HOLE = Size(
    "bleed hole", "length", 0.2 * _MM, 3 * _MM, tuple(d * _MM for d in (0.4, 0.5, 0.6, 0.7, 0.8, 1.0, 1.2, 1.5)),
    0.03 * _MM, False, "0.8 mm",
)  # fmt: skip

_SPRING = {"opening_pressure": 0.02, "spring_rate": 0.05}
_ACTUATOR = {**_SPRING, "friction": 0.25, "assistance": 0.03}
_IN_THE_GATE = (
    "gate-travel-limited", "port-entry-poor", "gate-seized-shut", "gate-not-seating", "rod-detached", "gate-flutter",
    "gate-stuck-open", "gate-debris", "hot-binding", "actuator-stiction", "twin-gates-unequal", "dump-pipe-poor",
    "gate-mounted-reversed",
)  # fmt: skip
_IN_THE_ACTUATOR = (
    "spring-too-strong", "spring-weak", "spring-droop", "diaphragm-leak", "upper-chamber-trapped", "return-weak",
    "gate-blown-open", "actuator-ports-swapped",
)  # fmt: skip
_CAPACITY = ("port-entry-poor", "exhaust-freed", "engine-outgrew-gate", "dump-pipe-poor")

CATALOGUE: tuple[Repair, ...] = (
    Repair(
        "port", "Port and flapper enlarged", ("bigger port", "port size", "gate port", "flapper and port"),
        ("port-too-small",), _CAPACITY, edit=edits.port, size=PORT, minutes=(180.0, 360.0), parts=(80.0, 450.0),
        fuelling=True,
        caution="Leave a seat land of 2 mm or more, set the spring again for the push of the wider valve, and pull with "
        "the gate held open afterwards.",
    ),
    Repair(
        "external gate", "External gate fitted", ("external wastegate", "outside gate", "poppet gate"),
        ("port-too-small", *_IN_THE_GATE, *_IN_THE_ACTUATOR), _CAPACITY, edit=edits.external_gate, size=GATE,
        minutes=(360.0, 900.0), parts=(250.0, 1200.0), fuelling=True,
        caution="Branch in at a shallow angle and give the dump pipe the valve's own size.",
    ),
    Repair(
        "travel", "Way of the arm cleared, full travel given", ("stop", "gate travel", "free travel", "stroke"),
        ("gate-travel-limited",), edit=edits.travel, size=TRAVEL, minutes=(45.0, 180.0), parts=(0.0, 120.0),
    ),
    Repair(
        "entry", "Way into the port blended, gasket recut", ("port entry", "blend", "gasket"),
        ("port-entry-poor",), fresh={"gate_flow": 0.03}, minutes=(120.0, 300.0), parts=(20.0, 100.0), fuelling=True,
    ),
    Repair(
        "dump pipe", "Larger dump pipe", ("screamer pipe", "gate pipe"),
        ("dump-pipe-poor",), fresh={"gate_flow": 0.03, "dump_area": 0.05}, minutes=(120.0, 300.0),
        parts=(60.0, 300.0), fuelling=True, applies=external,
    ),
    Repair(
        "gate", "Gate freed, or flapper, bush and seat renewed", ("flapper", "bush", "seat", "valve", "wastegate"),
        ("gate-seized-shut", "gate-not-seating", "gate-stuck-open", "hot-binding", "gate-debris", "gate-flutter",
         "actuator-stiction"),
        fresh={"friction": 0.25}, minutes=(90.0, 300.0), parts=(30.0, 300.0),
    ),
    Repair(
        "gate turned", "External gate mounted as its arrow says", ("turn gate", "gate the right way round"),
        ("gate-mounted-reversed",), minutes=(60.0, 180.0), parts=(20.0, 80.0), applies=external,
    ),
    Repair(
        "gates matched", "Ports, travel and actuators of both gates matched", ("match gates", "twin gates", "pair"),
        ("twin-gates-unequal",), minutes=(120.0, 300.0), parts=(50.0, 450.0), applies=twin_gates,
    ),
    Repair(
        "rod", "Rod clipped, aligned and set to length", ("clip", "arm", "linkage", "rod clip"),
        ("rod-detached", "gate-flutter", "return-weak", "actuator-stiction"), fresh={"friction": 0.25},
        minutes=(15.0, 90.0), parts=(5.0, 40.0),
    ),
    Repair(
        "spring", "Actuator spring changed", ("actuator spring", "gate spring"),
        ("spring-too-strong", "spring-weak", "spring-droop", "gate-blown-open", "return-weak", "gate-flutter"),
        fresh=_SPRING, edit=edits.opening, size=OPENING, minutes=(30.0, 90.0), parts=(20.0, 120.0),
    ),
    Repair(
        "preload", "Rod length set for the right opening pressure", ("rod length", "actuator preload"),
        ("spring-too-strong", "spring-weak", "gate-flutter"), fresh={"opening_pressure": 0.02}, edit=edits.opening,
        size=OPENING, minutes=(20.0, 60.0), parts=(0.0, 10.0),
    ),
    Repair(
        "actuator", "New actuator", ("wastegate actuator", "can", "diaphragm", "new actuator"),
        ("spring-too-strong", "spring-weak", "spring-droop", "diaphragm-leak", "upper-chamber-trapped", "return-weak",
         "actuator-stiction", "gate-blown-open"),
        fresh=_ACTUATOR, edit=edits.opening, size=OPENING, minutes=(40.0, 120.0), parts=(80.0, 300.0),
    ),
    Repair(
        "larger actuator", "Actuator with a larger diaphragm", ("larger diaphragm", "bigger can", "bigger actuator"),
        ("spring-droop", "gate-blown-open", "diaphragm-leak"), fresh=_ACTUATOR, edit=edits.diaphragm, size=CAN,
        minutes=(60.0, 180.0), parts=(100.0, 350.0),
    ),
    Repair(
        "actuator vent", "Vent of the actuator's other chamber cleared", ("upper vent", "chamber vent"),
        ("upper-chamber-trapped",), minutes=(10.0, 40.0), parts=(0.0, 20.0), applies=two_sided,
    ),
    Repair(
        "actuator ports", "Hose put on the port that opens the gate", ("swap ports", "actuator hose", "ports"),
        ("actuator-ports-swapped",), minutes=(10.0, 30.0), parts=(0.0, 5.0), applies=two_sided,
    ),
    Repair(
        "line", "New signal line, clipped at both ends", ("signal line", "hose", "boost line", "vacuum hose"),
        ("signal-line-open", "signal-line-leak", "signal-line-restricted", "line-blocked"),
        fresh={"hose_area": 0.08}, edit=edits.line, size=BORE, minutes=(10.0, 40.0), parts=(5.0, 20.0),
    ),
    Repair(
        "take-off", "Signal taken at the compressor outlet again", ("take off", "reference", "signal take-off"),
        ("reference-after-cooler",), minutes=(20.0, 60.0), parts=(5.0, 40.0),
    ),
    Repair(
        "controller", "Boost controller cleaned or renewed, and set as it was", ("boost controller", "adjuster"),
        ("controller-set-high", "controller-passing", "controller-ball-sticky", "controller-ball-stuck-shut",
         "bleed-oversize", "bleed-blocked", "controller-reversed"),
        fresh={"offset": 0.04}, edit=edits.setting, size=TURNS, minutes=(10.0, 40.0), parts=(0.0, 90.0),
        applies=_controlled,
    ),
    Repair(
        "controller turned", "Boost controller turned round in the line", ("turn controller",),
        ("controller-reversed",), minutes=(10.0, 20.0), parts=(0.0, 5.0), applies=_adjustable,
    ),
    Repair(
        "bleed", "Bleed opened or drilled to size", ("bleed hole", "bleed valve hole", "restrictor"),
        ("bleed-blocked", "bleed-oversize"), fresh={"bleed_area": 0.06}, edit=edits.bleed, size=HOLE,
        minutes=(10.0, 30.0), parts=(0.0, 15.0), applies=_adjustable,
    ),
    Repair(
        "vent", "Vent of the solenoid cleared, routed upwards", ("solenoid vent", "controller vent"),
        ("vent-plugged",), minutes=(10.0, 30.0), parts=(0.0, 10.0), applies=_solenoid,
    ),
    Repair(
        "solenoid", "New boost solenoid, wired and plumbed right", ("boost solenoid", "control valve"),
        ("solenoid-stuck", "controller-passing", "vent-plugged", "solenoid-reversed"), minutes=(20.0, 60.0),
        parts=(40.0, 130.0), applies=_solenoid,
    ),
    Repair(
        "solenoid plumbing", "Solenoid plumbed so that no power means least boost", ("plumbing", "solenoid hoses"),
        ("solenoid-reversed",), minutes=(10.0, 40.0), parts=(0.0, 10.0), applies=_solenoid,
    ),
    Repair(
        "target table", "Boost target of the control unit put right", ("target", "boost target", "calibration"),
        ("target-table-wrong",), minutes=(20.0, 90.0), parts=(0.0, 0.0), fuelling=True, applies=closed_loop,
        caution="Keep the calibration as it came.",
    ),
    Repair(
        "boost loop", "Boost loop tuned: base duty, gains, what holds the integral part", ("loop", "gains", "duty"),
        ("duty-feedforward-high", "loop-gain-high"), minutes=(40.0, 120.0), parts=(0.0, 0.0), applies=closed_loop,
    ),
    Repair(
        "protection", "What the control unit protects from mended", ("limp", "fault memory", "protection mended"),
        ("ecu-protection",), minutes=(20.0, 120.0), parts=(0.0, 80.0), fuelling=True,
    ),
    Repair(
        "sensor", "Manifold sensor renewed or rescaled", ("manifold sensor", "pressure sensor", "map sensor"),
        ("sensor-scale-wrong",), minutes=(15.0, 40.0), parts=(30.0, 120.0), fuelling=True,
    ),
    Repair(
        "leak", "Charge pipes sealed", ("charge leak", "boost leak", "charge pipe", "pipes"),
        ("charge-leak",), minutes=(20.0, 90.0), parts=(5.0, 90.0), fuelling=True,
    ),
    Repair(
        "recirculation valve", "Recirculation valve renewed", ("bypass valve", "blow-off valve", "dump valve"),
        ("recirculation-valve-leak",), minutes=(20.0, 60.0), parts=(40.0, 180.0), fuelling=True,
    ),
    Repair(
        "exhaust leak", "Exhaust sealed before the turbine", ("manifold gasket", "exhaust gasket"),
        ("exhaust-leak-upstream",), minutes=(60.0, 240.0), parts=(20.0, 150.0), fuelling=True,
    ),
    Repair(
        "exhaust", "Exhaust as it was meant: cleared, or the freed part put back", ("catalyst", "downpipe", "silencer"),
        ("exhaust-restricted", "exhaust-freed"), minutes=(60.0, 180.0), parts=(80.0, 500.0), fuelling=True,
        caution="A freer exhaust asks more of the gate: forecast it, and see what local law allows.",
    ),
    Repair(
        "filter", "Air filter and inlet duct renewed", ("air filter", "inlet", "inlet duct"),
        ("inlet-restricted",), minutes=(5.0, 40.0), parts=(15.0, 90.0), fuelling=True,
    ),
    Repair(
        "cooler", "Charge cooler cleaned or renewed", ("charge cooler", "intercooler", "core"),
        ("cooler-restricted",), minutes=(60.0, 240.0), parts=(20.0, 500.0), fuelling=True,
    ),
    Repair(
        "turbo", "Turbo rebuilt, or one that matches", ("turbocharger", "rebuild", "wheel"),
        ("turbo-worn", "compressor-choked", "compressor-surge"), minutes=(180.0, 420.0), parts=(350.0, 1400.0),
        fuelling=True,
    ),
    Repair(
        "ignition", "Plugs, coils, timing and fuel pressure put right", ("plugs", "coils", "timing", "misfire"),
        ("misfire-under-boost", "exhaust-energy-low"), minutes=(30.0, 120.0), parts=(20.0, 150.0), fuelling=True,
    ),
    Repair(
        "engine", "Cam timing, valves, rings put right", ("cam timing", "compression", "valves", "head"),
        ("engine-breathes-badly",), minutes=(120.0, 900.0), parts=(80.0, 900.0), fuelling=True,
    ),
)  # fmt: skip
BY_ID: dict[str, Repair] = {r.id: r for r in CATALOGUE}


def repairs_for(cause_id: str, car: Fitted | None = None) -> tuple[Repair, ...]:
    """Repairs of a cause that a car can have done, those that undo it before those that make up for it."""
    able = [r for r in CATALOGUE if car is None or r.applies(car)]
    undone = [r for r in able if cause_id in r.mends]
    return (*undone, *(r for r in able if cause_id in r.helps and r not in undone))


def usual_repair(cause_id: str, car: Fitted | None = None) -> Repair:
    """The repair of a cause that is done first: the one made for fewest other causes.

    Raises
    ------
    ValueError
        If the car can have none.

    >>> usual_repair("signal-line-leak").id, usual_repair("engine-outgrew-gate").id
    ('line', 'port')
    """
    return min(repairs_for(cause_id, car), key=lambda r: (cause_id not in r.mends, len(r.mends), r.minutes[1]))
