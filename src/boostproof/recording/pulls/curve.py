"""A pull as a curve of boost over engine speed, made ready to be laid over other pulls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from boostproof.errors import InputError
from boostproof.recording.driving.ready import RPM, calm_boost, speed_of
from boostproof.recording.made_once import made_once
from boostproof.recording.model import FloatArray, Pull, Recording
from boostproof.recording.pulls.metrics import LAG_SD_S, SENSOR_S
from boostproof.recording.rows import step_of
from boostproof.recording.signals.limits import find_limit
from boostproof.recording.signals.smooth import filled, noise_gain, noise_of, smooth, window_for

GRID = 50.0  # rpm between points of the common grid
LEAST_SPAN = 500.0  # rpm that two pulls must have in common
_AFTER_OPENING = 0.5  # s in which boost still depends on when the throttle opened, more than on engine speed
_HAND_KPA = 0.5  # sd of a value whose noise cannot be seen, as in the metrics


@dataclass(frozen=True)
class BoostCurve:
    """Boost of one pull over rising engine speed.

    Attributes
    ----------
    rpm : calmed engine speed, shape (n,), rising, rpm
    boost : smoothed, kPa gauge, shape (n,)
    ramp : rise of the engine speed [rpm/s]; None where the file has no time
    noise : sd of smoothed boost from the noise of single samples [kPa]
    smoothed_over : engine speed that the smoothing spans [rpm]
    jitter : sd of the moment a sample was taken [s]
    delay : sd of the doubt in the delay between boost and engine speed [s]
    """

    rpm: FloatArray = field(repr=False)
    boost: FloatArray = field(repr=False)
    ramp: float | None
    noise: float
    smoothed_over: float
    jitter: float
    delay: float

    @property
    def first(self) -> float:
        """Engine speed from which the curve can be compared with others [rpm]."""
        return float(self.rpm[0] + _AFTER_OPENING * (self.ramp or 0.0))

    @property
    def last(self) -> float:
        """Highest engine speed [rpm]."""
        return float(self.rpm[-1])

    def at(self, rpm: FloatArray) -> FloatArray:
        """Boost at engine speeds within the pull [kPa gauge], shape of ``rpm``."""
        return np.asarray(np.interp(rpm, self.rpm, self.boost))

    def slope(self, rpm: FloatArray) -> FloatArray:
        """Rise of boost over engine speed [kPa per rpm], from points a hundred rpm to either side."""
        low, high = np.maximum(rpm - 100.0, self.rpm[0]), np.minimum(rpm + 100.0, self.rpm[-1])
        return np.asarray((self.at(high) - self.at(low)) / np.maximum(high - low, 1e-9))

    def per_second(self, rpm: FloatArray) -> FloatArray:
        """Rise of boost over time [kPa/s]; zero where the file has no time."""
        return self.slope(rpm) * (self.ramp or 0.0)


def curve_of(pull: Pull) -> BoostCurve:
    """Boost over engine speed of one pull; one with falling engine speed is turned round.

    Where the manifold sensor was at the end of its range the curve ends.

    Raises
    ------
    InputError
        If the pull is not at full load, or too little of it can be used.
    """
    where = f"{pull.recording.file}, {pull.from_s:.1f} to {pull.to_s:.1f} s"
    if not pull.full_load:
        raise InputError(
            "This run is not at full load, so its boost cannot be compared with other pulls.",
            kind="part-load", where=where, do="Name a full-load pull: 'boostproof inspect' numbers them.",
        )  # fmt: skip
    recording = pull.recording
    time, boost = _boost(pull)
    rpm = np.interp(time, recording.time, _speed(recording))
    cut = _met_limit(recording, boost)
    time, rpm, boost = time[:cut], rpm[:cut], boost[:cut]
    if len(rpm) < 4 or not np.isfinite(boost).all():
        raise InputError(
            "Too little of this pull holds boost to be compared.", kind="no-boost", where=where,
            do="Log boost and engine speed through the whole pull, within the range of the sensor.",
        )  # fmt: skip
    if not recording.time_known:
        return _by_hand(rpm, boost)
    return _smoothed(time, rpm, boost)


def _speed(recording: Recording) -> FloatArray:
    """Engine speed of the whole recording [rpm]."""
    if not recording.time_known:
        return filled(recording.channels["engine_speed"].values * RPM)
    return speed_of(recording)[0]


def _smoothed(time: FloatArray, rpm: FloatArray, boost: FloatArray) -> BoostCurve:
    step = step_of(time, 0.1)
    window, slow = window_for(SENSOR_S, step, len(boost)), window_for(0.35, step, len(boost))
    noise = (noise_of(boost) or _HAND_KPA) * noise_gain(window)
    calm, level = smooth(rpm, slow, 1), smooth(boost, window)
    if calm[-1] < calm[0]:
        calm, level = calm[::-1], level[::-1]
    ramp = abs(float(calm[-1] - calm[0])) / max(float(time[-1] - time[0]), 1e-9)
    # The noise of the engine speed moves a point along the slope as a doubt in its moment does.
    moment = noise_of(rpm) * noise_gain(slow, 1) / max(ramp, 1e-9)
    return BoostCurve(
        np.maximum.accumulate(calm), level, ramp, noise, window * step * ramp,
        float(np.hypot(step / np.sqrt(12.0), moment)), LAG_SD_S,
    )  # fmt: skip


def _by_hand(rpm: FloatArray, boost: FloatArray) -> BoostCurve:
    order = np.argsort(rpm, kind="stable")
    noise = max(noise_of(boost) if len(boost) > 8 else 0.0, _HAND_KPA)
    return BoostCurve(rpm[order], boost[order], None, noise, float(np.ptp(rpm)) / len(rpm), 0.0, 0.0)


def _boost(pull: Pull) -> tuple[FloatArray, FloatArray]:
    """Seconds and boost [kPa gauge] of the pull, on the sensor's own time base where it has one."""
    recording, channel = pull.recording, pull.recording.manifold_channel()
    if channel.samples is not None:
        time, values = channel.samples.time, channel.samples.values
        if channel.reference == "abs":
            values = values - np.interp(time, recording.time, _around(recording))
        inside = (time >= pull.from_s) & (time <= pull.to_s)
        if np.count_nonzero(inside) >= 4:
            return time[inside], values[inside] / 1e3
    rows = slice(pull.start, pull.stop)
    raw = recording.boost_gauge() / 1e3
    time = recording.time[rows]
    boost = calm_boost(recording, step_of(time))
    told = np.isfinite(raw[rows])
    # Where many cells are lost, only those that hold boost show its noise.
    if told.mean() < 0.95 and told.sum() >= 4:
        return time[told], boost[rows][told]
    return time, boost[rows]


def _around(recording: Recording) -> FloatArray:
    """Pressure of the air around, row by row [Pa abs]."""
    name = recording.manifold_channel().name
    return np.nan_to_num(
        recording.pressure_abs(name) - recording.pressure_gauge(name), nan=recording.barometer.value
    )


def _met_limit(recording: Recording, boost: FloatArray) -> int | None:
    """First sample at the end of the sensor's range; None where the pull stays below."""
    if not recording.time_known:
        return None
    limit = made_once(recording, "limit", lambda: find_limit(filled(recording.boost_gauge() / 1e3), recording.time))
    if limit is None:
        return None
    at = np.flatnonzero(boost >= limit.value - 1e-6)
    return int(at[0]) if at.size >= 3 else None


def common_grid(curves: Sequence[BoostCurve], where: str = "") -> FloatArray:
    """Engine speeds, every 50 rpm, that all curves hold [rpm].

    Raises
    ------
    InputError
        If they have less than 500 rpm in common.
    """
    first = np.ceil(max(curve.first for curve in curves) / GRID) * GRID
    last = np.floor(min(curve.last for curve in curves) / GRID) * GRID
    if last - first < LEAST_SPAN:
        raise InputError(
            f"These pulls have less than {LEAST_SPAN:.0f} rpm in common; nothing can be said about them.",
            kind="nothing-in-common", where=where,
            do="Drive both from the same engine speed to the same engine speed in one gear.",
        )  # fmt: skip
    return np.arange(first, last + 0.5 * GRID, GRID)
