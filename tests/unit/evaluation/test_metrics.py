"""Scores on answers whose scores are known beforehand."""

from __future__ import annotations

import numpy as np
import pytest
from evaluation.marks import LAST, LOG, measure
from evaluation.metrics import (
    Result,
    both_in_top_two,
    by_mechanism,
    calibration_error,
    calibration_floor,
    interval,
    involved,
    repairs_in_order,
    session_minutes,
    table_of,
    worst_cause,
)

from boostproof.diagnosis.choice.repair_order import SPECIALIST, VERIFY, repair_minutes


def step(answer: dict[str, float], minutes: float = 0.0, size: float = 100.0) -> dict[str, object]:
    return {"test": "", "minutes": minutes, "answer": answer, "least_size": size}


def car(truth: str, *answers: dict[str, float], weight: float = 1.0, suite: str = "S1") -> Result:
    return Result(suite, truth, truth, (truth,), weight, tuple(step(a) for a in answers))


def test_causes_that_are_one_change_of_the_car_are_one_answer() -> None:
    answer = by_mechanism({"port-entry-poor": 0.3, "dump-pipe-poor": 0.3, "charge-leak": 0.4})
    assert max(answer, key=lambda i: answer[i]) not in ("charge-leak",)
    assert sorted(answer.values()) == pytest.approx([0.4, 0.6])


def test_a_pair_counts_for_both_of_its_parts() -> None:
    answer = {"charge-leak + spring-weak": 0.5, "charge-leak": 0.3, "healthy": 0.2}
    chances = involved(answer)
    assert sorted(chances.values()) == pytest.approx([0.5, 0.8])
    assert both_in_top_two(car("charge-leak + spring-weak", answer), 0)
    assert not both_in_top_two(car("charge-leak + turbo-worn", answer), 0)


def test_weights_take_back_what_was_drawn_too_often() -> None:
    right = car("charge-leak", {"charge-leak": 0.8, "healthy": 0.2}, weight=0.9)
    wrong = car("turbo-worn", {"charge-leak": 0.7, "turbo-worn": 0.3}, weight=0.1)
    table = table_of([right, wrong], LOG)
    assert table.mean("top1") == pytest.approx(0.9)
    assert table.mean("p_truth") == pytest.approx(0.9 * 0.8 + 0.1 * 0.3)
    assert table.mean("log_score") == pytest.approx(-0.9 * np.log(0.8) - 0.1 * np.log(0.3))
    assert table.mean("brier") == pytest.approx(0.9 * (0.04 + 0.04) + 0.1 * (0.49 + 0.49))


def test_a_perfect_tool_stays_within_its_floor_and_an_overconfident_one_does_not() -> None:
    rng = np.random.default_rng(2)
    confidence = rng.uniform(0.3, 1.0, 3000)
    correct = (rng.random(3000) < confidence).astype(float)
    weight = rng.uniform(0.5, 1.5, 3000)
    _, highest = calibration_floor(confidence, weight, rounds=60)
    assert calibration_error(confidence, correct, weight) < highest
    assert calibration_error(np.sqrt(confidence), correct, weight) > 2.0 * highest


def test_the_error_of_a_constant_overstatement_is_what_was_overstated() -> None:
    correct = np.tile([1.0, 0.0], 2000)
    assert calibration_error(np.full(4000, 0.7), correct, np.ones(4000)) == pytest.approx(0.2, abs=0.03)


def test_the_interval_holds_the_value_and_narrows_with_more_cars() -> None:
    def width(count: int) -> float:
        rng = np.random.default_rng(4)
        cars = [
            car("charge-leak", {"charge-leak": p, "healthy": 1.0 - p}) for p in rng.uniform(0.2, 0.9, count)
        ]
        table = table_of(cars, LOG)
        low, high = interval(table, lambda rows: table.mean("p_truth", rows), rounds=200)
        assert low < table.mean("p_truth") < high
        return high - low

    # the spread of a mean falls with the root of the number
    assert width(400) == pytest.approx(width(25) / 4.0, rel=0.4)


def test_causes_of_one_car_each_still_have_a_spread() -> None:
    cars = [car("charge-leak", {"charge-leak": 0.9, "healthy": 0.1}), car("turbo-worn", {"charge-leak": 1.0})]
    table = table_of(cars, LOG)
    assert interval(table, lambda rows: table.mean("top1", rows)) == (0.0, 1.0)


def test_minutes_count_tests_wrong_repairs_and_the_right_one() -> None:
    answer = {"charge-leak": 0.6, "turbo-worn": 0.35, "none-of-these": 0.05}
    order = repairs_in_order(answer)
    assert order[0] == "charge-leak"
    known = Result(
        "S1", "x", "turbo-worn", ("turbo-worn",), 1.0, (step({"healthy": 1.0}), step(answer, minutes=12.0))
    )
    total, oracle = session_minutes(known, LAST)
    assert oracle == repair_minutes("turbo-worn")
    tried = sum(repair_minutes(i) for i in order[: order.index("turbo-worn") + 1]) if "turbo-worn" in order else None
    expected = tried if tried is not None else sum(map(repair_minutes, order)) + SPECIALIST
    assert total == pytest.approx(12.0 + expected)


def test_a_sound_car_costs_a_proving_pull_and_an_unknown_fault_the_specialist() -> None:
    assert session_minutes(car("healthy", {"healthy": 1.0}), LAST) == (VERIFY, VERIFY)
    unknown = car("charge-leak", {"none-of-these": 1.0})
    assert session_minutes(unknown, LAST)[0] == SPECIALIST


def test_the_worst_cause_is_found_among_those_with_enough_cars() -> None:
    good = [car("charge-leak", {"charge-leak": 0.9, "healthy": 0.1})] * 5
    bad = [car("turbo-worn", {"charge-leak": 0.9, "turbo-worn": 0.1})] * 4
    few = [car("spring-weak", {"healthy": 1.0})]
    assert worst_cause(table_of([*good, *bad, *few], LOG), "top1") == ("turbo-worn", 0.0, 4)


def test_marks_are_judged_only_on_enough_cars_and_against_their_interval() -> None:
    good = car("charge-leak", {"charge-leak": 0.97, "healthy": 0.03})
    few = {m.mark.says: m for m in measure("S1", [good] * 10)}
    assert {m.verdict for m in few.values()} == {"too few cars"}
    many = {m.mark.says: m for m in measure("S1", [good] * 400)}
    assert many["first cause right after two tests at most"].verdict.startswith("stretch")
    # none of 400 was wrong: three in 400 are not ruled out, which is more than the stretch mark allows
    assert many["more than 90 % sure and wrong"].high == pytest.approx(3.0 / 400)


def test_a_car_brought_for_a_check_starts_from_another_chance_by_bayes_rule() -> None:
    doubtful = [car("healthy", {"healthy": 0.3, "charge-leak": 0.7}, suite="S5")] * 40
    lines = {m.mark.column: m.value for m in measure("S5", doubtful)}
    # odds 3 to 7 times (1/3) / (1/19) = 19/3: 2.7 to 1
    assert lines["healthy_told"] == 0.0
    assert lines["healthy_check"] == 1.0
