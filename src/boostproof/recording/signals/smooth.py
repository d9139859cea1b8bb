"""Smoothing and noise of sampled signals, in plain NumPy (a signal library takes a second to load).

The local polynomial is the least-squares filter of Savitzky and Golay, Anal. Chem. 36 (1964) 1627; tests
compare it with an independent library.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from boostproof.recording.model import FloatArray


def window_for(seconds: float, step: float, rows: int) -> int:
    """Odd number of samples that span ``seconds``, at least 3 and no more than fit."""
    count = 2 * round(0.5 * seconds / max(step, 1e-9)) + 1
    largest = rows if rows % 2 else rows - 1
    return int(max(1, min(max(count, 3), largest)))


@lru_cache(maxsize=64)
def local_polynomial(window: int, order: int) -> tuple[FloatArray, FloatArray]:
    """(powers of the offsets in a window, least-squares coefficients from its samples); not to be written to.

    Parameters
    ----------
    window : odd
    order : of the polynomial
    """
    half = window // 2
    basis = np.vander(np.arange(-half, half + 1, dtype=np.float64), order + 1, increasing=True)
    return basis, np.asarray(np.linalg.pinv(basis))


def smooth(values: FloatArray, window: int, order: int = 2) -> FloatArray:
    """Local polynomial of ``order`` over ``window`` samples (odd), evaluated at each sample.

    Parameters
    ----------
    values : shape (rows,), without NaN
    window : odd; one no larger than ``order`` leaves the values as they are
    order : of the polynomial
    """
    if window <= order or len(values) < window:
        return values.copy()
    half = window // 2
    basis, to_coefficients = local_polynomial(window, order)
    out = np.convolve(values, to_coefficients[0][::-1], mode="same")
    # At the ends the first and last full window's polynomial is read off-centre.
    out[:half] = basis[:half] @ (to_coefficients @ values[:window])
    out[len(values) - half :] = basis[half + 1 :] @ (to_coefficients @ values[-window:])
    return np.asarray(out)


def smooth_rows(rows: FloatArray, window: int, order: int = 2) -> FloatArray:
    """`smooth` for every row of an array at once: shape (rows, samples)."""
    samples = rows.shape[1]
    if window <= order or samples < window:
        return rows.copy()
    half = window // 2
    basis, to_coefficients = local_polynomial(window, order)
    out = np.empty_like(rows)
    out[:, half : samples - half] = (
        np.lib.stride_tricks.sliding_window_view(rows, window, axis=1) @ to_coefficients[0]
    )
    out[:, :half] = rows[:, :window] @ (basis[:half] @ to_coefficients).T
    out[:, samples - half :] = rows[:, -window:] @ (basis[half + 1 :] @ to_coefficients).T
    return out


def noise_gain(window: int, order: int = 2) -> float:
    """Standard deviation of a smoothed sample over that of a raw one, for white noise."""
    if window <= order:
        return 1.0
    share = local_polynomial(window, order)[1][0]
    return float(np.sqrt(np.dot(share, share)))


def resolution(values: FloatArray) -> float:
    """Step in which a channel is written: the smallest usual difference between distinct values."""
    distinct = np.unique(values[np.isfinite(values)])
    if distinct.size < 3:
        return 0.0
    steps = np.diff(distinct)
    steps = steps[steps > 1e-9 * max(abs(float(distinct[-1])), abs(float(distinct[0])), 1e-12)]
    return float(np.percentile(steps, 5.0)) if steps.size else 0.0


def noise_of(values: FloatArray) -> float:
    """Standard deviation of the noise of single samples, not less than the steps of the numbers allow.

    From second differences: a curve bends little between three samples, noise does not.
    White noise of sd s gives second differences of sd sqrt(6) s; 1.4826 scales a median to an sd.
    """
    second = np.diff(values, 2)
    second = second[np.isfinite(second)]
    spread = 1.4826 * float(np.median(np.abs(second))) / np.sqrt(6.0) if second.size else 0.0
    return float(max(spread, resolution(values) / np.sqrt(12.0)))


def filled(values: FloatArray) -> FloatArray:
    """Lost cells by a straight line between their neighbours."""
    finite = np.isfinite(values)
    if finite.all() or not finite.any():
        return values
    rows = np.arange(len(values))
    return np.asarray(np.interp(rows, rows[finite], values[finite]))
