"""What the pulls driven say of those to come, against closed forms and counting."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm
from tests.unit.pullplan.made_ladder import RPM, SPEED, TERMS, curve, ensemble

from boostproof.pullplan.ensemble import Ensemble
from boostproof.pullplan.outlook import Driven, Outlook, outlook, quantiles, refit
from boostproof.pullplan.rungs import fastest_slope, highest
from boostproof.pullplan.terms import FOUND, LEAST


def pull(curve_: np.ndarray, ceiling: float, set_up: str = LEAST, **more: bool) -> Driven:
    speed = np.arange(2000.0, ceiling + 1.0, 200.0) * RPM
    return Driven(set_up, speed, np.interp(speed, SPEED, curve_), ceiling * RPM, **more)


def test_the_chance_of_passing_at_one_engine_speed_is_the_normal_one() -> None:
    view = Outlook(SPEED[:1], np.array([[100e3, 110e3]]), np.array([5e3]), np.array([0.25, 0.75]))
    wanted = 0.25 * norm.sf(110e3, 100e3, 5e3) + 0.75 * 0.5
    assert view.passing(110e3)[0] == pytest.approx(wanted, rel=1e-9)


def test_the_chance_of_passing_is_of_the_highest_boost_on_the_way() -> None:
    spike = np.full((len(SPEED), 1), 60e3)
    spike[20] = 130e3
    chance = Outlook(SPEED, spike, np.full(len(SPEED), 1e3), np.ones(1)).passing(120e3)
    assert chance[19] < 1e-9
    assert np.all(chance[20:] > 1.0 - 1e-9)


def test_weighted_quantiles_are_those_of_repeated_values() -> None:
    rng = np.random.default_rng(1)
    value, times = rng.normal(size=50), rng.integers(1, 9, 50)
    found = quantiles(value, times / times.sum(), [0.05, 0.5, 0.95])
    repeated = np.sort(np.repeat(value, times))
    assert found.tolist() == [repeated[int(np.ceil(q * len(repeated))) - 1] for q in (0.05, 0.5, 0.95)]


def test_a_pull_moves_the_candidates_to_it_there_and_leaves_them_far_away() -> None:
    car = Ensemble(
        SPEED, {FOUND: curve(80e3)[:, None]}, {FOUND: curve(80e3)[:, None]}, np.ones(1), np.zeros(1, int), ({},)
    )
    driven = pull(curve(80e3) + 4e3 * (curve(80e3) > 1e3), 4600.0, FOUND)
    before, after = outlook(car, FOUND, ()), outlook(car, FOUND, [driven])
    there, far = np.searchsorted(SPEED, [4400.0 * RPM, 6900.0 * RPM])
    assert after.level[there, 0] == pytest.approx(84e3, abs=800.0)
    assert after.sd[there] < 0.5 * before.sd[there]
    assert after.sd[far] > 0.7 * before.sd[far]


def test_a_gate_stuck_shut_is_told_from_a_sound_one() -> None:
    cars = ensemble()
    stuck = refit(cars, [pull(curve(400e3), 3600.0)]).chances()["gate-seized-shut"]
    sound = refit(cars, [pull(curve(52e3), 3300.0)]).chances().get("gate-seized-shut", 0.0)
    assert stuck > 0.5
    assert sound < 0.01


def test_a_pull_that_the_weights_hold_already_weighs_nothing() -> None:
    cars = ensemble()
    again = pull(curve(52e3), 4000.0)
    assert refit(cars, [replace(again, counted=True)]) is cars


def test_enough_candidates_count_where_none_is_like_the_car() -> None:
    strange = pull(curve(20e3), 5000.0)
    weight = refit(ensemble(), [strange]).weight
    assert weight.sum() ** 2 / (weight**2).sum() > 30.0


def test_the_slope_cap_meets_the_limit_where_a_straight_line_does() -> None:
    slope = 25.0 / RPM
    line = (40e3 + slope * (SPEED - 3000.0 * RPM))[:, None]
    view = Outlook(SPEED, line, np.full(len(SPEED), 1.0), np.ones(1))
    last = Driven(LEAST, SPEED[:3], np.array([30e3, 35e3, 40e3]), 3000.0 * RPM)
    ceiling, held = highest(view, TERMS, last, 0.985 * TERMS.redline, "redline")
    exact = 3000.0 * RPM + (TERMS.hard - TERMS.gauge_error - 40e3) / slope - TERMS.overrun
    assert held == "slope"
    assert ceiling == pytest.approx(exact, abs=61.0 * RPM)  # a row of the ramp
    assert ceiling <= exact + 1e-6 + 40.0 * RPM  # what the row at the last ceiling may be off
    assert fastest_slope(view, 3000.0 * RPM, ceiling, 50e3, TERMS.surprise) == pytest.approx(slope, rel=1e-9)
