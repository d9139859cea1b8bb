"""How the clock of one logger stands to that of another that saw the same quantity.

First every shift is tried on a coarse grid: where both saw the quantity, they must have seen the same. Then
the delay of stretches along the overlap is taken finely, and a line through these is the one clock's offset
and how much faster it runs.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from boostproof.recording.model import FloatArray, Samples
from boostproof.recording.signals.delays import delay_between

_GRID = 0.1  # s
_MOST = 60_000  # points of the coarse grid
_LEAST_OVERLAP_S = 4.0
_LEAST_SHARE = 0.25  # of the shorter log that both must have seen
_LIVELY = 0.2  # of its variance that must lie in the overlap: two idles always fit
_APART_S = 2.0  # two fits nearer than this are the same one
_CLOSE = 1.6  # times the misfit of the best: another fit as good as that makes it unsure
_STRETCH_S = 10.0
_MOST_DRIFT = 0.02
_SURE = 4.0  # sd by which a clock must run wrong before it is said to


@dataclass(frozen=True)
class ClockMatch:
    """``time of a = offset + rate x time of b``.

    Attributes
    ----------
    offset : s
    rate : near 1
    sd : s, of a time brought over
    misfit : what is left between the two, as a share of how much the quantity moves
    unique : no other shift fits nearly as well
    """

    offset: float
    rate: float
    sd: float
    misfit: float
    unique: bool

    def to_first(self, time: FloatArray) -> FloatArray:
        """Times of b's clock on a's."""
        return self.offset + self.rate * time


def match_clocks(a: Samples, b: Samples, *, same_scale: bool) -> ClockMatch | None:
    """Match two clocks by one quantity.

    Parameters
    ----------
    a, b : the quantity as either logger saw it, without NaN
    same_scale : both are in one unit and right, such as engine speed; else to a factor and an offset

    Returns
    -------
    ClockMatch or None
        None where the logs overlap too little, or the quantity stands still.
    """
    coarse = _coarse(a, b, same_scale)
    if coarse is None:
        return None
    shift, misfit, unique = coarse
    shifted = Samples(b.time + shift, b.values)
    times, delays, sds = _stretches(a, shifted)
    if not times.size:
        return ClockMatch(shift, 1.0, _GRID, misfit, unique)
    late, drift, sd = _line(times, delays, sds)
    # A sample of b at t + delay belongs to a's t: delay = late + drift (t - middle).
    middle = float(np.average(times, weights=sds**-2))
    rate = 1.0 - drift
    return ClockMatch(rate * shift - late + drift * middle, rate, sd, misfit, unique)


def _coarse(a: Samples, b: Samples, same_scale: bool) -> tuple[float, float, bool] | None:
    """(shift of b onto a [s], misfit, whether no other shift fits nearly as well)."""
    longest = max(float(np.ptp(a.time)), float(np.ptp(b.time)))
    step = max(_GRID, longest / _MOST)
    x, y = (np.interp(np.arange(s.time[0], s.time[-1], step), s.time, s.values) for s in (a, b))
    if min(len(x), len(y)) * step < _LEAST_OVERLAP_S or min(x.std(), y.std()) <= 0.0:
        return None
    middle, scale = float(x.mean()), float(x.std())
    x = (x - middle) / scale
    y = (y - middle) / scale if same_scale else (y - y.mean()) / y.std()
    # Shift k lays the first point of y on point k - (len(y) - 1) of x.
    ones_x, ones_y = np.ones_like(x), np.ones_like(y)
    count = np.round(_sliding(ones_x, ones_y))
    sx, sy = _sliding(x, ones_y), _sliding(ones_x, y)
    sxx, syy, sxy = _sliding(x * x, ones_y), _sliding(ones_x, y * y), _sliding(x, y)
    number = np.maximum(count, 1.0)
    vx, vy = sxx / number - (sx / number) ** 2, syy / number - (sy / number) ** 2
    least = max(_LEAST_OVERLAP_S / step, _LEAST_SHARE * min(len(x), len(y)))
    allowed = (count >= least) & (vx > _LIVELY * x.var()) & (vy > _LIVELY * y.var())
    if not allowed.any():
        return None
    if same_scale:
        left = (sxx - 2.0 * sxy + syy) / number / np.maximum(vx, 1e-12)
    else:
        left = 1.0 - np.clip(sxy / number - sx * sy / number**2, 0.0, None) ** 2 / np.maximum(vx * vy, 1e-12)
    left = np.where(allowed, np.maximum(left, 1e-6), np.inf)
    best = int(np.argmin(left))
    elsewhere = np.abs(np.arange(len(left)) - best) * step > _APART_S
    other = float(left[elsewhere].min()) if elsewhere.any() else np.inf
    shift = float(a.time[0] - b.time[0] + (best - (len(y) - 1)) * step)
    return shift, float(np.sqrt(left[best])), bool(other > _CLOSE * left[best])


def _sliding(x: FloatArray, y: FloatArray) -> FloatArray:
    """Sum of products at every shift of y along x: shape (len(x) + len(y) - 1,)."""
    size = len(x) + len(y) - 1
    length = 1 << (size - 1).bit_length()
    return np.asarray(np.fft.irfft(np.fft.rfft(x, length) * np.fft.rfft(y[::-1], length), length)[:size])


def _stretches(a: Samples, b: Samples) -> tuple[FloatArray, FloatArray, FloatArray]:
    """(middle, delay, sd) of every stretch of the overlap in which the quantity moves."""
    first, last = max(a.time[0], b.time[0]), min(a.time[-1], b.time[-1])
    pieces = max(1, int((last - first) / _STRETCH_S))
    edges = np.linspace(first, last, min(pieces, 24) + 1)
    found = []
    for low, high in itertools.pairwise(edges):
        inside = [Samples(s.time[m], s.values[m]) for s in (a, b) for m in [(s.time >= low) & (s.time <= high)]]
        if min(len(s.time) for s in inside) < 12:
            continue
        delay = delay_between(inside[0], inside[1], longest=min(1.0, (high - low) / 4.0))
        if delay is not None and delay.peak > 0.9:
            found.append((0.5 * (low + high), delay.seconds, max(delay.sd, 1e-3)))
    table = np.array(found, dtype=np.float64).reshape(-1, 3)
    return table[:, 0], table[:, 1], table[:, 2]


def _line(times: FloatArray, delays: FloatArray, sds: FloatArray) -> tuple[float, float, float]:
    """(delay in the middle, its growth a second, sd): a level, or a line where a level does not do."""
    weight = sds**-2
    level = float(np.average(delays, weights=weight))
    sd = float(weight.sum() ** -0.5)
    if len(times) < 2:
        return level, 0.0, sd
    away = times - np.average(times, weights=weight)
    spread = float((weight * away**2).sum())
    drift = float((weight * away * delays).sum()) / max(spread, 1e-12)
    if abs(drift) * spread**0.5 < _SURE or abs(drift) > _MOST_DRIFT:
        scatter = float(np.sqrt(np.average((delays - level) ** 2, weights=weight)))
        return level, 0.0, max(sd, scatter)
    left = delays - level - drift * away
    return level, drift, max(sd, float(np.sqrt(np.average(left**2, weights=weight))))
