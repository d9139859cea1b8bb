"""A pull made ready for measuring, together with copies of it as it might as well have been logged.

Uncertainty is propagated by drawing (JCGM 101:2008): every copy is the calm course of the pull with other
noise, other places of the written steps, another delay between boost and engine speed, and another offset
and scale of the sensor. What a metric does over the copies is its doubt.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from boostproof.recording.model import FloatArray
from boostproof.recording.rows import step_of
from boostproof.recording.signals.noise import Noise, draw_noise, estimate_noise, write_in_steps
from boostproof.recording.signals.smooth import (
    noise_gain,
    noise_of,
    resolution,
    smooth,
    smooth_rows,
    window_for,
)

SENSOR_S = 0.15  # s smoothed over: boost sensors and their filters pass little above 5 Hz; common practice
LAG_SD_S = 0.03  # s; how differently boost and engine speed may be delayed; common practice, no source
COPIES, FEWER = 63, 15  # of a pull; fewer where a recording holds very many pulls
MEASURED, CALM = 0, 1  # rows of a prepared pull: as logged; its calm course, without noise

_CALM_S = 0.3
_SPEED_S = 0.35
_FINEST_S = 0.02  # s between samples; finer logs are averaged, as nothing below `SENSOR_S` is looked at
_UNKNOWN_KPA = 0.5  # sd of a value whose noise and steps cannot be seen
_UNKNOWN_RPM = 25.0
_UNKNOWN_S = 0.1


@dataclass(frozen=True)
class SensorDoubt:
    """How far a boost sensor may be off: offset [kPa] and scale [share], each a standard deviation."""

    offset: float = 1.2
    scale: float = 0.006


@dataclass(frozen=True)
class Prepared:
    """A pull and its copies: row 0 as logged, row 1 its calm course, the others drawn.

    Attributes
    ----------
    time : s, shape (samples,); None for a table without time
    rpm : rising, shape (rows, samples)
    raw : boost in kPa gauge before smoothing, shape (rows, samples)
    boost : the same smoothed to the sensor's own bandwidth
    step : s between samples, 0 without time
    end_rpm : engine speed at the last sample, shape (rows,)
    begin : s, as if the throttle had opened there, shape (rows,)
    noise : of single samples of ``raw``
    noise_sd : of single samples of ``boost``
    """

    time: FloatArray | None
    rpm: FloatArray = field(repr=False)
    raw: FloatArray = field(repr=False)
    boost: FloatArray = field(repr=False)
    step: float
    end_rpm: FloatArray = field(repr=False)
    begin: FloatArray = field(repr=False)
    noise: Noise
    noise_sd: float


def prepare(
    time: FloatArray | None,
    rpm: FloatArray,
    boost: FloatArray,
    sensor: SensorDoubt,
    *,
    opened: float | None = None,
    copies: int = COPIES,
) -> Prepared:
    """Make a pull ready.

    Parameters
    ----------
    time : s of each sample, rising, shape (n,); None where the file has no time
    rpm : engine speed at these samples, without holes
    boost : kPa gauge, without holes
    sensor : how far it may be off
    opened : s at which the throttle was first seen open; None, the first sample
    copies : to draw
    """
    rng = np.random.default_rng(0)
    even = _even(copies)
    if time is None:
        return _table(rpm, boost, sensor, even, rng)
    time, rpm, boost = _averaged(time, rpm, boost)
    step = step_of(time, _UNKNOWN_S)
    noise = _noise(boost)
    window, calm_window = window_for(SENSOR_S, step, len(boost)), window_for(_CALM_S, step, len(boost))
    slow = window_for(_SPEED_S, step, len(boost))
    calm_rpm = np.maximum.accumulate(smooth(rpm, slow, 1))
    calm = smooth(boost, calm_window)
    rows = len(even) + 2
    raw = np.empty((rows, len(boost)))
    raw[MEASURED], raw[CALM] = boost, calm
    lag = rng.permutation(even) * np.hypot(LAG_SD_S, step / np.sqrt(12.0))
    drawn = _delayed(time, calm, lag) + draw_noise(noise, (copies, len(boost)), rng)
    raw[2:] = _off(write_in_steps(drawn, noise.step, rng), sensor, even, rng)
    shift = np.zeros(rows)
    shift[2:] = rng.permutation(even) * noise_of(rpm) * noise_gain(slow, 1)
    begin = np.full(rows, time[0] if opened is None else opened)
    # The throttle opened between two samples: half a step early on average, anywhere in it.
    begin -= 0.5 * step
    begin[2:] += step * (rng.random(copies) - 0.5)
    # The pull ended some time before the next sample.
    late = np.zeros(rows)
    late[2:] = rng.permutation(even) * step / np.sqrt(12.0) * _ramp(time, calm_rpm)
    return Prepared(
        time,
        calm_rpm + shift[:, None],
        raw,
        smooth_rows(raw, window),
        step,
        calm_rpm[-1] + shift + late,
        begin,
        noise,
        noise.written_sd * noise_gain(window),
    )


@lru_cache(maxsize=4)
def _even(copies: int) -> FloatArray:
    """Normal numbers at even steps of probability: what all samples of a copy share is drawn without luck."""
    steps = np.array([NormalDist().inv_cdf((i + 0.5) / copies) for i in range(copies)])
    return np.asarray(steps / steps.std())


def _table(
    rpm: FloatArray, boost: FloatArray, sensor: SensorDoubt, even: FloatArray, rng: np.random.Generator
) -> Prepared:
    """A table without time: nothing is smoothed, and its numbers are as good as they are written."""
    rows = len(even) + 2
    step = resolution(boost)
    noise = Noise(_UNKNOWN_KPA, 0.0, step if step > _UNKNOWN_KPA else 0.0)
    raw = np.tile(boost, (rows, 1))
    # What stands in such a table was smoothed or read off by somebody: one error for all of it, no noise.
    written = rng.permutation(even)[:, None] * noise.sd
    raw[2:] = _off(write_in_steps(boost + written, noise.step, rng), sensor, even, rng)
    shift = np.zeros((rows, 1))
    shift[2:, 0] = rng.permutation(even) * max(resolution(rpm) / np.sqrt(12.0), _UNKNOWN_RPM)
    rising = np.tile(np.maximum.accumulate(rpm), (rows, 1)) + shift
    return Prepared(None, rising, raw, raw, 0.0, rising[:, -1], np.zeros(rows), noise, noise.written_sd)


def _averaged(
    time: FloatArray, rpm: FloatArray, boost: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Fast logs brought to about fifty samples a second by plain means."""
    count = int(_FINEST_S / max(step_of(time, _UNKNOWN_S), 1e-9))
    if count < 2 or len(time) < 8 * count:
        return time, rpm, boost
    whole = len(time) // count * count
    mean = [a[len(time) - whole :].reshape(-1, count).mean(axis=1) for a in (time, rpm, boost)]
    return mean[0], mean[1], mean[2]


def _ramp(time: FloatArray, rpm: FloatArray) -> float:
    return float((rpm[-1] - rpm[0]) / max(time[-1] - time[0], 1e-9))


def _noise(boost: FloatArray) -> Noise:
    """A channel that never moves shows neither its noise nor its steps."""
    noise = estimate_noise(boost)
    return noise if noise.written_sd > 0.0 else Noise(_UNKNOWN_KPA, 0.0, 0.0)


def _off(
    boost: FloatArray, sensor: SensorDoubt, even: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Every row with an offset and a scale of its own."""
    offset, scale = (rng.permutation(even)[:, None] * sd for sd in (sensor.offset, sensor.scale))
    return np.asarray(boost * (1.0 + scale) + offset)


def _delayed(time: FloatArray, boost: FloatArray, lag: FloatArray) -> FloatArray:
    """Boost as other delays would have shown it, carried on straight beyond the ends: shape (lags, n)."""
    ends = max(3, min(len(time) // 4, 8))
    low, high = (
        float((boost[b] - boost[a]) / max(time[b] - time[a], 1e-9)) for a, b in ((0, ends - 1), (-ends, -1))
    )
    at = time[None, :] + lag[:, None]
    out = np.interp(at, time, boost)
    out += np.minimum(at - time[0], 0.0) * low + np.maximum(at - time[-1], 0.0) * high
    return np.asarray(out)
