"""Shares of the evidence where all is linear and normal: against closed forms."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from tests.unit.diagnosis.linear_case import CAUSES, LOG_ROWS, SOURCES, LinearCase, linear_case

from boostproof.diagnosis.evidence.hypotheses import answer_id
from boostproof.diagnosis.inference.posterior import Posterior, infer
from boostproof.diagnosis.inference.quasi_random import random_numbers
from boostproof.diagnosis.reasons.shares import COMMON, HISTORY, LOG, evidence_shares, split, strength
from boostproof.diagnosis.reasons.subsets import POOL, subset_evidence

NAMES = list(dict.fromkeys(SOURCES))


def answer(case: LinearCase) -> Posterior:
    return infer(case, CAUSES, "none", seed=3, pairs=False)  # type: ignore[arg-type]


def rows_of(chosen: tuple[str, ...]) -> list[int]:
    log = list(range(LOG_ROWS)) if LOG in chosen else []
    return log + [LOG_ROWS + k for k, source in enumerate(SOURCES) if source in chosen]


@pytest.mark.parametrize("sharp", [1.0, 30.0])
def test_every_subset_of_the_evidence(sharp: float) -> None:
    """Readings thirty times sharper than the log leave no sampled car any weight: then the closed form."""
    case = linear_case(sharp)
    posterior = answer(case)
    apart = split(posterior)
    numbers = np.arange(2 ** len(NAMES))
    subsets = (numbers[:, None] >> np.arange(len(NAMES))) & 1 == 1
    normals, _ = random_numbers(5, "why", 0, POOL, case.dimensions)
    found = subset_evidence(apart.fits, apart.readings, apart.alone, lambda i: normals, subsets)
    for row, subset in enumerate(subsets):
        chosen = tuple(name for name, on in zip(NAMES, subset, strict=True) if on)
        for i, h in enumerate(posterior.hypotheses):
            assert found[0][row, i] == pytest.approx(case.exact(h.key, rows_of(chosen)), abs=0.45)
            assert found[1][row, i] == pytest.approx(case.exact(h.key, rows_of((LOG, *chosen))), abs=0.45)


def exact_shares(case: LinearCase, posterior: Posterior, of: str) -> dict[str, float]:
    """Mean addition over all orders of coming in, of the known causes and pairs alone."""
    players = (LOG, *NAMES)
    key = {answer_id(some): h.key for h in posterior.hypotheses for some in h.answers}
    before = {**posterior.beliefs.singles, **posterior.beliefs.pairs}

    def odds(chosen: tuple[str, ...]) -> float:
        rows = rows_of(chosen)
        logs = {i: np.log(before[i]) + case.exact(key[i], rows) for i in key}
        mine = logs.pop(of)
        return float(mine - np.log(np.exp(list(logs.values())).sum()))

    out = dict.fromkeys(players, 0.0)
    orders = list(permutations(players))
    for order in orders:
        for k, player in enumerate(order):
            out[player] += (odds(order[: k + 1]) - odds(order[:k])) / len(orders)
    return out


def test_shares_are_those_of_the_closed_form() -> None:
    case = linear_case()
    posterior = answer(case)
    # sound and "none of these" out of the way, so that the closed form holds for what is left
    posterior.healthy = posterior.other = 0.0
    total = sum(posterior.cause_probability.values()) + sum(posterior.pair_probability.values())
    posterior.cause_probability = {i: p / total for i, p in posterior.cause_probability.items()}
    posterior.pair_probability = {i: p / total for i, p in posterior.pair_probability.items()}
    found = evidence_shares(posterior, split(posterior))
    for cause_id in posterior.priors:
        exact = exact_shares(case, posterior, cause_id)
        mine = {r.source: r.nats for r in found[cause_id]}
        for source, nats in exact.items():
            assert mine[source] == pytest.approx(nats, abs=0.3)


@pytest.mark.parametrize("said", [None, {"spring-weak": 1.2, "healthy": -0.4, "none-of-these": 0.3}])
def test_shares_and_how_common_it_is_sum_to_the_log_odds(said: dict[str, float] | None) -> None:
    posterior = answer(linear_case())
    posterior.beliefs = replace(posterior.beliefs, said=said or {})
    posterior.weigh()
    found = evidence_shares(posterior, split(posterior))
    for cause_id, p in {**posterior.cause_probability, **posterior.pair_probability}.items():
        assert sum(r.nats for r in found[cause_id]) == pytest.approx(np.log(p / (1.0 - p)), abs=1e-6)
        sources = {r.source for r in found[cause_id]}
        assert sources == {LOG, COMMON, *NAMES, *([HISTORY] if said else [])}
        assert [abs(r.nats) for r in found[cause_id]] == sorted((abs(r.nats) for r in found[cause_id]), reverse=True)


def test_how_common_it_is_stands_by_the_base_rates() -> None:
    posterior = answer(linear_case())
    found = evidence_shares(posterior, split(posterior))
    before = {**posterior.beliefs.singles, **posterior.beliefs.pairs}
    looked_at = {answer_id(some) for h in posterior.hypotheses for some in h.answers}
    # what was believed of pairs that were not looked at goes to what was
    left = sum(before.values()) / sum(before[i] for i in looked_at)
    for cause_id in looked_at:
        prior = before[cause_id] * left
        share = next(r.nats for r in found[cause_id] if r.source == COMMON)
        assert share == pytest.approx(np.log(prior / (1.0 - prior)), abs=1e-6)


def test_words_for_factors() -> None:
    said = [strength(np.log(f)) for f in (21.0, 5.1, 2.1, 1.5, 1 / 6.0, 1 / 25.0)]
    assert said == ["strong", "clear", "slight", "none", "clear against", "strong against"]
