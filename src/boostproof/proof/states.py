"""Whether a curve holds its target, stretch by stretch, and whether it moved towards it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.proof.model import Change, Measured, State
from boostproof.recording.model import FloatArray
from boostproof.recording.pulls.comparison import COVERAGE, MATTERS, draws_of, standard_uncertainties
from boostproof.recording.pulls.scatter import USUAL_WEIGHT
from boostproof.uncertainty import coverage_factor

LEAST_FACTOR = 2.0  # a change is claimed only beyond twice its standard uncertainty, however many pulls there are


def simultaneous_factor(rows: FloatArray, covariance: FloatArray, degrees: float) -> float:
    """Factor on standard uncertainties that holds all means together in 95 of 100 comparisons, at least 2.

    Parameters
    ----------
    rows : averages, shape (rows, n)
    covariance : of the points, shape (n, n)
    degrees : of freedom of the covariance
    """
    together = rows @ covariance @ rows.T
    sd = np.sqrt(np.diag(together))
    drawn = np.abs(draws_of(together, degrees) / sd[:, None]).max(axis=0)
    return max(float(np.quantile(drawn, COVERAGE)), LEAST_FACTOR)


def one_sided_factor(degrees: float) -> float:
    """Factor beyond which a value that lies on a limit is seen in 5 of 100 cases."""
    return float(coverage_factor(max(degrees, 1.0), coverage=0.90))


def margin_factor(degrees: float) -> float:
    """Factor on the standard uncertainty of one figure that is held against one limit, at least 2."""
    return max(LEAST_FACTOR, one_sided_factor(degrees))


def scatter_of_figures(sides: Sequence[Sequence[float] | FloatArray], usual: float) -> tuple[float, float]:
    """Variance of one figure from pull to pull, and its degrees of freedom.

    Parameters
    ----------
    sides : the figure of the pulls of each side
    usual : standard deviation that is usual, counted as four repeats beside those that were driven
    """
    values = [np.array(side) for side in sides]
    degrees = USUAL_WEIGHT + sum(len(v) - 1 for v in values)
    square = sum(float(np.sum((v - v.mean()) ** 2)) for v in values)
    return (USUAL_WEIGHT * usual**2 + square) / degrees, degrees


def difference_factor(degrees: float) -> float:
    """Factor on the standard uncertainty of one difference by itself, at least 2."""
    return max(LEAST_FACTOR, coverage_factor(degrees))


def state_of(
    off: FloatArray, rows: FloatArray, covariance: FloatArray, degrees: float, tolerance: float
) -> tuple[State, ...]:
    """Whether stretches lie within a tolerance of the target.

    Parameters
    ----------
    off : boost minus target over the grid, shape (n,) [kPa]
    rows : averages over the stretches, shape (stretches, n)
    covariance, degrees : of the curve
    tolerance : [kPa]

    Returns
    -------
    tuple of State
        "holds" where the mean lies inside by more than its doubt (a guard band: JCGM 106, 8.3.2), "outside" where it
        lies outside by more than the doubt of all stretches together, else "cannot tell".
    """
    means = np.abs(rows @ off)
    sd = standard_uncertainties(rows, covariance)
    inside = means + one_sided_factor(degrees) * sd <= tolerance
    outside = means - simultaneous_factor(rows, covariance, degrees) * sd > tolerance
    return tuple("holds" if i else "outside" if o else "cannot tell" for i, o in zip(inside, outside, strict=True))


def together(states: Sequence[State]) -> State:
    """Of a range: outside if any stretch is, held if all are."""
    if "outside" in states:
        return "outside"
    return "holds" if all(state == "holds" for state in states) else "cannot tell"


def change_of(difference: Measured, off_before: float | None, *, degrees: float, more_is_better: bool) -> Change:
    """What a difference means: nearer to the target or farther from it.

    Parameters
    ----------
    difference : after minus before; its expanded uncertainty decides
    off_before : mean boost minus target before [kPa]; None where no target holds
    degrees : of freedom
    more_is_better : as in the spool range, where no target holds
    """
    gain = difference.value if more_is_better else abs(difference.value)
    if off_before is not None:
        gain = abs(off_before) - abs(off_before + difference.value)
    if abs(gain) > difference.expanded:
        if off_before is None and not more_is_better:
            return "different"
        return "better" if gain > 0.0 else "worse"
    hidden = abs(difference.value) + one_sided_factor(degrees) * difference.sd
    return "no different" if hidden <= MATTERS else "cannot tell"
