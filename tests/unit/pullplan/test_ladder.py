"""The order of pulls and where the ladder ends, on candidates drawn by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from tests.unit.pullplan.made_ladder import RPM, SPEED, TERMS, curve, ensemble

from boostproof.pullplan.card import Around, card, own_gauge, refusals, stop_lines
from boostproof.pullplan.ensemble import Ensemble
from boostproof.pullplan.ladder import Halt, foresee, next_pull
from boostproof.pullplan.outlook import Driven
from boostproof.pullplan.rungs import HIGH, LEAST_STEP, LOW, Rung
from boostproof.pullplan.terms import FOUND, LEAST, Terms


def go(least: np.ndarray, found: np.ndarray, terms: Terms = TERMS) -> tuple[list[tuple[Rung, Driven]], Halt, float]:
    """Drive a car by the plan to every ceiling, without any live stop; the highest boost on the way."""
    cars, true, done, top = ensemble(), {LEAST: least, FOUND: found}, list[tuple[Rung, Driven]](), 0.0
    for _ in range(20):
        step = next_pull(cars, [d for _, d in done], terms)
        if isinstance(step, Halt):
            return done, step, top
        speed = np.arange(terms.start, step.ceiling + 1e-9, 150.0 * RPM)
        top = max(top, float(true[step.set_up][step.ceiling + terms.overrun >= SPEED].max()))
        done.append((step, Driven(step.set_up, speed, np.interp(speed, SPEED, true[step.set_up]), step.ceiling)))
    raise AssertionError("the ladder does not end")


def test_the_first_pull_is_the_least_boost_up_to_a_low_ceiling() -> None:
    step = next_pull(ensemble(), (), TERMS)
    assert isinstance(step, Rung)
    assert step.set_up == LEAST
    assert step.ceiling <= LOW * TERMS.redline
    assert step.chance < 0.005


def test_a_sound_car_comes_to_the_redline_as_found_and_begins_low_again() -> None:
    done, end, top = go(curve(52e3), curve(94e3))
    assert end.why == "done"
    assert top < TERMS.hard
    found = [r.ceiling for r, _ in done if r.set_up == FOUND]
    assert found[0] <= LOW * TERMS.redline
    assert found[-1] >= HIGH * TERMS.redline - LEAST_STEP
    assert all(b - a >= LEAST_STEP - 1e-6 for a, b in pairwise(found))


def test_a_gate_stuck_shut_ends_the_ladder_before_the_limit_without_any_live_stop() -> None:
    done, end, top = go(curve(400e3), curve(400e3))
    assert (end.why, end.set_up) == ("unsafe", LEAST)
    assert top < TERMS.hard
    assert end.causes[0][0] == "gate-seized-shut"
    assert all(r.set_up == LEAST for r, _ in done)


def test_a_line_that_is_off_is_found_as_found_only_and_ends_it_before_the_limit() -> None:
    done, end, top = go(curve(52e3), curve(400e3))
    assert (end.why, end.set_up) == ("unsafe", FOUND)
    assert top < TERMS.hard
    assert end.causes[0][0] == "signal-line-open"
    assert done[-1][0].set_up == FOUND


def test_a_slower_ramp_lets_the_ceiling_be_higher() -> None:
    slow = next_pull(ensemble(), (), replace(TERMS, ramp=0.5 * TERMS.ramp))
    usual = next_pull(ensemble(), (), TERMS)
    assert isinstance(slow, Rung)
    assert isinstance(usual, Rung)
    assert slow.ceiling > usual.ceiling


def test_a_limit_that_any_car_may_pass_asks_for_no_pull() -> None:
    assert isinstance(next_pull(ensemble(), (), replace(TERMS, hard=6e3)), Halt)


def test_without_a_controller_there_is_one_set_up() -> None:
    cars = ensemble()
    one = Ensemble(SPEED, {FOUND: cars.boost[LEAST]}, {FOUND: cars.shown[LEAST]}, cars.weight, cars.hypothesis, cars.causes)
    rungs, _ = foresee(one, (), TERMS)
    assert {r.set_up for r in rungs} == {FOUND}


def test_the_ladder_that_is_foreseen_begins_with_the_next_pull() -> None:
    rungs, _ = foresee(ensemble(), (), TERMS)
    step = next_pull(ensemble(), (), TERMS)
    assert isinstance(step, Rung)
    assert rungs[0].ceiling == step.ceiling
    assert len(rungs) > 2


def test_open_roads_and_missing_mixture_are_refused() -> None:
    both = (LEAST, FOUND)
    assert [r.kind for r in refusals(Around("road", mixture=True), both)] == ["open-road"]
    assert not refusals(Around("road", closed_road=True, mixture=True), both)
    assert [(r.kind, r.every) for r in refusals(Around("brake dyno"), both)] == [("no-mixture", False)]
    assert not refusals(Around("brake dyno"), (FOUND,))
    assert "reader" in {item.key for item in card("road")}
    assert "straps" in {item.key for item in card("brake dyno")}


def test_a_sensor_in_doubt_asks_for_a_gauge_of_its_own() -> None:
    assert own_gauge(Around(None, sensor_doubt=0.021))
    assert not own_gauge(Around(None, sensor_doubt=0.019))


def test_stop_lines_only_where_it_is_measured() -> None:
    assert [s.what for s in stop_lines(Around(None), 1e5, True, 0.88, 1200.0, None)] == ["boost"]
    every = stop_lines(Around(None, mixture=True, before_turbine=True), 1e5, True, 0.88, 1200.0, None)
    assert [(s.value, s.told) for s in every] == [(1e5, True), (0.88, True), (1200.0, True)]


def test_a_car_that_ran_away_is_not_driven_on_whatever_it_reached() -> None:
    away = Driven(FOUND, np.array([3000.0, 6900.0]) * RPM, np.array([50e3, TERMS.hard + 1e3]), 6900.0 * RPM)
    least = Driven(LEAST, away.speed, np.array([50e3, TERMS.target + 4e3]), 4000.0 * RPM)
    assert next_pull(ensemble(), [away], TERMS).why == "unsafe"  # type: ignore[union-attr]
    assert next_pull(ensemble(), [least], TERMS).set_up == LEAST
    assert isinstance(next_pull(ensemble(), [least], TERMS), Halt)
