"""Fair shares on games whose values are known."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.diagnosis.reasons.shapley import EXACT, coalitions


def test_landing_fees() -> None:
    """Littlechild & Owen 1973: planes that need runways of 1, 3 and 6 pay 1/3, 4/3 and 13/3."""
    need = np.array([1.0, 3.0, 6.0])
    game = coalitions(3)
    cost = (game.subsets * need).max(axis=1)
    assert game.shares(cost) == pytest.approx([1 / 3, 1 / 3 + 1.0, 1 / 3 + 1.0 + 3.0])


def test_majority_with_one_strong_vote() -> None:
    """Weights 2, 1, 1, quota 3: Shapley and Shubik 1954 give 2/3, 1/6, 1/6."""
    game = coalitions(3)
    wins = (game.subsets @ np.array([2, 1, 1]) >= 3).astype(float)
    assert game.shares(wins) == pytest.approx([2 / 3, 1 / 6, 1 / 6])


@pytest.mark.parametrize("count", [1, 4, EXACT, EXACT + 1, 12])
def test_shares_sum_to_the_whole_and_plain_sums_are_shared_as_they_are(count: int) -> None:
    game = coalitions(count)
    assert not game.subsets[0].any() and game.subsets[-1].all()
    assert len(game.subsets) <= 600
    worth = np.random.default_rng(count).normal(size=count)
    plain = game.subsets @ worth
    assert game.shares(plain) == pytest.approx(worth)
    odd = np.log1p(np.exp(plain)) + plain**2
    assert game.shares(odd).sum() == pytest.approx(odd[-1] - odd[0])


def test_sampled_orders_come_near_the_mean_over_all() -> None:
    """Votes of equal weight share a majority equally, by symmetry."""
    game = coalitions(11)
    wins = (game.subsets.sum(axis=1) >= 6).astype(float)
    assert game.shares(wins) == pytest.approx(np.full(11, 1 / 11))
