"""Equally weighted candidates from the posterior, for choosing tests and for telling what to expect."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Candidates
from boostproof.diagnosis.evidence.hypotheses import Hypothesis
from boostproof.diagnosis.inference.importance import resampled
from boostproof.diagnosis.inference.posterior import Posterior, hypothesis_probability

COUNT = 1600
PER_HYPOTHESIS = 24  # at least, however small its probability, so that tails are priced


@dataclass(frozen=True)
class Particles:
    """Candidates with weights that sum to 1 - P(other).

    Attributes
    ----------
    candidates : simulated cars
    hypothesis : (n,) index
    weight : (n,)
    hypotheses : what the indices mean
    z : (dimensions, n) the numbers behind the candidates, as `Simulator.parameters` takes them
    """

    candidates: Candidates = field(repr=False)
    hypothesis: NDArray[np.intp] = field(repr=False)
    weight: Array = field(repr=False)
    hypotheses: list[Hypothesis] = field(repr=False)
    z: Array = field(default_factory=lambda: np.zeros((0, 0)), repr=False)


def particles_from(posterior: Posterior, *, seed: int) -> Particles:
    """Resample the weighted draws of every sampled hypothesis, and simulate the chosen ones."""
    rng = np.random.default_rng([seed, 77])
    p = hypothesis_probability(posterior)
    everything = np.ones(len(posterior.simulator.evidence.blocks), bool)
    columns, index, weight = [], [], []
    for i, draws in sorted(posterior.draws.items()):
        count = max(PER_HYPOTHESIS, int(COUNT * p[i]))
        chosen = resampled(draws.log_weights(everything), count, rng)
        columns.append(draws.z[:, chosen])
        index += [i] * count
        weight += [p[i] / count] * count
    z = np.concatenate(columns, axis=1)
    which = np.array(index)
    sound, actual = posterior.simulator.parameters(z, posterior.hypotheses, which)
    total = sum(p[i] for i in sorted(posterior.draws))
    w = np.array(weight) * (1.0 - posterior.other) / max(total, 1e-300)
    return Particles(posterior.simulator.candidates(sound, actual), which, w, posterior.hypotheses, z)
