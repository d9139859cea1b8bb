"""The strongest line in a signal, if it stands out of the noise around it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.recording.model import FloatArray
from boostproof.recording.signals.smooth import local_polynomial, smooth, window_for

_LOWEST, _HIGHEST = 0.3, 20.0  # Hz (formats.md)
_LEAST_PERIODS = 3.0
_FALSE_ALARM = 1e-6  # nominal; the floor is estimated too, so that about 1 in 200 noises shows a line
_NEIGHBOURS = 12
_TAPER_BROADENS = 1.2  # of the frequency's doubt by the taper; found by drawing
_UNEVEN = 0.014  # of the amplitude: what taking out the slow course does to it at the ends; found by drawing
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
    window = window_for(2.0 / lowest, step, len(even))
    rest = even - smooth(even, window)
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
    bins = float(frequency[1])
    place = (best + _between_bins(power, best)) * bins
    amplitude = _amplitude(rest, taper, step * place)
    if amplitude < _LEAST_KPA or not _goes_on(rest, step * place, amplitude):
        return None
    # The slow course that was taken out has taken a little of the wave with it.
    kept = _kept(window, step * place)
    # In-phase and quadrature noise of a tapered sum are alike; the amplitude feels one of them.
    noise = float(np.sqrt(2.0 * floor)) / float(taper.sum())
    # Cramer-Rao bound for the frequency of a line in noise, var = 6 / (pi^2 T^2 n a^2 / sd^2), with the
    # broadening of the taper; from memory (Rife and Boorstyn, IEEE Trans. Inf. Theory 20 (1974) 591).
    ratio = max(amplitude / noise, 1.0)
    doubt = float(np.hypot(np.sqrt(3.0) / (np.pi * seconds * ratio) * _TAPER_BROADENS, 0.014 * bins))
    return Line((amplitude / kept, float(np.hypot(noise / kept, _UNEVEN * amplitude))), (place, doubt))


def _amplitude(rest: FloatArray, taper: FloatArray, turns: float) -> float:
    """Zero to peak of the part that turns ``turns`` times a sample."""
    turning = np.exp(-2j * np.pi * turns * np.arange(len(rest)))
    return float(2.0 * abs(np.sum(rest * taper * turning)) / taper.sum())


def _kept(window: int, turns: float) -> float:
    """Share of a wave that is left when a local parabola over ``window`` samples is taken out."""
    half = window // 2
    x = np.arange(-half, half + 1, dtype=np.float64)
    weights = local_polynomial(window, 2)[1][0]
    return float(np.clip(1.0 - np.sum(weights * np.cos(2.0 * np.pi * turns * x)), 0.5, 1.5))


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
