"""Pairs among the answers: who is involved, what looks alike, and why."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.diagnosis.linear_case import CAUSES, LinearCase, linear_case

from boostproof.diagnosis.explain import involved, look_alikes, probabilities
from boostproof.diagnosis.fit import Mode, find_modes
from boostproof.diagnosis.hypotheses import pair
from boostproof.diagnosis.posterior import Posterior, infer
from boostproof.diagnosis.provisional import provisional
from boostproof.diagnosis.reasons import COMMON, evidence_shares, split
from boostproof.diagnosis.sensitivity import sensitivity

PAIR = "port-too-small + charge-leak"  # in catalogue order
PRIOR = 0.02


@pytest.fixture(scope="module")
def with_pair() -> Posterior:
    """The linear case with a pair as one more hypothesis, weighed by Bayes' rule by hand."""
    case: LinearCase = linear_case()
    posterior = infer(case, CAUSES, "none", seed=3)  # type: ignore[arg-type]
    leak, port = (
        next(h for h in posterior.hypotheses if any(c.id == name for c in h.causes))
        for name in ("charge-leak", "port-too-small")
    )
    both = pair(leak, port)
    assert both is not None
    case.a[both.key] = case.a[leak.key] * 0.6 + case.a[port.key] * 0.5
    posterior.hypotheses.append(both)
    place = len(posterior.hypotheses) - 1
    mode = Mode(place, np.zeros(case.dimensions), np.ones(len(case.evidence.blocks), bool))
    posterior.modes[place] = find_modes(case, posterior.hypotheses, [mode], 6)  # type: ignore[arg-type]
    posterior.log_evidence = np.append(posterior.log_evidence, mode.log_evidence)
    posterior.noticed = np.append(posterior.noticed, 0.0)
    known = posterior.cause_probability["charge-leak"]
    evidence = posterior.mechanism_evidence()
    weight = PRIOR / posterior.priors["charge-leak"] * np.exp(mode.log_evidence - evidence[leak.mechanism]) * known
    total = 1.0 + weight
    posterior.cause_probability = {i: p / total for i, p in posterior.cause_probability.items()}
    posterior.healthy, posterior.other = posterior.healthy / total, posterior.other / total
    posterior.pair_probability = {PAIR: float(weight / total)}
    return posterior


def test_the_pair_is_an_answer_and_its_parts_are_involved(with_pair: Posterior) -> None:
    p = probabilities(with_pair)
    assert sum(p.values()) + with_pair.healthy + with_pair.other == pytest.approx(1.0)
    assert p[PAIR] > 0.005
    found = involved(with_pair)
    assert found["charge-leak"] == pytest.approx(p["charge-leak"] + p[PAIR])
    assert found["spring-weak"] == p["spring-weak"]
    assert list(found.values()) == sorted(found.values(), reverse=True)


def test_shares_of_a_pair_sum_to_its_odds(with_pair: Posterior) -> None:
    found = evidence_shares(with_pair, split(with_pair))
    for answer, p in probabilities(with_pair).items():
        assert sum(r.nats for r in found[answer]) == pytest.approx(np.log(p / (1.0 - p)), abs=1e-6)
    common = next(r.nats for r in found[PAIR] if r.source == COMMON)
    assert common == pytest.approx(np.log(PRIOR / 1.0), abs=1e-6)  # against all else, which is 1 without it


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
