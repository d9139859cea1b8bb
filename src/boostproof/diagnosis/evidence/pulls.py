"""The pulls as evidence: measured means per bin of engine speed against simulated ones.

Errors: noise of the bin mean, plus what the model cannot know, a smooth curve over engine speed, an
offset, and an error along the speed axis, all shared by the pulls of a car. A part of the curve is each
set-up's own, another each pull's, and a set-up may make the model less sure (`Configuration.doubt`): with the gate
tied open the shaft may hardly turn, where the model tells no more than that boost is low. Sizes per channel stand
in `CHANNELS`; those of boost and duty are from the notes' trials on practice cars, the others are judgement (how
well mean-value models and shop sensors do).

Where the throttle was opened at a held speed, boost over time has errors of its own: when it comes up, how far
it shoots over, and the level in which it settles, in which pulses and heat have a hand that the model lacks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Candidates
from boostproof.diagnosis.evidence.bins import Bin
from boostproof.diagnosis.evidence.blocks import Block, gaussian_block
from boostproof.diagnosis.evidence.configurations import AS_FOUND, Configuration
from boostproof.diagnosis.evidence.drive import RPM, Drive
from boostproof.errors import InputError
from boostproof.physics.gas import STOICHIOMETRIC_AIR_FUEL
from boostproof.physics.system import OUTPUT_INDEX

if TYPE_CHECKING:
    from boostproof.recording.model import Channel, Recording

CURVE_LENGTH = 900.0 * RPM  # over which a model's error keeps its sign
SPEED_ERROR = 150.0 * RPM  # error along the speed axis (spool timing, sensor lag)
SHORT_LENGTH = 300.0 * RPM  # of errors at the knee and in spooling, which differ from pull to pull
SHORT_SPEED_ERROR = 55.0 * RPM  # heat, the moment of opening, what the turbo did before
SHORT_SHARE = 0.35  # of the curve error that is as short as this
PULL_SHARE = 0.35  # part of the curve error that differs from pull to pull
SETUP_SHARE = 0.5  # part that differs from set-up to set-up: another part of the car is at work (judgement)
WINDMILL, WINDMILL_LEVEL = 3.0, 6.0  # error of a shaft that hardly turns, and the boost up to which it does [error.curve]
HELD_TIME = 0.12  # s, error along the time axis of an opening at a held speed
HELD_LENGTH = 0.3  # s over which errors of the way up and of the spike keep their sign
SPIKE_SHARE, SPIKE_TIME = 0.06, 1.2  # of what was measured: error while it shoots over, and how long that lasts [s]
SURE = 0.6  # certainty from which a pressure beside boost counts: in a wrong unit it speaks loudly for what is not so
HELD_LEVEL_SHARE = 0.03  # of what was measured: error of the level in which it settles


@dataclass(frozen=True)
class ChannelError:
    """How well a logged channel can be predicted.

    Attributes
    ----------
    output : simulated output that it is compared with
    noise : floor of the noise of a bin mean [SI]
    curve_share, curve : smooth model error, of the measured value and absolute [SI]
    offset_share, offset : error common to all bins, of the mean value and absolute [SI]
    gauge : the output is absolute and the channel is compared in gauge pressure
    """

    output: str
    noise: float
    curve_share: float
    curve: float
    offset_share: float
    offset: float
    gauge: bool = False

    def doubt(self, level: Array) -> Array:
        """Standard deviation of the model's error at a level, curve and offset together. [SI]"""
        return np.sqrt((self.curve_share * level) ** 2 + self.curve**2 + self.offset**2)


CHANNELS: dict[str, ChannelError] = {
    "boost": ChannelError("boost_measured", 600.0, 0.02, 1200.0, 0.0, 1500.0),
    "boost_check": ChannelError("boost", 800.0, 0.02, 1200.0, 0.0, 2500.0),
    "compressor_outlet_pressure": ChannelError(
        "compressor_outlet_pressure", 800.0, 0.025, 1500.0, 0.0, 2500.0, True
    ),
    "line_pressure": ChannelError("line_pressure", 1000.0, 0.04, 2500.0, 0.0, 2500.0),
    "turbine_inlet_pressure": ChannelError(
        "turbine_inlet_pressure", 2500.0, 0.08, 3000.0, 0.12, 3000.0, True
    ),
    "turbine_outlet_pressure": ChannelError(
        "turbine_outlet_pressure", 1000.0, 0.15, 1500.0, 0.1, 1500.0, True
    ),
    "duty": ChannelError("duty", 0.015, 0.0, 0.06, 0.0, 0.05),
    "air_flow": ChannelError("air_flow", 1e-3, 0.03, 1e-3, 0.05, 5e-4),
    "shaft_speed": ChannelError("shaft_speed", 60.0, 0.02, 100.0, 0.04, 0.0),
    "exhaust_temperature_before_turbine": ChannelError("exhaust_temperature", 8.0, 0.0, 25.0, 0.0, 45.0),
    "lambda": ChannelError("mixture", 0.006, 0.0, 0.014, 0.0, 0.02),
}
"""Every channel that speaks in the likelihood."""


@dataclass(frozen=True)
class _Column:
    """One channel's bins within the block."""

    name: str
    observed: Array
    noise: Array
    bins: list[int]


def pulls_block(recordings: Sequence[Recording], drive: Drive) -> Block:
    """All logged channels of all pulls as one block.

    Parameters
    ----------
    recordings : measured channels, as numbered in the drive's bins
    drive : bins

    Raises
    ------
    InputError
        If no channel holds enough to be compared.
    """
    columns = [c for name in CHANNELS if (c := _column(recordings, drive, name)) is not None]
    if not columns:
        raise InputError(
            "The pulls are too short or too thinly logged to compare with anything: no channel holds two values "
            "in each of two stretches of engine speed once the throttle has been open for half a second.",
            kind="pulls-too-short",
            where="recordings",
            do="Log a longer pull, or the same pull with more rows a second.",
        )
    extra = {
        c.name: max((r.barometer.sd for r in recordings if _needs_barometer(r, c.name)), default=0.0) for c in columns
    }
    return _block(columns, drive, extra)


def expected_block(candidates: Candidates, car: int, drive: Drive, channels: Sequence[str]) -> Block:
    """The block of a log that holds just what one simulated car shows, without noise.

    Its errors are those of a measured log: what is observed is then the expected log of that car.

    Parameters
    ----------
    candidates : simulated over the drive
    car : column of the car that is logged
    drive : bins
    channels : names within `CHANNELS` that are logged
    """
    ambient = np.array([b.ambient for b in drive.bins])[:, None]
    bins = [b.slot for b in drive.bins]
    columns = [
        _Column(name, _predict(name, bins, candidates, ambient)[:, car], np.full(len(bins), CHANNELS[name].noise), bins)
        for name in channels
    ]
    return _block(columns, drive, dict.fromkeys(channels, 0.0))


@dataclass(frozen=True)
class ErrorsToCome:
    """Errors of the model over what was logged and over a pull that is still to be driven, jointly.

    Attributes
    ----------
    slots : output slot of every logged bin, (m,)
    observed : what was measured there, (m,) [SI]
    covariance : (m + k, m + k); of the pull to come, the last k, without noise [SI]
    """

    slots: list[int] = field(repr=False)
    observed: Array = field(repr=False)
    covariance: Array = field(repr=False)


def errors_to_come(
    name: str, recordings: Sequence[Recording], drive: Drive, speeds: Array
) -> Callable[[Array, bool], ErrorsToCome]:
    """What the errors of a log say about those of a further full-load pull of the same car.

    The log is looked at once; what is returned is asked again for every answer and every size of a repair.

    Parameters
    ----------
    name : channel within `CHANNELS`; where it was not logged, m is 0
    recordings, drive : as for `pulls_block`
    speeds : of the further pull, rising, (k,) [rad/s]

    Returns
    -------
    Callable
        Takes the levels that are expected at the speeds, (k,) [SI], and whether the car will have another set-up
        than those that were driven (else it is driven as found); gives `ErrorsToCome`.
    """
    column = _column(recordings, drive, name) or _Column(name, np.zeros(0), np.zeros(0), [])
    found = [i for i, c in enumerate(drive.configurations) if c.as_found]
    logged = [drive.bins[k] for k in column.bins]
    noise = np.concatenate([column.noise, np.zeros(len(speeds))])
    barometer = max((r.barometer.sd for r in recordings if _needs_barometer(r, name)), default=0.0)

    def at(levels: Array, changed: bool) -> ErrorsToCome:
        set_up = len(drive.configurations) if changed or not found else found[0]
        bins = logged + [Bin(drive.pulls, -1, float(speed), 0, 0, configuration=set_up) for speed in speeds]
        joint = _Column(name, np.concatenate([column.observed, levels]), noise, [])
        covariance = _covariance(joint, CHANNELS[name], bins, [*drive.configurations, AS_FOUND], barometer)
        return ErrorsToCome(column.bins, column.observed, covariance)

    return at


def _block(columns: Sequence[_Column], drive: Drive, barometer_sd: Mapping[str, float]) -> Block:
    ambient = np.array([b.ambient for b in drive.bins])[:, None]
    size = sum(len(c.observed) for c in columns)
    covariance = np.zeros((size, size))
    at = 0
    for c in columns:
        n = len(c.observed)
        covariance[at : at + n, at : at + n] = _covariance(
            c, CHANNELS[c.name], [drive.bins[k] for k in c.bins], drive.configurations, barometer_sd[c.name]
        )
        at += n

    def predict(candidates: Candidates) -> Array:
        return np.concatenate([_predict(c.name, c.bins, candidates, ambient) for c in columns])

    observed = np.concatenate([c.observed for c in columns])
    return gaussian_block("pulls", predict, observed, covariance, group="log")


def _column(recordings: Sequence[Recording], drive: Drive, name: str) -> _Column | None:
    measured = [_measured(recording, name) for recording in recordings]
    observed, noise, bins = [], [], []
    for b in drive.bins:
        values = measured[b.recording]
        if values is None or name in drive.configurations[b.configuration].hidden:
            continue
        part = values[b.start : b.stop]
        part = part[np.isfinite(part)]
        if len(part) < 2:
            continue
        slope = np.polyfit(np.arange(len(part)), part, 1) if len(part) > 3 else np.array([0.0, part.mean()])
        scatter = float(np.std(part - np.polyval(slope, np.arange(len(part)))))
        observed.append(float(part.mean()))
        noise.append(scatter / np.sqrt(max(len(part) / 3.0, 1.0)))
        bins.append(b.slot)
    if len(bins) < 2:
        return None
    return _Column(name, np.array(observed), np.hypot(np.array(noise), CHANNELS[name].noise), bins)


def _measured(recording: Recording, name: str) -> Array | None:
    """A channel as compared: pressures in gauge, lambda from either way of logging it."""
    if name == "boost":
        if "boost" not in recording.channels and "manifold_pressure" not in recording.channels:
            return None
        shift = logger_zero(recording) if recording.manifold_channel().reference == "gauge" else 0.0
        return np.asarray(recording.boost_gauge() + shift)
    if name == "lambda":
        mixture = recording.values("lambda")
        if mixture is not None:
            return np.asarray(mixture)
        ratio = recording.values("air_fuel_ratio")
        return None if ratio is None else np.asarray(ratio / STOICHIOMETRIC_AIR_FUEL)
    channel = recording.channels.get(name)
    if channel is None or _too_unsure(channel):
        return None
    if channel.reference is None:
        return channel.values
    shift = logger_zero(recording) if channel.reference == "gauge" else 0.0
    return np.asarray(recording.pressure_gauge(name) + shift)


def too_unsure(recording: Recording) -> list[str]:
    """Names of the pressures that would speak but are left out, as place, unit or reference are not sure enough."""
    channels = recording.channels
    return [name for name in CHANNELS if name != "boost" and name in channels and _too_unsure(channels[name])]


def _too_unsure(channel: Channel) -> bool:
    return channel.reference is not None and channel.sure < SURE


def logger_zero(recording: Recording) -> float:
    """What to add to a gauge channel that counts from the standard atmosphere. [Pa]

    Many loggers subtract 101 325 Pa whatever the barometer; the key-on reading shows it where it
    stands closer to that difference than to zero.
    """
    key_on, barometer = recording.key_on, recording.barometer
    difference = barometer.value - 101325.0
    if key_on is None or key_on.reference != "gauge" or abs(difference) < 500.0:
        return 0.0
    return -difference if abs(key_on.mean - difference) < abs(key_on.mean) else 0.0


def _needs_barometer(recording: Recording, name: str) -> bool:
    if name == "boost":
        return recording.manifold_channel().reference == "abs"
    channel = recording.channels.get(name)
    return channel is not None and channel.reference == "abs"


def _covariance(
    c: _Column,
    error: ChannelError,
    bins: Sequence[Bin],
    configurations: Sequence[Configuration],
    barometer_sd: float,
) -> Array:
    speeds = np.array([b.engine_speed for b in bins])
    pulls = np.array([b.pull for b in bins])
    set_up = np.array([b.configuration for b in bins])
    doubt = np.array([configurations[k].doubt for k in set_up])
    rising = np.array([b.after is None for b in bins])
    curve = np.hypot(error.curve_share * np.abs(c.observed), error.curve)
    offset = np.hypot(
        error.offset_share * float(np.abs(c.observed).mean()), np.hypot(error.offset, barometer_sd)
    )
    distance = (speeds[:, None] - speeds[None, :]) / CURVE_LENGTH
    kernel = np.exp(-0.5 * distance**2)
    same, same_set_up = pulls[:, None] == pulls[None, :], set_up[:, None] == set_up[None, :]
    shared = 1.0 - PULL_SHARE**2 + PULL_SHARE**2 * same
    shape = kernel * (np.where(same_set_up, shared, shared - SETUP_SHARE**2) + same_set_up * np.outer(doubt, doubt))
    out = np.outer(curve, curve) * shape + offset**2 + np.diag(c.noise**2)
    slope = np.zeros_like(speeds)
    for pull in np.unique(pulls[rising]):
        rows = np.flatnonzero(pulls == pull)
        if len(rows) > 1:
            slope[rows] = np.gradient(c.observed[rows], speeds[rows])
    along = slope * SPEED_ERROR
    short = np.exp(-0.5 * ((speeds[:, None] - speeds[None, :]) / SHORT_LENGTH) ** 2) * same
    windmill = WINDMILL * np.minimum(doubt, 1.0) * np.exp(-((c.observed / (WINDMILL_LEVEL * error.curve)) ** 2))
    sudden = np.hypot(slope * SHORT_SPEED_ERROR, SHORT_SHARE * curve * np.hypot(1.0, doubt))
    sudden = np.hypot(sudden, error.curve * windmill)
    out = out + np.outer(along, along) * kernel + np.outer(sudden, sudden) * short
    return np.asarray(out if rising.all() else out + _held_covariance(c, bins, same & ~rising))


def _held_covariance(c: _Column, bins: Sequence[Bin], same: NDArray[np.bool_]) -> Array:
    """What is added where the throttle was opened at a held speed; ``same`` bins of one such opening."""
    after = np.array([np.nan if b.after is None else b.after for b in bins])
    size = np.where(np.isnan(after), 0.0, np.abs(c.observed))
    rate = np.zeros_like(size)
    for pull in {b.pull for b in bins if b.after is not None}:
        rows = np.flatnonzero([b.pull == pull for b in bins])
        if len(rows) > 1:
            rate[rows] = np.gradient(c.observed[rows], after[rows])
    since = np.nan_to_num(after)
    sudden = np.hypot(rate * HELD_TIME, SPIKE_SHARE * size * np.exp(-((since / SPIKE_TIME) ** 2)))
    short = np.exp(-0.5 * ((since[:, None] - since[None, :]) / HELD_LENGTH) ** 2) * same
    level = HELD_LEVEL_SHARE * size
    return np.asarray(np.outer(sudden, sudden) * short + np.outer(level, level))


def _predict(name: str, bins: list[int], candidates: Candidates, ambient: Array) -> Array:
    out = candidates.all_outputs
    error = CHANNELS[name]
    value = out[bins, OUTPUT_INDEX[error.output]]
    return np.asarray(value - ambient[bins] if error.gauge else value, float)
