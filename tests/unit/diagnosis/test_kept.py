"""What a store keeps of a posterior gives the same answer, to the bit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.unit.diagnosis.linear_case import CAUSES, LinearCase, linear_case

from boostproof.diagnosis.inference import posterior as posterior_module
from boostproof.diagnosis.inference.kept import from_arrays, to_arrays
from boostproof.diagnosis.inference.particles import particles_from
from boostproof.diagnosis.inference.posterior import Posterior, hypothesis_probability, infer

SAID = {"spring-weak": 0.6, "healthy": -0.3}


@pytest.fixture(scope="module")
def case() -> LinearCase:
    return linear_case()


@pytest.fixture(scope="module")
def first(case: LinearCase) -> Posterior:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(posterior_module, "_WANTED_SIZE", 1e9)  # so that all that matters is sampled in halves
        return infer(case, CAUSES, "none", seed=4, healthy_prior=0.08, said=SAID)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def second(case: LinearCase, first: Posterior, tmp_path_factory: pytest.TempPathFactory) -> Posterior:
    """As a new process reads it."""
    path: Path = tmp_path_factory.mktemp("kept") / "x.npz"
    np.savez_compressed(path, **to_arrays(first))
    with np.load(path, allow_pickle=False) as stored:
        arrays = {name: stored[name] for name in stored.files}
    return from_arrays(arrays, case, CAUSES, "none", healthy_prior=0.08, said=SAID)  # type: ignore[arg-type]


def same(one: object, other: object) -> bool:
    a, b = np.asarray(one), np.asarray(other)
    return a.dtype == b.dtype and a.shape == b.shape and a.tobytes() == b.tobytes()


def test_there_is_something_to_keep(first: Posterior) -> None:
    assert first.pair_probability and any(h.paired for h in first.hypotheses)
    assert first.halves and first.half_difference > 0.0
    assert len(first.draws) >= 3


def test_probabilities_are_the_same(first: Posterior, second: Posterior) -> None:
    assert second.cause_probability == first.cause_probability
    assert second.pair_probability == first.pair_probability
    assert list(second.pair_probability) == list(first.pair_probability)
    assert (second.healthy, second.other) == (first.healthy, first.other)
    assert second.involved == first.involved
    assert same(hypothesis_probability(second), hypothesis_probability(first))


def test_evidence_halves_and_sizes_are_the_same(first: Posterior, second: Posterior) -> None:
    assert same(second.log_evidence, first.log_evidence) and same(second.noticed, first.noticed)
    assert second.log_other == first.log_other
    assert second.halves == first.halves and second.sizes == first.sizes
    assert second.half_difference == first.half_difference
    assert second.beliefs == first.beliefs


def test_hypotheses_and_pairs_are_the_same(first: Posterior, second: Posterior) -> None:
    assert second.hypotheses == first.hypotheses


def test_draws_are_the_same(first: Posterior, second: Posterior) -> None:
    assert set(second.draws) == set(first.draws)
    for i, draws in first.draws.items():
        for name in ("z", "by_block", "log_base"):
            assert same(getattr(second.draws[i], name), getattr(draws, name))


def test_modes_are_the_same(first: Posterior, second: Posterior) -> None:
    assert set(second.modes) == set(first.modes)
    for i, modes in first.modes.items():
        for one, other in zip(modes, second.modes[i], strict=True):
            assert one.objective == other.objective and one.log_evidence == other.log_evidence
            for name in ("z", "precision", "by_block", "mask"):
                assert same(getattr(one, name), getattr(other, name))


def test_cars_drawn_from_it_are_the_same(first: Posterior, second: Posterior) -> None:
    one, other = particles_from(first, seed=2), particles_from(second, seed=2)
    assert same(one.weight, other.weight) and same(one.hypothesis, other.hypothesis)
    assert same(one.candidates.par, other.candidates.par)


def test_what_was_said_is_not_kept_but_told_again(case: LinearCase, first: Posterior) -> None:
    silent = from_arrays(to_arrays(first), case, CAUSES, "none", healthy_prior=0.08)  # type: ignore[arg-type]

    def log_odds(p: Posterior) -> float:
        return float(np.log(p.cause_probability["spring-weak"] / p.cause_probability["charge-leak"]))

    assert log_odds(first) - log_odds(silent) == pytest.approx(0.6)


def test_a_posterior_without_pairs_and_halves_is_kept_as_well(case: LinearCase) -> None:
    plain = infer(case, CAUSES, "none", seed=4, pairs=False)  # type: ignore[arg-type]
    plain.halves = {}
    plain.weigh()
    again = from_arrays(to_arrays(plain), case, CAUSES, "none")  # type: ignore[arg-type]
    assert again.hypotheses == plain.hypotheses and again.halves == {}
    # what was believed of pairs is not part of what is kept: it goes to the faults that were looked at either way
    assert again.cause_probability == pytest.approx(plain.cause_probability, abs=1e-12)
