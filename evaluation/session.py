"""One car from log to repair: the product's answer on the log, then test after test as the product proposes.

A step is what was known (nothing new, or one more test) and the probabilities that came of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from boostproof.bench.response import Candidates, Response
from boostproof.bench.tests import BY_ID as TESTS
from boostproof.bench.tests import CATALOGUE, CarContext
from boostproof.diagnosis.causes import Cause
from boostproof.diagnosis.choice.next_test import value_tests
from boostproof.diagnosis.evidence.blocks import EvidenceSet, response_blocks
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.diagnosis.inference.particles import particles_from
from boostproof.diagnosis.inference.posterior import Posterior, hypothesis_probability, infer
from boostproof.diagnosis.reasons.trust import MATTERS
from boostproof.observation import Observation
from evaluation.truths import TrueCar

SMALLEST = 1e-6  # probabilities below are not kept


@dataclass(frozen=True)
class Step:
    """The answer after one more piece of evidence.

    Attributes
    ----------
    test : what was done, empty for the log alone
    minutes : that it took
    answer : probability by hypothesis: causes, pairs "a + b", "healthy" and "none-of-these"
    least_size : least effective sample size of the hypotheses above 5 %
    """

    test: str
    minutes: float
    answer: dict[str, float] = field(repr=False)
    least_size: float = 0.0

    def as_json(self) -> dict[str, Any]:
        """For the file of results."""
        return {
            "test": self.test,
            "minutes": self.minutes,
            "answer": {i: round(p, 7) for i, p in self.answer.items() if p >= SMALLEST},
            "least_size": round(self.least_size, 1),
        }


def answer_of(posterior: Posterior) -> dict[str, float]:
    """Probabilities of everything in play; they sum to one."""
    rest = {"healthy": posterior.healthy, "none-of-these": posterior.other}
    return {**posterior.cause_probability, **posterior.pair_probability, **rest}


def in_model(
    car: TrueCar,
    made: tuple[Simulator, tuple[Cause, ...], CarContext],
    *,
    seed: int,
    tests: int,
    causes: tuple[Cause, ...] | None = None,
) -> list[Step]:
    """A car of the model itself, with readings drawn as the model says they come.

    Parameters
    ----------
    car : the true one
    made : its log as the product's case (`evaluation.truths.driven`)
    seed : of the readings; the product runs with seed 1
    tests : at most so many
    causes : in play, all of the car where not given
    """
    simulator, every, context = made
    in_play = every if causes is None else causes
    true = simulator.candidates(car.sound, car.actual)
    rng = np.random.default_rng([seed, 14])
    done: list[str] = []
    steps: list[Step] = []
    test, minutes = "", 0.0
    while True:
        posterior = infer(simulator, in_play, context.controller, seed=1)
        steps.append(Step(test, minutes, answer_of(posterior), _least_size(posterior)))
        if len(done) == tests:
            return steps
        particles = particles_from(posterior, seed=1)
        now = replace(context, done=tuple(sorted(done)))
        open_tests = tuple(t for t in CATALOGUE if t.id not in done and t.fits(now) and now.possible(t.need))
        offered = value_tests(posterior, particles, open_tests, now, seed=1, done=done).offered
        if not offered or offered[0].minutes_saved <= 0.0:
            return steps
        test, minutes = offered[0].test, offered[0].cost
        done.append(test)
        response = read_off(TESTS[test].probe(now), true, rng)
        simulator = with_blocks(simulator, response)


def read_off(probe: Response, true: Candidates, rng: np.random.Generator) -> Response:
    """What somebody would read on the true car: each observation with its own error and the gauge's.

    A word is said with the chance that the likelihood gives it on this car. Several words on one feature exclude
    each other, and one of them is said; one alone, or "none up to", is said or nothing is written down.

    Parameters
    ----------
    probe : a test as it would be done
    true : the car, as candidates of one
    """
    features = probe.features(true)
    zero = rng.standard_normal()
    seen: list[Observation] = []
    words: dict[str, list[Observation]] = {}
    for o in probe.observations:
        if o.kind != "equal":
            words.setdefault(o.feature, []).append(o)
            continue
        value = float(np.asarray(features[o.feature])[0]) + o.sd * rng.standard_normal() + o.shared * zero
        seen.append(replace(o, value=value))
    for said in words.values():
        seen += _said_of(probe, said, true, rng)
    return replace(probe, observations=tuple(seen))


def _said_of(
    probe: Response, words: list[Observation], true: Candidates, rng: np.random.Generator
) -> list[Observation]:
    """The word that is said of a feature, none where the only one is not."""
    alone = [response_blocks(replace(probe, observations=(o,)))[0] for o in words]
    chance = np.exp([float(block.log_likelihood(block.residuals(true))[0]) for block in alone])
    upper = np.cumsum(chance)
    chosen = int(np.searchsorted(upper / upper[-1] if len(words) > 1 else upper, rng.random()))
    return words[chosen : chosen + 1]


def with_blocks(simulator: Simulator, response: Response) -> Simulator:
    """The same case with one more test done, in the first look as well."""
    new = tuple(response_blocks(response))
    scout = simulator.scout
    if scout is not None:
        scout = replace(scout, evidence=EvidenceSet((*scout.evidence.blocks, *new)))
    return replace(simulator, evidence=EvidenceSet((*simulator.evidence.blocks, *new)), scout=scout)


def _least_size(posterior: Posterior) -> float:
    p = hypothesis_probability(posterior)
    return min((posterior.sizes.get(i, 0.0) for i in range(len(p)) if p[i] > MATTERS), default=0.0)


Diagnose = Callable[[tuple[str, ...]], tuple[dict[str, float], list[tuple[str, float, float]], float]]
"""Tests whose reading is known -> answer; open tests as (id, minutes, minutes saved), best first; least size."""


def from_readings(diagnose: Diagnose, held: Mapping[str, Any], *, tests: int) -> list[Step]:
    """A car from files, whose readings are held back and given one at a time as they are asked for.

    A test that is proposed and whose reading is not held is passed over at no cost.

    Parameters
    ----------
    diagnose : the product on this case
    held : tests with a reading
    tests : at most so many
    """
    done: tuple[str, ...] = ()
    steps: list[Step] = []
    test, minutes = "", 0.0
    while True:
        answer, proposed, size = diagnose(done)
        steps.append(Step(test, minutes, answer, size))
        if len(done) == tests:
            return steps
        wanted = [(i, m) for i, m, saved in proposed if saved > 0.0 and i in held and i not in done]
        if not wanted:
            return steps
        test, minutes = wanted[0]
        done = (*done, test)
