"""Histories drawn from the product's table speak for their cause, and move odds and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from evaluation.histories import drawn_history, moved, with_histories
from evaluation.metrics import Result

from boostproof.diagnosis.causes import BY_ID

CAUSES = tuple(BY_ID[i] for i in ("port-too-small", "exhaust-freed", "charge-leak", "turbo-worn"))


def test_odds_are_moved_by_the_factor_and_the_rest_keeps_its_order() -> None:
    answer = moved({"a": 0.2, "b": 0.3, "c": 0.5}, {"a": np.log(3.0)})
    assert sum(answer.values()) == pytest.approx(1.0)
    assert answer["a"] / answer["b"] == pytest.approx(2.0)
    assert answer["b"] / answer["c"] == pytest.approx(0.6)
    assert moved({"a": 0.4, "b": 0.6}, {}) == pytest.approx({"a": 0.4, "b": 0.6})


def test_a_freed_exhaust_is_told_of_where_it_is_the_cause() -> None:
    def told(cause: str) -> int:
        rng = np.random.default_rng(6)
        histories = [drawn_history(cause, CAUSES, rng) for _ in range(60)]
        return sum(any(c.what == "exhaust" for c in h.changed or ()) for h in histories)

    assert told("exhaust-freed") > 2 * told("charge-leak")


def cars(count: int) -> list[Result]:
    even = {c.id: 0.24 for c in CAUSES} | {"none-of-these": 0.04}
    step = {"test": "", "minutes": 0.0, "answer": even, "least_size": 50.0}
    return [Result("S1", f"{c.id} {k}", c.id, (c.id,), 1.0, (step,)) for k in range(count) for c in CAUSES]


def mean_log(results: list[Result]) -> float:
    return float(np.mean([np.log(r.steps[0]["answer"][r.truth[0]]) for r in results]))


def test_true_histories_help_and_false_ones_harm() -> None:
    some = cars(25)
    nothing = mean_log(some)
    assert mean_log(with_histories(some, false=0.0)) > nothing + 0.1
    assert mean_log(with_histories(some, false=1.0)) < nothing


def test_the_share_of_false_histories_is_as_asked() -> None:
    told = with_histories(cars(100), false=0.15)
    # a share of 400: standard error 0.018
    assert np.mean([r.note["history_false"] for r in told]) == pytest.approx(0.15, abs=0.06)
