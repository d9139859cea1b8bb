"""Other assumptions, where all is linear and normal and every evidence has a closed form."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.diagnosis.linear_case import CAUSES, LOG_ROWS, LinearCase, linear_case

from boostproof.diagnosis.evidence.hypotheses import Hypothesis
from boostproof.diagnosis.evidence.simulator import SEVERITY_ROWS
from boostproof.diagnosis.inference.posterior import Posterior, infer
from boostproof.diagnosis.reasons.sensitivity import error_shift, sensitivity, severity_shift
from boostproof.diagnosis.reasons.shares import split


def answer(case: LinearCase, healthy_prior: float = 0.05) -> Posterior:
    return infer(case, CAUSES, "none", seed=3, pairs=False, healthy_prior=healthy_prior)  # type: ignore[arg-type]


def exact(case: LinearCase, h: Hypothesis, width: float = 1.0, error: float = 1.0) -> float:
    """Log evidence with the severity's prior and the log's errors as told."""
    sd = case.sd.copy()
    sd[:LOG_ROWS] *= error
    spread = np.ones(case.dimensions)
    spread[list(SEVERITY_ROWS[: len(h.parts)])] = width
    a = case.a[h.key] * spread
    covariance = a @ a.T + np.diag(sd**2)
    _, logdet = np.linalg.slogdet(covariance)
    square = case.y @ np.linalg.solve(covariance, case.y)
    return float(-0.5 * (square + logdet + len(sd) * np.log(2.0 * np.pi)))


@pytest.mark.parametrize("sampled", [True, False])
@pytest.mark.parametrize("width", [2.0, 0.5])
def test_spread_of_severities(width: float, sampled: bool) -> None:
    case = linear_case()
    posterior = answer(case)
    if not sampled:
        posterior.draws = {}
    shift = severity_shift(posterior, width)
    for i, h in enumerate(posterior.hypotheses):
        true = exact(case, h, width=width) - exact(case, h)
        assert shift[i] == pytest.approx(true, abs=0.12 if sampled else 1e-6)


@pytest.mark.parametrize("sampled", [True, False])
@pytest.mark.parametrize("factor", [0.7, 1.5])
def test_error_of_the_model(factor: float, sampled: bool) -> None:
    case = linear_case()
    posterior = answer(case)
    if not sampled:
        posterior.draws = {}
    shift = error_shift(posterior, split(posterior), factor)
    for i, h in enumerate(posterior.hypotheses):
        true = exact(case, h, error=factor) - exact(case, h)
        assert shift[i] == pytest.approx(true, abs=0.12 if sampled else 1e-6)


def test_every_assumption_names_its_leader() -> None:
    case = linear_case()
    posterior = answer(case)
    found = {a.what: a for a in sensitivity(posterior, split(posterior))}
    assert len(found) == 6  # two spreads, two errors, base rates, and one other share of sound cars
    sound = found["25 of 100 cars that come in are sound"]
    truth = answer(case, 0.25)
    p = {**truth.cause_probability, **truth.pair_probability, "healthy": truth.healthy, "none_of_these": truth.other}
    best = max(p, key=lambda name: p[name])
    # what sampling adds to "none of these" is an average over the causes by their probability, which moves a little
    assert (sound.leader, sound.probability) == (best, pytest.approx(p[best], abs=1e-4))


def test_all_causes_equally_common() -> None:
    posterior = answer(linear_case())
    flat = next(a for a in sensitivity(posterior, split(posterior)) if a.what == "all causes equally common")
    # Bayes by hand: the mass of the single causes shared evenly among them, and that of the pairs
    weight: dict[str, float] = {"healthy": posterior.healthy, "none_of_these": posterior.other}
    for found, before in (
        (posterior.cause_probability, posterior.beliefs.singles),
        (posterior.pair_probability, posterior.beliefs.pairs),
    ):
        mean = sum(before[i] for i in found) / max(len(found), 1)
        weight |= {i: p * mean / before[i] for i, p in found.items()}
    best = max(weight, key=lambda name: weight[name])
    assert (flat.leader, flat.probability) == (best, pytest.approx(weight[best] / sum(weight.values())))
