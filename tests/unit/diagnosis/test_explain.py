"""Pairs among the answers: who is involved, what looks alike, and why."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.diagnosis.linear_case import CAUSES, linear_case

from boostproof.diagnosis.inference.posterior import Posterior, infer
from boostproof.diagnosis.reasons.explain import involved, look_alikes, probabilities
from boostproof.diagnosis.reasons.provisional import provisional
from boostproof.diagnosis.reasons.sensitivity import sensitivity
from boostproof.diagnosis.reasons.shares import evidence_shares, split

PAIR = "gate-travel-limited + charge-leak"  # in catalogue order


@pytest.fixture(scope="module")
def with_pair() -> Posterior:
    """The linear case, in which pairs are looked at."""
    posterior = infer(linear_case(), CAUSES, "none", seed=3)  # type: ignore[arg-type]
    assert PAIR in posterior.pair_probability
    return posterior


def test_the_pair_is_an_answer_and_its_parts_are_involved(with_pair: Posterior) -> None:
    p = probabilities(with_pair)
    assert sum(p.values()) + with_pair.healthy + with_pair.other == pytest.approx(1.0)
    found = involved(with_pair)
    for cause_id in ("charge-leak", "spring-weak"):
        parts = sum(x for i, x in p.items() if cause_id in i.split(" + "))
        assert found[cause_id] == pytest.approx(parts) and parts > p[cause_id]
    assert list(found.values()) == sorted(found.values(), reverse=True)


def test_shares_of_a_pair_sum_to_its_odds(with_pair: Posterior) -> None:
    found = evidence_shares(with_pair, split(with_pair))
    for answer, p in probabilities(with_pair).items():
        assert sum(r.nats for r in found[answer]) == pytest.approx(np.log(p / (1.0 - p)), abs=1e-6)


def test_other_assumptions_and_one_reading_less_keep_the_pair(with_pair: Posterior) -> None:
    assert all(0.0 < a.probability <= 1.0 for a in sensitivity(with_pair, split(with_pair)))
    same = provisional(with_pair)
    assert same.probability[PAIR] == pytest.approx(with_pair.pair_probability[PAIR], abs=1e-9)
    assert same.involved["charge-leak"] == pytest.approx(involved(with_pair)["charge-leak"], abs=1e-9)
    without = provisional(with_pair, removed=["hoses"])
    assert PAIR in without.probability


def test_answers_as_likely_as_each_other_look_alike(with_pair: Posterior) -> None:
    p = probabilities(with_pair)
    groups = look_alikes(with_pair)
    leader = max(p.values())
    ids, mass = groups[0]
    assert set(ids) == {i for i, value in p.items() if value >= 0.2 * leader}
    assert mass == pytest.approx(sum(p[i] for i in ids))
