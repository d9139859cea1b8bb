"""A test done twice is not two independent tests, and a hot repeat answers for hot parts."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from boostproof.bench.parts import PARTS, at_fault
from boostproof.bench.readings import SwapKnownGood, reading_type
from boostproof.bench.response import Candidates, Response
from boostproof.bench.tests import BY_ID, CarContext, gauge_of
from boostproof.bench.tests.repeats import LARGEST_RATIO, RESULT_CHANCES, result_ratio
from boostproof.diagnosis.evidence.blocks import repeated_blocks, response_blocks
from boostproof.diagnosis.evidence.setup import responses_of
from boostproof.observation import Observation, reading, word
from boostproof.physics import layout
from boostproof.quantity import parse_quantity

CONTEXT = CarContext("ball and spring", False, 1.0e5, 712.0)


def _candidates(values: np.ndarray) -> Candidates:
    return Candidates(par=values, pull_speeds=np.array([1.0]), pull_outputs=np.zeros((1, 1, values.shape[1])))


def _response(*observations: Observation, gauge: str = "") -> Response:
    return Response("t", lambda c: {"a": c.par[0], "b": c.par[1]}, observations, gauge=gauge)


def _like(blocks, candidates: Candidates) -> np.ndarray:
    return np.sum([b.log_likelihood(b.residuals(candidates)) for b in blocks], axis=0)


def test_repeated_readings_share_the_error_that_comes_again() -> None:
    """Against the joint normal density written down by hand: half the variance comes again, and the zero."""
    first = _response(reading("a", 0.3, 1.0, shared=0.5, repeat=0.5))
    second = _response(reading("a", -0.1, 2.0, shared=0.5, repeat=0.5))
    values = np.array([[0.0, 0.5, -0.8], [0.0, 0.0, 0.0]])
    common = 0.5 * 1.0 * 2.0 + 0.25
    covariance = np.array([[1.25, common], [common, 4.25]])
    expected = multivariate_normal([0.3, -0.1], covariance).logpdf(np.stack([values[0]] * 2, axis=1))
    assert _like(repeated_blocks([first, second]), _candidates(values)) == pytest.approx(expected, rel=1e-9)


def test_readings_of_two_gauges_do_not_share_a_zero() -> None:
    one = [_response(reading("a", 0.0, 1.0, shared=3.0, repeat=0.0), gauge=g) for g in ("x", "y")]
    far = _candidates(np.array([[0.0, 3.0], [0.0, 0.0]]))
    drop = np.diff(_like(repeated_blocks(one), far))[0]
    single = np.diff(_like(response_blocks(one[0]), far))[0]
    assert drop == pytest.approx(2.0 * single, rel=1e-9)


def test_ten_repeats_tell_little_more_than_two() -> None:
    """With half the variance coming again, the mean of ten is known to sqrt(0.55), never to sqrt(0.1)."""
    candidates = _candidates(np.array([[0.0, 1.0], [0.0, 0.0]]))

    def information(count: int) -> float:
        blocks = repeated_blocks([_response(reading("a", 0.0, 1.0)) for _ in range(count)])
        return -2.0 * float(np.diff(_like(blocks, candidates))[0])

    assert information(1) == pytest.approx(1.0)
    assert information(2) == pytest.approx(1.0 / 0.75)
    assert information(10) == pytest.approx(1.0 / 0.55)


def test_a_word_said_again_counts_less_than_twice() -> None:
    """Half of the time the same answer for the same reason, else independent: worked by hand."""
    said = word("a", 0.5, 2.0, 0.01, wrong=0.1)
    candidates = _candidates(np.array([[1.0, 0.0], [0.0, 0.0]]))
    once = np.exp(_like(repeated_blocks([_response(said)]), candidates))
    twice = np.exp(_like(repeated_blocks([_response(said), _response(said)]), candidates))
    assert once == pytest.approx([0.9, 0.05], rel=1e-6)
    assert twice == pytest.approx([0.5 * 0.9 + 0.5 * 0.81, 0.5 * 0.05 + 0.5 * 0.0025], rel=1e-6)


def test_words_that_differ_cancel() -> None:
    yes, no = word("a", 0.5, 2.0, 0.01, wrong=0.1), word("a", -1.0, 0.5, 0.01, wrong=0.1)
    like = _like(repeated_blocks([_response(yes), _response(no)]), _candidates(np.array([[1.0, 0.0], [0.0, 0.0]])))
    assert like[0] == pytest.approx(like[1], abs=1e-6)


def test_two_words_within_one_reading_are_two_things_said() -> None:
    said = _response(word("a", 0.5, 2.0, 0.01), word("a", 0.4, 2.0, 0.01))
    assert len(repeated_blocks([said])) == 2


def test_a_hot_repeat_is_no_independent_test() -> None:
    pressure = parse_quantity("8 psi", dimension="pressure", usual_sd=2e3)
    cold = reading_type("actuator-sweep")(test="actuator-sweep", first_movement=pressure)
    spec = reading_type("hot-repeat", "actuator-sweep")
    hot = spec(test="hot-repeat", of="actuator-sweep", first_movement=pressure)
    groups = responses_of([cold, hot], None, CONTEXT)
    assert [len(g) for g in groups] == [2]
    other = reading_type("line-sweep")(test="line-sweep", first_movement=pressure)
    assert [len(g) for g in responses_of([cold, other], None, CONTEXT)] == [1, 1]


def test_parts_that_bind_hot_move_later_in_a_hot_repeat() -> None:
    par = np.array([[p.neutral] * 2 for p in layout.PARAMETERS])
    par[layout.INDEX["heat_binding"], 1] = 3.0e4
    candidates = _candidates(par)
    spec = reading_type("hot-repeat", "actuator-sweep")
    pressure = parse_quantity("8 psi", dimension="pressure", usual_sd=2e3)
    hot = BY_ID["hot-repeat"].respond(
        spec(test="hot-repeat", of="actuator-sweep", first_movement=pressure), gauge_of(None), CONTEXT
    )
    moved = hot.features(candidates)["opening"]
    assert moved[1] - moved[0] == pytest.approx(3.0e4)


# -- swapped parts -----------------------------------------------------------------------------------


@pytest.mark.parametrize("result", sorted(RESULT_CHANCES))
def test_a_swapped_part_speaks_as_the_table_says_and_never_more_than_eightfold(result: str) -> None:
    sound = np.array([[p.neutral] * 2 for p in layout.PARAMETERS])
    par = sound.copy()
    par[layout.INDEX["offset"], 1] += 3.0e4
    candidates = Candidates(par, np.array([1.0]), np.zeros((1, 1, 2)), sound=sound)
    swapped = SwapKnownGood(test="swap-known-good", what="controller", result=result)
    response = BY_ID["swap-known-good"].respond(swapped, gauge_of(None), CONTEXT)
    like = np.exp(_like(response_blocks(response), candidates))
    fault, other = RESULT_CHANCES[result]
    expected = min(max(fault / other, 1.0 / 8.0), 8.0)
    assert like[1] / like[0] == pytest.approx(expected, rel=1e-6)
    assert LARGEST_RATIO == 8.0 and result_ratio(result) == pytest.approx(expected)


def test_the_chances_of_the_results_are_chances() -> None:
    assert np.sum(list(RESULT_CHANCES.values()), axis=0) == pytest.approx([1.0, 1.0])


def test_swapping_another_part_says_nothing_of_this_one() -> None:
    sound = np.array([[p.neutral] * 2 for p in layout.PARAMETERS])
    par = sound.copy()
    par[layout.INDEX["boost_gain"], 1] = 1.1
    candidates = Candidates(par, np.array([1.0]), np.zeros((1, 1, 2)), sound=sound)
    swapped = SwapKnownGood(test="swap-known-good", what="hoses", result="cured")
    response = BY_ID["swap-known-good"].respond(swapped, gauge_of(None), CONTEXT)
    like = _like(response_blocks(response), candidates)
    assert like[0] == pytest.approx(like[1])


@pytest.mark.parametrize("part", sorted(PARTS))
def test_every_part_owns_parameters_and_is_at_fault_when_one_is_wrong(part: str) -> None:
    sound = np.array([[p.neutral] * 2 for p in layout.PARAMETERS])
    par = sound.copy()
    first = layout.INDEX[PARTS[part][0]]
    par[first, 1] += 0.01 + 0.01 * abs(par[first, 1])
    candidates = Candidates(par, np.array([1.0]), np.zeros((1, 1, 2)), sound=sound)
    assert at_fault(candidates, part).tolist() == [0.0, 1.0]
    assert all(name in layout.INDEX for name in PARTS[part])
