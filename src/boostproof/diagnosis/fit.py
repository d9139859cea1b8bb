"""Finding where a hypothesis fits best: damped Gauss-Newton in lanes, many starts at once.

In the numbers z the prior is standard normal, so that the posterior's negative logarithm is
``|z|^2 / 2 - log L(z)``, and a Gauss-Newton step needs only the Jacobian of the whitened residuals,
which finite differences in lanes give for little.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.hypotheses import Hypothesis
from boostproof.diagnosis.simulator import Simulator

STEP = 0.2  # of the finite differences, in standard deviations of the prior; a gate that sticks and slips makes noise
_DAMPING = (0.0, 0.5, 3.0, 20.0, 150.0, 1500.0)
_LARGEST_MOVE = 2.5  # in any direction, standard deviations


@dataclass
class Mode:
    """A local best fit of one hypothesis, with the normal approximation around it.

    Attributes
    ----------
    hypothesis : index
    z : (dimensions,)
    mask : which blocks of evidence count
    objective : negative log of prior times likelihood, up to the prior's constant
    precision : (dimensions, dimensions) of the normal approximation
    by_block : log likelihood of every block at z
    """

    hypothesis: int
    z: Array = field(repr=False)
    mask: NDArray[np.bool_] = field(repr=False)
    objective: float = np.inf
    precision: Array = field(default_factory=lambda: np.eye(1), repr=False)
    by_block: Array = field(default_factory=lambda: np.zeros(0), repr=False)

    @property
    def log_evidence(self) -> float:
        """Laplace approximation of the log of the integral of prior times likelihood."""
        _, logdet = np.linalg.slogdet(self.precision)
        return -self.objective - 0.5 * float(logdet)


def find_modes(
    simulator: Simulator, hypotheses: list[Hypothesis], modes: list[Mode], rounds: int
) -> list[Mode]:
    """Improve all starts together, in place.

    Parameters
    ----------
    simulator : the case
    hypotheses : all of them
    modes : starts; each carries its hypothesis and the blocks that count
    rounds : Gauss-Newton rounds

    Returns
    -------
    the same modes
    """
    for _ in range(rounds):
        _advance(simulator, hypotheses, modes, _linearise(simulator, hypotheses, modes))
    _linearise(simulator, hypotheses, modes)
    return modes


def _linearise(simulator: Simulator, hypotheses: list[Hypothesis], modes: list[Mode]) -> list[Array]:
    """Set objective and precision of every mode; returns the gradients."""
    d = simulator.dimensions
    sizes = [b.size for b in simulator.evidence.blocks]
    points = np.empty((d, len(modes) * (d + 1)))
    index = np.repeat([m.hypothesis for m in modes], d + 1)
    for i, mode in enumerate(modes):
        part = points[:, i * (d + 1) : (i + 1) * (d + 1)]
        part[:] = mode.z[:, None]
        part[np.arange(d), np.arange(1, d + 1)] += STEP
    result = simulator.evaluate(points, hypotheses, index)
    gradients = []
    for i, mode in enumerate(modes):
        first = i * (d + 1)
        rows = np.repeat(mode.mask, sizes)
        r = result.residuals[rows, first : first + d + 1]
        jacobian = (r[:, 1:] - r[:, :1]) / STEP
        weight = simulator.evidence.weights(result.residuals[:, first : first + 1])[rows]
        weighted = jacobian * weight
        mode.precision = np.eye(d) + jacobian.T @ weighted
        mode.by_block = result.by_block[:, first]
        mode.objective = 0.5 * float(mode.z @ mode.z) - float(mode.by_block[mode.mask].sum())
        gradients.append(mode.z + weighted.T @ r[:, 0])
    return gradients


def _advance(
    simulator: Simulator, hypotheses: list[Hypothesis], modes: list[Mode], gradients: list[Array]
) -> None:
    """Move every mode by the best of a few damped steps, or not at all."""
    trials = []
    for mode, gradient in zip(modes, gradients, strict=True):
        diagonal = np.diag(np.diag(mode.precision))
        for damping in _DAMPING:
            step = -np.linalg.solve(mode.precision + damping * diagonal, gradient)
            trials.append(mode.z + step * min(1.0, _LARGEST_MOVE / max(float(np.abs(step).max()), 1e-12)))
    points = np.stack(trials, axis=1)
    count = len(_DAMPING)
    result = simulator.evaluate(points, hypotheses, np.repeat([m.hypothesis for m in modes], count))
    prior = 0.5 * (points**2).sum(axis=0)
    for i, mode in enumerate(modes):
        some = slice(i * count, (i + 1) * count)
        objective = prior[some] - result.by_block[mode.mask, some].sum(axis=0)
        best = int(np.argmin(objective))
        if objective[best] < mode.objective:
            mode.z = trials[some.start + best]
            mode.objective = float(objective[best])
