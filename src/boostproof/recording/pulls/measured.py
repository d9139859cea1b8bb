"""One pull of a recording measured: its own samples of boost, and how far that sensor may be off."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostproof.recording.model import Channel, FloatArray, Metric, Recording
from boostproof.recording.pulls.metrics import SensorDoubt, measure
from boostproof.recording.pulls.replicas import COPIES
from boostproof.recording.rows import rate_of
from boostproof.recording.signals.glitches import calm_pressure

_MANY_TOLD = 0.95
_FEWEST = 8  # own samples in a pull; with fewer the rows between them serve

# kPa; common practice, no source: what manifold sensors are off at rest, and what is left of that where the
# log itself shows them at rest.
_OFFSET, _SEEN_OFFSET = 1.2, 0.5


def measure_rows(
    recording: Recording,
    start: int,
    stop: int,
    speed: FloatArray,
    boost: FloatArray | None,
    *,
    tip_in: bool,
    limit: float | None,
    copies: int = COPIES,
) -> dict[str, Metric | None]:
    """The metrics of some rows of a recording.

    Parameters
    ----------
    recording : whose rows they are
    start, stop : first row, and one past the last
    speed : engine speed of every row without holes [rpm]
    boost : of every row without holes [kPa gauge]; None where it was not logged
    tip_in : the throttle was seen opening at the first row
    limit : boost at which the sensor ends [kPa gauge], None where it never came there
    copies : drawn to see the doubt
    """
    doubt = None if boost is None else sensor_doubt(recording)
    own = None if boost is None else _own_samples(recording, start, stop, speed)
    if own is not None:
        opened = float(recording.time[start])
        return measure(*own, tip_in=tip_in, opened=opened, limit=limit, sensor=doubt, copies=copies)
    told = slice(start, stop) if boost is None else _told(recording, start, stop)
    return measure(
        recording.time[told] if recording.time_known else None,
        speed[told],
        None if boost is None else boost[told],
        tip_in=tip_in,
        limit=limit,
        sensor=doubt,
        copies=copies,
    )


def sensor_doubt(recording: Recording) -> SensorDoubt:
    """How far the manifold sensor of a recording may be off, as far as the recording tells.

    Raises
    ------
    InputError
        If the recording holds no manifold channel.
    """
    channel = recording.manifold_channel()
    around = recording.barometer
    rest = recording.key_on_all.get(channel.name)
    absolute = channel.reference == "abs"
    if rest is None:
        offset = _OFFSET
        return SensorDoubt(float(np.hypot(offset, around.sd / 1e3 if absolute else 0.0)))
    if absolute and around.source == "key-on":
        return SensorDoubt(_SEEN_OFFSET)  # counted from what it read itself
    off = rest.mean - (around.value if absolute else 0.0)
    return SensorDoubt(float(np.hypot(np.hypot(_SEEN_OFFSET, off / 1e3), around.sd / 1e3 if absolute else 0.0)))


def _own_samples(
    recording: Recording, start: int, stop: int, speed: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """(time, engine speed, boost) where boost was not sampled once a row."""
    channel = recording.manifold_channel()
    samples = channel.samples
    if samples is None or not recording.time_known:
        return None
    time = recording.time
    inside = (samples.time >= time[start]) & (samples.time <= time[stop - 1])
    if inside.sum() < _FEWEST:
        return None
    at = samples.time[inside]
    boost = (samples.values[inside] - _zero(recording, channel, at)) / 1e3
    step = 1.0 / max(rate_of(at), 1e-9)
    return at, np.asarray(np.interp(at, time, speed)), calm_pressure(boost, step)


def _zero(recording: Recording, channel: Channel, at: FloatArray) -> FloatArray | float:
    """What gauge zero is on the channel's own scale [Pa]."""
    if channel.reference == "gauge":
        return 0.0
    logged = recording.channels.get("barometer")
    if logged is None or not np.isfinite(logged.values).all():
        return recording.barometer.value
    return np.asarray(np.interp(at, recording.time, logged.values))


def _told(recording: Recording, start: int, stop: int) -> slice | NDArray[np.intp]:
    """Rows to measure; where many cells are lost only those that hold boost, so that its noise shows."""
    told = np.isfinite(recording.manifold_channel().values[start:stop])
    if told.mean() > _MANY_TOLD or told.sum() < _FEWEST:
        return slice(start, stop)
    told[0] = True  # times count from here
    return start + np.flatnonzero(told)
