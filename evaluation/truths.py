"""Cars drawn from the model itself: nuisances, fault and severity from the prior, given what is known.

Two things are known of every car before its log: when sound it held its target, and its owner noticed
something. Both stand in the product's likelihood (blocks "target" and "complaint"), so the cars are drawn
with them: the nuisances by resampling and Metropolis moves on the first, the severity in proportion to
the second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Candidates
from boostproof.bench.tests import CarContext
from boostproof.diagnosis.causes import Cause
from boostproof.diagnosis.evidence.blocks import COMPLAINT, Block
from boostproof.diagnosis.evidence.drive import Drive, Driven
from boostproof.diagnosis.evidence.pulls import CHANNELS, pulls_block
from boostproof.diagnosis.evidence.setup import build
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.physics.change import Change, apply_all
from boostproof.physics.system import OUTPUT_INDEX
from evaluation.families import Family, families, level_rows, recording_of

Array = NDArray[np.float64]
POOL = 4096  # prior draws from which the sound cars of a family are resampled
KEPT = 128
MOVES = 40
MOVE = 0.2  # share of a preconditioned random-walk move that is new
ERRORS = 24  # errors of a log of which one is taken
TRIES = 96  # severities and nuisances among which the complaint chooses


@dataclass(frozen=True)
class Blank:
    """A family with an empty log: what does not depend on the car drawn."""

    family: Family
    simulator: Simulator = field(repr=False)
    causes: tuple[Cause, ...] = field(repr=False)
    context: CarContext = field(repr=False)


@dataclass(frozen=True)
class TrueCar:
    """One car drawn.

    Attributes
    ----------
    number : of the family
    causes : what is wrong with it, none for a sound car
    severities : uniform numbers, one per cause
    sound, actual : parameters, (parameters, 1)
    """

    number: int
    causes: tuple[Cause, ...]
    severities: tuple[float, ...]
    sound: Array = field(repr=False)
    actual: Array = field(repr=False)


@lru_cache(maxsize=32)
def blank(number: int) -> Blank:
    """A family with a log of zeros."""
    family = families()[number]
    rows = recording_of(family)[0].rows
    recording, pull = recording_of(family, {name: np.zeros(rows) for name in family.logged})
    simulator, causes, context = build(family.car, [Driven(recording, (pull,))], (), None)
    return Blank(family, simulator, causes, context)


@lru_cache(maxsize=4)
def sound_cars(number: int, seed: int) -> Array:
    """Numbers z of sound cars that hold their target, (nuisances, KEPT)."""
    simulator = blank(number).simulator
    rng = np.random.default_rng([seed, number, 11])
    z = rng.standard_normal((simulator.prior.size, POOL))
    value = _holds_target(simulator, z)
    weight = np.exp(value - value.max())
    places = (rng.random() + np.arange(KEPT)) / KEPT
    chosen = np.searchsorted(np.cumsum(weight / weight.sum()), places).clip(0, POOL - 1)
    z, value = z[:, chosen], value[chosen]
    for _ in range(MOVES):  # resampled cars repeat; moves that keep the distribution part them
        moved = np.sqrt(1.0 - MOVE**2) * z + MOVE * rng.standard_normal(z.shape)
        at = _holds_target(simulator, moved)
        taken = np.log(rng.random(KEPT)) < at - value
        z[:, taken], value[taken] = moved[:, taken], at[taken]
    return z


def _holds_target(simulator: Simulator, z: Array) -> Array:
    sound = simulator.prior.sound(z)
    short = replace(simulator, drive=_hardly(simulator.drive))
    return _log_likelihood(simulator, short.candidates(sound, sound), "target")


def _hardly(drive: Drive) -> Drive:
    """A drive of two steps: what the sound ramp shows needs no pull."""
    record = np.array([-1, 0], np.int32)
    return Drive(drive.inputs[:2], drive.steps[:2], record, drive.bins[:1], 1)


def _log_likelihood(simulator: Simulator, candidates: Candidates, source: str) -> Array:
    block = next(b for b in simulator.evidence.blocks if b.source == source)
    return block.log_likelihood(block.residuals(candidates))


def draw_car(number: int, causes: Sequence[Cause], seed: int, *, pool_seed: int) -> TrueCar:
    """A car of a family with these faults, severe enough to be brought in as often as the model says.

    Parameters
    ----------
    number : of the family
    causes : none, one or two
    seed : of this car
    pool_seed : of the family's sound cars
    """
    simulator = blank(number).simulator
    controller = blank(number).family.car.controller.kind
    rng = np.random.default_rng([seed, 12])
    pool = sound_cars(number, pool_seed)
    sound = simulator.prior.sound(pool[:, rng.integers(pool.shape[1], size=TRIES)])
    actual: Array = sound.copy()
    severities = rng.random((len(causes), TRIES))
    changes = [_variant(cause, controller, rng) for cause in causes]
    for change, severity in zip(changes, severities, strict=True):
        actual = np.asarray(apply_all(change, actual, severity))
    candidates = simulator.candidates(sound, actual, _one_fault(sound, changes, severities))
    chance = np.exp(_log_likelihood(simulator, candidates, COMPLAINT))
    one = int(rng.choice(TRIES, p=chance / chance.sum()))
    chosen = tuple(float(s[one]) for s in severities)
    return TrueCar(number, tuple(causes), chosen, sound[:, [one]].copy(), actual[:, [one]].copy())


def _one_fault(
    sound: Array, changes: Sequence[tuple[Change, ...]], severities: Array
) -> tuple[NDArray[np.intp], Array] | None:
    """The cars of a pair with one of their faults alone, for what would be noticed of each."""
    if len(changes) < 2:
        return None
    every = np.arange(sound.shape[1])
    alone = [apply_all(change, sound, severity) for change, severity in zip(changes, severities, strict=True)]
    return np.concatenate([every] * len(alone)), np.concatenate(alone, axis=1)


def _variant(cause: Cause, controller: str, rng: np.random.Generator) -> tuple[Change, ...]:
    variants = cause.variants_for(controller)
    shares = np.array([share for share, _ in variants])
    return variants[int(rng.choice(len(variants), p=shares / shares.sum()))][1]


def driven(car: TrueCar, seed: int) -> tuple[Simulator, tuple[Cause, ...], CarContext]:
    """The car's log with the errors that the product allows for, and the product's own case made of it."""
    family = families()[car.number]
    columns = _observed(car, np.random.default_rng([seed, 13]))
    recording, pull = recording_of(family, columns)
    return build(family.car, [Driven(recording, (pull,))], (), None)


def _observed(car: TrueCar, rng: np.random.Generator) -> dict[str, Array]:
    """Rows of the logged channels: simulated bin means with noise and model error.

    The likelihood's covariance follows the measured curve, not the true one: where an error moves the knee
    the two differ. So several errors are drawn with the covariance of the true curve, and one of them is
    taken in proportion to how much likelier the measured curve's covariance makes it.
    """
    family = families()[car.number]
    simulator = blank(car.number).simulator
    bins = simulator.drive.bins
    true = simulator.candidates(car.sound, car.actual)
    out = true.all_outputs[:, :, 0]
    means = {name: out[:, OUTPUT_INDEX[CHANNELS[name].output]] for name in family.logged}

    def block_of(columns: dict[str, Array]) -> Block:
        return pulls_block([recording_of(family, columns)[0]], simulator.drive)

    centre = block_of({name: level_rows(v, bins) for name, v in means.items()})
    tried, weight = [], []
    for _ in range(ERRORS):
        error, square = draw_error(centre, out, family.logged, rng)
        columns = {name: level_rows(v + error[name], bins) for name, v in means.items()}
        block = block_of(columns)
        seen = float((block.residuals(true) ** 2).sum())
        tried.append(columns)
        weight.append(block.constant - 0.5 * seen - (centre.constant - 0.5 * square))
    chance = np.exp(np.array(weight) - max(weight))
    return tried[int(rng.choice(ERRORS, p=chance / chance.sum()))]


def draw_error(
    block: Block, out: Array, logged: tuple[str, ...], rng: np.random.Generator
) -> tuple[dict[str, Array], float]:
    """One draw of a log block's error by channel, and its squared size in standard deviations.

    The block whitens: its residuals are W (predicted - observed) with W' W the inverse covariance. Moving
    every predicted value by one in turn gives W, and W^-1 times normal numbers is a draw.
    """
    slots = len(out)
    size = slots * len(logged)
    moved = np.repeat(out[:, :, None], size + 1, axis=2)
    for k, name in enumerate(logged):
        column = OUTPUT_INDEX[CHANNELS[name].output]
        for slot in range(slots):
            moved[slot, column, 1 + k * slots + slot] += 1.0
    blank_par = np.zeros((1, size + 1))
    candidates = Candidates(blank_par, np.zeros(1), moved, all_outputs=moved)
    residuals = block.residuals(candidates)
    whitening = residuals[:, 1:] - residuals[:, :1]
    normal = rng.standard_normal(size)
    error = np.asarray(np.linalg.solve(whitening, normal), float)
    by_channel = {name: error[k * slots : (k + 1) * slots] for k, name in enumerate(logged)}
    return by_channel, float(normal @ normal)
