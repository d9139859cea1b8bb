"""Dangerous cars driven by the plan, a handful; the figures of many are on the page of the pull plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from evaluation import pull_plans

from boostproof.pullplan import before
from boostproof.pullplan.ladder import next_pull


@pytest.fixture(scope="module")
def small() -> pytest.MonkeyPatch:
    """Fewer candidates, for speed."""
    patch = pytest.MonkeyPatch()
    for name, value in {"POOL": 1024, "KEPT": 128, "MOVES": 3, "SOUND": 64, "SINGLE": 16, "PAIRS": 16}.items():
        patch.setattr(before, name, value)
    pull_plans.family_ensemble.cache_clear()
    yield patch
    patch.undo()
    pull_plans.family_ensemble.cache_clear()


def test_the_upper_bound_is_the_exact_one() -> None:
    assert pull_plans.upper_bound(0, 3000) == pytest.approx(1.0 - 0.05 ** (1.0 / 3000.0), rel=1e-9)
    assert pull_plans.upper_bound(5, 5) == 1.0


def test_dangerous_cars_are_dangerous_and_stay_below_the_limit(small: pytest.MonkeyPatch) -> None:
    terms = pull_plans.family_terms(4)
    cars = pull_plans.true_cars(4, 6, 77)
    assert all(car.boost["as found"].max() > terms.hard for car in cars)
    trials = pull_plans.run([4], 6, 77)
    assert not any(t.exceeded for t in trials)
    assert all(t.why == "unsafe" for t in trials)  # none of them was waved on to the redline
    assert pull_plans.summary(trials)["cars"] == 6


def test_a_driver_who_knows_no_plan_passes_the_limit(small: pytest.MonkeyPatch) -> None:
    """The same cars driven to the redline: what the plan is for, and that the count can fail."""
    terms = pull_plans.family_terms(4)
    cars = pull_plans.true_cars(4, 6, 77)
    step = next_pull(pull_plans.family_ensemble(4, 1), (), terms)
    blind = replace(step, set_up="as found", ceiling=terms.redline, stop=1e9, most=np.full_like(step.most, 1e9))
    rng = np.random.default_rng(1)
    late = replace(terms, gauge_error=-1e9)  # a watch that never calls
    peaks = [pull_plans.drive(blind, car, late, rng, 0.0)[1] for car in cars]
    assert all(peak > terms.hard for peak in peaks)
