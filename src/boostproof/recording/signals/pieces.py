"""Boost over engine speed as two or three straight lines that meet, found over all pairs of breaks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.recording.model import FloatArray

_CANDIDATES = 90
_LEAST_GAIN = 0.82  # one break more must bring the residual down to this share


@dataclass(frozen=True)
class Pieces:
    """Straight pieces that meet at the breaks.

    Attributes
    ----------
    edges : engine speed at the ends and breaks [rpm], shape (pieces + 1,)
    levels : fitted boost there [kPa], shape (pieces + 1,)
    slopes : of each piece [kPa per rpm]
    residual : root mean square of what the lines leave over [kPa]
    straight : the same for one single line
    """

    edges: FloatArray
    levels: FloatArray
    slopes: FloatArray
    residual: float
    straight: float


@dataclass(frozen=True)
class _Sums:
    """Sums over all samples above each candidate break, of weight times powers of x and y."""

    breaks: FloatArray
    above: FloatArray
    total: FloatArray
    yy: float


def fit_pieces(rpm: FloatArray, boost: FloatArray, least_span: float) -> Pieces | None:
    """Fit one, two or three pieces; None for too few samples.

    Parameters
    ----------
    rpm : rising, shape (n,)
    boost : shape (n,) [kPa]
    least_span : shortest piece allowed [rpm]

    Notes
    -----
    Samples count by the engine speed that they cover, so that a slow stretch does not outweigh a fast one.
    Another break is taken only where it brings the residual down clearly.
    """
    if len(rpm) < 8 or rpm[-1] - rpm[0] < 2.0 * least_span:
        return None
    origin, scale = float(rpm[0]), float(rpm[-1] - rpm[0])
    x = (rpm - origin) / scale
    weight = np.gradient(x)
    weight = np.clip(weight, 0.0, None) / max(float(np.clip(weight, 0.0, None).sum()), 1e-12)
    breaks = np.linspace(0.0, 1.0, _CANDIDATES + 2)[1:-1]
    sums = _sums(x, boost, weight, breaks)
    span = least_span / scale
    one = _solve(sums, np.zeros((1, 0), dtype=np.intp))
    usable = np.flatnonzero((breaks >= span) & (breaks <= 1.0 - span))
    best = one
    for extra in (1, 2):
        sets = _break_sets(usable, breaks, span, extra)
        if not len(sets):
            break
        found = _solve(sums, sets)
        if found[0] > _LEAST_GAIN**2 * best[0]:
            continue
        best = found
    error, coefficients, chosen = best
    edges = np.concatenate([[0.0], breaks[chosen], [1.0]])
    slopes = np.cumsum(coefficients[1:])
    levels = coefficients[0] + np.concatenate([[0.0], np.cumsum(slopes * np.diff(edges))])
    return Pieces(
        edges * scale + origin, levels, slopes / scale, float(np.sqrt(error)), float(np.sqrt(one[0]))
    )


def _sums(x: FloatArray, y: FloatArray, weight: FloatArray, breaks: FloatArray) -> _Sums:
    terms = np.stack([weight, weight * x, weight * x * x, weight * y, weight * x * y])
    running = np.concatenate([np.cumsum(terms[:, ::-1], axis=1)[:, ::-1], np.zeros((5, 1))], axis=1)
    above = running[:, np.searchsorted(x, breaks, side="right")]
    return _Sums(breaks, above, running[:, 0], float(np.sum(weight * y * y)))


def _break_sets(usable: np.ndarray, breaks: FloatArray, span: float, count: int) -> np.ndarray:
    """All choices of one or two breaks that keep the pieces long enough."""
    if count == 1:
        return np.asarray(usable[:, None])
    first, second = np.meshgrid(usable, usable, indexing="ij")
    apart = breaks[second] - breaks[first] >= span
    return np.stack([first[apart], second[apart]], axis=1)


def _solve(sums: _Sums, sets: np.ndarray) -> tuple[float, FloatArray, np.ndarray]:
    """(mean square error, coefficients, breaks) of the best of many fits: 1, x, and a hinge per break."""
    count, hinges = sets.shape
    size = 2 + hinges
    w, wx, wxx, wy, wxy = sums.total
    matrix = np.zeros((count, size, size))
    right = np.zeros((count, size))
    matrix[:, 0, 0], matrix[:, 0, 1], matrix[:, 1, 1] = w, wx, wxx
    right[:, 0], right[:, 1] = wy, wxy
    for i in range(hinges):
        b = sums.breaks[sets[:, i]]
        aw, awx, awxx, awy, awxy = sums.above[:, sets[:, i]]
        matrix[:, 0, 2 + i] = awx - b * aw
        matrix[:, 1, 2 + i] = awxx - b * awx
        right[:, 2 + i] = awxy - b * awy
        for j in range(i + 1):
            # Above the later break both hinges are straight lines.
            other = sums.breaks[sets[:, j]]
            matrix[:, 2 + j, 2 + i] = awxx - (b + other) * awx + b * other * aw
    upper = np.triu(matrix)
    full = upper + np.transpose(np.triu(matrix, 1), (0, 2, 1)) + 1e-12 * np.eye(size)
    coefficients = np.linalg.solve(full, right[:, :, None])[:, :, 0]
    errors = sums.yy - np.einsum("ij,ij->i", coefficients, right)
    best = int(np.argmin(errors))
    return max(float(errors[best]), 0.0), coefficients[best], sets[best]
