"""A channel through a pull on the clock it was sampled with, where that is not the rows'."""

from __future__ import annotations

import numpy as np

from boostproof.recording.model import Channel, FloatArray, Pull
from boostproof.recording.signals.smooth import filled

_FEWEST = 4  # own samples in a pull; with fewer the rows between them serve
_SPANNED = 0.5  # share of the pull between the first and the last value
_MANY_TOLD = 0.95  # share of rows with a value from which the few holes are filled


def through(pull: Pull, channel: Channel) -> tuple[FloatArray, FloatArray] | None:
    """Seconds and values of a channel through a pull, without holes.

    Parameters
    ----------
    pull : whose time it is
    channel : of the pull's recording

    Returns
    -------
    (time, values) or None
        The channel's own samples, or where it was sampled once a row (or hardly at all in this pull) the rows
        that hold it, SI in the channel's own reference; None where it tells of less than half of the pull.
    """
    recording, samples = pull.recording, channel.samples
    rows = slice(pull.start, pull.stop)
    if samples is not None and recording.time_known:
        inside = (samples.time >= pull.from_s) & (samples.time <= pull.to_s)
        if np.count_nonzero(inside) >= _FEWEST:
            return samples.time[inside], samples.values[inside]
    time, values = recording.time[rows], channel.values[rows]
    told = np.flatnonzero(np.isfinite(values))
    if not told.size or told[-1] - told[0] < _SPANNED * (len(values) - 1):
        return None
    if told.size >= _MANY_TOLD * len(values):
        return time, filled(values)
    return time[told], values[told]


def at_times(pull: Pull, values: FloatArray, time: FloatArray) -> FloatArray:
    """Values of every row of the recording, at other times within the pull.

    Parameters
    ----------
    pull : whose rows they are
    values : shape (rows,) of the recording
    time : seconds, shape (n,)
    """
    if len(time) == pull.stop - pull.start and np.array_equal(time, pull.recording.time[pull.start : pull.stop]):
        return filled(values[pull.start : pull.stop])
    return np.asarray(np.interp(time, pull.recording.time, filled(values)))
