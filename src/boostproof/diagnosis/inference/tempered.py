"""Tempered sampling: from the normal approximation of a hypothesis to its posterior, in steps.

The target of every step is ``q^(1 - t) p^t`` with the normal approximation q and the posterior p, t going from 0
to 1 so that the effective size of the weights stays near the number of candidates (adaptive tempering of
sequential Monte Carlo, Del Moral, Doucet & Jasra 2006, from memory). Moves keep q as it is, so that their
acceptance depends only on how far the posterior is from normal, not on the number of dimensions
(preconditioned Crank-Nicolson, Cotter et al. 2013, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.hypotheses import Hypothesis
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.diagnosis.inference.fit import Mode
from boostproof.diagnosis.inference.importance import Draws, effective_size, log_prior, log_sum_exp, resampled

# Extra standard deviation where the data have narrowed the prior: a fit is stiffer than what is left around it, as
# errors bend beyond their usual size, and what lies outside of a narrow start is found by chance alone.
WIDEN = 0.5
KEPT = 0.75  # share of the candidates that the weights of a step may leave effective
MOVES = 2  # after each step
_MOST_STEPS = 12
_STRIDES = (0.15, 0.9)  # least and most share of a candidate that a move renews
_LOG_2PI = float(np.log(2.0 * np.pi))


@dataclass
class Run:
    """Candidates of one hypothesis on their way from the normal approximation to the posterior.

    Attributes
    ----------
    hypothesis : index
    mean, factor : z = mean + factor @ u, u standard normal under the approximation
    u : (d, n)
    ratio : (n,) log of posterior over approximation, not normalised
    by_block : (blocks, n) log likelihoods
    power : t
    log_evidence : so far
    stride : of the moves
    """

    hypothesis: int
    mean: Array = field(repr=False)
    factor: Array = field(repr=False)
    u: Array = field(repr=False)
    rng: np.random.Generator = field(repr=False)
    ratio: Array = field(default_factory=lambda: np.zeros(0), repr=False)
    by_block: Array = field(default_factory=lambda: np.zeros((0, 0)), repr=False)
    power: float = 0.0
    log_evidence: float = 0.0
    stride: float = 0.5

    def place(self, u: Array) -> Array:
        """Numbers z of whitened ones."""
        return np.asarray(self.mean[:, None] + self.factor @ u)

    def log_ratio(self, u: Array, log_likelihood: Array) -> Array:
        """Log of prior times likelihood over the approximation's density."""
        d = len(self.mean)
        _, log_det = np.linalg.slogdet(self.factor)
        density = -0.5 * (u**2).sum(axis=0) - log_det - 0.5 * d * _LOG_2PI
        return np.asarray(log_prior(self.place(u)) + log_likelihood - density)


def sample(
    simulator: Simulator, hypotheses: list[Hypothesis], modes: Sequence[Mode], count: int, *, seed: int
) -> list[Draws]:
    """Equally weighted candidates around each mode, whose mean weight is the evidence.

    Parameters
    ----------
    simulator, hypotheses : the case
    modes : where each run starts; the same mode twice gives two independent runs
    count : candidates of each run
    seed : of the random numbers

    Returns
    -------
    one set of draws per mode
    """
    runs = [_start(mode, hypotheses, count, [seed, number]) for mode, number in zip(modes, _numbers(modes), strict=True)]
    _evaluate(simulator, hypotheses, runs, [r.u for r in runs], first=True)
    for step in range(_MOST_STEPS):
        going = [r for r in runs if r.power < 1.0]
        if not going:
            break
        for run in going:
            _temper(run, last=step + 1 == _MOST_STEPS)
        for _ in range(MOVES):
            _evaluate(simulator, hypotheses, going, [_proposed(r) for r in going])
    return [Draws(r.place(r.u), r.by_block, r.log_evidence - r.by_block.sum(axis=0)) for r in runs]


def shared_out(parts: Sequence[Draws], modes: Sequence[Mode]) -> Draws:
    """Candidates led from several modes of one hypothesis, each counted from the mode that it lies nearest to alone.

    So modes apart add, and what two of them both reach is not counted twice.

    Parameters
    ----------
    parts : candidates led from each mode
    modes : in the same order
    """
    places = np.stack([m.z for m in modes])
    own = []
    for k, d in enumerate(parts):
        distance = ((d.z[None] - places[:, :, None]) ** 2).sum(axis=1)
        here = np.flatnonzero(distance.argmin(axis=0) == k)
        if len(here):
            share = np.log(len(here) / d.z.shape[1])
            own.append(Draws(d.z[:, here], d.by_block[:, here], d.log_base[here] + share))
    return added(own)


def of_equal_worth(runs: Sequence[Draws], log_evidence: float) -> Draws:
    """Candidates of repeated runs together, the mean weight of each set to that of a log evidence."""
    out = []
    for d in runs:
        own = d.log_evidence(np.ones(len(d.by_block), bool))
        out.append(Draws(d.z, d.by_block, d.log_base + (log_evidence - own)))
    return _all_of(out)


def added(parts: Sequence[Draws]) -> Draws:
    """Candidates around several modes of one hypothesis, whose evidences add."""
    total = sum(d.z.shape[1] for d in parts)
    return _all_of([Draws(d.z, d.by_block, d.log_base + np.log(total / d.z.shape[1])) for d in parts])


def _all_of(parts: Sequence[Draws]) -> Draws:
    joined = parts[0]
    for more in parts[1:]:
        joined = joined.joined(more)
    return joined


def _numbers(modes: Sequence[Mode]) -> list[int]:
    """How many runs of the same hypothesis came before each."""
    seen: dict[int, int] = {}
    out = []
    for mode in modes:
        out.append(seen.get(mode.hypothesis, 0))
        seen[mode.hypothesis] = out[-1] + 1
    return out


def _start(mode: Mode, hypotheses: list[Hypothesis], count: int, seed: list[int]) -> Run:
    from zlib import crc32

    values, vectors = np.linalg.eigh(mode.precision)
    sd = 1.0 / np.sqrt(np.maximum(values, 1.0))
    rng = np.random.default_rng([*seed, crc32(hypotheses[mode.hypothesis].key.encode()), 79])
    factor = (vectors * (sd * (1.0 + WIDEN * (1.0 - sd)))) @ vectors.T
    return Run(mode.hypothesis, mode.z, factor, rng.standard_normal((len(mode.z), count)), rng)


def _evaluate(
    simulator: Simulator, hypotheses: list[Hypothesis], runs: Sequence[Run], u: list[Array], *, first: bool = False
) -> None:
    """Move the candidates of all runs together, by the Metropolis rule; the first time they are only weighed."""
    z = np.concatenate([r.place(x) for r, x in zip(runs, u, strict=True)], axis=1)
    index = np.repeat([r.hypothesis for r in runs], [x.shape[1] for x in u])
    by_block = simulator.evaluate(z, hypotheses, index).by_block
    at = 0
    for run, new in zip(runs, u, strict=True):
        n = new.shape[1]
        blocks = by_block[:, at : at + n]
        ratio = run.log_ratio(new, blocks.sum(axis=0))
        at += n
        if first:
            run.ratio, run.by_block = ratio, blocks.copy()
            continue
        taken = np.log(run.rng.random(n)) < run.power * (ratio - run.ratio)
        run.u = np.where(taken, new, run.u)
        run.ratio = np.where(taken, ratio, run.ratio)
        run.by_block = np.where(taken, blocks, run.by_block)
        share = float(taken.mean())
        run.stride = float(np.clip(run.stride * (0.7 if share < 0.2 else 1.3 if share > 0.45 else 1.0), *_STRIDES))


def _proposed(run: Run) -> Array:
    fresh = run.rng.standard_normal(run.u.shape)
    return np.asarray(np.sqrt(1.0 - run.stride**2) * run.u + run.stride * fresh)


def _temper(run: Run, *, last: bool) -> None:
    """Raise the power as far as the weights bear, and resample."""
    n = len(run.ratio)
    low, high = 0.0, 1.0 - run.power
    if not last and effective_size(high * run.ratio) < KEPT * n:
        for _ in range(40):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if effective_size(middle * run.ratio) > KEPT * n else (low, middle)
        high = low
    weight = high * run.ratio
    run.log_evidence += float(log_sum_exp(weight, axis=0) - np.log(n))
    run.power = 1.0 if last else min(1.0, run.power + high)
    if 1.0 - run.power < 1e-6:
        run.power = 1.0
    chosen = resampled(weight, n, run.rng)
    run.u, run.ratio, run.by_block = run.u[:, chosen], run.ratio[chosen], run.by_block[:, chosen]
