"""Evidence of "none of these", where all is linear and normal, against densities in closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import logsumexp
from tests.unit.diagnosis.linear_case import CAUSES, LOG_ROWS, LinearCase, linear_case

from boostproof.diagnosis.evidence.blocks import Block, EvidenceSet
from boostproof.diagnosis.evidence.hypotheses import hypotheses_for
from boostproof.diagnosis.inference.none_of_these import MOST_SURPRISE
from boostproof.diagnosis.inference.posterior import infer

FACT = LOG_ROWS + 2  # row of what is told of the car


def told_of_the_car(tested: bool) -> LinearCase:
    """The log and one more number, which is a fact of the car, or the reading of a test."""
    case = linear_case()
    log, number = case.evidence.blocks[0], next(b for b in case.evidence.blocks if b.source == "travel")
    case.evidence = EvidenceSet((log, number if tested else replace(number, group="car")))
    return case


def average(case: LinearCase, rows: list[int], beliefs: dict[str, float]) -> float:
    """Log of what the single causes give some numbers on average."""
    singles = [h for h in hypotheses_for(CAUSES, "none") if not h.healthy]
    weight = np.array([h.share * sum(beliefs[c.id] for c in h.causes) for h in singles])
    return float(logsumexp([case.exact(h.key, rows) for h in singles], b=weight / weight.sum()))


def test_a_fact_of_the_car_is_explained_together_with_the_log() -> None:
    case = told_of_the_car(tested=False)
    found = infer(case, CAUSES, "none", seed=4, pairs=False)  # type: ignore[arg-type]
    expected = average(case, [*range(LOG_ROWS), FACT], dict(found.priors))
    assert found.log_other == pytest.approx(expected, abs=0.15)
    # so that what is told beforehand never speaks for an unknown fault
    assert found.other == pytest.approx(found.beliefs.other, abs=0.02)


def test_a_test_is_explained_by_a_sound_part_or_by_any_reading() -> None:
    case = told_of_the_car(tested=True)
    found = infer(case, CAUSES, "none", seed=4, pairs=False)  # type: ignore[arg-type]
    sound = case.exact("healthy", [FACT])
    anywhere = case.evidence.blocks[1].flat
    test = float(logsumexp([sound, anywhere], b=[0.8, 0.2]))
    assert found.log_other == pytest.approx(average(case, list(range(LOG_ROWS)), dict(found.priors)) + test, abs=0.15)


@pytest.mark.parametrize(("off", "more"), [(1.0, 0.0), (6.0, MOST_SURPRISE)])
def test_what_no_cause_explains_speaks_for_an_unknown_one(off: float, more: float) -> None:
    case = linear_case()
    clatter = Block("clatter", lambda cars: np.full((2, cars.par.shape[1]), off), 2, 0.0, 1e9, 0.0, "log")
    case.evidence = EvidenceSet((case.evidence.blocks[0], clatter))
    found = infer(case, CAUSES, "none", seed=4, pairs=False)  # type: ignore[arg-type]
    expected = average(case, list(range(LOG_ROWS)), dict(found.priors)) - off**2 + more
    assert found.log_other == pytest.approx(expected, abs=0.15)
