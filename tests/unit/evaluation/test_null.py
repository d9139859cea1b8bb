"""Null tests of the protocol: where there is nothing to learn the product must learn nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from evaluation.session import answer_of
from evaluation.truths import draw_error
from tests.unit.evaluation import toy_cars as toy

from boostproof.diagnosis.causes import Cause
from boostproof.diagnosis.inference import posterior as posterior_module
from boostproof.diagnosis.inference import search as search_module
from boostproof.diagnosis.inference.posterior import Posterior, infer
from boostproof.diagnosis.inference.weighing import HEALTHY_PRIOR, OTHER_PRIOR, PAIRS_PRIOR, beliefs_for
from boostproof.physics.change import apply_all
from boostproof.physics.system import N_OUTPUT, OUTPUT_INDEX

Blocks = list[object]


def diagnosed(blocks: Blocks, causes: tuple[Cause, ...] = toy.CAUSES, pulls: int = 1) -> Posterior:
    return infer(toy.simulator(blocks, pulls), causes, "none", seed=1)


def faulty(cause: Cause, severity: float) -> np.ndarray:
    """The middle car of the prior with a fault."""
    sound = toy.prior().sound(np.zeros((toy.prior().size, 1)))
    return apply_all(cause.variants_for("none")[0][1], sound, np.array([severity]))


def usual_log(pulls: int = 1) -> object:
    """A port somewhat too small, as its log shows it."""
    return toy.log_of(toy.shown_by(faulty(toy.CAUSES[0], 0.4)), pulls)


def prior_answer() -> dict[str, float]:
    return {**beliefs_for(toy.CAUSES, HEALTHY_PRIOR).singles, "healthy": HEALTHY_PRIOR, "none-of-these": OTHER_PRIOR}


def far(one: dict[str, float], other: dict[str, float]) -> float:
    """Largest difference of a probability."""
    return max(abs(one.get(i, 0.0) - other.get(i, 0.0)) for i in {*one, *other})


def test_without_evidence_the_answer_is_the_prior() -> None:
    """To rounding. What was believed of pairs, or of variants of them, that were not looked at is the faults'."""
    answer, expected = answer_of(diagnosed([])), prior_answer()
    assert sum(answer.values()) == pytest.approx(1.0, abs=1e-12)
    assert answer["healthy"] == pytest.approx(HEALTHY_PRIOR, abs=1e-9)
    assert answer["none-of-these"] == pytest.approx(OTHER_PRIOR, abs=1e-9)
    raised = [answer[c.id] / expected[c.id] for c in toy.CAUSES]
    assert max(raised) / min(raised) == pytest.approx(1.0, abs=1e-9)
    assert 1.0 - 1e-9 < raised[0] < 1.0 / (1.0 - PAIRS_PRIOR) + 1e-9
    assert all(answer[i] <= raised[0] * p * (1.0 + 1e-9) for i, p in expected.items() if i in answer and " + " in i)


def test_a_log_is_learned_from_at_all() -> None:
    blocks = [usual_log(), *toy.known()]
    answer = answer_of(diagnosed(blocks))
    assert answer["port-too-small"] > 3.0 * prior_answer()["port-too-small"]


def test_the_same_pull_again_changes_almost_nothing() -> None:
    once = answer_of(diagnosed([usual_log(), *toy.known()]))
    twice = answer_of(diagnosed([usual_log(2), *toy.known()], pulls=2))
    assert far(once, twice) < 0.05


def test_a_test_that_tells_nothing_changes_nothing() -> None:
    before = answer_of(diagnosed([usual_log(), *toy.known()]))
    after = answer_of(diagnosed([usual_log(), *toy.known(), *toy.irrelevant()]))
    known = [i for i in before if i != "none-of-these" and before[i] > 1e-4]
    odds = np.array([(after[i] / before[i]) / (after[known[0]] / before[known[0]]) for i in known])
    assert odds == pytest.approx(1.0, abs=1e-3)
    # a part that was tested and is as it should be makes it somewhat less likely that it is none of these
    assert 0.6 * before["none-of-these"] < after["none-of-these"] <= before["none-of-these"] * 1.01


def test_the_order_of_the_evidence_does_not_matter() -> None:
    blocks = [usual_log(), *toy.known(), *toy.opening(8.1e4), *toy.port(0.026)]
    forward = answer_of(diagnosed(blocks))
    for order in ([4, 3, 2, 1, 0], [2, 0, 4, 1, 3]):
        assert far(forward, answer_of(diagnosed([blocks[k] for k in order]))) < 1e-6


def test_another_cause_leaves_the_numbers_of_every_other_cause_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    blocks = [usual_log(), *toy.known()]
    drawn = recorded(monkeypatch)
    diagnosed(blocks)
    alone = dict(drawn)
    drawn.clear()
    dummy = toy.dummy_cause()
    assert isinstance(dummy, Cause)
    diagnosed(blocks, (*toy.CAUSES, dummy))
    common = alone.keys() & drawn.keys()
    # which pairs are worth a look may change, since another cause takes some of the belief; single causes all stay
    assert {key for _, key, *_ in common} >= {"healthy", *(h for h in mechanisms(alone) if "+" not in h)}
    for name in common:
        for one, other in zip(alone[name], drawn[name], strict=True):
            assert one.tobytes() == other.tobytes(), name


def recorded(monkeypatch: pytest.MonkeyPatch) -> dict[tuple[int, str, int, int], tuple[np.ndarray, ...]]:
    """Every request for random numbers that a diagnosis makes, and what it got."""
    seen: dict[tuple[int, str, int, int], tuple[np.ndarray, ...]] = {}
    original: Callable[..., tuple[np.ndarray, np.ndarray]] = search_module.random_numbers

    def keep(seed: int, key: str, start: int, count: int, dimensions: int) -> tuple[np.ndarray, ...]:
        got = original(seed, key, start, count, dimensions)
        seen[seed, key, start, count] = tuple(a.copy() for a in got)
        return got

    for module in (search_module, posterior_module):
        monkeypatch.setattr(module, "random_numbers", keep)
    return seen


def mechanisms(drawn: dict[tuple[int, str, int, int], object]) -> set[str]:
    return {key for _, key, *_ in drawn}


def test_labels_of_other_cars_are_met_no_more_often_than_the_prior_says() -> None:
    """Cars drawn from the toy itself: held against the label of another car the answers are worth the prior.

    The mean over cars of what a calibrated tool gives to a cause is the cause's prior (law of total
    expectation), so a label drawn without regard to the car is given the sum of the squared priors. The cars
    have one fault or none, so that is what the answers are told.
    """
    rng = np.random.default_rng(5)
    names = ["healthy", *(c.id for c in toy.CAUSES)]
    share = np.array([prior_answer()[i] for i in names])
    share /= share.sum()
    given, own = [], []
    for _ in range(24):
        truth = int(rng.choice(len(names), p=share))
        answer = answer_of(diagnosed([noisy_log(names[truth], rng), *toy.known()]))
        p = np.array([answer[i] for i in names])
        given.append(p / p.sum())
        own.append(given[-1][truth])
    shuffled = np.array(given) @ share
    chance = float(share @ share)
    assert np.mean(own) > 2.0 * chance
    assert shuffled.mean() == pytest.approx(chance, abs=3.5 * shuffled.std() / np.sqrt(len(shuffled)))


def noisy_log(truth: str, rng: np.random.Generator) -> object:
    """Log of a car drawn from the toy's prior, on target when sound and noticed when faulty, with its errors."""
    causes = {c.id: c for c in toy.CAUSES}
    simulator = toy.simulator(toy.known())
    z = rng.standard_normal((toy.prior().size, 4000))
    sound = toy.prior().sound(z)
    actual = sound
    if truth in causes:
        variants = causes[truth].variants_for("none")
        chosen = int(rng.choice(len(variants), p=[s for s, _ in variants]))
        actual = apply_all(variants[chosen][1], sound, rng.random(4000))
    candidates = simulator.candidates(sound, actual)
    weight = np.exp(sum(b.log_likelihood(b.residuals(candidates)) for b in simulator.evidence.blocks))
    one = int(rng.choice(4000, p=weight / weight.sum()))
    boost = toy.shown_by(actual[:, [one]])
    block = toy.log_of(boost)
    return toy.log_of(boost + drawn_error(block, boost, rng))


def drawn_error(block: object, boost: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A draw of the block's error, from its own whitening."""
    out = np.zeros((len(boost), N_OUTPUT))
    out[:, OUTPUT_INDEX["boost_measured"]] = boost
    return draw_error(block, out, ("boost",), rng)[0]["boost"]


def test_a_drawn_error_has_the_covariance_that_the_likelihood_expects() -> None:
    boost = np.linspace(2.0e4, 8.0e4, len(toy.drive().bins))
    block = toy.log_of(boost)
    rng = np.random.default_rng(3)
    squares = []
    for _ in range(200):
        error = drawn_error(block, boost, rng)
        out = toy.simulator([block]).candidates(*[faulty(toy.CAUSES[0], 0.5)] * 2)
        moved = np.zeros_like(out.all_outputs)
        moved[:, OUTPUT_INDEX["boost_measured"], 0] = boost + error
        residuals = block.residuals(replace(out, all_outputs=moved))
        squares.append(float((residuals**2).sum()))
    # a sum of m squared standard normal numbers: mean m, variance 2 m
    m = len(boost)
    assert np.mean(squares) == pytest.approx(m, abs=4.0 * np.sqrt(2.0 * m / 200))
