"""The catalogue of causes: every entry is complete, changes the car, and is told apart by its mechanism."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.bench.tests import BY_ID as TESTS
from boostproof.diagnosis.causes import CATALOGUE, Cause, applicable, cause
from boostproof.diagnosis.posterior import FLOOR, cause_priors
from boostproof.diagnosis.simulator import hypotheses_for
from boostproof.errors import InputRangeError
from boostproof.physics import layout
from boostproof.physics.change import Change, apply_all

CONTROLLERS = ("none", "ball and spring", "bleed valve", "solenoid 3-port")
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
def test_every_cause_changes_the_car_it_applies_to(controller: str, external: bool) -> None:
    sound = _car(controller)
    severity = np.array([0.0, 0.5, 1.0])
    for entry in applicable(controller, external):
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
    priors = cause_priors(causes, 0.05)
    assert sum(priors.values()) == pytest.approx(0.90)
    assert min(priors.values()) >= 0.9 * FLOOR


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
