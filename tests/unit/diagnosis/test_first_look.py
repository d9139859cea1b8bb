"""First looks are told twice, sum to one, and leave the answer as it is to the bit."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.diagnosis.linear_case import CAUSES, LOG_ROWS, LinearCase, linear_case

from boostproof.diagnosis.evidence.blocks import EvidenceSet
from boostproof.diagnosis.evidence.hypotheses import hypotheses_for
from boostproof.diagnosis.inference import search
from boostproof.diagnosis.inference.first_look import FirstLook
from boostproof.diagnosis.inference.fit import Mode, find_modes
from boostproof.diagnosis.inference.kept import to_arrays
from boostproof.diagnosis.inference.pairing import promising_pairs
from boostproof.diagnosis.inference.posterior import Posterior, infer
from boostproof.diagnosis.inference.weighing import HEALTHY_PRIOR, OTHER_PRIOR, beliefs_for


def with_scout() -> LinearCase:
    """The case, with one that sees one row of the log less as its highest pull alone."""
    case, scout = linear_case(), linear_case()
    fewer = scout._block("pulls", "log", list(range(LOG_ROWS - 1)))
    scout.evidence = EvidenceSet((fewer, *scout.evidence.blocks[1:]))
    case.scout = scout  # type: ignore[assignment]
    return case


@pytest.fixture(scope="module")
def looks() -> list[FirstLook]:
    return []


@pytest.fixture(scope="module")
def told(looks: list[FirstLook]) -> Posterior:
    return infer(with_scout(), CAUSES, "none", seed=4, first_look=looks.append)  # type: ignore[arg-type]


def test_they_are_told_twice_and_sum_to_one(told: Posterior, looks: list[FirstLook]) -> None:
    assert [look.all_pulls for look in looks] == [False, True]
    for look in looks:
        assert sum(look.probability.values()) + look.healthy + look.none_of_these == pytest.approx(1.0, abs=1e-12)
        assert set(look.probability) == {*told.cause_probability, *told.pair_probability}


def test_the_answer_is_the_same_with_and_without_it(told: Posterior) -> None:
    silent = infer(with_scout(), CAUSES, "none", seed=4)  # type: ignore[arg-type]
    one, other = to_arrays(told), to_arrays(silent)
    assert list(one) == list(other)
    assert all(one[name].tobytes() == other[name].tobytes() for name in one)
    assert told.cause_probability == silent.cause_probability and told.other == silent.other


def test_what_pairs_give_their_parts_stays_with_the_copies() -> None:
    """Singles as they come from the bank, and pairs that were fitted: there is much to give."""
    case, singles = linear_case(), list(hypotheses_for(CAUSES, "none"))
    mask = np.ones(len(case.evidence.blocks), bool)
    modes, _ = search._from_bank(case, singles, list(range(len(singles))), mask, seed=4)  # type: ignore[arg-type]
    find_modes(case, singles, modes, 0)  # type: ignore[arg-type]
    pairs, more = promising_pairs(case, singles, modes, beliefs_for(CAUSES), mask)  # type: ignore[arg-type]
    modes += more
    before = [_as_bytes(mode) for mode in modes]
    copies = search._with_given_back(case, [*singles, *pairs], modes)  # type: ignore[arg-type]
    assert [_as_bytes(mode) for mode in modes] == before
    better = [c for c, m in zip(copies, modes, strict=True) if c.objective < m.objective - 0.5]
    assert better and not any(singles[c.hypothesis].paired for c in better)


def _as_bytes(mode: Mode) -> tuple[object, ...]:
    arrays = (mode.z, mode.precision, mode.by_block, mode.residuals, mode.jacobian)
    return (*(np.asarray(x).tobytes() for x in arrays), mode.objective, mode.fresh, mode.settled)


@pytest.mark.parametrize("all_pulls", [False, True])
def test_they_weigh_what_the_pulls_and_all_readings_say(
    looks: list[FirstLook], told: Posterior, all_pulls: bool
) -> None:
    """Odds of single faults against each other and a sound car, against the closed form of the same rows."""
    look = looks[all_pulls]
    case = with_scout()
    rows = [i for i in range(len(case.y)) if all_pulls or i != LOG_ROWS - 1]
    single = {h.causes[0].id: h.key for h in told.hypotheses if not h.healthy and not h.paired}
    expected = {i: case.exact(key, rows) + np.log(told.beliefs.singles[i]) for i, key in single.items()}
    sound = case.exact("healthy", rows) + np.log(HEALTHY_PRIOR)
    answers = dict.fromkeys(single)
    # pairs that were not looked at leave what was believed of them to those that were: the same for every fault
    shift = {i: np.log(look.probability[i]) - expected[i] for i in answers}
    assert np.ptp(list(shift.values())) < 0.02
    looked_at = sum({**told.beliefs.singles, **told.beliefs.pairs}[i] for i in look.probability)
    left = np.log((1.0 - HEALTHY_PRIOR - OTHER_PRIOR) / looked_at)
    assert np.log(look.healthy) - sound == pytest.approx(np.mean(list(shift.values())) - left, abs=0.02)
