"""One, two or three straight pieces through many curves at once, on one even grid.

All pairs of breaks on a coarse grid are tried at the same cost as one, since the sums that they need are
linear in the curves; the best breaks are then moved freely (Muggeo, Statistics in Medicine 22 (2003) 3055).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from boostproof.recording.model import FloatArray

_BREAKS = 40  # tried along the grid
_GAIN = 0.82  # of the misfit that a break more must bring it down to
_SURE = 7.0  # times what a break more takes off the squares of noise alone, wherever it stands; the best place takes more
_ROUNDS = 2  # of moving the breaks


@dataclass(frozen=True)
class BrokenLines:
    """The pieces of many curves; those with fewer pieces repeat their last edge.

    Attributes
    ----------
    count : pieces of each curve, 1 to 3, shape (curves,)
    edges : x at the ends and breaks, shape (curves, 4)
    levels : fitted y there, shape (curves, 4)
    slopes : of each piece, shape (curves, 3); NaN beyond the last
    misfit : root mean square left over, noise taken off, shape (curves,)
    straight : the same for one single line, shape (curves,)
    """

    count: np.ndarray
    edges: FloatArray
    levels: FloatArray
    slopes: FloatArray
    misfit: FloatArray
    straight: FloatArray


def fit_broken_lines(
    x: FloatArray,
    curves: FloatArray,
    least_span: float,
    *,
    noise: float,
    free: float,
    strict: FloatArray | float = 1.0,
) -> BrokenLines:
    """Fit pieces to every curve.

    Parameters
    ----------
    x : even grid, rising, shape (nodes,)
    curves : shape (curves, nodes)
    least_span : shortest piece, in x
    noise : mean square of the noise of a curve at a node
    free : independent values of noise along the grid
    strict : how much more than usual a break must bring to be taken, of all curves or per curve

    Notes
    -----
    A break more is taken where it brings the misfit, noise taken off, down clearly, and the squares down by
    more than noise alone would.
    """
    scale = float(x[-1] - x[0])
    span = least_span / scale
    found = [_best(curves, breaks, span) for breaks in range(3)]
    fits = [fit for fit in found if fit is not None]
    squares = [np.maximum(fit[0], 0.0) for fit in fits]
    count = np.zeros(len(curves), dtype=np.intp)
    best = squares[0].copy()
    for extra in range(1, len(fits)):
        better = np.sqrt(np.maximum(squares[extra] - noise, 0.0)) <= _GAIN * np.sqrt(
            np.maximum(best - noise, 0.0)
        )
        better &= best - squares[extra] > strict * _SURE * 2.0 * noise / max(free, 1.0)
        count = np.where(better, extra, count)
        best = np.where(better, squares[extra], best)
    return _picked(fits, count, best, squares[0], noise, x, scale)


@dataclass(frozen=True)
class _Sets:
    """Sets of so many breaks that keep the pieces long enough, and the inverse of the normal matrix of each."""

    tried: FloatArray
    index: np.ndarray
    breaks: FloatArray
    inverse: FloatArray
    hinges: FloatArray


@lru_cache(maxsize=64)
def _sets(nodes: int, breaks: int, least: int) -> _Sets | None:
    """``least`` is the shortest piece in steps between the places tried; None where no set is left."""
    u = np.linspace(0.0, 1.0, nodes)
    tried = np.linspace(0.0, 1.0, _BREAKS + 2)[1:-1]
    if breaks < 2:
        index = np.arange(_BREAKS)[:, None] if breaks else np.zeros((1, 0), dtype=np.intp)
    else:
        index = np.stack(np.triu_indices(_BREAKS, 1), axis=1)
    ends = np.zeros((len(index), 1), dtype=np.intp)
    apart = np.diff(np.concatenate([ends - 1, index, ends + _BREAKS], axis=1), axis=1)
    index = index[np.all(apart >= least, axis=1)]
    if not len(index):
        return None
    design = _design(u, tried[index])
    normal = np.swapaxes(design, 1, 2) @ design / nodes + 1e-12 * np.eye(2 + breaks)
    inverse = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    return _Sets(tried, index, tried[index], inverse, np.maximum(u[:, None] - tried, 0.0))


def _design(u: FloatArray, breaks: FloatArray) -> FloatArray:
    """Columns 1, u and a hinge per break: shape (sets, nodes, 2 + breaks)."""
    sets, hinges = breaks.shape
    out = np.empty((sets, len(u), 2 + hinges))
    out[:, :, 0], out[:, :, 1] = 1.0, u
    out[:, :, 2:] = np.maximum(u[None, :, None] - breaks[:, None, :], 0.0)
    return out


def _normal(design: FloatArray, curves: FloatArray, ridge: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Normal matrix and right-hand side of every curve, per node."""
    across = np.swapaxes(design, 1, 2)
    nodes = design.shape[1]
    return across @ design / nodes + ridge, (across @ curves[:, :, None])[:, :, 0] / nodes


def _best(curves: FloatArray, hinges: int, span: float) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """(mean squares left, coefficients, breaks) of the best set of each curve, its breaks moved freely."""
    nodes = curves.shape[1]
    u = np.linspace(0.0, 1.0, nodes)
    # A little less than a whole number of steps is taken for one: places tried are apart by whole steps.
    sets = _sets(nodes, hinges, int(np.ceil(span * (_BREAKS + 1) - 1e-6)))
    if sets is None:
        return None
    breaks, index, inverse = sets.breaks, sets.index, sets.inverse
    # Sums of y and u y above each single break give every right-hand side.
    above = curves @ sets.hinges / nodes
    right = np.empty((len(breaks), 2 + hinges, len(curves)))
    right[:, 0], right[:, 1] = curves.mean(axis=1), curves @ u / nodes
    for h in range(hinges):
        right[:, 2 + h] = above[:, index[:, h]].T
    solved = inverse @ right
    solved *= right
    squares = np.mean(curves**2, axis=1) - solved.sum(axis=1)
    best = np.argmin(squares, axis=0)
    rows = np.arange(len(curves))
    coefficients = np.matmul(inverse[best], right[best, :, rows][:, :, None])[:, :, 0]
    found = (squares[best, rows], coefficients, breaks[best])
    return _moved(u, curves, found, span) if hinges else found


def _moved(
    u: FloatArray, curves: FloatArray, found: tuple[FloatArray, FloatArray, FloatArray], span: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Breaks moved off the coarse grid where that leaves less."""
    squares, coefficients, breaks = found
    hinges = breaks.shape[1]
    total = np.mean(curves**2, axis=1)
    eye = 1e-10 * np.eye(2 + 2 * hinges)
    for _ in range(_ROUNDS):
        design = _design(u, breaks)
        steps = -(u[None, :, None] > breaks[:, None, :]).astype(np.float64)
        both = np.concatenate([design, steps], axis=2)
        normal, right = _normal(both, curves, eye)
        solved = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
        turn = solved[:, 2 : 2 + hinges]
        move = solved[:, 2 + hinges :] / np.where(np.abs(turn) < 1e-9, np.inf, turn)
        moved = np.clip(breaks + np.clip(move, -0.5 / _BREAKS, 0.5 / _BREAKS), span, 1.0 - span)
        if hinges == 2:
            moved = np.where((moved[:, 1] - moved[:, 0] >= span)[:, None], moved, breaks)
        design = _design(u, moved)
        normal, right = _normal(design, curves, 1e-12 * np.eye(2 + hinges))
        solved = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
        left = total - np.sum(solved * right, axis=1)
        better = left < squares
        squares = np.where(better, left, squares)
        coefficients = np.where(better[:, None], solved, coefficients)
        breaks = np.where(better[:, None], moved, breaks)
    return squares, coefficients, breaks


def _picked(
    fits: list[tuple[FloatArray, FloatArray, FloatArray]],
    count: np.ndarray,
    best: FloatArray,
    straight: FloatArray,
    noise: float,
    x: FloatArray,
    scale: float,
) -> BrokenLines:
    curves = len(count)
    edges = np.ones((curves, 4))
    edges[:, 0] = 0.0
    slopes = np.full((curves, 3), np.nan)
    levels = np.empty((curves, 4))
    for extra, (_, coefficients, breaks) in enumerate(fits):
        mine = count == extra
        edges[mine, 1 : 1 + extra] = breaks[mine]
        slopes[mine, : extra + 1] = np.cumsum(coefficients[mine, 1:], axis=1)
        levels[mine, 0] = coefficients[mine, 0]
    levels[:, 1:] = levels[:, :1] + np.cumsum(np.nan_to_num(slopes) * np.diff(edges, axis=1), axis=1)
    return BrokenLines(
        count + 1,
        edges * scale + x[0],
        levels,
        slopes / scale,
        np.sqrt(np.maximum(best - noise, 0.0)),
        np.sqrt(np.maximum(straight - noise, 0.0)),
    )
