"""Power and torque from how fast a known inertia speeds up: roller dynos without a brake, and the road.

``P = I w dw/dt`` of a roller, or ``P = m v dv/dt`` of a mass. What tyres, bearings, gears and wind take is not
in it, nor what the engine's and the drive's own parts take to speed up unless the inertia was given with them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from boostproof.errors import InputError, InputRangeError
from boostproof.recording.model import FloatArray, Metric, Pull
from boostproof.recording.signals.smooth import filled, noise_gain, smooth

_SHORTEST, _LONGEST = 0.3, 1.5  # s smoothed over
_WANTED = 0.015  # sd of the rate of rise, as a share of its median, that smoothing is to bring it to
_ORDER = 2  # of the local polynomial
NOT_INCLUDED = (
    "Losses are not included: what tyres, bearings, gears and wind take is missing from these figures, and they "
    "cannot be compared with a brake's."
)


@dataclass(frozen=True)
class InertiaRun:
    """Power of one pull from the rise of a speed.

    Attributes
    ----------
    rpm : engine speed, shape (n,) [rpm]
    power : into the inertia, shape (n,) [kW]
    power_sd : from the noise of the speed and the doubt in the inertia, shape (n,) [kW]
    torque : power over engine speed, shape (n,) [N m]
    torque_sd : shape (n,) [N m]
    peak_power, peak_torque : highest values, with sd
    peak_power_rpm, peak_torque_rpm : where [rpm]
    smoothed_over : [s]
    says : what the figures are, and what is missing
    """

    rpm: FloatArray = field(repr=False)
    power: FloatArray = field(repr=False)
    power_sd: FloatArray = field(repr=False)
    torque: FloatArray = field(repr=False)
    torque_sd: FloatArray = field(repr=False)
    peak_power: Metric
    peak_power_rpm: float
    peak_torque: Metric
    peak_torque_rpm: float
    smoothed_over: float
    says: str

    def as_json(self) -> dict[str, Any]:
        """The ``inertia_dyno`` object of one pull in ``inspect --json``."""
        return {
            "peak_power_kw": self.peak_power.as_json(),
            "peak_power_rpm": self.peak_power_rpm,
            "peak_torque_nm": self.peak_torque.as_json(),
            "peak_torque_rpm": self.peak_torque_rpm,
            "smoothed_over_s": self.smoothed_over,
            "says": self.says,
        }


@dataclass(frozen=True)
class Rise:
    """A speed and its rate of rise.

    Attributes
    ----------
    speed : smoothed, shape (n,), in the unit given
    rate : per second, shape (n,)
    speed_sd, rate_sd : from the noise of single samples; of the first and last window larger, shape (n,)
    window : [s]
    """

    speed: FloatArray = field(repr=False)
    rate: FloatArray = field(repr=False)
    speed_sd: float
    rate_sd: FloatArray = field(repr=False)
    window: float


def rise_of(time: FloatArray, speed: FloatArray) -> Rise:
    """A speed and its derivative by a local polynomial of second order, over as long as its noise asks for.

    Parameters
    ----------
    time : rising, in even steps, shape (n,) [s]
    speed : shape (n,), without NaN, any unit

    Raises
    ------
    InputRangeError
        If there are fewer than eight samples, or time does not rise.

    Notes
    -----
    Least-squares derivative of Savitzky and Golay, Anal. Chem. 36 (1964) 1627.
    """
    steps = np.diff(time)
    if len(time) < 8 or not np.all(steps > 0.0):
        raise InputRangeError(
            f"A speed trace needs eight samples or more in rising time, got {len(time)}.",
            kind="shape", where="rise_of", do="Log the speed at five samples a second or more.",
        )  # fmt: skip
    step = float(np.median(steps))
    noise = _noise(speed)
    usual = abs(float(speed[-1] - speed[0])) / max(float(time[-1] - time[0]), 1e-9)
    most = min(len(speed) - 1, round(_LONGEST / step))
    half = max(2, round(0.5 * _SHORTEST / step))
    while 2 * (half + 1) < most and noise * _slope_gain(half) / step > _WANTED * usual:
        half += 1
    window = 2 * min(half, (len(speed) - 1) // 2) + 1
    half = window // 2
    basis = np.vander(np.arange(-half, half + 1, dtype=float), _ORDER + 1, increasing=True)
    fit = np.linalg.pinv(basis)
    rate = np.convolve(speed, fit[1][::-1], mode="same")
    gain = np.full(len(speed), float(np.linalg.norm(fit[1])))
    # At the ends the first and last full window's polynomial is differentiated off-centre.
    ends = np.arange(-half, half + 1, dtype=float)[:, None] * np.array([0.0, 0.0, 2.0]) + np.array([0.0, 1.0, 0.0])
    rate[:half] = (ends @ (fit @ speed[:window]))[:half]
    rate[-half:] = (ends @ (fit @ speed[-window:]))[half + 1 :]
    wide = np.linalg.norm(ends @ fit, axis=1)
    gain[:half], gain[-half:] = wide[:half], wide[half + 1 :]
    return Rise(
        smooth(speed, window, _ORDER), rate / step, noise * noise_gain(window, _ORDER), noise * gain / step,
        window * step,
    )  # fmt: skip


def _noise(speed: FloatArray) -> float:
    """Sd of single samples from second differences, rounding and all: a mean, so that rare steps count too."""
    return float(np.sqrt(np.mean(np.diff(speed, 2) ** 2) / 6.0))


def _slope_gain(half: int) -> float:
    """Sd of the slope of a symmetric window over that of a sample, in one over samples."""
    i = np.arange(1, half + 1, dtype=float)
    return float(1.0 / np.sqrt(2.0 * np.sum(i * i)))


def inertia_power(
    time: FloatArray, speed: FloatArray, inertia: Metric
) -> tuple[FloatArray, FloatArray, Rise]:
    """Power that speeds an inertia up.

    Parameters
    ----------
    time : rising, shape (n,) [s]
    speed : of the roller [rad/s], or of the road [m/s], shape (n,)
    inertia : of the roller [kg m2], or the mass that goes with the road speed [kg]

    Returns
    -------
    power : shape (n,) [W]
    sd : from the noise of the speed, shape (n,) [W]; the doubt in the inertia acts on all alike and is not in it
    rise : the speed and its rate

    Raises
    ------
    InputRangeError
        As `rise_of`, and if the inertia is not above zero.
    """
    if not inertia.value > 0.0:
        raise InputRangeError(
            f"The inertia must be above zero, got {inertia.value:g}.", kind="range", where="inertia_power",
            do="Give the moment of inertia of the roller in kg m2, or the mass in kg.",
        )  # fmt: skip
    rise = rise_of(time, speed)
    power = inertia.value * rise.speed * rise.rate
    sd = inertia.value * np.hypot(rise.rate_sd * rise.speed, rise.speed_sd * rise.rate)
    return np.asarray(power), np.asarray(sd), rise


def mass_of_roller(inertia: Metric, diameter: Metric) -> Metric:
    """The mass that goes with road speed as a roller goes with its own: ``m = 4 I / d**2``. [kg]

    Parameters
    ----------
    inertia : [kg m2]
    diameter : of the roller [m]
    """
    mass = 4.0 * inertia.value / diameter.value**2
    share = np.hypot(inertia.sd / inertia.value, 2.0 * diameter.sd / diameter.value)
    return Metric(mass, float(mass * share))


def inertia_dyno(
    pull: Pull,
    *,
    roller_inertia: Metric | None = None,
    roller_diameter: Metric | None = None,
    equivalent_mass: Metric | None = None,
) -> InertiaRun:
    """Power and torque of a pull from the road speed in its log and a known inertia.

    Parameters
    ----------
    pull : with vehicle speed and engine speed
    roller_inertia, roller_diameter : of the roller [kg m2], [m]; both are needed, as the log tells road speed
    equivalent_mass : of an inertia dyno as its maker states it, or of the car on the road [kg]; goes before the
        roller's

    Raises
    ------
    InputError
        If no inertia is given, road speed or time is missing, or the road speed does not rise.
    """
    recording = pull.recording
    where = f"{recording.file}, {pull.from_s:.1f} to {pull.to_s:.1f} s"
    mass = equivalent_mass
    if mass is None and roller_inertia is not None and roller_diameter is not None:
        mass = mass_of_roller(roller_inertia, roller_diameter)
    if mass is None:
        raise InputError(
            "Without the inertia a speed trace says nothing of power.", kind="no-inertia", where=where,
            do='Write roller_inertia and roller_diameter, or equivalent_mass ("950 kg"), under [pull_place].',
        )  # fmt: skip
    speed, rpm = recording.values("vehicle_speed"), recording.values("engine_speed")
    if speed is None or rpm is None or not recording.time_known:
        raise InputError(
            "The log holds no road speed over time, which power is reckoned from.", kind="no-road-speed",
            where=where, do="Log vehicle speed at five samples a second or more.",
        )  # fmt: skip
    time, road, engine = _usable(pull, speed, rpm, where)
    power, noise, rise = inertia_power(time, road, mass)
    calm = rise_of(time, engine).speed
    return _run(power / 1e3, noise / 1e3, calm, mass.sd / mass.value, rise.window)


def _usable(
    pull: Pull, speed: FloatArray, rpm: FloatArray, where: str
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Time, road speed and engine speed of the pull, on the road speed's own time base where it has one."""
    recording = pull.recording
    samples = recording.channels["vehicle_speed"].samples
    rows = slice(pull.start, pull.stop)
    time, road = recording.time[rows], speed[rows]
    if samples is not None:
        inside = (samples.time >= pull.from_s) & (samples.time <= pull.to_s)
        time, road = samples.time[inside], samples.values[inside]
    told = np.isfinite(road)
    keep = np.concatenate([[True], np.diff(time[told]) > 0.0]) if told.any() else np.zeros(0, bool)
    time, road = time[told][keep], road[told][keep]
    if len(time) < 8 or road[-1] <= 1.05 * road[0]:
        raise InputError(
            "The road speed does not rise through this pull, so it says nothing of power.", kind="no-road-speed",
            where=where, do="Check that the logged speed is that of the driven wheels.",
        )  # fmt: skip
    even = np.linspace(time[0], time[-1], len(time))
    engine = np.interp(even, recording.time[rows], filled(rpm[rows]))
    return even, np.interp(even, time, road), engine


def _run(power: FloatArray, noise: FloatArray, engine: FloatArray, share: float, window: float) -> InertiaRun:
    power_sd = np.hypot(noise, share * power)
    torque, torque_sd = 1e3 * power / engine, 1e3 * power_sd / engine
    rpm = engine * 30.0 / np.pi
    # The first and last tenth of a pull hold the polynomial's ends and the driver's foot.
    inside = slice(len(rpm) // 10, len(rpm) - len(rpm) // 10)
    p = int(np.argmax(power[inside])) + inside.start
    t = int(np.argmax(torque[inside])) + inside.start
    return InertiaRun(
        rpm, power, power_sd, torque, torque_sd,
        Metric(float(power[p]), float(power_sd[p])), float(rpm[p]),
        Metric(float(torque[t]), float(torque_sd[t])), float(rpm[t]),
        window, NOT_INCLUDED,
    )  # fmt: skip
