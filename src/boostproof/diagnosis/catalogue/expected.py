"""What a fault is expected to show, without a real car: the log of one slow ramp and the answers of the tests.

A `Subject` is a car of a kind as it is when sound, with everything that it can have. Of every fault at a few
severities its evidence follows: boost on a slow full-load ramp, duty where there is a solenoid, and what each
bench test would read. All of it is free of noise, so that what is concluded is the expected verdict and not
that of one day.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boostproof.bench import set_ups
from boostproof.bench.response import Array, Candidates, Features, Response
from boostproof.bench.tests import CATALOGUE, BenchTest, CarContext
from boostproof.car.prior import STANDARD_TARGET, Prior, build_prior
from boostproof.diagnosis.causes import Cause
from boostproof.diagnosis.evidence.bins import BIN, Bin
from boostproof.diagnosis.evidence.blocks import COMPLAINT, Block, EvidenceSet, response_blocks
from boostproof.diagnosis.evidence.drive import Drive, gate_heat, sound_ramp
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, hypotheses_for
from boostproof.diagnosis.evidence.pulls import expected_block
from boostproof.diagnosis.evidence.setup import causes_of, complaint_blocks, context_of
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.diagnosis.inference.fit import Mode, find_modes, with_steps

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec

SEVERITIES = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Severities at which every fault is looked at, from mild 0 to severe 1."""

_RAMP = 8.0  # s, of the slow ramp
_FIRST, _LAST = 0.42, 0.97  # shares of redline between which the log is compared
_AMBIENT, _OUTSIDE = 101325.0, 295.0
_LEVELS = 9  # severities over which it is averaged how often a fault is noticed
_ROUNDS = 3  # to find the sound car that holds its target best

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Subject:
    """A car when sound, what may be wrong with it, and what can be tested.

    Attributes
    ----------
    simulator : the ramp; its evidence is what holds of every car that is brought in
    hypotheses : nothing wrong, then every single fault
    tests : those that the car and the shop allow
    context : for the tests
    channels : that the log holds
    z : (dimensions,) the sound car
    """

    simulator: Simulator
    hypotheses: tuple[Hypothesis, ...]
    tests: tuple[BenchTest, ...]
    context: CarContext
    channels: tuple[str, ...]
    z: Array = field(repr=False)


def subject_of(car: CarSpec, can: Mapping[str, bool] | None = None) -> Subject:
    """The likeliest sound car that a description leaves.

    Parameters
    ----------
    car : what is known; how its port and adjuster were found is not used, it may be the fault
    can : what the shop can do, by keys of ``[pull_place]``; None for what the car's file says
    """
    prior = build_prior(car)
    context = context_of(car, prior.target if prior.target is not None else STANDARD_TARGET)
    if can is not None:
        context = replace(context, can=tuple(can.items()))
    return subject_from(prior, context, causes_of(car), closed_loop=car.controller.closed_loop is not False)


def subject_from(
    prior: Prior,
    context: CarContext,
    causes: Sequence[Cause],
    *,
    closed_loop: bool = True,
    up_to: float = _LAST,
) -> Subject:
    """The likeliest sound car of a prior.

    Parameters
    ----------
    prior : sound cars
    context : what is fitted, and what the shop can do
    causes : in play
    closed_loop : a solenoid is driven by what the boost does
    up_to : share of redline at which the logged ramp ends
    """
    loop = context.controller.startswith("solenoid") and closed_loop
    drive = _ramp(context, loop, up_to)
    sound = sound_ramp(context.redline, context.target, _AMBIENT, _OUTSIDE, loop=loop)
    evidence = EvidenceSet(tuple(complaint_blocks(prior.target)))
    simulator = Simulator(prior, drive, sound, evidence, _AMBIENT)
    hypotheses = hypotheses_for(tuple(causes), context.controller)
    start = Mode(0, np.zeros(simulator.dimensions), np.ones(len(evidence.blocks), bool))
    z = find_modes(simulator, list(hypotheses), [start], _ROUNDS)[0].z
    everything = replace(context, done=tuple(t.id for t in CATALOGUE))
    tests = tuple(t for t in CATALOGUE if t.fits(everything) and context.possible(t.need))
    channels = ("boost", "duty") if context.controller.startswith("solenoid") else ("boost",)
    return Subject(simulator, hypotheses, tests, context, channels, z)


def _ramp(context: CarContext, loop: bool, up_to: float) -> Drive:
    """The slow ramp of a log, with the gate as warm as it gets on the way."""
    shares = np.arange(_FIRST, up_to + 1e-9, BIN / context.redline)
    schedule = set_ups.slow_ramp(
        context.redline,
        context.target,
        _AMBIENT,
        shares.tolist(),
        seconds=_RAMP,
        loop=loop,
        temperature=_OUTSIDE,
    )
    inputs = schedule.inputs
    inputs[:, 6] = gate_heat(inputs[:, 1], schedule.steps)
    bins = tuple(Bin(0, slot, share * context.redline, 0, 0) for slot, share in enumerate(shares.tolist()))
    return Drive(inputs, schedule.steps, schedule.record, bins, 1)


@dataclass(frozen=True)
class Bank:
    """Every fault of a subject at every severity, simulated with small steps in every unknown.

    Attributes
    ----------
    subject : the car
    hypothesis, severity : (points,) of every point
    z : (dimensions, points)
    candidates : columns point by point, each followed by its steps, one in every dimension
    noticed : (hypotheses,) log of the chance that a car with the fault is brought in at all
    responses : of the tests, by id; they remember what these candidates answer
    """

    subject: Subject
    hypothesis: NDArray[np.intp]
    severity: Array
    z: Array = field(repr=False)
    candidates: Candidates = field(repr=False)
    noticed: Array = field(repr=False)
    responses: Mapping[str, Response] = field(repr=False)

    @property
    def columns(self) -> int:
        """Columns of a point."""
        return len(self.z) + 1

    def point(self, hypothesis: int, severity: float) -> int:
        """Number of the point of a hypothesis at the severity nearest to the one given."""
        own = np.flatnonzero(self.hypothesis == hypothesis)
        return int(own[np.argmin(np.abs(self.severity[own] - severity))])

    def evidence(self, point: int, tests: Sequence[str]) -> EvidenceSet:
        """What the car of a point would show: its log and the answers of tests, without noise."""
        column = point * self.columns
        simulator = self.subject.simulator
        log = expected_block(self.candidates, column, simulator.drive, self.subject.channels)
        blocks: list[Block] = [log, *simulator.evidence.blocks]
        for test in tests:
            response = self.responses[test]
            answered = response.features(self.candidates)
            seen = tuple(replace(o, value=float(answered[o.feature][column])) for o in response.observations)
            blocks += response_blocks(replace(response, observations=seen))
        return EvidenceSet(tuple(blocks))


def bank_of(subject: Subject, tests: Sequence[str], *, severities: Sequence[float] = SEVERITIES) -> Bank:
    """Simulate every fault of a subject.

    Parameters
    ----------
    subject : the car
    tests : ids of the tests that will be asked
    severities : of every fault, 0 to 1
    """
    from scipy.special import ndtri

    simulator = subject.simulator
    faults = [i for i, h in enumerate(subject.hypotheses) if not h.healthy]
    hypothesis = np.repeat(faults, len(severities))
    severity = np.tile(np.asarray(severities, float), len(faults))
    z = np.repeat(subject.z[:, None], len(hypothesis), axis=1)
    z[-1] = ndtri(severity)
    stepped = with_steps(z)
    index = np.repeat(hypothesis, len(z) + 1)
    candidates = simulator.candidates(*simulator.parameters(stepped, subject.hypotheses, index))
    probes = {t.id: t.probe(subject.context) for t in subject.tests if t.id in tests}
    responses = {
        name: replace(r, features=_remembering(r.features, candidates)) for name, r in probes.items()
    }
    return Bank(subject, hypothesis, severity, z, candidates, _noticed(subject), responses)


def _noticed(subject: Subject) -> Array:
    """Log of the chance, over severities, that a car with the fault is brought in, (hypotheses,)."""
    from scipy.special import ndtri

    simulator = subject.simulator
    block = next(b for b in simulator.evidence.blocks if b.source == COMPLAINT)
    index = np.repeat(np.arange(len(subject.hypotheses)), _LEVELS)
    z = np.repeat(subject.z[:, None], len(index), axis=1)
    z[-1] = np.tile(ndtri((np.arange(_LEVELS) + 0.5) / _LEVELS), len(subject.hypotheses))
    candidates = simulator.candidates(*simulator.parameters(z, subject.hypotheses, index))
    chance = np.exp(block.log_likelihood(block.residuals(candidates)))
    return np.asarray(np.log(chance.reshape(-1, _LEVELS).mean(axis=1)))


def _remembering(features: Features, known: Candidates) -> Features:
    """Features that were computed once for candidates that are asked of again and again."""
    kept = features(known)
    return lambda candidates: kept if candidates is known else features(candidates)
