"""The bound on what two tests can tell, by hand and against all policies."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from evaluation.two_tests import Reach, reach, summary

from boostproof.diagnosis.choice.repair_order import Repairs
from boostproof.diagnosis.choice.worth import Belief

GROUPS = np.eye(4)
COSTS = np.full(3, 5.0)


def _belief(p: np.ndarray) -> Belief:
    """States that are answers; the last is what no repair mends."""
    return Belief(p, np.eye(len(p)), Repairs(np.full(len(p) - 1, 60.0), tuple((i,) for i in range(len(p) - 1))))


def _sure(*yes: int) -> np.ndarray:
    """A test that says yes for some of four states and is never wrong."""
    said = np.isin(np.arange(4), yes).astype(float)
    return np.stack([1.0 - said, said], axis=1)


def test_by_hand_four_alike_and_tests_that_halve_them() -> None:
    """One halving leaves two of four, another one of them; one that knows a single state leaves three."""
    belief = _belief(np.full(4, 0.25))
    found = reach(belief, [_sure(0, 1), _sure(0, 2), _sure(0)], GROUPS, COSTS, first=2)
    assert found.now == pytest.approx(0.25)
    assert (found.best_one, found.best_two) == (pytest.approx(0.5), pytest.approx(1.0))
    assert found.chosen_one == pytest.approx(0.5)
    assert found.chosen_two <= 0.75 + 1e-12  # it told one state, and of three others a halving leaves two


def test_answers_that_are_one_change_count_as_one() -> None:
    belief = _belief(np.full(4, 0.25))
    together = np.array([[1.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    found = reach(belief, [_sure(0, 1), _sure(3)], together, COSTS[:2], first=0)
    assert found.now == pytest.approx(0.5)
    assert (found.best_one, found.best_two) == (pytest.approx(0.75), pytest.approx(1.0))


def test_a_dear_second_test_is_not_chosen() -> None:
    belief = _belief(np.array([0.5, 0.3, 0.15, 0.05]))
    dear = np.array([5.0, 5000.0])
    found = reach(belief, [_sure(0, 1), _sure(0, 2)], GROUPS, dear, first=0)
    assert found.chosen_two == pytest.approx(found.chosen_one)
    assert found.best_two == pytest.approx(1.0)


@pytest.mark.parametrize("seed", range(6))
def test_against_every_policy_of_two_tests(seed: int) -> None:
    """Imperfect tests; all first tests, and all second ones for each outcome, by Bayes' rule one at a time."""
    rng = np.random.default_rng(seed)
    p = rng.dirichlet(np.ones(4))
    tables = [rng.dirichlet(np.ones(3), size=4) for _ in range(3)]
    best = 0.0
    for first in range(3):
        for seconds in product([k for k in range(3) if k != first], repeat=3):
            share = 0.0
            for said, second in enumerate(seconds):
                left = p * tables[first][:, said]
                share += sum(float((left * tables[second][:, again]).max()) for again in range(3))
            best = max(best, share)
    found = reach(_belief(p), tables, GROUPS, COSTS, first=0)
    assert found.best_two == pytest.approx(best)
    assert found.now <= found.best_one <= found.best_two


def test_means_are_weighted() -> None:
    low, high = Reach(0.1, 0.2, 0.3, 0.4, 0.5), Reach(0.5, 0.6, 0.7, 0.8, 0.9)
    assert summary([(low, 3.0), (high, 1.0)]) == {
        "now": 0.2, "chosen_one": 0.3, "chosen_two": 0.4, "best_one": 0.5, "best_two": 0.6, "cars": 2,
    }  # fmt: skip
