"""Worth of tests on tables small enough to work out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.diagnosis.choice.repair_order import Repairs
from boostproof.diagnosis.choice.worth import Belief, coarse, entropy, look_ahead, two_step, worth

RIGHT = np.array([[1.0, 0.0], [0.0, 1.0], [0.5, 0.5]])


def _belief(p: tuple[float, ...] = (0.6, 0.4, 0.0), minutes: tuple[float, ...] = (50.0, 100.0)) -> Belief:
    repairs = Repairs(np.array(minutes), tuple((k,) for k in range(len(minutes))))
    return Belief(np.array(p), np.eye(len(p)), repairs)


def test_a_sure_test_saves_the_needless_repairs() -> None:
    """Without it 50 + 0.4 x 100 = 90, with it 0.6 x 50 + 0.4 x 100 = 70; all of the bits are told."""
    found = worth(_belief(), _belief().joint(RIGHT))
    assert found.minutes == pytest.approx(20.0)
    assert found.bits == pytest.approx(-(0.6 * np.log2(0.6) + 0.4 * np.log2(0.4)))


def test_a_test_that_tells_nothing_is_worth_nothing() -> None:
    found = worth(_belief(), _belief().joint(np.full((3, 2), 0.5)))
    assert (found.minutes, found.bits) == (0.0, pytest.approx(0.0, abs=1e-12))


def test_bits_that_are_missing() -> None:
    assert entropy(np.array([[0.25, 0.25], [0.5, 0.0]])) == pytest.approx(0.5)  # one bit, half of the time


# four causes as two binary figures; one test reads the first, the other the second
PAIRED = (0.25, 0.25, 0.25, 0.25, 0.0)
FIRST = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, 1.0], [0.5, 0.5]])
SECOND = np.array([[1.0, 0.0], [0.0, 1.0], [1.0, 0.0], [0.0, 1.0], [0.5, 0.5]])


def test_two_tests_together_save_what_knowing_the_answer_saves() -> None:
    """100 (1 + 3/4 + 2/4 + 1/4) = 250 without; after both 100. A second one that costs more is not done."""
    belief = _belief(PAIRED, (100.0,) * 4)
    assert belief.minutes == pytest.approx(250.0)
    assert two_step(belief, FIRST, SECOND, 10.0) == pytest.approx(250.0 - 100.0 - 10.0)
    assert two_step(belief, FIRST, SECOND, 80.0) == pytest.approx(worth(belief, belief.joint(FIRST)).minutes)


def test_a_bundle_counts_for_its_first_test_and_a_useless_one_borrows_nothing() -> None:
    belief = _belief(PAIRED, (100.0,) * 4)
    tables, minutes = [FIRST, SECOND, np.full((5, 2), 0.5)], np.array([110.0, 110.0, 1.0])
    joints = [belief.joint(table) for table in tables]
    alone = np.array([worth(belief, joint).minutes for joint in joints]) - minutes
    assert (alone < 0.0).all()  # 100 saved for 110, each by itself

    def cost(test: int, after: int | None) -> float:
        return 10.0 if after in (0, 1) and test < 2 else float(minutes[test])  # the set-up is paid once

    out = look_ahead(belief, tables, joints, alone, cost, lambda one, other: one < 2 and other < 2)
    assert out[:2] == pytest.approx([250.0 - 100.0 - 120.0] * 2)
    assert out[2] == alone[2]
    every = look_ahead(belief, tables, joints, alone, cost, lambda one, other: True)
    assert every[2] == alone[2]


def test_putting_alike_outcomes_together_keeps_nearly_all_of_the_worth() -> None:
    rng = np.random.default_rng(4)
    belief = _belief((0.3, 0.25, 0.2, 0.2, 0.05), (60.0, 120.0, 200.0, 300.0))
    centre = np.array([0.0, 1.5, 3.0, 4.5, 2.0])
    places = np.linspace(-4.0, 9.0, 400)
    table = np.exp(-0.5 * (places - centre[:, None]) ** 2) * rng.uniform(0.9, 1.1, 400)
    table /= table.sum(axis=1, keepdims=True)
    fine = worth(belief, belief.joint(table))
    few = coarse(belief, table, belief.joint(table))
    assert few.shape[1] <= 16
    assert few.sum(axis=1) == pytest.approx(np.ones(5))
    rough = worth(belief, belief.joint(few))
    assert 0.9 * fine.minutes <= rough.minutes <= fine.minutes + 1e-9
    assert 0.9 * fine.bits <= rough.bits <= fine.bits + 1e-9
