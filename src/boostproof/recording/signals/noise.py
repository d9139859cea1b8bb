"""The noise of a sampled channel: how large, how much of it lasts to the next sample, how coarsely written.

From differences over one, two and three samples: a curve bends little over so short a time, noise does not,
and how the differences grow with the distance tells how long the noise holds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.recording.model import FloatArray
from boostproof.recording.signals.smooth import resolution

_DISTANCES = (1, 2, 3)
_KEPT = 0.6  # share of the differences used: the largest are knees and spikes
# Root mean square of the least 60 % of |z| of a standard normal z: sqrt(1 - 2 a phi(a) / 0.6), a = 0.8416.
_KEPT_RMS = 0.4631
_CORRELATIONS = np.linspace(0.0, 0.9, 19)
_SWINGS = 1.4  # times the noise of fourth differences; noise alone, lasting or not, stays below 1.1
_FEW = 40  # differences; with fewer the noise is taken as white


@dataclass(frozen=True)
class Noise:
    """Noise of single samples.

    Attributes
    ----------
    sd : standard deviation, without what the written steps add, in the unit of the channel
    correlation : between neighbouring samples, 0 for white noise; falls off as its powers
    step : in which the channel is written, 0 where none shows
    """

    sd: float
    correlation: float
    step: float

    @property
    def written_sd(self) -> float:
        """Standard deviation of a sample as written: noise, and half a step to either side (GUM 4.3.7)."""
        return float(np.hypot(self.sd, self.step / np.sqrt(12.0)))


def estimate_noise(values: FloatArray) -> Noise:
    """Noise of a channel that moves slowly beside its sampling.

    Parameters
    ----------
    values : shape (n,), without NaN
    """
    step = resolution(values)
    spreads = []
    for distance in _DISTANCES:
        second = values[: -2 * distance] - 2.0 * values[distance:-distance] + values[2 * distance :]
        if second.size < 4:
            break
        size = np.sort(np.abs(second))[: max(int(_KEPT * second.size), 3)]
        spreads.append(float(np.sqrt(np.mean(size**2))) / _KEPT_RMS)
    if not spreads:
        return Noise(0.0, 0.0, step)
    white = spreads[0] / np.sqrt(6.0)
    finest = _fourth(values)
    if finest is not None and white > _SWINGS * finest:
        return Noise(_without_steps(finest, step), 0.0, step)
    if len(spreads) < len(_DISTANCES) or len(values) < _FEW or min(spreads) <= 0.0:
        return Noise(_without_steps(white, step), 0.0, step)
    # Variance of a second difference over L samples of noise whose correlation falls as r, r^2, ...:
    # sd^2 (6 - 8 r^L + 2 r^2L).
    powers = _CORRELATIONS[:, None] ** np.array(_DISTANCES)
    gains = 0.5 * np.log(6.0 - 8.0 * powers + 2.0 * powers**2)
    excess = np.log(spreads) - gains
    level = excess.mean(axis=1)
    misfit = np.square(excess - level[:, None]).sum(axis=1)
    # The estimate is rough for short series: half a standard error of a spread may be luck.
    worth = misfit * len(values) / 2.0 + 4.0 * _CORRELATIONS
    best = int(np.argmin(worth))
    return Noise(_without_steps(float(np.exp(level[best])), step), float(_CORRELATIONS[best]), step)


def _fourth(values: FloatArray) -> float | None:
    """Sd of white noise from fourth differences, which a wave of a few samples a turn hardly moves."""
    fourth = np.diff(values, 4)
    if fourth.size < 12:
        return None
    size = np.sort(np.abs(fourth))[: int(_KEPT * fourth.size)]
    # 1 + 16 + 36 + 16 + 1
    return float(np.sqrt(np.mean(size**2)) / _KEPT_RMS / np.sqrt(70.0))


def _without_steps(sd: float, step: float) -> float:
    return float(np.sqrt(max(sd**2 - step**2 / 12.0, 0.0)))


def draw_noise(noise: Noise, shape: tuple[int, int], rng: np.random.Generator) -> FloatArray:
    """Noise as it might have been, without the written steps: shape (rows, samples)."""
    drawn = rng.standard_normal(shape) * noise.sd
    if noise.correlation > 0.0:
        fresh = np.sqrt(1.0 - noise.correlation**2)
        for i in range(1, shape[1]):
            drawn[:, i] = noise.correlation * drawn[:, i - 1] + fresh * drawn[:, i]
    return drawn


def write_in_steps(values: FloatArray, step: float, rng: np.random.Generator) -> FloatArray:
    """Values as a channel of coarse steps would write them, the place of the steps drawn for each row."""
    if step <= 0.0:
        return values
    phase = rng.random((values.shape[0], 1)) * step
    return np.asarray(np.round((values + phase) / step) * step - phase)
