"""How much later one signal comes than another that it follows, from their shapes alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.recording.model import FloatArray, Samples
from boostproof.recording.rows import rate_of
from boostproof.recording.signals.smooth import smooth, window_for

_SLOW_S = 4.0  # s; slower courses than this are taken out: they do not tell a delay
_CALM_S = 0.25
_FASTEST = 100.0  # Hz of the common grid
_LONGEST_ROWS = 12_000
_LEAST_ROWS = 12
_BETWEEN = 0.02  # of a sampling period
_FINE = 8.0  # samples of the grid to one of the slower signal, where that is slow


@dataclass(frozen=True)
class Delay:
    """A delay with its standard deviation.

    Attributes
    ----------
    seconds : positive where the second signal comes later
    sd : s, from the noise left over and how sharply the signals tell the delay
    peak : correlation of the two at that delay, -1 to 1
    """

    seconds: float
    sd: float
    peak: float


def delay_between(a: Samples, b: Samples, *, longest: float = 1.0) -> Delay | None:
    """The delay of ``b`` behind ``a``, where b is a to some factor and offset.

    Parameters
    ----------
    a, b : each on its own times, of one clock; values in any unit, without NaN
    longest : largest delay looked for, in either direction [s]

    Of long recordings give a stretch with changes in it: over more than two minutes the grid gets coarser.

    Returns
    -------
    Delay or None
        None where the signals overlap for less than three times ``longest``, one of them stands still, or
        the best delay lies at the end of what was looked at.

    Notes
    -----
    Both are brought to an even grid by straight lines, smoothed alike, and freed of their slow course. For every shift the
    correlation over the same stretch of ``a`` is taken; a parabola through the three highest values gives
    the place of the peak between the grid's steps. The misfit is E (1 - r^2) with the energy E of ``b``, so
    that its curvature at the peak is -2 E r r''; a least-squares estimate then has the variance
    2 s^2 / curvature with the variance s^2 of single residuals, raised by the sum of their autocorrelation as
    neighbouring residuals are not independent.
    """
    grid = _grid(a, b, longest)
    if grid is None:
        return None
    step = float(grid[1] - grid[0])
    x, y = (_lively(_calm(np.interp(grid, s.time, s.values), step), step) for s in (a, b))
    reach = round(longest / step)
    inner = x[reach : len(x) - reach]
    inner = inner - inner.mean()
    energy = float(inner @ inner)
    if reach < 2 or len(inner) < _LEAST_ROWS or energy <= 0.0 or float(np.ptp(y)) <= 0.0:
        return None
    r = _correlation(inner, y, 2 * reach + 1)
    best = int(np.argmax(r))
    if not 0 < best < len(r) - 1 or r[best] <= 0.0:
        return None
    left, middle, right = (float(value) for value in r[best - 1 : best + 2])
    bend = (left - 2.0 * middle + right) / step**2
    if bend >= 0.0:
        return None
    part = 0.5 * (left - right) / (left - 2.0 * middle + right)
    piece = y[best : best + len(inner)]
    piece = piece - piece.mean()
    rest = piece - inner * float(inner @ piece) / energy
    curvature = -2.0 * float(piece @ piece) * middle * bend
    variance = float(rest @ rest) / max(len(rest) - 2, 1) * _repeated(rest)
    # Straight lines between samples are not the signal itself.
    between = _BETWEEN / min(rate_of(a.time), rate_of(b.time))
    sd = float(np.hypot(np.sqrt(2.0 * variance / curvature), between))
    return Delay((best - reach + part) * step, sd, middle)


def _grid(a: Samples, b: Samples, longest: float) -> FloatArray | None:
    if len(a.time) < 4 or len(b.time) < 4:
        return None
    first, last = max(a.time[0], b.time[0]), min(a.time[-1], b.time[-1])
    if last - first < 3.0 * longest:
        return None
    slow, fast = sorted((rate_of(a.time), rate_of(b.time)))
    rate = min(max(fast, min(_FINE * slow, _FASTEST)), _FASTEST, _LONGEST_ROWS / (last - first))
    rows = int((last - first) * rate) + 1
    return first + np.arange(rows) / rate if rows >= _LEAST_ROWS else None


def _calm(values: FloatArray, step: float) -> FloatArray:
    """Smoothed twice over a quarter second: noise from sample to sample makes false peaks."""
    window = window_for(_CALM_S, step, len(values))
    return np.asarray(smooth(smooth(values, window, 1), window, 1))


def _lively(values: FloatArray, step: float) -> FloatArray:
    """Less its own running mean over some seconds."""
    window = min(2 * int(0.5 * _SLOW_S / step) + 1, 2 * ((len(values) - 1) // 2) - 1)
    if window < 3:
        return np.asarray(values - values.mean())
    half = window // 2
    sums = np.cumsum(np.concatenate([[0.0], np.pad(values, half, mode="edge")]))
    return np.asarray(values - (sums[window:] - sums[:-window]) / window)


def _correlation(inner: FloatArray, y: FloatArray, shifts: int) -> FloatArray:
    """Correlation of ``inner`` with every stretch of ``y`` of its length."""
    size = len(inner)
    length = 1 << (len(y) + size).bit_length()
    product = np.fft.irfft(np.fft.rfft(y, length) * np.conj(np.fft.rfft(inner, length)), length)[:shifts]
    sums, squares = (np.cumsum(np.concatenate([[0.0], v])) for v in (y, y * y))
    mean = (sums[size : size + shifts] - sums[:shifts]) / size
    energy = squares[size : size + shifts] - squares[:shifts] - size * mean**2
    return np.asarray(product / np.sqrt(np.maximum(energy, 1e-30) * float(inner @ inner)))


def _repeated(rest: FloatArray) -> float:
    """1 + 2 x the sum of the autocorrelation up to where it first vanishes."""
    length = 1 << (2 * len(rest)).bit_length()
    power = np.abs(np.fft.rfft(rest, length)) ** 2
    own = np.fft.irfft(power, length)[: len(rest)]
    if own[0] <= 0.0:
        return 1.0
    own = own / own[0]
    ends = np.flatnonzero(own <= 0.0)
    return float(1.0 + 2.0 * own[1 : int(ends[0]) if ends.size else len(own)].sum())
