"""The catalogue of causes: every entry is complete, changes the car, and is told apart by its mechanism."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.bench.tests import BY_ID as TESTS
from boostproof.diagnosis.causes import BY_ID, CATALOGUE, Cause, applicable, cause, compatible
from boostproof.diagnosis.evidence.hypotheses import hypotheses_for
from boostproof.diagnosis.inference.weighing import FLOOR, PAIRS_PRIOR, beliefs_for
from boostproof.errors import InputRangeError
from boostproof.physics import layout
from boostproof.physics.change import Change, apply_all

CONTROLLERS = ("none", "ball and spring", "bleed valve", "solenoid 2-port", "solenoid 3-port", "solenoid 4-port")
ROAD_TESTS = {"floor-pull", "hose-flow"}  # named as deciding, proposed by a later version


def _car(controller: str) -> np.ndarray:
    par = np.array([[p.neutral] * 3 for p in layout.PARAMETERS])
    values = {"offset": 4e4, "bleed_area": 4e-7, "check": 1.0} if controller == "ball and spring" else {}
    if controller == "bleed valve":
        values = {"bleed_area": 4e-7}
    if controller.startswith("solenoid"):
        values = {"solenoid": 1.0, "closed_loop": 1.0}
    for name, value in values.items():
        par[layout.index_of(name)] = value
    return par


@pytest.mark.parametrize("entry", CATALOGUE, ids=lambda c: c.id)
def test_entry_is_complete(entry: Cause) -> None:
    assert entry.title and entry.looks_like and entry.repair
    assert entry.base_rate > 0.0
    assert entry.direct_test == "" or entry.direct_test in TESTS or entry.direct_test in ROAD_TESTS
    assert sum(share for share, _ in entry.variants) == pytest.approx(1.0)


@pytest.mark.parametrize("controller", CONTROLLERS)
@pytest.mark.parametrize("external", [False, True])
@pytest.mark.parametrize(("gates", "dual"), [(1, False), (2, False), (1, True)])
def test_every_cause_changes_the_car_it_applies_to(controller: str, external: bool, gates: int, dual: bool) -> None:
    sound = _car(controller)
    severity = np.array([0.0, 0.5, 1.0])
    for entry in applicable(controller, external, gates=gates, dual_chambers=dual):
        for _, changes in entry.variants_for(controller):
            faulty = apply_all(changes, sound, severity)
            assert not np.array_equal(faulty, sound), entry.id
            low = np.array([[p.low] for p in layout.PARAMETERS])
            high = np.array([[p.high] for p in layout.PARAMETERS])
            assert np.all((faulty >= low) & (faulty <= high)), entry.id


def test_change_leaves_its_input_alone_and_grows() -> None:
    par = _car("none")
    before = par.copy()
    moved = Change("gate_leak", "add", 1e-5, 1e-4, "log").apply(par, np.array([0.0, 0.5, 1.0]))
    assert np.array_equal(par, before)
    assert np.all(np.diff(moved[layout.index_of("gate_leak")]) > 0)


def test_priors_sum_with_a_floor() -> None:
    causes = applicable("solenoid 3-port", True)
    beliefs = beliefs_for(causes, 0.05)
    assert sum(beliefs.singles.values()) + sum(beliefs.pairs.values()) == pytest.approx(0.90)
    assert sum(beliefs.pairs.values()) == pytest.approx(PAIRS_PRIOR * 0.90)
    assert min(beliefs.singles.values()) >= (1.0 - PAIRS_PRIOR) * 0.9 * 0.9 * FLOOR
    # a pair is as likely as its parts, one by the other (each over its sum)
    a, b, c = (beliefs.singles[i] for i in ("port-too-small", "charge-leak", "spring-weak"))
    ratio = beliefs.pairs["port-too-small + charge-leak"] / beliefs.pairs["port-too-small + spring-weak"]
    assert ratio == pytest.approx(b / c) and a > 0.0


def test_causes_of_one_mechanism_are_simulated_once() -> None:
    keys = [h.key for h in hypotheses_for(applicable("ball and spring", True), "ball and spring")]
    assert len(keys) == len(set(keys))
    shared = [
        h for h in hypotheses_for(applicable("ball and spring", True), "ball and spring") if len(h.causes) > 1
    ]
    assert {c.id for h in shared for c in h.causes} >= {"port-entry-poor", "dump-pipe-poor"}


def test_unknown_cause_names_the_nearest() -> None:
    with pytest.raises(InputRangeError, match="port-too-small"):
        cause("port-to-small")


def test_all_causes_are_there_once() -> None:
    assert [entry.number for entry in CATALOGUE] == list(range(1, 57))
    assert len(BY_ID) == 56


@pytest.mark.parametrize(
    ("given", "has", "has_not"),
    [
        ({"controller": "none", "external": False}, {"rod-detached", "spring-droop"},
         {"target-table-wrong", "twin-gates-unequal", "actuator-ports-swapped", "gate-mounted-reversed"}),
        ({"controller": "solenoid 3-port", "external": False}, {"target-table-wrong", "loop-gain-high"},
         {"controller-reversed", "actuator-ports-swapped"}),
        ({"controller": "solenoid 3-port", "external": False, "closed_loop": False}, {"solenoid-reversed"},
         {"target-table-wrong", "loop-gain-high", "duty-feedforward-high"}),
        ({"controller": "none", "external": False, "dual_chambers": True},
         {"actuator-ports-swapped", "upper-chamber-trapped"}, {"gate-mounted-reversed"}),
        ({"controller": "none", "external": True}, {"gate-mounted-reversed", "actuator-ports-swapped"}, set()),
        ({"controller": "ball and spring", "external": False, "gates": 2},
         {"twin-gates-unequal", "controller-reversed"}, {"solenoid-stuck"}),
    ],
)  # fmt: skip
def test_a_car_has_only_the_causes_of_its_parts(given: dict, has: set[str], has_not: set[str]) -> None:
    ids = {entry.id for entry in applicable(**given)}
    assert has <= ids
    assert not has_not & ids


def test_two_equal_gates_are_told_apart_by_nothing_but_the_fault() -> None:
    """The other gate starts as a twin of the first, whatever the first is."""
    sound = _car("none")
    for name, value in (("free_travel", 0.013), ("gate_flow", 0.61), ("friction", 2.5e3), ("gate_count", 2.0)):
        sound[layout.index_of(name)] = value
    pairs = (("other_travel", "free_travel"), ("other_flow", "gate_flow"), ("other_friction", "friction"))
    severity = np.array([0.0, 0.5, 1.0])
    for _, changes in BY_ID["twin-gates-unequal"].variants:
        faulty = apply_all(changes, sound, severity)
        same = [np.allclose(faulty[layout.index_of(a)], faulty[layout.index_of(b)]) for a, b in pairs]
        same.append(np.allclose(faulty[layout.index_of("other_opening")], 0.0))
        assert sum(same) == 3


@pytest.mark.parametrize(
    ("a", "b", "both"),
    [
        ("port-too-small", "gate-stuck-open", True),  # a gate that is stuck open can pose as creep
        ("exhaust-restricted", "port-too-small", True),  # and a tight exhaust hides a small port
        ("spring-weak", "charge-leak", True),
        ("gate-stuck-open", "gate-seized-shut", False),
        ("spring-weak", "spring-too-strong", False),
        ("exhaust-freed", "exhaust-restricted", False),
        ("engine-outgrew-gate", "engine-breathes-badly", False),
        ("bleed-blocked", "bleed-oversize", False),
        ("actuator-stiction", "gate-seized-shut", False),
        ("controller-passing", "controller-ball-stuck-shut", False),
        ("signal-line-open", "signal-line-leak", False),
        ("gate-not-seating", "gate-debris", False),  # one mechanism
        ("solenoid-stuck", "controller-reversed", False),  # no car has both parts
        ("solenoid-stuck", "solenoid-reversed", True),
    ],
)
def test_pairs(a: str, b: str, both: bool) -> None:
    assert compatible(BY_ID[a], BY_ID[b]) is both
    assert compatible(BY_ID[b], BY_ID[a]) is both


def test_no_cause_pairs_with_itself_and_each_with_some_other() -> None:
    for entry in CATALOGUE:
        assert not compatible(entry, entry)
        assert any(compatible(entry, other) for other in CATALOGUE), entry.id
