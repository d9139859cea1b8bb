"""Candidates of a made-up case: sound cars of a prior with the faults of chosen causes, each with its weight."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np
from scipy.special import ndtr
from tests.unit.small_car import small_car

from boostproof.bench import set_ups
from boostproof.bench.response import Candidates
from boostproof.bench.tests import CarContext
from boostproof.car.prior import build_prior
from boostproof.casefolder import read_case
from boostproof.diagnosis.causes import CATALOGUE
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, answer_id, hypotheses_for, pair
from boostproof.diagnosis.evidence.simulator import run_pull
from boostproof.diagnosis.inference.particles import Particles
from boostproof.diagnosis.inference.weighing import Beliefs
from boostproof.physics.change import apply_all

AMBIENT, TARGET, REDLINE = 1.0e5, 9.65e4, 712.0
CONTEXT = CarContext("ball and spring", False, TARGET, REDLINE)
CAR = small_car('[limits]\ntarget = "14 psi"')


def particles(
    folder: Path, probabilities: dict[str, float], count: int = 40, severity: float | None = None
) -> tuple[SimpleNamespace, Particles]:
    """What stands for the posterior, and ``count`` candidates of every answer.

    Parameters
    ----------
    folder : empty, for a car.toml
    probabilities : by id of a cause, "a + b" of a pair, "healthy"; the rest is "none of these"
    severity : of all faults, 0 (mild) to 1; drawn where None
    """
    (folder / "car.toml").write_text(CAR, encoding="utf-8")
    prior = build_prior(read_case(folder).car)
    rng = np.random.default_rng(7)
    hypotheses = [_hypothesis(name) for name in probabilities]
    z = rng.standard_normal((prior.size, count * len(hypotheses)))
    sound = prior.sound(z)
    actual = sound.copy()
    index = np.repeat(np.arange(len(hypotheses)), count)
    drawn = ndtr(rng.standard_normal(len(index))) if severity is None else np.full(len(index), severity)
    for i, h in enumerate(hypotheses):
        if h.changes:
            actual[:, index == i] = apply_all(h.changes, sound[:, index == i], drawn[index == i])
    shares = np.linspace(0.45, 0.97, 12)
    ramp = set_ups.slow_ramp(REDLINE, TARGET, AMBIENT, shares.tolist())
    outputs = run_pull(actual, (), ramp)
    cars = Candidates(
        actual, shares * REDLINE, outputs, ambient=AMBIENT, all_outputs=outputs, sound=sound, simulated=run_pull
    )
    weight = np.repeat(np.array(list(probabilities.values())) / count, count)
    names = {c.id for h in hypotheses for c in h.causes}
    rates = {c.id: c.base_rate for c in CATALOGUE if c.id in names}
    both = {answer_id(some): rates[some[0].id] * rates[some[1].id] for h in hypotheses if h.paired for some in h.answers}
    posterior = SimpleNamespace(beliefs=Beliefs(0.05, 0.05, rates, both), other=1.0 - sum(probabilities.values()))
    return posterior, Particles(cars, index, weight, hypotheses)


def _hypothesis(name: str) -> Hypothesis:
    if name == "healthy":
        return Hypothesis()
    known = {c.id: c for c in CATALOGUE}
    single = [hypotheses_for((known[part],), CONTEXT.controller)[1] for part in name.split(" + ")]
    if len(single) == 1:
        return single[0]
    both = pair(*single)
    assert both is not None
    return both
