"""Channels of pulls over engine speed, on one row of engine speeds that all pulls share."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.recording.rows import step_of
from boostproof.recording.signals.glitches import engine_speed
from boostproof.recording.signals.smooth import smooth, window_for
from boostproof.workflows.recording_window import CHANNELS, KeptChannels

Array = NDArray[np.floating[Any]]

STEP = 25.0  # rpm between points
_CALM = 0.35  # s over which the engine speed is made calm, as for the boost curve
_RPM = 30.0 / np.pi


def speeds(ends: Sequence[tuple[float, float]]) -> NDArray[np.float64]:
    """Engine speeds every 25 rpm that lie within any of these spans, and between them [rpm]; empty without one."""
    if not ends:
        return np.zeros(0)
    first = np.ceil(min(low for low, _ in ends) / STEP) * STEP
    last = np.floor(max(high for _, high in ends) / STEP) * STEP
    return np.asarray(np.arange(first, last + 0.5 * STEP, STEP))


def on_speeds(rpm: Array, values: Array, grid: Array) -> Array:
    """Mean of the samples around each engine speed, NaN outside the pull; between samples a straight line.

    Parameters
    ----------
    rpm : rising, shape (n,)
    values : shape (n,)
    grid : engine speeds, every 25 rpm
    """
    known = np.isfinite(values) & np.isfinite(rpm)
    out: Array = np.full(len(grid), np.nan)
    if known.sum() < 2 or not len(grid):
        return out
    rpm, values = rpm[known], values[known]
    place = np.rint((rpm - grid[0]) / STEP).astype(int)
    inside = (place >= 0) & (place < len(grid))
    count = np.bincount(place[inside], minlength=len(grid))
    total = np.bincount(place[inside], values[inside].astype(float), minlength=len(grid))
    met = count > 0
    out[met] = total[met] / count[met]
    between = ~met & (grid >= rpm[0]) & (grid <= rpm[-1])
    out[between] = np.interp(grid[between], grid[met], out[met]) if met.any() else np.nan
    return out


def channel_over_speed(
    table: Path,
    channel: str,
    spans: Sequence[tuple[float, float]],
    grid: Array,
    *,
    kept: KeptChannels = CHANNELS,
) -> list[Array] | None:
    """One channel of the pulls of a recording.

    Parameters
    ----------
    table : Parquet of the recording's channels in SI
    channel : our name
    spans : first and last second of each pull
    grid : engine speeds [rpm]

    Returns
    -------
    list of arrays of the grid's shape, SI, one for each pull; None where the recording does not hold the channel
    """
    found = kept.of(table, ("time", "engine_speed", channel))
    if channel not in found or "engine_speed" not in found:
        return None
    time = found["time"]
    out = []
    for from_s, to_s in spans:
        rows = slice(int(np.searchsorted(time, from_s)), int(np.searchsorted(time, to_s, side="right")))
        out.append(on_speeds(_rising(time[rows], found["engine_speed"][rows] * _RPM), found[channel][rows], grid))
    return out


def _rising(time: Array, rpm: Array) -> Array:
    """Engine speed of one pull without glitches and noise, never falling [rpm]."""
    if len(rpm) < 4:
        return np.maximum.accumulate(rpm) if len(rpm) else rpm
    step = step_of(np.asarray(time, float))
    clean = engine_speed(np.asarray(rpm, float), step)[0]
    return np.asarray(np.maximum.accumulate(smooth(clean, window_for(_CALM, step, len(clean)), 1)))
