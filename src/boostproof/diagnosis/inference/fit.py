"""Finding where a hypothesis fits best: damped Gauss-Newton in lanes, many starts at once.

In the numbers z the prior is standard normal, so that the posterior's negative logarithm is
``|z|^2 / 2 - log L(z)``, and a Gauss-Newton step needs only the Jacobian of the whitened residuals.
Finite differences give it once; from then on every candidate that was tried corrects it (Broyden's
update, Broyden 1965), and only where that no longer helps are the differences taken again.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.blocks import EvidenceSet
from boostproof.diagnosis.evidence.hypotheses import Hypothesis
from boostproof.diagnosis.evidence.simulator import Simulator

# Of the finite differences, in standard deviations of the prior. The noise of a gate that sticks and slips counts as
# slope: with 0.2 the log evidence of a practice case came out lower by five nats; with 0.4 a bent posterior is off.
STEP = 0.3
_DAMPING = (0.0, 0.5, 3.0, 20.0, 150.0, 1500.0)
_LARGEST_MOVE = 2.5  # in any direction, standard deviations
_SETTLED = 0.05  # nats: a round with fresh differences that gains less ends the search
_LEARNS_WITHIN = 30.0  # nats: what lies further off says little about the slope here
_ROUNDING = 1e-9  # nats: no gain at all, not worth leaving a place whose slopes are known
_STALE = 0.5  # nats: a round with a corrected Jacobian that gains less asks for fresh differences


@dataclass(eq=False)  # a mode is itself only, wherever it has moved to
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
    residuals, jacobian : whitened residuals at z (m,) and their derivatives (m, dimensions); None before a fit
    evidence : what it was fitted to
    fresh : the Jacobian is of finite differences at z
    settled : going on gains nothing
    """

    hypothesis: int
    z: Array = field(repr=False)
    mask: NDArray[np.bool_] = field(repr=False)
    objective: float = np.inf
    precision: Array = field(default_factory=lambda: np.eye(1), repr=False)
    by_block: Array = field(default_factory=lambda: np.zeros(0), repr=False)
    residuals: Array = field(default_factory=lambda: np.zeros(0), repr=False)
    jacobian: Array | None = field(default=None, repr=False)
    evidence: EvidenceSet | None = field(default=None, repr=False)
    fresh: bool = False
    settled: bool = False

    @property
    def log_evidence(self) -> float:
        """Laplace approximation of the log of the integral of prior times likelihood."""
        _, logdet = np.linalg.slogdet(self.precision)
        return -self.objective - 0.5 * float(logdet)

    def moved(self, z: Array) -> None:
        """Take another place; what was known at the old one is forgotten."""
        self.z = z
        self.objective, self.jacobian, self.fresh, self.settled = np.inf, None, False, False

    def for_less(self, mask: NDArray[np.bool_]) -> Mode:
        """A start for fewer blocks of evidence from here; slopes are the same, whatever counts."""
        jacobian = None if self.jacobian is None else self.jacobian.copy()
        here = float(objective(self.z, self.by_block, mask))
        return replace(self, mask=mask, objective=here, jacobian=jacobian, settled=False)


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
    for mode in modes:
        if mode.evidence is not simulator.evidence:
            mode.moved(mode.z)
    linearise(simulator, hypotheses, [m for m in modes if m.jacobian is None])
    for _ in range(rounds):
        going = [m for m in modes if not m.settled]
        if not going:
            break
        _advance(simulator, hypotheses, going)
    return modes


def linearise(simulator: Simulator, hypotheses: list[Hypothesis], modes: list[Mode]) -> None:
    """Residuals, their derivatives by finite differences, objective and precision at every mode, in place."""
    if not modes:
        return
    d = simulator.dimensions
    points = with_steps(np.stack([m.z for m in modes], axis=1))
    result = simulator.evaluate(points, hypotheses, np.repeat([m.hypothesis for m in modes], d + 1))
    for i, mode in enumerate(modes):
        first = i * (d + 1)
        r = result.residuals[:, first : first + d + 1]
        mode.residuals = r[:, 0].copy()
        mode.jacobian = (r[:, 1:] - r[:, :1]) / STEP
        mode.by_block = result.by_block[:, first].copy()
        mode.objective = float(objective(mode.z, mode.by_block, mode.mask))
        mode.evidence, mode.fresh = simulator.evidence, True
        _weigh(simulator, mode)


def with_steps(z: Array) -> Array:
    """Points, each followed by a step in every dimension, (dimensions, points (dimensions + 1)).

    >>> with_steps(np.zeros((2, 1))).tolist()
    [[0.0, 0.3, 0.0], [0.0, 0.0, 0.3]]
    """
    d, n = z.shape
    out = np.repeat(z[:, :, None], d + 1, axis=2)
    out[np.arange(d), :, np.arange(1, d + 1)] += STEP
    return np.asarray(out.reshape(d, n * (d + 1)))


def price(simulator: Simulator, hypotheses: list[Hypothesis], modes: list[Mode]) -> None:
    """Set what modes fitted to other evidence are worth here, where they stand; their precision is kept."""
    if not modes:
        return
    z = np.stack([m.z for m in modes], axis=1)
    result = simulator.evaluate(z, hypotheses, np.array([m.hypothesis for m in modes]))
    for i, mode in enumerate(modes):
        mode.by_block = result.by_block[:, i].copy()
        mode.objective = float(objective(mode.z, mode.by_block, mode.mask))
        mode.jacobian = None


def objective(z: Array, by_block: Array, mask: NDArray[np.bool_]) -> Array:
    """Negative log of prior times likelihood, up to the prior's constant, of one candidate or many.

    Parameters
    ----------
    z : (dimensions,) or (dimensions, n)
    by_block : (blocks,) or (blocks, n) log likelihoods
    mask : (blocks,) which of them count
    """
    return np.asarray(0.5 * (z**2).sum(axis=0) - by_block[mask].sum(axis=0))


def _weigh(simulator: Simulator, mode: Mode) -> Array:
    """Set the precision from the Jacobian; returns the gradient."""
    blocks = simulator.evidence.blocks
    rows = np.repeat(mode.mask, [b.size for b in blocks])
    assert mode.jacobian is not None
    jacobian = mode.jacobian[rows]
    weight = simulator.evidence.weights(mode.residuals[:, None])[rows]
    weighted = jacobian * weight
    mode.precision = np.eye(len(mode.z)) + jacobian.T @ weighted
    return np.asarray(mode.z + weighted.T @ mode.residuals[rows])


def _advance(simulator: Simulator, hypotheses: list[Hypothesis], modes: list[Mode]) -> None:
    """Move every mode by the best of a few damped steps, or not at all."""
    trials = []
    damping = np.array(_DAMPING)[:, None, None]
    for mode in modes:
        gradient = _weigh(simulator, mode)
        diagonal = np.diag(np.diag(mode.precision))
        steps = -np.linalg.solve(mode.precision + damping * diagonal, gradient[:, None])[:, :, 0]
        within = np.minimum(1.0, _LARGEST_MOVE / np.maximum(np.abs(steps).max(axis=1), 1e-12))
        trials.append((mode.z + steps * within[:, None]).T)
    points = np.concatenate(trials, axis=1)
    count = len(_DAMPING)
    result = simulator.evaluate(points, hypotheses, np.repeat([m.hypothesis for m in modes], count))
    again = []
    for i, mode in enumerate(modes):
        some = slice(i * count, (i + 1) * count)
        own = points[:, some]
        tried = objective(own, result.by_block[:, some], mode.mask)
        best = int(np.argmin(tried))
        gain = mode.objective - float(tried[best])
        was_fresh = mode.fresh
        _learn(mode, own, result.residuals[:, some], tried)
        if gain > _ROUNDING:
            mode.z = own[:, best].copy()
            mode.objective = float(tried[best])
            mode.residuals = result.residuals[:, some][:, best].copy()
            mode.by_block = result.by_block[:, some][:, best].copy()
            mode.fresh = False
        if gain < _SETTLED and was_fresh:
            mode.settled = True
        elif gain < _STALE and not was_fresh:
            again.append(mode)
    linearise(simulator, hypotheses, again)


def _learn(mode: Mode, points: Array, residuals: Array, worth: Array) -> None:
    """Correct the Jacobian by what was tried, the best place last."""
    assert mode.jacobian is not None
    for k in np.argsort(-worth):
        step = points[:, k] - mode.z
        square = float(step @ step)
        if square < 1e-6 or not worth[k] < mode.objective + _LEARNS_WITHIN:
            continue
        mode.jacobian += np.outer(residuals[:, k] - mode.residuals - mode.jacobian @ step, step / square)
