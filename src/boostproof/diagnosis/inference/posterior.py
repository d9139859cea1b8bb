"""From evidence to probabilities: fit, sample, weigh, for every hypothesis in play."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.causes.model import Cause
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, hypotheses_for, places_of_singles
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.diagnosis.inference import tempered
from boostproof.diagnosis.inference.first_look import FirstLook, first_look_from
from boostproof.diagnosis.inference.fit import Mode, find_modes, objective
from boostproof.diagnosis.inference.importance import Draws, distinct, laplace, log_prior, proposal_from
from boostproof.diagnosis.inference.none_of_these import log_evidence_of_none
from boostproof.diagnosis.inference.quasi_random import random_numbers
from boostproof.diagnosis.inference.search import Found, search
from boostproof.diagnosis.inference.weighing import (
    HEALTHY_PRIOR,
    Beliefs,
    beliefs_for,
    hypothesis_shares,
    involved,
    mechanism_evidence,
    weigh,
)

_FIRST_DRAWS, _FEW_DRAWS = 256, 96  # of a leading hypothesis, of another
_TRUSTED_SIZE = 12.0  # effective size from which the sampled evidence replaces the normal approximation
_WANTED_SIZE = 60.0  # of a leading hypothesis; below it is sampled in tempered steps
_HALF = 96  # candidates of each of the two halves of tempered sampling
_NEAR = 3.0  # nats that a second mode may lie behind the first to be sampled as well
_SAMPLED_ABOVE = 1e-4  # posterior by normal approximation from which a hypothesis is sampled
_PAIR_SAMPLED_ABOVE = 2e-3
_TEMPERED_ABOVE = 0.02
_POLISHED, _POLISH_ROUNDS = 4, 5  # times that a fit is taken up again from a better candidate; rounds each time
_BETTER = 0.3  # nats
_FAR_BETTER = 3.0  # nats by which a sampled candidate must beat the fit for the hypothesis to be sampled again from it
_TIMES = 3  # that a hypothesis is sampled in tempered steps at most
_ROUNDS = 5  # of tempered sampling: as some hypotheses fall, others rise
_APART_HALVES = 0.7  # nats between the halves from which a hypothesis is sampled once more
_SETTLED_HALVES = 0.05  # difference of the probabilities of the two halves that no more sampling is spent on
_IN_DOUBT = (0.08, 0.92)  # probability between which a hypothesis is sampled as often as may be: there its odds matter

Progress = Callable[[str, float], None]


@dataclass
class Posterior:
    """What the evidence leaves of every hypothesis.

    Attributes
    ----------
    hypotheses, modes : fitted hypotheses (healthy, single faults, pairs looked at) and the modes of each
    draws : weighted candidates of the hypotheses that were sampled, by index
    log_evidence : (hypotheses,) of all evidence
    beliefs : before the evidence
    log_other : log evidence of "none of these"
    log_other_fitted : the same by the normal approximation
    noticed : (hypotheses,) log chance that a car with the fault is brought in
    cause_probability : of every single cause, by id
    pair_probability : of every pair looked at, by id ("a + b")
    healthy, other : probabilities
    sizes : effective sample size by hypothesis index
    halves : (log evidence of either half) of the hypotheses sampled in tempered steps, by index
    half_difference : largest difference of a probability between the two halves of the candidates
    """

    simulator: Simulator
    hypotheses: list[Hypothesis]
    modes: dict[int, list[Mode]]
    draws: dict[int, Draws]
    log_evidence: Array
    beliefs: Beliefs
    log_other: float
    log_other_fitted: float
    noticed: Array
    cause_probability: dict[str, float] = field(default_factory=dict)
    pair_probability: dict[str, float] = field(default_factory=dict)
    healthy: float = 0.0
    other: float = 0.0
    sizes: dict[int, float] = field(default_factory=dict)
    halves: dict[int, tuple[float, float]] = field(default_factory=dict)
    half_difference: float = 0.0

    @property
    def priors(self) -> Mapping[str, float]:
        """Belief in every single cause before the evidence, by id."""
        return self.beliefs.singles

    def mechanism_evidence(self) -> dict[str, float]:
        """Log evidence of every mechanism, its variants weighed by their shares."""
        return mechanism_evidence(self.hypotheses, self.log_evidence)

    @property
    def involved(self) -> dict[str, float]:
        """Chance that a part is at fault, alone or paired, by cause id."""
        return involved(self.cause_probability, self.pair_probability)

    def weigh(self) -> None:
        """Set the probabilities from the evidences."""
        w = weigh(self.hypotheses, self.log_evidence, self.log_other, self.beliefs)
        self.healthy, self.other = w.healthy, w.other
        self.cause_probability, self.pair_probability = w.singles, w.pairs
        self.half_difference = self._half_difference()

    def _half_difference(self) -> float:
        both = []
        for half in (0, 1):
            evidence = self.log_evidence.copy()
            for i, values in self.halves.items():
                evidence[i] = values[half] - self.noticed[i]
            w = weigh(self.hypotheses, evidence, self.log_other, self.beliefs)
            both.append([w.healthy, w.other, *w.singles.values(), *w.pairs.values()])
        return float(np.abs(np.array(both[0]) - np.array(both[1])).max())


def infer(
    simulator: Simulator,
    causes: tuple[Cause, ...],
    controller: str,
    *,
    seed: int = 1,
    healthy_prior: float = HEALTHY_PRIOR,
    said: Mapping[str, float] | None = None,
    pairs: bool = True,
    progress: Progress | None = None,
    cancel: Callable[[], bool] | None = None,
    first_look: Callable[[FirstLook], None] | None = None,
) -> Posterior:
    """Probabilities of every cause for one case.

    Parameters
    ----------
    simulator : the case with its evidence
    causes : those that this car can have
    controller : kind of controller
    seed : of all random numbers
    healthy_prior : chance that nothing is wrong, before the evidence
    said : log odds that the history gives each answer (`weighing.Beliefs.said`)
    pairs : look at two faults at once as well
    progress : called with what is being done and the share done
    cancel : asked between rounds whether to stop; what is there is then weighed
    first_look : told twice how things stand: when the highest pull is fitted, and when all are, before candidates are
        weighed; the answer is the same with and without
    """
    say = progress or (lambda text, share: None)
    everything = np.ones(len(simulator.evidence.blocks), bool)
    beliefs = beliefs_for(causes, healthy_prior, said, pairs=pairs)
    singles = list(hypotheses_for(causes, controller))

    def scouted(found: Found, scout: Simulator) -> None:
        if first_look is not None:
            first_look(first_look_from(scout, found, beliefs))

    found = search(
        simulator, singles, beliefs if pairs else None, everything, seed=seed, say=say, scouted=scouted
    )
    hypotheses, modes = found.hypotheses, found.modes
    evidence = np.array([laplace(modes[i]) for i in range(len(hypotheses))]) - found.noticed
    none = log_evidence_of_none(simulator, hypotheses, modes, beliefs.singles, found.noticed)
    posterior = Posterior(simulator, hypotheses, modes, {}, evidence, beliefs, none, none, found.noticed)
    posterior.weigh()
    if first_look is not None:
        probability = {**posterior.cause_probability, **posterior.pair_probability}
        first_look(FirstLook(probability, posterior.healthy, posterior.other, all_pulls=True))
    _sample(posterior, everything, seed, say, cancel)
    return posterior


def hypothesis_probability(posterior: Posterior) -> Array:
    """Probability of every hypothesis (mechanism and variant), healthy first. [(hypotheses,)]"""
    weighed = weigh(posterior.hypotheses, posterior.log_evidence, posterior.log_other, posterior.beliefs)
    return hypothesis_shares(posterior.hypotheses, posterior.log_evidence, weighed)


def _sample(
    posterior: Posterior,
    mask: NDArray[np.bool_],
    seed: int,
    say: Progress,
    cancel: Callable[[], bool] | None,
) -> None:
    """Candidates of every hypothesis that may matter; of the leading ones in tempered steps where they are few."""
    say("weighing candidates", 0.75)
    p = hypothesis_probability(posterior)
    least = np.array([_PAIR_SAMPLED_ABOVE if h.paired else _SAMPLED_ABOVE for h in posterior.hypotheses])
    chosen = [int(i) for i in np.argsort(-p) if p[i] > least[i] or i == 0 or i in _parts_of_leading(posterior, p)]
    _draw(posterior, chosen, seed)
    _set_evidence(posterior, mask)
    for number in range(_POLISHED):
        better = [i for i in chosen if _start_from_best(posterior, i, mask)]
        if not better:
            break
        say("fitting again from better candidates", 0.76 + 0.01 * number)
        find_modes(posterior.simulator, posterior.hypotheses, [posterior.modes[i][0] for i in better], _POLISH_ROUNDS)
        _draw(posterior, better, seed)
        _set_evidence(posterior, mask)
    times: dict[int, int] = {}  # that a hypothesis was sampled
    held: dict[int, int] = {}  # of these, how many its candidates are of
    for number in range(_ROUNDS):
        p = hypothesis_probability(posterior)
        leading = {i for i in chosen if p[i] > _TEMPERED_ABOVE} | _parts_of_leading(posterior, p)
        thin = [i for i in chosen if i in leading and posterior.sizes[i] < _WANTED_SIZE and i not in times]
        apart = [
            i
            for i, n in times.items()
            if n < _TIMES
            and i in leading
            and (_unsettled(posterior, i, float(p[i])) or _gain(posterior, i, mask) > _FAR_BETTER)
        ]
        if not thin + apart or (cancel is not None and cancel()):
            break
        say("weighing candidates", 0.8 + 0.05 * number)
        better = [i for i in apart if _start_from_best(posterior, i, mask)]
        find_modes(posterior.simulator, posterior.hypotheses, [posterior.modes[i][0] for i in better], _POLISH_ROUNDS)
        held = {i: n for i, n in held.items() if i not in better}
        _temper(posterior, thin + apart, seed + number, held)
        for i in thin + apart:
            times[i], held[i] = times.get(i, 0) + 1, held.get(i, 0) + 1
        _set_evidence(posterior, mask)


def _parts_of_leading(posterior: Posterior, p: Array) -> set[int]:
    """Single hypotheses of which a leading pair is made: it must not lead because they were fitted less well."""
    single = places_of_singles(posterior.hypotheses)
    leading = [h for i, h in enumerate(posterior.hypotheses) if h.paired and p[i] > _TEMPERED_ABOVE]
    return {single[part.key] for h in leading for part in h.parts if part.key in single}


def _unsettled(posterior: Posterior, index: int, p: float) -> bool:
    """Its odds matter, or the two halves of its candidates saw different things: one missed what the other found."""
    one, other = posterior.halves[index]
    apart = abs(one - other) > _APART_HALVES and posterior.half_difference > _SETTLED_HALVES
    return apart or _IN_DOUBT[0] < p < _IN_DOUBT[1]


def _draw(posterior: Posterior, chosen: list[int], seed: int) -> None:
    """First candidates around the modes of the chosen hypotheses, in place of earlier ones."""
    simulator = posterior.simulator
    parts, bases = [], []
    p = hypothesis_probability(posterior)
    counts = [_FIRST_DRAWS if p[i] > _TEMPERED_ABOVE else _FEW_DRAWS for i in chosen]
    for i, count in zip(chosen, counts, strict=True):
        proposal = proposal_from(posterior.modes[i])
        normals, uniforms = random_numbers(seed, posterior.hypotheses[i].key, 0, count, simulator.dimensions)
        z = proposal.draw(normals, uniforms)
        parts.append(z)
        bases.append(log_prior(z) - proposal.log_density(z))
    index = np.repeat(chosen, counts)
    by_block = simulator.evaluate(np.concatenate(parts, axis=1), posterior.hypotheses, index).by_block
    for i, z, base, blocks in zip(chosen, parts, bases, np.split(by_block, np.cumsum(counts)[:-1], axis=1), strict=True):
        posterior.draws[i] = Draws(z, blocks, base)
        posterior.sizes[i] = posterior.draws[i].effective_size(np.ones(len(blocks), bool))


def _start_from_best(posterior: Posterior, index: int, mask: NDArray[np.bool_]) -> bool:
    """Move the best mode of a hypothesis to its best candidate, where that is better; whether it was."""
    if _gain(posterior, index, mask) < _BETTER:
        return False
    draws, modes = posterior.draws[index], posterior.modes[index]
    modes.sort(key=lambda m: m.objective)
    modes[0].moved(draws.z[:, int(np.argmin(objective(draws.z, draws.by_block, mask)))].copy())
    return True


def _gain(posterior: Posterior, index: int, mask: NDArray[np.bool_]) -> float:
    """How much better than every fit of a hypothesis its best candidate is. [nats]"""
    draws = posterior.draws[index]
    fitted = min(m.objective for m in posterior.modes[index])
    return fitted - float(objective(draws.z, draws.by_block, mask).min())


def _temper(posterior: Posterior, thin: list[int], seed: int, held: Mapping[int, int]) -> None:
    """Lead candidates of some hypotheses to the posterior in steps.

    They replace what was drawn before, or join it where it was led there too (``held`` says how many times).
    """
    chosen: list[tuple[int, int, Mode]] = []
    for i in thin:
        modes = distinct(posterior.modes[i])
        near = [m for m in modes if m.log_evidence > modes[0].log_evidence - _NEAR]
        chosen += [(i, half, mode) for half in (0, 1) for mode in near]
    drawn = tempered.sample(
        posterior.simulator, posterior.hypotheses, [mode for *_, mode in chosen], _HALF, seed=seed
    )
    for i in thin:
        halves = []
        for half in (0, 1):
            led = [(d, mode) for (of, part, mode), d in zip(chosen, drawn, strict=True) if (of, part) == (i, half)]
            halves.append(tempered.shared_out([d for d, _ in led], [mode for _, mode in led]))
        everything = np.ones(len(halves[0].by_block), bool)
        before = held.get(i, 0)
        evidence = np.array([half.log_evidence(everything) for half in halves])
        if before:
            evidence = (before * np.array(posterior.halves[i]) + evidence) / (before + 1)
        # one car far out can lift a run by nats: the mean of the logarithms, which is a little low for all alike
        all_runs = [*halves, posterior.draws[i]] if before else halves
        draws = tempered.of_equal_worth(all_runs, float(evidence.mean()))
        posterior.halves[i] = (float(evidence[0]), float(evidence[1]))
        posterior.draws[i] = draws
        posterior.sizes[i] = float(len(np.unique(draws.by_block, axis=1).T))


def _set_evidence(posterior: Posterior, mask: NDArray[np.bool_]) -> None:
    """Sampled evidence where the candidates bear it, else the normal approximation and what it misses elsewhere.

    So for "none of these" as well, which is an average over fits.
    """
    p = hypothesis_probability(posterior)
    normal = {i: laplace(modes) for i, modes in posterior.modes.items()}
    sampled = {
        i: draws.log_evidence(mask) for i, draws in posterior.draws.items() if posterior.sizes[i] >= _TRUSTED_SIZE
    }
    weight = np.array([p[i] for i in sampled])
    missed = np.array([sampled[i] - normal[i] for i in sampled])
    usual = float(weight @ missed / weight.sum()) if weight.sum() > 0.0 else 0.0
    for i in posterior.modes:
        posterior.log_evidence[i] = sampled.get(i, normal[i] + usual) - posterior.noticed[i]
    posterior.log_other = posterior.log_other_fitted + usual
    posterior.weigh()
