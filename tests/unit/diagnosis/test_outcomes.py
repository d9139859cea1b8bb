"""Tables of outcomes against integrals worked out another way."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from boostproof.diagnosis.choice.outcomes import Outcomes, Seen, outcomes_of
from boostproof.diagnosis.choice.repair_order import Repairs
from boostproof.diagnosis.choice.worth import Belief, worth
from boostproof.observation import Observation, none_up_to, reading, word

HALF = 200
P = (0.3, 0.7)


def _seen(other: float = 0.0) -> Seen:
    """Two causes of many equal candidates each; the second is the sound car."""
    weight = np.concatenate([np.repeat(np.array(P) / HALF, HALF) * (1.0 - other), [other]])
    index = np.repeat([0, 1], HALF)
    return Seen(weight, index, index == 1)


def _table(
    observations: list[Observation], first: dict[str, float], second: dict[str, float], other: float = 0.0
) -> Outcomes:
    features = {name: np.repeat([first[name], second[name]], HALF) for name in first}
    return outcomes_of(observations, features, _seen(other), {}, np.random.default_rng(3))


def _bits(outcomes: Outcomes, other: float = 0.0) -> float:
    share = np.zeros((3, 2 * HALF + 1))
    share[0, :HALF] = share[1, HALF:-1] = share[2, -1] = 1.0
    belief = Belief(_seen(other).weight, share, Repairs(np.array([50.0, 100.0]), ((0,), (1,))))
    return worth(belief, belief.joint(outcomes.table)).bits


def _bits_of_two_normals(apart: float) -> float:
    """Information about which of two normals of unit width a number comes from, by quadrature."""

    def missing(y: float) -> float:
        joint = np.array([P[0] * norm.pdf(y), P[1] * norm.pdf(y - apart)])
        return float(-(joint * np.log2(joint / joint.sum())).sum())

    before = -sum(p * np.log2(p) for p in P)
    return float(before - quad(missing, -8.0, 8.0 + apart, limit=200)[0])


@pytest.mark.parametrize("apart", [0.5, 2.0, 4.0])
def test_one_reading_tells_what_the_integral_says(apart: float) -> None:
    outcomes = _table([reading("a", 0.0, 2.0)], {"a": 10.0}, {"a": 10.0 + 2.0 * apart})
    assert outcomes.table.sum(axis=1) == pytest.approx(np.ones(2 * HALF + 1))
    assert _bits(outcomes) == pytest.approx(_bits_of_two_normals(apart), abs=0.01)


def test_readings_together_tell_as_one_with_the_distance_of_both() -> None:
    """Independent errors: 1.2 and 1.6 standard deviations apart are 2 together."""
    seen = [reading("a", 0.0, 1.0), reading("b", 0.0, 5.0)]
    outcomes = _table(seen, {"a": 0.0, "b": 0.0}, {"a": 1.2, "b": 8.0})
    assert outcomes.table.sum(axis=1) == pytest.approx(np.ones(2 * HALF + 1))
    assert _bits(outcomes) == pytest.approx(_bits_of_two_normals(2.0), abs=0.03)


def test_readings_that_share_a_zero_tell_less() -> None:
    """Both 2 apart, own error 1, shared error 1: distance squared 2 x 4 / (1 + 2), not 2 x 4 / 2."""
    seen = [reading("a", 0.0, 1.0, shared=1.0), reading("b", 0.0, 1.0, shared=1.0)]
    outcomes = _table(seen, {"a": 0.0, "b": 0.0}, {"a": 2.0, "b": 2.0})
    assert _bits(outcomes) == pytest.approx(_bits_of_two_normals(np.sqrt(8.0 / 3.0)), abs=0.03)


def _bits_of_table(chances: np.ndarray) -> float:
    """Information of a table (causes, outcomes), written out."""
    joint = np.array(P)[:, None] * chances
    seen = joint.sum(axis=0)
    return float(sum(x * np.log2(x / P[i] / seen[k]) for (i, k), x in np.ndenumerate(joint) if x > 0.0))


def test_a_word_is_said_or_not_with_the_chances_of_the_likelihood() -> None:
    """Wrong one time in ten: said of 0.90 where it applies, of 0.05 where it does not. No density comes in."""
    outcomes = _table([word("worn", 0.5, 2.0, 0.02, wrong=0.1)], {"worn": 1.0}, {"worn": 0.0})
    assert outcomes.table[[0, -2]] == pytest.approx(np.array([[0.9, 0.1], [0.05, 0.95]]), abs=1e-9)
    assert _bits(outcomes) == pytest.approx(_bits_of_table(np.array([[0.9, 0.1], [0.05, 0.95]])), abs=1e-9)


def test_words_that_exclude_each_other_are_one_outcome_each() -> None:
    said = [word("arm", -9.0, 0.5, 0.01, wrong=0.1), word("arm", 0.5, 9.0, 0.01, wrong=0.1)]
    outcomes = _table(said, {"arm": 2.0}, {"arm": 0.0})
    right = 0.9 / 0.95
    assert outcomes.table[0] == pytest.approx([1.0 - right, right])
    assert outcomes.table[-2] == pytest.approx([right, 1.0 - right])


def test_none_up_to_a_limit_is_an_outcome() -> None:
    outcomes = _table([none_up_to("opening", 80e3, 4e3, wrong=0.04)], {"opening": 200e3}, {"opening": 50e3})
    assert outcomes.table[[0, -2], 0] == pytest.approx([0.96, 0.02], abs=1e-6)


def test_words_and_a_reading_together_tell_what_both_tables_say() -> None:
    """A sharp word beside a reading that tells nothing is the word alone."""
    seen = [word("worn", 0.5, 2.0, 0.02, wrong=0.1), reading("a", 0.0, 1.0)]
    outcomes = _table(seen, {"worn": 1.0, "a": 0.0}, {"worn": 0.0, "a": 0.0})
    assert _bits(outcomes) == pytest.approx(_bits_of_table(np.array([[0.9, 0.1], [0.05, 0.95]])), abs=0.03)


def test_none_of_these_answers_as_a_sound_part_four_times_in_five() -> None:
    outcomes = _table([word("worn", 0.5, 2.0, 0.02, wrong=0.1)], {"worn": 1.0}, {"worn": 0.0}, other=0.1)
    assert outcomes.table[-1] == pytest.approx([0.8 * 0.05 + 0.2 * 0.5, 0.8 * 0.95 + 0.2 * 0.5])


def test_a_strange_reading_speaks_for_none_of_these() -> None:
    """Both causes read near 0 and 1; what lies far from both is likeliest when nobody thought of it."""
    rng = np.random.default_rng(3)
    features = {"a": np.repeat([0.0, 1.0], HALF), "b": np.repeat([0.0, 1.0], HALF)}
    seen = _seen(0.1)
    both = [reading("a", 0.0, 0.2), reading("b", 0.0, 0.2)]
    outcomes = outcomes_of(both, features, seen, {"a": 40.0, "b": 40.0}, rng)
    joint = outcomes.table * seen.weight[:, None]
    share = joint[-1] / joint.sum(axis=0)
    assert share.max() > 0.99
    assert outcomes.table[-1] @ share > 0.15  # a fifth of its answers lie anywhere
