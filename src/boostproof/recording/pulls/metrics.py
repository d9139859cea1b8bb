"""What a pull shows, by the definitions of formats.md, each with a standard deviation.

Boost in kPa gauge at the manifold over engine speed in rpm, as in the names of the metrics. A metric
that the pull cannot show is None, never a guess.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.recording.model import FloatArray, Metric
from boostproof.recording.signals.pieces import Pieces, fit_pieces
from boostproof.recording.signals.smooth import noise_gain, noise_of, resolution, smooth, window_for
from boostproof.recording.signals.waves import strongest_line

METRICS = (
    "boost_threshold_rpm",
    "rpm_at_80",
    "time_to_80_s",
    "knee_rpm",
    "knee_kpa_gauge",
    "plateau_kpa_gauge",
    "creep_kpa_per_1000rpm",
    "creep_from_rpm",
    "taper_kpa",
    "peak_kpa_gauge",
    "peak_rpm",
    "end_kpa_gauge",
    "end_rpm",
    "spike_kpa",
    "settling_s",
    "oscillation_kpa",
    "oscillation_hz",
)

SENSOR_S = 0.15  # s smoothed over: boost sensors and their filters pass little above 5 Hz; common practice
LAG_SD_S = 0.03  # s; how differently boost and engine speed may be delayed; common practice, no source
_FLAT = 3.0e-3  # kPa per rpm
_LEAST_PLATEAU = 500.0  # rpm
_KNEE_SHARE = 0.25
_LEAST_SLOPE = 4.0e-3  # kPa per rpm, of a rise that can have a knee
_WITHIN = 3.0  # kPa
_UNKNOWN_KPA = 0.5  # sd of a value whose noise and steps cannot be seen


@dataclass(frozen=True)
class _Curve:
    """A pull made ready: time may be missing (a table by hand)."""

    time: FloatArray | None
    rpm: FloatArray
    boost: FloatArray
    raw: FloatArray
    step: float
    boost_sd: float
    rpm_sd: float
    lag_rpm: float

    def level_sd(self, index: int) -> float:
        """Sd of smoothed boost: noise, and its slope times the doubt in the delay."""
        if self.time is None:
            return self.boost_sd
        low, high = max(index - 1, 0), min(index + 1, len(self.boost) - 1)
        slope = (self.boost[high] - self.boost[low]) / max(self.time[high] - self.time[low], 1e-9)
        return float(np.hypot(self.boost_sd, slope * np.hypot(LAG_SD_S, self.step / np.sqrt(12.0))))


def measure(
    time: FloatArray | None,
    rpm: FloatArray,
    boost: FloatArray | None,
    *,
    tip_in: bool,
    limit: float | None = None,
) -> dict[str, Metric | None]:
    """All metrics of one pull.

    Parameters
    ----------
    time : seconds of each sample, shape (n,), None where the file has no time
    rpm : engine speed, without holes
    boost : kPa gauge at the manifold, without holes; None where it was not logged
    tip_in : the throttle was seen opening at the first sample, so that times can be counted from there
    limit : boost at which the sensor ends, None where it never came there: of a pull that met it only what
        happened before is told, and its peak, its end and what counts from its level are unknown
    """
    found: dict[str, Metric | None] = dict.fromkeys(METRICS)
    cut = _met_limit(boost, limit)
    curve = _prepare(*(None if a is None else a[:cut] for a in (time, rpm, boost)))
    if curve is None:
        return found
    end = _end(curve)
    if cut is None:
        place = float(np.hypot(curve.rpm_sd, curve.lag_rpm))
        found["end_kpa_gauge"], found["end_rpm"] = end, Metric(float(curve.rpm[-1]), place)
        found |= _peak(curve)
    pieces, knee = _fit(curve, end.value)
    if pieces is not None and knee is not None:
        found |= _after_knee(curve, pieces, knee, found)
    plateau = found["plateau_kpa_gauge"]
    if cut is not None and plateau is None:
        return found
    found |= _response(curve, end.value if plateau is None else plateau.value, tip_in=tip_in)
    return found


def _met_limit(boost: FloatArray | None, limit: float | None) -> int | None:
    """First sample at the end of the sensor's range, None if the pull stays below."""
    if boost is None or limit is None:
        return None
    at = np.flatnonzero(boost >= limit - 1e-6)
    return int(at[0]) if at.size >= 3 else None


def _prepare(time: FloatArray | None, rpm: FloatArray | None, boost: FloatArray | None) -> _Curve | None:
    if boost is None or rpm is None or len(boost) < 4:
        return None
    noise, rpm_noise = _noise(boost), noise_of(rpm)
    if time is None:
        rising = np.maximum.accumulate(rpm)
        written = max(resolution(boost) / np.sqrt(12.0), _UNKNOWN_KPA)
        return _Curve(
            None, rising, boost, boost, 0.0, written, max(resolution(rpm) / np.sqrt(12.0), 25.0), 0.0
        )
    steps = np.diff(time)
    step = float(np.median(steps[steps > 0.0])) if (steps > 0.0).any() else 0.1
    window, slow = window_for(SENSOR_S, step, len(boost)), window_for(0.35, step, len(boost))
    calm = np.maximum.accumulate(smooth(rpm, slow, 1))
    ramp = float((calm[-1] - calm[0]) / max(time[-1] - time[0], 1e-9))
    lag = ramp * float(np.hypot(LAG_SD_S, step / np.sqrt(12.0)))
    return _Curve(
        time,
        calm,
        smooth(boost, window),
        boost,
        step,
        noise * noise_gain(window),
        rpm_noise * noise_gain(slow, 1),
        lag,
    )


def _noise(boost: FloatArray) -> float:
    """Sd of single samples of boost; a channel that never moves shows neither its noise nor its steps."""
    return noise_of(boost) or _UNKNOWN_KPA


def _end(curve: _Curve) -> Metric:
    """Boost at the last sample: a straight line through the last quarter second, read at its end."""
    if curve.time is None:
        return Metric(float(curve.boost[-1]), curve.boost_sd)
    last = max(3, int(np.count_nonzero(curve.time > curve.time[-1] - 0.25)))
    time, boost = curve.time[-last:] - curve.time[-1], curve.raw[-last:]
    slope, level = np.polyfit(time, boost, 1)
    noise = _noise(curve.raw) * 2.0 / np.sqrt(last)
    lag = slope * np.hypot(LAG_SD_S, curve.step / np.sqrt(12.0))
    return Metric(float(level), float(np.hypot(noise, lag)))


def _peak(curve: _Curve) -> dict[str, Metric | None]:
    top = int(np.argmax(curve.boost))
    # A flat top makes its place, not its height, uncertain: everything within one sd could be it.
    sd = curve.level_sd(top)
    near = curve.rpm[curve.boost >= curve.boost[top] - curve.boost_sd]
    place = float(np.hypot(np.hypot(np.ptp(near) / np.sqrt(12.0), curve.lag_rpm), curve.rpm_sd))
    return {
        "peak_kpa_gauge": Metric(float(curve.boost[top]), sd),
        "peak_rpm": Metric(float(curve.rpm[top]), place),
    }


def _first_at(curve: _Curve, level: float) -> tuple[int, float] | None:
    """(sample, share of the step before it) where boost first reaches a level; None if it starts above."""
    above = np.flatnonzero(curve.boost >= level)
    if not above.size or above[0] == 0:
        return None
    index = int(above[0])
    before, after = curve.boost[index - 1], curve.boost[index]
    return index, float((level - before) / (after - before)) if after > before else 1.0


def _response(curve: _Curve, level: float, *, tip_in: bool) -> dict[str, Metric | None]:
    """Boost threshold (half of the level), and speed and time at which 80 % of it is reached."""
    found: dict[str, Metric | None] = {}
    if level < 10.0:
        return found
    for share, name in ((0.5, "boost_threshold_rpm"), (0.8, "rpm_at_80")):
        place = _first_at(curve, share * level)
        if place is None:
            continue
        index, part = place
        rpm = curve.rpm[index - 1] + part * (curve.rpm[index] - curve.rpm[index - 1])
        rise = max(curve.boost[index] - curve.boost[index - 1], 1e-9)
        noise_rpm = curve.boost_sd * (curve.rpm[index] - curve.rpm[index - 1]) / rise
        sd = float(np.hypot(np.hypot(noise_rpm, curve.lag_rpm), curve.rpm_sd))
        found[name] = Metric(float(rpm), sd)
        if share == 0.8 and tip_in and curve.time is not None:
            seconds = (
                curve.time[index - 1] + part * (curve.time[index] - curve.time[index - 1]) - curve.time[0]
            )
            noise_s = curve.boost_sd * (curve.time[index] - curve.time[index - 1]) / rise
            # The throttle opened between two samples, so the count starts half a step early on average.
            found["time_to_80_s"] = Metric(
                float(seconds + 0.5 * curve.step),
                float(np.hypot(np.hypot(noise_s, LAG_SD_S), curve.step / np.sqrt(6.0))),
            )
    return found


def _fit(curve: _Curve, end: float) -> tuple[Pieces | None, int | None]:
    """Straight pieces from where the rise is well under way to the end of the pull, and the number of the knee.

    Where creep doubles the boost, half of the level lies beyond the knee: a fit from a quarter on looks for
    a knee that low first, and counts only if it finds one.
    """
    top = max(end, 0.6 * float(curve.boost.max()))
    early = _pieces_from(curve, 0.25 * top)
    knee = None if early is None else _knee_index(early)
    if early is not None and knee is not None and early.levels[knee] < 0.67 * float(curve.boost.max()):
        return early, knee
    pieces = _pieces_from(curve, 0.5 * top)
    return pieces, None if pieces is None else _knee_index(pieces)


def _pieces_from(curve: _Curve, level: float) -> Pieces | None:
    """The fit to everything after boost first reached a level."""
    start = _first_at(curve, level)
    first = 0 if start is None else start[0]
    rpm, boost = curve.rpm[first:], curve.boost[first:]
    rising = np.concatenate([[True], np.diff(rpm) > 0.0])
    rpm, boost = rpm[rising], boost[rising]
    if len(rpm) < 8:
        return None
    least = max(60.0, 2.5 * float(np.median(np.diff(rpm))), 0.02 * float(rpm[-1] - rpm[0]))
    return fit_pieces(rpm, boost, least)


def _knee_index(pieces: Pieces) -> int | None:
    """Number of the break that is a knee: a rise before it, less than a quarter of its slope after it."""
    if pieces.residual > 0.7 * pieces.straight:
        return None
    for index in range(len(pieces.slopes) - 1):
        before, after = pieces.slopes[index], pieces.slopes[index + 1]
        climbed = pieces.levels[index + 1] - pieces.levels[0]
        left = pieces.edges[-1] - pieces.edges[index + 1]
        steep = before > _LEAST_SLOPE and climbed > max(
            0.1 * abs(pieces.levels[index + 1]), 4.0 * pieces.residual
        )
        if steep and after < _KNEE_SHARE * before and left >= 100.0:
            return index + 1
    return None


def _after_knee(
    curve: _Curve, pieces: Pieces, knee: int, found: dict[str, Metric | None]
) -> dict[str, Metric | None]:
    knee_rpm, knee_level = float(pieces.edges[knee]), float(pieces.levels[knee])
    bend = float(pieces.slopes[knee - 1] - pieces.slopes[knee])
    grid = float(pieces.edges[-1] - pieces.edges[0]) / 90.0
    place = float(
        np.hypot(np.hypot(pieces.residual / bend, grid / 2.0), np.hypot(curve.lag_rpm, curve.rpm_sd))
    )
    level_sd = float(
        np.hypot(np.hypot(pieces.residual / np.sqrt(2.0), curve.boost_sd), 0.5 * grid * abs(bend))
    )
    out: dict[str, Metric | None] = {
        "knee_rpm": Metric(knee_rpm, place),
        "knee_kpa_gauge": Metric(knee_level, level_sd),
        "plateau_kpa_gauge": _plateau(curve, pieces, knee),
    }
    slope, start = float(pieces.slopes[-1]), float(pieces.edges[-2])
    span = float(pieces.edges[-1]) - start
    # Residuals of neighbouring speeds hang together; count one free value in a hundred rpm.
    free = max(span / 100.0, 1.0)
    slope_sd = float(np.hypot(pieces.residual, curve.boost_sd)) * np.sqrt(12.0 / (free + 1.0)) / span
    out["creep_kpa_per_1000rpm"] = Metric(1000.0 * slope, 1000.0 * float(slope_sd))
    if len(pieces.edges) - 2 == knee:
        out["creep_from_rpm"] = out["knee_rpm"]
    else:
        turn = abs(float(pieces.slopes[-1] - pieces.slopes[-2])) + 1e-9
        out["creep_from_rpm"] = Metric(start, float(np.hypot(pieces.residual / turn, grid / 2.0)))
    top, end = out["plateau_kpa_gauge"] or found["peak_kpa_gauge"], found["end_kpa_gauge"]
    if slope < 0.0 and top is not None and end is not None:
        out["taper_kpa"] = Metric(top.value - end.value, float(np.hypot(top.sd, end.sd)))
    if curve.time is not None:
        first = int(np.searchsorted(curve.rpm, knee_rpm))
        out |= _spike(curve, first)
        out |= _oscillation(curve, first)
    return out


def _plateau(curve: _Curve, pieces: Pieces, knee: int) -> Metric | None:
    """Median boost over the flat pieces after the knee."""
    flat = np.zeros(len(curve.rpm), dtype=bool)
    span = 0.0
    for index in range(knee, len(pieces.slopes)):
        if abs(pieces.slopes[index]) <= _FLAT:
            flat |= (curve.rpm >= pieces.edges[index]) & (curve.rpm <= pieces.edges[index + 1])
            span += float(pieces.edges[index + 1] - pieces.edges[index])
    if span < _LEAST_PLATEAU or not flat.any():
        return None
    values = curve.boost[flat]
    spread = 1.4826 * float(np.median(np.abs(values - np.median(values))))
    free = max(span / 100.0, 1.0)
    # sqrt(pi/2): a median of normal values spreads that much more than their mean.
    sd = np.hypot(1.2533 * spread / np.sqrt(free), curve.boost_sd / np.sqrt(free))
    return Metric(float(np.median(values)), float(sd))


def _spike(curve: _Curve, first: int) -> dict[str, Metric | None]:
    """Highest boost within a second after the knee, above the level one second later."""
    assert curve.time is not None
    time, boost = curve.time, curve.boost
    window = np.flatnonzero((time >= time[first] - 0.1) & (time <= time[first] + 1.0))
    if not window.size:
        return {}
    top = int(window[np.argmax(boost[window])])
    later = np.abs(time - (time[top] + 1.0)) <= max(0.1, 1.01 * curve.step)
    if time[-1] < time[top] + 1.0 or not later.any():
        return {}
    level = float(boost[later].mean())
    height = float(boost[top]) - level
    sd = float(np.hypot(curve.boost_sd * np.sqrt(1.0 + 1.0 / later.sum()), curve.level_sd(top)))
    if height <= 2.0 * sd:
        return {}
    between = np.flatnonzero((time >= time[first]) & (time <= time[top] + 1.0))
    outside = between[np.abs(boost[between] - level) > _WITHIN]
    settled = float(time[min(int(outside[-1]) + 1, len(time) - 1)] - time[first]) if outside.size else 0.0
    slope = abs(float(np.gradient(boost, time)[outside[-1]])) if outside.size else 1e9
    settle_sd = float(np.hypot(curve.step / np.sqrt(6.0), min(sd / max(slope, 1e-9), 1.0)))
    return {"spike_kpa": Metric(height, sd), "settling_s": Metric(max(settled, 0.0), settle_sd)}


def _oscillation(curve: _Curve, first: int) -> dict[str, Metric | None]:
    """Strongest line of boost after the knee, where it stands above the noise."""
    assert curve.time is not None
    line = strongest_line(curve.time[first:], curve.raw[first:])
    if line is None:
        return {}
    return {"oscillation_kpa": Metric(*line.amplitude), "oscillation_hz": Metric(*line.frequency)}
