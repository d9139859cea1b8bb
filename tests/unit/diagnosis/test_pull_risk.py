"""Chance that a test pull passes the stop: by hand on made-up curves, and what the set-ups do to boost."""

from __future__ import annotations

from math import erf, sqrt
from pathlib import Path

import numpy as np
import pytest
from tests.unit.diagnosis.made_particles import CONTEXT, TARGET, particles

from boostproof.bench.response import Array, Candidates, Schedule
from boostproof.bench.tests import CATALOGUE
from boostproof.diagnosis.choice.pull_risk import ALLOWED, is_pull, passing_chances, stop_for
from boostproof.physics import layout, system
from boostproof.physics.change import Change


def _cars(peak: Array, curve: Array | None = None) -> Candidates:
    """Cars whose every imagined pull reaches a peak, or follows a curve."""
    n = len(peak)

    def simulated(par: Array, changes: tuple[Change, ...], schedule: Schedule) -> Array:
        out = np.zeros((schedule.slots, system.N_OUTPUT, n))
        out[:, system.OUTPUT_INDEX["boost"]] = peak if curve is None else curve[: schedule.slots, None]
        return out

    return Candidates(np.zeros((layout.SIZE, n)), np.array([300.0]), np.zeros((1, system.N_OUTPUT, n)), simulated=simulated)


def test_the_chance_is_that_of_the_cars_over_the_stop_with_the_models_doubt() -> None:
    """Half the weight 40 kPa under the stop, a tenth 2 kPa under it: by the normal integral, written out."""
    stop = stop_for(120e3, 100e3)
    peak, weight = np.array([80e3, 80e3, 118e3]), np.array([0.5, 0.3, 0.1])
    doubt = sqrt((0.02 * 118e3) ** 2 + 1200.0**2 + 1500.0**2)
    over = 0.5 * (1.0 + erf((118e3 - 120e3) / doubt / sqrt(2.0)))
    found = passing_chances(_cars(peak), weight, ["tip-in", "actuator-sweep"], CONTEXT, stop)
    assert found == {"tip-in": pytest.approx(0.1 / 0.9 * over, rel=1e-6)}


def test_the_pull_with_the_gate_held_open_ends_soon_after_the_target() -> None:
    """Boost climbs by 5 kPa a step; it is stopped one step after 96.5 kPa, so that 121.5 kPa is never seen."""
    climb = 46.5e3 + 5e3 * np.arange(16.0)
    stop = stop_for(120e3, TARGET)
    stepped = passing_chances(_cars(np.zeros(1), climb), np.ones(1), ["floor-pull"], CONTEXT, stop)
    whole = passing_chances(_cars(np.zeros(1), climb), np.ones(1), ["repeat-ramp"], CONTEXT, stop)
    assert stepped["floor-pull"] < ALLOWED
    assert whole["repeat-ramp"] > 0.5


def test_a_stop_that_was_told_is_kept_and_else_there_is_a_margin() -> None:
    assert stop_for(1.1e5, 1.0e5).boost == 1.1e5
    assert stop_for(None, 1.5e5).boost == pytest.approx(1.8e5)


def test_pulls_are_those_whose_procedure_warns_of_full_load() -> None:
    at_rest = {"actuator-sweep", "free-travel", "port-measure", "cold-look", "compression", "sensor-check"}
    pulls = {t.id for t in CATALOGUE if is_pull(t.id)}
    assert not pulls & at_rest
    assert {"floor-pull", "spring-only-pull", "tip-in", "re-apply", "repeat-ramp", "line-pressure-log"} <= pulls


def test_no_test_pull_makes_more_boost_than_the_car_as_it_stands(tmp_path: Path) -> None:
    """Nothing that is offered holds the gate shut: the pulls with another set-up make less boost, not more."""
    _, cars = particles(tmp_path, {"healthy": 0.5, "controller-set-high": 0.4}, count=24)
    stop = stop_for(None, TARGET)
    tests = ["repeat-ramp", "floor-pull", "spring-only-pull"]
    found = passing_chances(cars.candidates, cars.weight, tests, CONTEXT, stop)
    assert found["floor-pull"] <= found["spring-only-pull"] <= found["repeat-ramp"]
    assert found["spring-only-pull"] < found["repeat-ramp"]
