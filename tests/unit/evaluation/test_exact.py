"""The exact policy of small problems, by hand and against all orders; and our rule of choice against it."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from evaluation.exact import (
    Problem,
    exact_minutes,
    no_tests,
    one_step_choice,
    our_choice,
    page,
    policy_minutes,
    random_problem,
)

from boostproof.diagnosis.choice.repair_order import SPECIALIST


def _two_causes(right: float) -> Problem:
    table = np.array([[right, 1.0 - right], [1.0 - right, right], [0.5, 0.5]])
    return Problem(np.array([0.6, 0.4, 0.0]), np.array([50.0, 100.0]), (table,), np.array([10.0]))


def test_by_hand_a_sure_test() -> None:
    """10 + 0.6 x 50 + 0.4 x 100 = 80; without the test 50 + 0.4 x 100 = 90."""
    assert exact_minutes(_two_causes(1.0)) == pytest.approx(80.0)
    assert policy_minutes(_two_causes(1.0), our_choice) == pytest.approx(80.0)
    assert policy_minutes(_two_causes(1.0), no_tests) == pytest.approx(90.0)


def test_by_hand_a_test_that_errs_once_in_ten() -> None:
    """Says the first: 50 x 0.58 + 100 x 0.04 = 33. Says the second: 100 x 0.42 + 50 x 0.06 = 45. 10 + 33 + 45."""
    assert exact_minutes(_two_causes(0.9)) == pytest.approx(88.0)


def test_by_hand_a_test_that_tells_nothing_is_not_done() -> None:
    assert exact_minutes(_two_causes(0.5)) == pytest.approx(90.0)
    assert policy_minutes(_two_causes(0.5), our_choice) == pytest.approx(90.0)


def test_by_hand_a_test_pays_only_after_a_failed_repair() -> None:
    """The cheap likely repair first (30 min, p 0.8); only then the sure test (20 min) between two dear ones.

    30 + 0.2 x 20 + 0.1 x 200 + 0.1 x 400 = 94. Without the test 30 + 0.2 x 200 + 0.1 x 400 = 110; with the
    test before it all 20 + 0.8 x 30 + 0.1 x 200 + 0.1 x 400 = 104.
    """
    table = np.array([[0.5, 0.5], [1.0, 0.0], [0.0, 1.0], [0.5, 0.5]])
    problem = Problem(np.array([0.8, 0.1, 0.1, 0.0]), np.array([30.0, 200.0, 400.0]), (table,), np.array([20.0]))
    assert exact_minutes(problem) == pytest.approx(94.0)


def test_without_tests_the_best_is_the_order_by_probability_over_cost() -> None:
    """Kadane & Simon; against all orders with every point of giving up."""
    for seed in range(20):
        drawn = random_problem(seed, tests=0)
        best = SPECIALIST
        for order in permutations(range(5)):
            spent, left = 0.0, 1.0
            for k in order:
                spent += drawn.repairs[k] * left
                left -= drawn.p[k]
                best = min(best, spent + SPECIALIST * left)
        assert exact_minutes(drawn) == pytest.approx(best, rel=1e-9)
        assert policy_minutes(drawn, no_tests) == pytest.approx(best, rel=1e-9)


def test_our_rule_costs_at_most_two_percent_more_than_the_best() -> None:
    ratios, one_step, none = [], [], []
    for seed in range(40):
        problem = random_problem(seed)
        best = exact_minutes(problem)
        ratios.append(policy_minutes(problem, our_choice) / best)
        one_step.append(policy_minutes(problem, one_step_choice) / best)
        none.append(policy_minutes(problem, no_tests) / best)
    assert min(min(ratios), min(one_step), min(none)) >= 1.0 - 1e-9  # nothing beats the best
    assert np.mean(ratios) <= 1.02
    assert np.percentile(ratios, 95) <= 1.05
    assert np.mean(ratios) <= np.mean(one_step) + 1e-3
    assert np.mean(none) > 1.1  # the tests of these problems are worth doing


def test_the_page_has_a_row_for_every_policy() -> None:
    rows = [line for line in page(2, seed=3).splitlines() if line.startswith("| ")]
    assert len(rows) == 4
