"""Where a sensor or logger has come to the end of its range: the same highest value, without any ripple."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.recording.model import FloatArray
from boostproof.recording.signals.smooth import resolution

_LEAST_ROWS, _LEAST_SECONDS = 8, 0.25
_LEAST_SPREAD = (
    0.6  # median change between neighbours, in steps of the channel, of a channel that ripples at all
)
_NEAR, _LEAST_NEAR = 0.08, 8  # share of the range around a value, and neighbours there that tell its ripple


@dataclass(frozen=True)
class Limit:
    """The value at which a channel ends, and the longest stay there: first and last row."""

    value: float
    first: int
    last: int


def find_limit(values: FloatArray, time: FloatArray, *, coarse: bool = False) -> Limit | None:
    """The upper end of a channel's range, None where the channel never stands at it.

    A channel written in steps so coarse that it often rests anyway tells nothing, unless ``coarse`` says that
    the caller judges that.
    """
    finite = values[np.isfinite(values)]
    if finite.size < 20:
        return None
    top = float(finite.max())
    if np.count_nonzero(values == top) < _LEAST_ROWS:
        return None
    edges = np.flatnonzero(np.diff(np.concatenate([[False], values == top, [False]]).astype(np.int8)))
    lengths = edges[1::2] - edges[0::2]
    longest = int(np.argmax(lengths))
    first, last = int(edges[2 * longest]), int(edges[2 * longest + 1]) - 1
    if last - first + 1 < _LEAST_ROWS or time[last] - time[first] < _LEAST_SECONDS:
        return None
    return Limit(top, first, last) if coarse or (ripples(values) and ripples_near(values, top)) else None


def ripples(values: FloatArray) -> bool:
    """Whether neighbouring values usually differ: only then does standing still mean something."""
    second = np.abs(np.diff(values, 2))
    second = second[np.isfinite(second)]
    return bool(second.size) and float(np.median(second)) > _LEAST_SPREAD * resolution(values)


def ripples_near(values: FloatArray, value: float) -> bool:
    """Whether neighbouring values differ just beside one value, where it does not stand at that value itself.

    A calm plateau in coarse steps rests at the values beside its highest too, however lively the rest of the log.
    True where too few samples lie there to tell.
    """
    finite = values[np.isfinite(values)]
    span = _NEAR * float(np.ptp(finite)) if finite.size else 0.0
    beside = (np.abs(values - value) <= span) & (values != value)
    middles = np.flatnonzero(beside[:-2] & beside[1:-1] & beside[2:]) + 1
    if middles.size < _LEAST_NEAR:
        return True
    second = np.abs(values[middles - 1] - 2.0 * values[middles] + values[middles + 1])
    return float(np.median(second)) > _LEAST_SPREAD * resolution(values)
