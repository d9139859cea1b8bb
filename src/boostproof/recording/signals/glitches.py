"""Single samples that cannot be: dropped frames written as zero, doubled pulses, electrical spikes.

They are told from the signal by its own noise, replaced by a straight line between their neighbours, and
never by a guess at what a real change looks like: what lasts longer than half a window stays.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostproof.recording.model import FloatArray
from boostproof.recording.signals.smooth import filled, noise_of
from boostproof.recording.signals.stretches import stretches_of

_WINDOW_S = 0.15
_SLOW_S = 0.12  # s; with longer steps only single samples are judged
_LARGEST_WINDOW = 31
_NOISES = 8.0
_MOST = 0.05  # of the samples; more than this is how the channel is, not a glitch
_PRESSURE_LEAST = 40.0  # kPa
_PRESSURE_STEP = 0.12  # s; between samples further apart boost can rise and fall by more than that
_STOPPED, _RUNNING = 200.0, 1000.0  # rpm

Rows = NDArray[np.bool_]


def glitches(values: FloatArray, step: float, *, least: float, share: float = 0.0) -> Rows:
    """Samples that stand alone, far from the running median around them.

    Parameters
    ----------
    values : shape (rows,), without NaN
    step : seconds between samples
    least : smallest distance from the median that counts, in the unit of the values
    share : the same as a share of the median

    Returns
    -------
    shape (rows,) of bool; all False where more than a twentieth would be glitches
    """
    found = np.zeros(len(values), dtype=bool)
    if len(values) < 5:
        return found
    least = max(least, _NOISES * noise_of(stretches_of(values)))
    half = _half_window(step)
    # Medians are slow: only where neighbours differ that much is anything to judge.
    jumps = np.flatnonzero(np.abs(np.diff(values)) > 0.5 * least)
    if not jumps.size:
        return found
    near = np.unique(np.clip(jumps[:, None] + np.arange(-half, half + 2), 0, len(values) - 1))
    around = np.clip(near[:, None] + np.arange(-half, half + 1), 0, len(values) - 1)
    median = np.median(values[around], axis=1)
    found[near] = np.abs(values[near] - median) > np.maximum(least, share * np.abs(median))
    return found if found.mean() <= _MOST else np.zeros(len(values), dtype=bool)


def _half_window(step: float) -> int:
    """Samples to either side of which the median is taken."""
    return 1 if step > _SLOW_S or step <= 0.0 else min(max(2, round(0.5 * _WINDOW_S / step)), _LARGEST_WINDOW // 2)


def without_glitches(values: FloatArray, step: float, *, least: float) -> FloatArray:
    """A channel without holes or glitches; one that holds no number at all stays as it is."""
    whole = filled(values)
    if not np.isfinite(whole).all():
        return whole
    alone = glitches(whole, step, least=least)
    return filled(np.where(alone, np.nan, whole)) if alone.any() else whole


def calm_pressure(kilopascal: FloatArray, step: float) -> FloatArray:
    """A manifold pressure without glitches; as it is where samples lie so far apart that it may well jump."""
    if step > _PRESSURE_STEP:
        return kilopascal
    return without_glitches(kilopascal, step, least=_PRESSURE_LEAST)


def pressure_window(step: float) -> int:
    """All that `calm_pressure` takes from the step: steps of the same window give the same; 0 where nothing is done."""
    return 0 if step > _PRESSURE_STEP else _half_window(step)


def engine_speed(rpm: FloatArray, step: float) -> tuple[FloatArray, Rows]:
    """Engine speed without holes or glitches, and the rows at which the log does not tell it.

    An engine that runs cannot stand still between two samples: zeros among running speeds are lost too.
    """
    lost = ~np.isfinite(rpm)
    whole = filled(rpm)
    if not np.isfinite(whole).all():
        return whole, lost
    standing = whole < _STOPPED
    edges = np.flatnonzero(np.diff(np.concatenate([[False], standing, [False]]).astype(np.int8)))
    for first, last in zip(edges[0::2], edges[1::2], strict=True):
        inside = first > 0 and last < len(whole)
        if inside and whole[first - 1] > _RUNNING and whole[last] > _RUNNING:
            lost[first:last] = True
    whole = filled(np.where(lost, np.nan, whole))
    lost |= glitches(whole, step, least=300.0, share=0.1)
    return filled(np.where(lost, np.nan, whole)), lost


def steadied(values: FloatArray, step: float) -> FloatArray:
    """Running median over a quarter second, five samples at least; edges stay sharp."""
    if len(values) < 5:
        return values
    half = max(2, min(round(0.125 / step), _LARGEST_WINDOW // 2))
    padded = np.pad(values, half, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1))
