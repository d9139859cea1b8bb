"""Single samples of a pressure that no air could make: electrical spikes and dropped frames."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import Channel, FloatArray, Samples
from boostproof.recording.rows import on_rows
from boostproof.recording.signals.glitches import Rows, glitches
from boostproof.recording.signals.smooth import filled

_LEAST = 40e3  # Pa; boost never leaves its course by that much for a sample or two
_LONGEST_STEP = 0.12  # s; between samples further apart boost can rise and fall by more than that
_ALONE_S = 0.3
_PRESSURES = (
    "boost",
    "manifold_pressure",
    "boost_check",
    "compressor_outlet_pressure",
    "line_pressure",
    "upper_line_pressure",
)


def without_spikes(channel: Channel, time: FloatArray, file: str) -> tuple[Channel, tuple[Finding, ...]]:
    """A pressure channel with spikes replaced by the line between their neighbours.

    Parameters
    ----------
    channel : any; only pressures of air are judged
    time : seconds of the rows
    file : for the finding

    Returns
    -------
    The channel and what was done to it. Exhaust pressure is left alone: its pulses are real.
    """
    if channel.name not in _PRESSURES:
        return channel, ()
    own = channel.samples
    found = _spikes(*((time, channel.values) if own is None else (own.time, own.values)))
    if found is None:
        return channel, ()
    if own is None:
        values = channel.values.copy()
        values[found] = np.interp(time[found], time[~found], filled(values)[~found])
        mended = replace(channel, values=values)
    else:
        kept = Samples(own.time[~found], own.values[~found])
        mended = replace(channel, values=on_rows(kept, time), samples=kept)
    count = int(found.sum())
    samples = "1 sample stands" if count == 1 else f"{count} samples stand"
    return mended, (
        Finding(
            "spikes",
            f"{file}: {channel.column}",
            f"{samples} far off the course of the pressure for an instant, which air cannot do; replaced "
            "by the line between the samples around.",
            "Nothing if these are few; else check the sensor's plug, its ground and the cable's course.",
        ),
    )


def _spikes(time: FloatArray, values: FloatArray) -> Rows | None:
    """Samples that stand alone; a pressure that swings to and fro is no spike."""
    finite = np.isfinite(values)
    if len(values) < 20 or not finite.any():
        return None
    steps = np.diff(time)
    step = float(np.median(steps[:20_000]))
    if not 0.0 < step <= _LONGEST_STEP:
        return None
    found = glitches(filled(values), step, least=_LEAST) & finite
    rows = np.flatnonzero(found)
    if not rows.size:
        return None
    # What comes and goes several times a second is surge, not a spike.
    groups = np.concatenate([[0], np.cumsum(np.diff(rows) > 1)])
    middle = np.array([time[rows[groups == g]].mean() for g in range(int(groups[-1]) + 1)])
    near = np.searchsorted(middle, middle + _ALONE_S) - np.searchsorted(middle, middle - _ALONE_S)
    found[rows[(near > 2)[groups]]] = False
    return found if found.any() else None
