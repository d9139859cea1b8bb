"""What the catalogue says of a cause beside its table: what tells it apart, by which tests, and with what care.

Text only: nothing here takes part in a verdict. Tests and cautions are named by their keys.
"""

from __future__ import annotations

from dataclasses import dataclass

BASE_RATE_STATUS = "common practice, no source"


@dataclass(frozen=True)
class CauseText:
    """Text of one cause.

    Attributes
    ----------
    told_apart : one sentence, what parts it from its look-alikes
    decide : ids of the tests that decide, the cheapest first
    look_alikes : ids of causes that a log alone does not part from it
    cautions : keys of the cautions that go with it and its repair
    """

    told_apart: str
    decide: tuple[str, ...]
    look_alikes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


_GATE_WORK = ("cold", "lifted", "law", "recheck-floor")
_TOO_HIGH = ("least-first", "recheck-fuel")
_RUNS_AWAY = ("runaway", "recheck-fuel")
_AIR_CHANGED = ("cold", "recheck-fuel")

TEXTS: dict[str, CauseText] = {
    # creep: the gate cannot pass enough
    "port-too-small": CauseText(
        "The gate is wide open and the floor still climbs to the target; worse on a cold day.",
        ("floor-pull", "repeat-ramp", "port-measure"),
        ("gate-travel-limited", "port-entry-poor", "engine-outgrew-gate", "exhaust-freed"), _GATE_WORK,
    ),
    "gate-travel-limited": CauseText(
        "The lever stops early by hand too: under 20 degrees, or far from the usual travel.",
        ("free-travel", "actuator-sweep"), ("port-too-small", "port-entry-poor", "spring-droop"), _GATE_WORK,
    ),
    "port-entry-poor": CauseText(
        "The bore measures right and the travel is full, yet the floor climbs.",
        ("port-measure", "floor-pull"), ("port-too-small", "dump-pipe-poor"), _GATE_WORK,
    ),
    "exhaust-freed": CauseText(
        "The creep came with the exhaust parts; pressure after the turbine is lower than it was.",
        ("exhaust-back-pressure", "turbine-pressure-log", "floor-pull"),
        ("port-too-small", "engine-outgrew-gate"), _GATE_WORK,
    ),
    "engine-outgrew-gate": CauseText(
        "The creep came with engine work, more revs or a lower target; the gate is as it always was.",
        ("floor-pull", "port-measure"), ("port-too-small", "exhaust-freed"), _GATE_WORK,
    ),
    "dump-pipe-poor": CauseText(
        "Pressure builds up behind an open external gate.",
        ("floor-pull", "turbine-pressure-log", "port-measure"), ("port-too-small", "port-entry-poor"), _GATE_WORK,
    ),
    "spring-droop": CauseText(
        "A straight, gentle rise without a knee; the gate is not at its stop, and the floor is low.",
        ("actuator-sweep", "floor-pull"), ("port-too-small", "gate-travel-limited"), ("cold", *_TOO_HIGH),
    ),
    "twin-gates-unequal": CauseText(
        "One side moves later or less than the other; exhaust temperatures part.",
        ("actuator-sweep", "free-travel"), ("port-too-small", "gate-travel-limited"), _GATE_WORK,
    ),
    # level but too high, or without limit: setting and signal
    "spring-too-strong": CauseText(
        "Still high with the controller out; first movement is high on the bench.",
        ("actuator-sweep", "spring-only-pull"), ("controller-set-high",), ("cold", *_TOO_HIGH),
    ),
    "controller-set-high": CauseText(
        "Right with the controller out; on the bench it takes off more than it should.",
        ("controller-sweep", "spring-only-pull"),
        ("spring-too-strong", "signal-line-leak", "bleed-oversize"), _TOO_HIGH,
    ),
    "signal-line-open": CauseText(
        "Nothing arrives at the actuator and the line hisses or hangs loose; the gate moves by hand.",
        ("cold-look", "line-pressure-log"), ("line-blocked", "gate-seized-shut", "controller-ball-stuck-shut"),
        _RUNS_AWAY,
    ),
    "diaphragm-leak": CauseText(
        "The can itself does not hold air; worse hot.",
        ("actuator-sweep", "line-pressure-log"), ("signal-line-leak", "bleed-oversize"), ("cold", *_TOO_HIGH),
    ),
    "signal-line-leak": CauseText(
        "The actuator gets a fixed share less, and the hiss is along the line, not at the vent.",
        ("controller-sweep", "line-sweep", "line-pressure-log"),
        ("controller-set-high", "bleed-oversize", "diaphragm-leak"), _TOO_HIGH,
    ),
    "reference-after-cooler": CauseText(
        "The line starts after the cooler or the throttle; the difference grows with flow.",
        ("cold-look",), ("cooler-restricted",), _TOO_HIGH,
    ),
    "solenoid-reversed": CauseText(
        "More duty gives the opposite; on the bench the air takes the wrong way unpowered.",
        ("cold-look", "solenoid-check", "spring-only-pull"), ("solenoid-stuck", "controller-reversed"),
        ("fuse", *_RUNS_AWAY),
    ),
    "upper-chamber-trapped": CauseText(
        "The second chamber holds pressure; with its port open the gate behaves.",
        ("cold-look", "actuator-sweep", "line-pressure-log"), ("vent-plugged", "actuator-ports-swapped"),
        ("cold", *_TOO_HIGH),
    ),
    "gate-seized-shut": CauseText(
        "Air reaches the actuator as it should, and the lever does not move.",
        ("free-travel", "actuator-sweep"), ("signal-line-open", "line-blocked"), ("cold", "fingers", *_RUNS_AWAY),
    ),
    "rod-detached": CauseText(
        "The can moves and the lever does not; often a rattle.",
        ("cold-look",), ("gate-stuck-open", "gate-seized-shut"), ("cold", *_RUNS_AWAY),
    ),
    "target-table-wrong": CauseText(
        "Boost sits on the target that the control unit asks for, and that target is wrong.",
        ("sensor-check", "fault-memory-look"), ("sensor-scale-wrong", "controller-set-high"),
        ("calibration", "law", "recheck-fuel"),
    ),
    "sensor-scale-wrong": CauseText(
        "Only one instrument shows it: a second gauge disagrees.",
        ("sensor-check",), ("target-table-wrong",), ("recheck-fuel",),
    ),
    # spike and swing
    "signal-line-restricted": CauseText(
        "A slow ramp is right, a sudden throttle shoots over; with a bleed below it the level is high as well.",
        ("hose-flow", "line-sweep", "tip-in", "line-pressure-log"), ("actuator-stiction", "duty-feedforward-high"),
        ("least-first",),
    ),
    "actuator-stiction": CauseText(
        "Up and down differ on the bench; the plateau differs rising and falling.",
        ("actuator-sweep", "tip-in", "free-travel"), ("signal-line-restricted", "controller-ball-sticky"),
        ("cold", "least-first"),
    ),
    "controller-ball-sticky": CauseText(
        "The controller opens at another pressure each time, while actuator and line are right.",
        ("controller-sweep", "controller-vent"), ("actuator-stiction", "controller-set-high"), ("least-first",),
    ),
    "duty-feedforward-high": CauseText(
        "The logged duty falls late; the spike grows in high gears and is gone open-loop.",
        ("tip-in", "repeat-ramp"), ("signal-line-restricted", "loop-gain-high"), ("calibration", "recheck-fuel"),
    ),
    "loop-gain-high": CauseText(
        "Boost and duty swing together, half to three times a second; at half the gain it calms.",
        ("tip-in",), ("actuator-stiction", "compressor-surge"), ("calibration", "recheck-fuel"),
    ),
    "compressor-surge": CauseText(
        "A flutter of five to twenty a second at low rpm and high boost, or on closing the throttle.",
        ("tip-in", "re-apply"), ("loop-gain-high", "gate-flutter"), ("least-first", "overspeed"),
    ),
    "gate-flutter": CauseText(
        "A rattle from the gate at low rpm, with hardly any tension on the rod.",
        ("cold-look", "actuator-sweep", "seat-leak"), ("gate-not-seating", "compressor-surge"), ("cold",),
    ),
    # low or late
    "spring-weak": CauseText(
        "Still low with the controller out; first movement is low on the bench.",
        ("actuator-sweep", "spring-only-pull"), ("controller-passing", "gate-blown-open"), ("cold", *_TOO_HIGH),
    ),
    "gate-not-seating": CauseText(
        "Light shows past the shut gate; nearly right at high rpm.",
        ("seat-leak", "actuator-sweep"), ("turbo-worn", "gate-debris", "exhaust-leak-upstream"), _GATE_WORK,
    ),
    "charge-leak": CauseText(
        "The pipes do not hold pressure; the turbo turns faster than the boost explains.",
        ("intake-pressurise",), ("recirculation-valve-leak", "turbo-worn", "inlet-restricted"),
        ("caps", "overspeed", "recheck-fuel"),
    ),
    "recirculation-valve-leak": CauseText(
        "The hiss is at the bypass valve, and only above its lift pressure.",
        ("intake-pressurise",), ("charge-leak",), ("caps", "overspeed", "recheck-fuel"),
    ),
    "exhaust-leak-upstream": CauseText(
        "Ticking when cold, smoke before the turbine, a false lean reading at idle.",
        ("exhaust-smoke",), ("gate-not-seating", "turbo-worn", "exhaust-energy-low"), ("cold", "co"),
    ),
    "inlet-restricted": CauseText(
        "Boost falls with flow, and the duct sucks flat or the filter is full.",
        ("cold-look",), ("exhaust-restricted", "compressor-choked", "cooler-restricted"),
        ("overspeed", "recheck-fuel"),
    ),
    "exhaust-restricted": CauseText(
        "Pressure after the turbine is high on a pull; exhaust and charge run hot.",
        ("exhaust-back-pressure", "turbine-pressure-log"), ("compressor-choked", "turbo-worn", "inlet-restricted"),
        ("cold", "law", "recheck-floor"),
    ),
    "turbo-worn": CauseText(
        "Drag, rub marks or chips; charge air too hot for its pressure.",
        ("shaft-check",), ("gate-not-seating", "charge-leak", "exhaust-leak-upstream"),
        ("wheels", "cold", "recheck-floor"),
    ),
    "controller-passing": CauseText(
        "The same low boost with and without the controller.",
        ("controller-sweep", "solenoid-check", "spring-only-pull"), ("spring-weak", "solenoid-stuck"), _TOO_HIGH,
    ),
    "exhaust-energy-low": CauseText(
        "Turbo and gate measure right; timing, mixture or valve timing do not.",
        ("fault-memory-look", "plugs-and-fuel", "turbine-pressure-log"),
        ("exhaust-leak-upstream", "engine-breathes-badly"), ("calibration", "recheck-fuel"),
    ),
    # falling, or not coming back
    "gate-blown-open": CauseText(
        "Boost falls with rpm although the line is below first movement; worse with a small turbine.",
        ("line-pressure-log", "turbine-pressure-log", "actuator-sweep"), ("spring-weak", "compressor-choked"),
        ("cold", *_TOO_HIGH),
    ),
    "compressor-choked": CauseText(
        "Boost falls with rpm while the gate is shut, and charge air gets hot steeply.",
        ("shaft-check", "turbine-pressure-log"), ("exhaust-restricted", "inlet-restricted", "gate-blown-open"),
        ("overspeed",),
    ),
    "cooler-restricted": CauseText(
        "A second sensor at the compressor outlet stays level while the manifold falls.",
        ("line-pressure-log",), ("compressor-choked", "reference-after-cooler"),
        ("overspeed", "recheck-fuel"),
    ),
    "bleed-blocked": CauseText(
        "The arm stays out with the hose on and comes home with it off; the first pull is right.",
        ("controller-sweep", "bleed-decay", "re-apply"), ("vent-plugged", "return-weak"), _TOO_HIGH,
    ),
    "vent-plugged": CauseText(
        "The actuator is not let down through the vent; may come and go with frost or wet.",
        ("solenoid-check", "hose-flow", "re-apply"), ("bleed-blocked", "return-weak", "upper-chamber-trapped"),
        _TOO_HIGH,
    ),
    "gate-stuck-open": CauseText(
        "The lever does not come home by hand either; boost is late and then only the floor.",
        ("free-travel",), ("gate-not-seating", "rod-detached", "turbo-worn"), ("cold", "fingers", "recheck-floor"),
    ),
    "return-weak": CauseText(
        "On the bench the way down lies far below the way up, and the last part is slow.",
        ("actuator-sweep", "re-apply"), ("bleed-blocked", "vent-plugged", "actuator-stiction"), ("cold",),
    ),
    # signal side once more
    "solenoid-stuck": CauseText(
        "Duty has no effect on the bench; it may click all the same.",
        ("solenoid-check", "swap-known-good"), ("solenoid-reversed", "controller-passing", "vent-plugged"),
        ("fuse", *_RUNS_AWAY),
    ),
    "bleed-oversize": CauseText(
        "A hiss at the vent at every setting, and the pressure is gone at once.",
        ("controller-vent", "bleed-decay", "controller-sweep"), ("signal-line-leak", "controller-set-high"),
        _TOO_HIGH,
    ),
    "controller-ball-stuck-shut": CauseText(
        "Silent at every setting although air stands at the inlet.",
        ("controller-vent", "controller-sweep"), ("line-blocked", "signal-line-open"), _RUNS_AWAY,
    ),
    "line-blocked": CauseText(
        "Air does not pass the hose; the controller itself works.",
        ("cold-look", "hose-flow", "line-sweep"), ("signal-line-open", "controller-ball-stuck-shut"), _RUNS_AWAY,
    ),
    "actuator-ports-swapped": CauseText(
        "The hose sits on the spring side of the can: air holds the gate shut.",
        ("cold-look", "actuator-sweep"), ("signal-line-open", "upper-chamber-trapped", "gate-seized-shut"),
        ("cold", *_RUNS_AWAY),
    ),
    "controller-reversed": CauseText(
        "In and out of the controller are swapped; it then opens like a check valve, or lets go very slowly.",
        ("cold-look", "controller-sweep"), ("controller-ball-stuck-shut", "bleed-blocked", "solenoid-reversed"),
        _RUNS_AWAY,
    ),
    "ecu-protection": CauseText(
        "Plate, timing or target move at the same moment as the boost.",
        ("fault-memory-look",), ("misfire-under-boost", "exhaust-energy-low", "target-table-wrong"),
        ("calibration", "recheck-fuel"),
    ),
    "misfire-under-boost": CauseText(
        "The pull is ragged, with lean spikes in the mixture.",
        ("fault-memory-look", "plugs-and-fuel"), ("ecu-protection", "compressor-surge"), ("fuel", "mixture"),
    ),
    "engine-breathes-badly": CauseText(
        "Little air flow for the boost it has; compression is low or uneven.",
        ("compression",), ("exhaust-energy-low", "turbo-worn"), ("cranking", "recheck-fuel"),
    ),
    "gate-mounted-reversed": CauseText(
        "Exhaust pressure acts on the wrong face of the valve: it shuts instead of opening, or the other way.",
        ("cold-look",), ("gate-blown-open", "spring-droop"), ("cold", *_RUNS_AWAY),
    ),
    "gate-debris": CauseText(
        "Something lies on the seat or keeps the valve from its travel.",
        ("seat-leak", "port-measure"), ("gate-not-seating", "gate-travel-limited"), _GATE_WORK,
    ),
    "hot-binding": CauseText(
        "Right on the first pull and on the cold bench, wrong once everything is hot.",
        ("hot-repeat",), ("actuator-stiction", "diaphragm-leak", "solenoid-stuck"), ("hot-work", "least-first"),
    ),
}  # fmt: skip
