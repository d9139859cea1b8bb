"""The ranking at once against the full answer for the same evidence."""

from __future__ import annotations

import pytest
from tests.unit.diagnosis.linear_case import CAUSES, LOG_ROWS, SD, LinearCase, linear_case

from boostproof.bench.response import Response
from boostproof.diagnosis.evidence.blocks import response_blocks
from boostproof.diagnosis.inference.posterior import Posterior, infer
from boostproof.diagnosis.reasons.provisional import Provisional, provisional
from boostproof.diagnosis.reasons.trust import trust_of
from boostproof.observation import reading


def answer(case: LinearCase) -> Posterior:
    return infer(case, CAUSES, "none", seed=3, pairs=False)  # type: ignore[arg-type]


def same(found: Provisional, full: Posterior, within: float) -> None:
    for answer_id, p in {**full.cause_probability, **full.pair_probability}.items():
        assert found.probability[answer_id] == pytest.approx(p, abs=within)
    for cause_id, p in full.involved.items():
        assert found.involved[cause_id] == pytest.approx(p, abs=within)
    assert found.healthy == pytest.approx(full.healthy, abs=within)
    assert found.none_of_these == pytest.approx(full.other, abs=within)
    total = sum(found.probability.values()) + found.healthy + found.none_of_these
    assert total == pytest.approx(1.0, abs=1e-9)


def shaft(value: float, sd: float = float(SD[-1])) -> Response:
    row = LOG_ROWS + 4
    return Response("shaft", lambda cars: {"drag": cars.par[row]}, (reading("drag", value, sd),), {"drag": 12.0})


@pytest.mark.parametrize("sampled", [True, False])
@pytest.mark.parametrize("value", [1.0, -1.2])
def test_one_more_reading(value: float, sampled: bool) -> None:
    before = answer(linear_case(without="shaft"))
    full = answer(linear_case(without="shaft", more=response_blocks(shaft(value))))
    moved = max(abs(full.cause_probability[i] - p) for i, p in before.cause_probability.items())
    assert moved > 0.03  # it changes something
    if not sampled:
        before.draws = {}
    found = provisional(before, [shaft(value)])
    same(found, full, 0.05)
    assert (found.trust == "ok") == sampled and bool(found.sizes) == sampled


def test_one_reading_taken_away() -> None:
    before = answer(linear_case())
    full = answer(linear_case(without="hoses"))
    same(provisional(before, removed=["hoses"]), full, 0.05)


def test_one_reading_exchanged() -> None:
    before = answer(linear_case())
    full = answer(linear_case(without="shaft", more=response_blocks(shaft(-1.2))))
    same(provisional(before, [shaft(-1.2)], ["shaft"]), full, 0.05)


def test_nothing_changed_is_the_full_answer() -> None:
    before = answer(linear_case())
    same(provisional(before), before, 1e-9)


def test_a_sharp_reading_leaves_few_draws_and_says_so() -> None:
    before = answer(linear_case(without="shaft"))
    found = provisional(before, [shaft(1.0, sd=0.01)])
    full = answer(linear_case(without="shaft", more=response_blocks(shaft(1.0, sd=0.01))))
    assert found.trust != "ok"
    same(found, full, 0.05)


def test_the_log_cannot_be_taken_away() -> None:
    with pytest.raises(ValueError, match="pulls"):
        provisional(answer(linear_case()), removed=["pulls"])


def test_print_policy_of_the_notes() -> None:
    assert [trust_of(s) for s in (300.0, 30.0, 12.0, 10.0, 3.0)] == ["ok", "ok", "about", "about", "order only"]
