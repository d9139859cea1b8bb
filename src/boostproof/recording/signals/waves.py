"""The strongest line in a signal, if it stands out of the noise around it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.recording.model import FloatArray
from boostproof.recording.signals.smooth import smooth, window_for

_LOWEST, _HIGHEST = 0.3, 20.0  # Hz (formats.md)
_LEAST_PERIODS = 3.0
_FALSE_ALARM = 1e-6  # nominal; the floor is estimated too, so that about 1 in 200 noises shows a line
_NEIGHBOURS = 12
_LEAST_KPA = 0.5  # kPa; less is not felt and not worth a word


@dataclass(frozen=True)
class Line:
    """Amplitude (kPa, zero to peak) and frequency (Hz) of a wave, each (value, sd)."""

    amplitude: tuple[float, float]
    frequency: tuple[float, float]


def strongest_line(time: FloatArray, values: FloatArray) -> Line | None:
    """Strongest line from 0.3 to 20 Hz, None where nothing stands above the noise.

    Parameters
    ----------
    time : seconds, rising, shape (n,)
    values : shape (n,)

    Notes
    -----
    The slow course is taken out with a local parabola over four periods of the lowest frequency that the
    length allows. Each periodogram value of plain noise is exponentially distributed around its mean
    [Schuster 1898; from memory], so the largest of n passes mean * ln(n / p) with chance p. The mean is
    taken from the median of the neighbours (median = mean * ln 2), as the noise of a log is not white.
    """
    seconds = float(time[-1] - time[0]) if len(time) > 1 else 0.0
    if len(time) < 24 or seconds < 1.0:
        return None
    step = seconds / (len(time) - 1)
    lowest = max(_LOWEST, _LEAST_PERIODS / seconds)
    even = np.interp(time[0] + step * np.arange(len(time)), time, values)
    rest = even - smooth(even, window_for(2.0 / lowest, step, len(even)))
    taper = np.hanning(len(rest) + 2)[1:-1]
    power = np.abs(np.fft.rfft(rest * taper)) ** 2
    frequency = np.fft.rfftfreq(len(rest), step)
    usable = np.flatnonzero((frequency >= lowest) & (frequency <= min(_HIGHEST, 0.45 / step)))
    if len(usable) < 8:
        return None
    best = int(usable[np.argmax(power[usable])])
    floor = _floor(power, usable, best)
    if power[best] < floor * np.log(len(usable) / _FALSE_ALARM):
        return None
    amplitude = 2.0 * float(np.sqrt(power[best])) / float(taper.sum())
    noise = 2.0 * float(np.sqrt(floor)) / float(taper.sum())
    if amplitude < _LEAST_KPA or not _goes_on(rest, step * float(frequency[best]), amplitude):
        return None
    place, bins = _between_bins(power, best), float(frequency[1])
    # Cramer-Rao bound for the frequency of a line in noise, sd = sqrt(6) / (pi T sqrt(2 snr)); from memory.
    snr = max(power[best] / floor, 1.0)
    return Line(
        (amplitude, noise),
        ((best + place) * bins, float(np.hypot(np.sqrt(3.0 / snr) / (np.pi * seconds), 0.1 * bins))),
    )


def _goes_on(rest: FloatArray, turns: float, amplitude: float) -> bool:
    """A wave is there in each half of the time; a single swing after the knee is not one."""
    turning = np.exp(-2j * np.pi * turns * np.arange(len(rest)))
    middle = len(rest) // 2
    for half in (slice(0, middle), slice(middle, None)):
        window = np.hanning(len(rest[half]) + 2)[1:-1]
        if 2.0 * abs(np.sum(rest[half] * window * turning[half])) / float(window.sum()) < 0.35 * amplitude:
            return False
    return True


def _floor(power: FloatArray, usable: np.ndarray, best: int) -> float:
    """Mean noise power around a line, the line's own three bins to either side left out."""
    near = usable[(np.abs(usable - best) > 3) & (np.abs(usable - best) <= 3 + _NEIGHBOURS)]
    if len(near) < 4:
        near = usable[np.abs(usable - best) > 3]
    if not len(near):
        return float(power[usable].max())
    return max(float(np.median(power[near]) / np.log(2.0)), 1e-12)


def _between_bins(power: FloatArray, best: int) -> float:
    """Offset of a peak from its bin by a parabola through the logarithms of three bins."""
    if best + 1 >= len(power) or best < 1:
        return 0.0
    left, middle, right = np.log(power[best - 1 : best + 2] + 1e-30)
    bend = left - 2.0 * middle + right
    return float(np.clip(0.5 * (left - right) / bend, -0.5, 0.5)) if bend < 0.0 else 0.0
