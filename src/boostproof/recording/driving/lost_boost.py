"""Boost that is missing for a while within a pull."""

from __future__ import annotations

import numpy as np

from boostproof.recording.driving.ready import runs_of
from boostproof.recording.model import Recording

_LONGEST_HOLE = 0.8  # s; a spike or a knee may hide in more


def boost_lost(recording: Recording, start: int, stop: int) -> tuple[float, float] | None:
    """From when to when boost is missing within some rows, where that is too long to draw a line over [s].

    Parameters
    ----------
    recording : as read; a channel with samples of its own tells its own holes
    start, stop : first row, and one past the last
    """
    if not recording.time_known or not {"boost", "manifold_pressure"} & set(recording.channels):
        return None
    channel = recording.manifold_channel()
    if channel.samples is not None or not channel.lost_cells:
        return None
    lost = runs_of(~np.isfinite(channel.values[start:stop]))
    time = recording.time[start:stop]
    holes = [(float(time[a]), float(time[b - 1])) for a, b in lost]
    longest = max(holes, key=lambda hole: hole[1] - hole[0], default=None)
    return longest if longest is not None and longest[1] - longest[0] > _LONGEST_HOLE else None
