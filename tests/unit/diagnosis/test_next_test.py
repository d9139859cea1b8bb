"""Expected repair minutes, on problems small enough to work out by hand."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.next_test import MONEY, SPECIALIST, VERIFY, expected_repair_minutes, say_feature

IDS = ["controller-set-high", "charge-leak", "spring-weak", "healthy", "other"]


def _by_hand(p: np.ndarray) -> float:
    """Best over all orders and all points of giving up."""
    cost = [VERIFY + BY_ID[i].minutes + MONEY * BY_ID[i].parts if i in BY_ID else VERIFY for i in IDS[:-1]]
    best = SPECIALIST
    for order in permutations(range(4)):
        spent, left = 0.0, 1.0
        for k in order:
            spent += cost[k] * left
            left -= p[k]
            best = min(best, spent + SPECIALIST * left)
    return best


def test_order_by_probability_over_cost_is_the_best() -> None:
    """Kadane & Simon: for one fault and fixed costs no order does better; checked against all orders."""
    rng = np.random.default_rng(5)
    for _ in range(50):
        p = rng.dirichlet(np.ones(5))
        assert expected_repair_minutes(p[None, :], IDS)[0] == pytest.approx(_by_hand(p), rel=1e-9)


def test_certainty_costs_the_repair_and_its_proof() -> None:
    p = np.array([[1.0, 0.0, 0.0, 0.0, 0.0]])
    repair = BY_ID["controller-set-high"]
    assert expected_repair_minutes(p, IDS)[0] == pytest.approx(VERIFY + repair.minutes + MONEY * repair.parts)


def test_features_are_said_in_words() -> None:
    assert say_feature("swing", 0.012, 0.001, "free-travel") == "swing 12 ± 2 mm"
    assert say_feature("leak", -6.0, 0.2, "intake-pressurise") == "holds or seeps"
    assert say_feature("leak", -10.0, 0.2, "actuator-sweep") == "holds"
