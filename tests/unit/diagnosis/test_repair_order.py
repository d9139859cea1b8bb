"""Expected repair minutes, on problems small enough to try every order."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.choice.repair_order import MONEY, SPECIALIST, VERIFY, Repairs, repairs_for

ANSWERS = [("controller-set-high",), ("charge-leak",), ("spring-weak",), ()]


def _every_order(p: np.ndarray, repairs: Repairs) -> float:
    """Best over all orders and all points of giving up, step by step."""
    best = repairs.giving_up
    for order in permutations(range(len(repairs.minutes))):
        spent, done, left = 0.0, set(), 1.0
        for k in order:
            spent += repairs.minutes[k] * left
            done.add(k)
            left = 1.0 - sum(x for x, need in zip(p, repairs.needs, strict=False) if set(need) <= done)
            best = min(best, spent + repairs.giving_up * left)
    return float(best)


def test_order_by_probability_over_cost_is_the_best() -> None:
    """Kadane & Simon: for one fault and fixed costs no order does better; checked against all orders."""
    rng = np.random.default_rng(5)
    repairs = repairs_for(ANSWERS)
    for _ in range(50):
        p = rng.dirichlet(np.ones(5))
        assert repairs.expected(p[None, :])[0] == pytest.approx(_every_order(p, repairs), rel=1e-9)


def test_pairs_are_mended_by_both_repairs_and_cost_hardly_more_than_in_the_best_order() -> None:
    """An order for pairs is not always the best one; over many it must stay within a hundredth of it."""
    rng = np.random.default_rng(6)
    needs = ((0,), (1,), (2,), (3,), (0, 2), (1, 3), (2, 3))
    ratios = []
    for _ in range(60):
        repairs = Repairs(20.0 + rng.uniform(20.0, 300.0, 4), needs)
        p = rng.dirichlet(np.full(8, 0.5))
        ratios.append(repairs.expected(p[None, :])[0] / _every_order(p, repairs))
    assert min(ratios) >= 1.0 - 1e-9
    assert np.mean(ratios) < 1.01


def test_a_pair_costs_both_repairs_and_both_proofs() -> None:
    repairs = repairs_for([("charge-leak",), ("spring-weak",), ("charge-leak", "spring-weak"), ()])
    p = np.array([[0.0, 0.0, 1.0, 0.0, 0.0]])
    both = sum(VERIFY + BY_ID[i].minutes + MONEY * BY_ID[i].parts for i in ("charge-leak", "spring-weak"))
    assert repairs.expected(p)[0] == pytest.approx(both)


def test_certainty_costs_the_repair_and_its_proof() -> None:
    p = np.array([1.0, 0.0, 0.0, 0.0, 0.0])
    repairs = repairs_for(ANSWERS)
    repair = BY_ID["controller-set-high"]
    assert repairs.expected(p[None, :])[0] == pytest.approx(VERIFY + repair.minutes + MONEY * repair.parts)
    assert repairs.first(p) == 0


def test_what_no_repair_mends_is_sent_on() -> None:
    repairs = repairs_for(ANSWERS)
    p = np.array([0.0, 0.0, 0.0, 0.0, 1.0])
    assert repairs.expected(p[None, :])[0] == SPECIALIST
    assert repairs.first(p) is None


def test_minutes_of_a_part_of_the_probability_are_that_part_of_the_minutes() -> None:
    """Outcomes of a test are handed over with their probability left in."""
    repairs = repairs_for(ANSWERS)
    p = np.array([[0.4, 0.3, 0.1, 0.1, 0.1]])
    assert repairs.expected(0.25 * p)[0] == pytest.approx(0.25 * repairs.expected(p)[0])
