"""Candidates before any pull: the car's prior with every cause by its base rate, and bench readings where done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Candidates, Response
from boostproof.car.prior import Prior
from boostproof.diagnosis.causes import Cause
from boostproof.diagnosis.evidence.blocks import Block, EvidenceSet, repeated_blocks
from boostproof.diagnosis.evidence.drive import Drive, sound_ramp
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, hypotheses_for, pair
from boostproof.diagnosis.evidence.setup import complaint_blocks
from boostproof.diagnosis.evidence.simulator import run_drive, run_pull
from boostproof.diagnosis.inference.weighing import HEALTHY_PRIOR, beliefs_for
from boostproof.physics.change import apply_all
from boostproof.physics.system import OUTPUT_INDEX
from boostproof.pullplan.ensemble import Ensemble, simulate
from boostproof.pullplan.ramp import ladder_ramp
from boostproof.pullplan.terms import Terms

POOL, KEPT = 4096, 384  # sound cars drawn, and kept
MOVES, MOVE = 12, 0.25  # random moves that part those that were kept twice, and the share of a move that is new
SOUND, SINGLE, PAIRED = 256, 72, 4  # candidates of each hypothesis
PAIRS = 128  # pairs drawn, by how often they come



def ensemble_before(
    prior: Prior,
    causes: tuple[Cause, ...],
    terms: Terms,
    *,
    loop: bool,
    ambient: float = 101325.0,
    temperature: float = 288.0,
    facts: Sequence[Block] = (),
    responses: Sequence[Sequence[Response]] = (),
    seed: int = 1,
) -> Ensemble:
    """Candidates of a car that was not yet driven.

    Sound cars hold their target and faults are noticed, as wherever a car is judged; every cause comes with its
    base rate, two at once with theirs. "None of these" has no car that could be driven and is left out.

    Parameters
    ----------
    prior : of sound cars
    causes : that the car can have
    terms : of the ladder
    loop : whether it has a boost loop
    ambient, temperature : of the air around [Pa abs], [K]; cold air makes more boost
    facts : what car.toml says of the car as found
    responses : bench readings, test by test
    seed : of all that is drawn
    """
    rng = np.random.default_rng([seed, 41])
    drive = sound_ramp(terms.redline, terms.target, ambient, temperature, loop=loop)
    schedule = ladder_ramp(terms, ambient, temperature, loop=loop)
    pool = sound_cars(prior, terms.target, drive, rng)
    hypotheses, mass = _hypotheses(causes, prior.controller, rng)
    count = [SOUND if h.healthy else PAIRED if h.paired else SINGLE for h in hypotheses]
    index = np.repeat(np.arange(len(hypotheses)), count)
    sound = prior.sound(pool[:, np.concatenate([rng.permutation(pool.shape[1])[:c] for c in count])])
    actual = _with_faults(sound, hypotheses, index, count, rng)
    blocks = [*complaint_blocks(terms.target)[-1:], *facts, *(b for some in responses for b in repeated_blocks(some))]
    evidence = EvidenceSet(tuple(blocks))
    candidates = _candidates(sound, actual, drive, ambient)
    by_block = evidence.by_block(evidence.residuals(candidates))
    weight = _weights(by_block, index, mass)
    shares = [_shares(h, causes) for h in hypotheses]
    return simulate(actual, weight, index, shares, terms, schedule, controller=prior.controller != "none")


def sound_cars(prior: Prior, target: float, drive: Drive, rng: np.random.Generator) -> Array:
    """Numbers z of sound cars that hold their target: resampled, then parted by moves. [(nuisances, KEPT)]"""
    block = complaint_blocks(target)[0]

    def holds(z: Array) -> Array:
        par = prior.sound(z)
        boost = np.asarray(run_drive(par, drive)[:, OUTPUT_INDEX["boost"]], float)
        empty = np.zeros((1, 1, par.shape[1]))
        return block.log_likelihood(block.residuals(Candidates(par, np.zeros(1), empty, sound_boost=boost)))

    z = rng.standard_normal((prior.size, POOL))
    value = holds(z)
    weight = np.cumsum(np.exp(value - value.max()))
    chosen = np.searchsorted(weight / weight[-1], (rng.random() + np.arange(KEPT)) / KEPT).clip(0, POOL - 1)
    z, value = z[:, chosen], value[chosen]
    for _ in range(MOVES):
        moved = np.sqrt(1.0 - MOVE**2) * z + MOVE * rng.standard_normal(z.shape)
        at = holds(moved)
        taken = np.log(rng.random(KEPT)) < at - value
        z[:, taken], value[taken] = moved[:, taken], at[taken]
    return np.asarray(z)


def _hypotheses(
    causes: tuple[Cause, ...], controller: str, rng: np.random.Generator
) -> tuple[list[Hypothesis], Array]:
    """Sound, every single fault, and pairs drawn by how often they come; with what is believed of each."""
    beliefs = beliefs_for(causes, HEALTHY_PRIOR)
    singles = list(hypotheses_for(causes, controller))
    mass = [HEALTHY_PRIOR if h.healthy else h.share * sum(beliefs.singles[c.id] for c in h.causes) for h in singles]
    faults, chance = singles[1:], np.array(mass[1:])
    pairs: list[Hypothesis] = []
    for _ in range(4 * PAIRS):
        one, other = rng.choice(len(faults), 2, p=chance / chance.sum())
        both = pair(faults[one], faults[other])
        if both is not None and len(pairs) < PAIRS:
            pairs.append(both)
    each = sum(beliefs.pairs.values()) / max(len(pairs), 1)
    return singles + pairs, np.array(mass + [each] * len(pairs))


def _with_faults(
    sound: Array, hypotheses: Sequence[Hypothesis], index: NDArray[np.intp], count: Sequence[int], rng: np.random.Generator
) -> Array:
    """Every car with its faults, their severities spread evenly from mild to severe."""
    severities = [np.concatenate([(rng.permutation(c) + rng.random(c)) / c for c in count]) for _ in range(2)]
    actual: Array = sound.copy()
    for k, hypothesis in enumerate(hypotheses):
        rows = index == k
        for part, severity in zip(hypothesis.parts, severities, strict=False):
            actual[:, rows] = apply_all(part.changes, actual[:, rows], severity[rows])
    return actual


def _candidates(sound: Array, actual: Array, drive: Drive, ambient: float) -> Candidates:
    """The cars as the bench tests see them; a slow ramp stands for the pull that was not driven."""
    rows = [OUTPUT_INDEX["boost"], OUTPUT_INDEX["boost_measured"]]
    as_sound = np.asarray(run_drive(sound, drive)[:, rows], float)
    with_fault = np.asarray(run_drive(actual, drive), float)
    noticed = np.abs(with_fault[:, rows] - as_sound).max(axis=(0, 1))
    return Candidates(
        actual, np.array([b.engine_speed for b in drive.bins]), with_fault, ambient, as_sound[:, 0], noticed,
        with_fault, sound, run_pull,
    )  # fmt: skip


def _weights(by_block: Array, index: NDArray[np.intp], mass: Array) -> Array:
    """Weights of the cars: a fault that nobody would notice counts less within its hypothesis, not as a whole."""
    noticed = np.exp(by_block[0])
    within = noticed / np.bincount(index, noticed)[index]
    evidence = by_block[1:].sum(axis=0)
    weight = mass[index] * within * np.exp(evidence - evidence.max())
    return np.asarray(weight / weight.sum())


def _shares(hypothesis: Hypothesis, causes: tuple[Cause, ...]) -> Mapping[str, float]:
    """Of the causes of a hypothesis, by how often they come; of two at once each has all."""
    out: dict[str, float] = {}
    for part in hypothesis.parts:
        total = sum(c.base_rate for c in part.causes)
        out |= {c.id: c.base_rate / total for c in part.causes}
    return out
