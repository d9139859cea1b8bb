"""A pull brought to a standard day: weather factors for power, and boost at the standard barometer.

What was measured always stands beside it. A factor says what less dense air would have cost an engine that
breathes the air around; it does not suit one whose boost control holds an absolute pressure (UN working-party
paper GRPE-70-02).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from boostproof.errors import InputRangeError
from boostproof.findings import Finding
from boostproof.physics.power_correction import (
    NOT_COVERED,
    LimitExceeded,
    PowerCorrection,
    correct_power_iso_1585,
    correct_power_sae_j1349,
)
from boostproof.recording.model import STANDARD_ATMOSPHERE, FloatArray, Metric, Pull
from boostproof.recording.pulls.own_clock import at_times, through
from boostproof.recording.rows import step_of
from boostproof.recording.signals.smooth import noise_gain, noise_of, smooth, window_for

Controlled = Literal["gauge", "absolute"]

LEVELS = ("plateau_kpa_gauge", "peak_kpa_gauge", "end_kpa_gauge")
# Where nobody wrote the humidity down: anywhere from 20 to 90 %, flat.
_HUMIDITY = Metric(0.55, 0.70 / np.sqrt(12.0))
_LOGGED_K = 2.0  # K, sd of an ambient sensor on a car, which the engine bay warms; common practice, no source
_POWER_S = 0.4  # s smoothed over; common practice, no source
_CORRECTIONS: dict[str, Callable[[float, float, float], PowerCorrection]] = {
    "sae_j1349": correct_power_sae_j1349,
    "iso_1585": correct_power_iso_1585,
}


@dataclass(frozen=True)
class Air:
    """The air around during a pull.

    Attributes
    ----------
    pressure : barometer [Pa abs]
    temperature : None where it is not known [K]
    humidity : relative, 0 to 1; a wide one where it is not known
    pressure_source, temperature_source : "logged", "given", ...; temperature "not known"
    humidity_known : somebody wrote it down
    """

    pressure: Metric
    temperature: Metric | None
    humidity: Metric
    pressure_source: str
    temperature_source: Literal["logged", "given", "not known"]
    humidity_known: bool

    def as_json(self) -> dict[str, Any]:
        """The air of the ``weather`` object of ``inspect --json``, in kPa, K and shares."""
        t = self.temperature
        return {
            "barometer_kpa_abs": _json(self.pressure, 1e-3),
            "barometer_source": self.pressure_source,
            "temperature_k": None if t is None else t.as_json(),
            "temperature_source": self.temperature_source,
            "humidity": self.humidity.as_json(),
            "humidity_known": self.humidity_known,
        }


@dataclass(frozen=True)
class Factor:
    """A weather factor: corrected power over measured power.

    Attributes
    ----------
    standard : its name
    factor : with the sd that the doubt in the weather gives it
    exceeded : limits of the standard that this day does not keep
    """

    standard: str
    factor: Metric
    exceeded: tuple[LimitExceeded, ...]

    @property
    def valid(self) -> bool:
        """Every limit of the standard is kept; not whether it suits the engine."""
        return not self.exceeded

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "standard": self.standard,
            "factor": self.factor.as_json(),
            "valid": self.valid,
            "exceeded": [e.quantity for e in self.exceeded],
        }


@dataclass(frozen=True)
class StandardPull:
    """One pull as measured, and as it would be on a standard day.

    Attributes
    ----------
    air : of the day
    factors : by "sae_j1349" and "iso_1585"; empty where temperature is not known or no factor is defined
    power : peak power in kW: "uncorrected", and beside it one for each factor; empty where power was not logged
    measured : plateau, peak and end boost as measured [kPa gauge]
    boost : the same at 101.325 kPa, by what the boost control holds; both where that is not known
    findings : limits that are not kept, and engines that the factors do not suit
    """

    air: Air
    factors: Mapping[str, Factor]
    power: Mapping[str, Metric]
    measured: Mapping[str, Metric | None]
    boost: Mapping[str, Mapping[str, Metric | None]]
    findings: tuple[Finding, ...] = ()
    not_covered: tuple[str, ...] = field(default=NOT_COVERED, repr=False)

    def as_json(self) -> dict[str, Any]:
        """The ``weather`` object of one pull in ``inspect --json``."""
        return {
            "air": self.air.as_json(),
            "factors": {name: factor.as_json() for name, factor in self.factors.items()},
            "peak_power_kw": {name: metric.as_json() for name, metric in self.power.items()},
            "boost_measured": _levels(self.measured),
            "boost_at_standard": {name: _levels(levels) for name, levels in self.boost.items()},
        }


def air_of(pull: Pull, *, temperature: Metric | None = None, humidity: Metric | None = None) -> Air:
    """The air around during a pull: logged where it was, else as told.

    Parameters
    ----------
    pull : its recording knows the barometer
    temperature : of the air around as a person wrote it [K]
    humidity : relative, 0 to 1
    """
    barometer = pull.recording.barometer
    logged = pull.recording.values("ambient_temperature")
    part = None if logged is None else logged[pull.start : pull.stop]
    source: Literal["logged", "given", "not known"] = "not known" if temperature is None else "given"
    if part is not None and np.isfinite(part).any():
        temperature, source = Metric(float(np.nanmedian(part)), _LOGGED_K), "logged"
    return Air(
        Metric(barometer.value, barometer.sd), temperature, humidity or _HUMIDITY, barometer.source, source,
        humidity is not None,
    )  # fmt: skip


def weather_factors(air: Air) -> dict[str, Factor]:
    """Factors of SAE J1349 and ISO 1585, each with its sd and the limits that are not kept.

    Empty where the temperature is not known, or the day is outside what the standards speak of at all
    (50 to 120 kPa, 230 to 340 K). The sd follows the doubt in each input by a step of its own size.
    """
    if air.temperature is None:
        return {}
    day = (air.pressure.value, air.temperature.value, air.humidity.value)
    doubts = (air.pressure.sd, air.temperature.sd, air.humidity.sd)
    factors = {}
    for name, correct in _CORRECTIONS.items():
        try:
            result = correct(*day)
            moved = [_moved(correct, day, i, sd) for i, sd in enumerate(doubts)]
        except InputRangeError:
            return {}
        sd = float(np.sqrt(sum(m * m for m in moved)))
        factors[name] = Factor(result.standard, Metric(result.factor, sd), result.exceeded)
    return factors


def _moved(
    correct: Callable[[float, float, float], PowerCorrection],
    day: tuple[float, float, float],
    index: int,
    sd: float,
) -> float:
    """Half of the change of a factor when one input goes from one sd below to one sd above."""
    low, high = list(day), list(day)
    low[index], high[index] = day[index] - sd, day[index] + sd
    if index == 2:
        low[2], high[2] = max(low[2], 0.0), min(high[2], 1.0)
    return 0.5 * (correct(*high).factor - correct(*low).factor)


def standard_boost(
    pull: Pull, *, controlled: Controlled | None = None
) -> dict[str, dict[str, Metric | None]]:
    """Plateau, peak and end boost at a barometer of 101.325 kPa.

    Parameters
    ----------
    pull : measured
    controlled : "gauge" where a spring or a gauge target holds boost: the gauge pressure stays, the absolute
        one moves with the barometer; "absolute" where the control holds an absolute pressure: that stays, and
        the gauge pressure moves; None where it is not known

    Returns
    -------
    dict
        By "gauge" and "absolute" (both where it is not known), the metrics in kPa gauge at that barometer. The
        doubt in the barometer counts only where the sensor's own reference is the other one.
    """
    recording = pull.recording
    around = recording.barometer
    reference = recording.manifold_channel().reference if _has_boost(pull) else None
    shift = (around.value - STANDARD_ATMOSPHERE) / 1e3
    found: dict[str, dict[str, Metric | None]] = {}
    for held in ("gauge", "absolute") if controlled is None else (controlled,):
        moved = shift if held == "absolute" else 0.0
        found[held] = {
            name: None if metric is None else Metric(metric.value + moved, _level_sd(metric, around.sd, held, reference))
            for name, metric in _measured(pull).items()
        }
    return found


def _level_sd(metric: Metric, barometer_sd: float, held: str, reference: str | None) -> float:
    """An absolute sensor tells the absolute pressure without the barometer, a gauge sensor the gauge one."""
    own = "absolute" if reference == "abs" else "gauge"
    return metric.sd if held == own else float(np.hypot(metric.sd, 1e-3 * barometer_sd))


def standard_pull(pull: Pull, air: Air, *, controlled: Controlled | None = None) -> StandardPull:
    """A pull with its weather factors, its power beside the corrected one, and its boost at 101.325 kPa."""
    factors = weather_factors(air)
    power = peak_power(pull)
    shown: dict[str, Metric] = {}
    if power is not None:
        shown["uncorrected"] = power
        for name, factor in factors.items():
            f = factor.factor
            shown[name] = Metric(power.value * f.value, float(np.hypot(power.sd * f.value, power.value * f.sd)))
    return StandardPull(
        air, factors, shown, _measured(pull), standard_boost(pull, controlled=controlled),
        tuple(_findings(pull, factors, power, controlled)),
    )  # fmt: skip


def peak_power(pull: Pull) -> Metric | None:
    """Highest logged power, or torque times engine speed, of a pull [kW]; None where neither was logged.

    Smoothed over 0.4 s. Where it is stated (wheel, crank, brake) is for the reader to know.
    """
    found = _power(pull)
    if found is None:
        return None
    time, watt = found
    kilowatt = watt / 1e3
    if not pull.recording.time_known or len(kilowatt) < 8:
        top = float(kilowatt.max())
        return Metric(top, 0.01 * abs(top))
    window = window_for(_POWER_S, step_of(time), len(kilowatt))
    return Metric(float(smooth(kilowatt, window).max()), noise_of(kilowatt) * noise_gain(window))


def _power(pull: Pull) -> tuple[FloatArray, FloatArray] | None:
    """Seconds and power [W] on the clock of what was logged: power, else torque."""
    channels = pull.recording.channels
    if "power" in channels:
        return through(pull, channels["power"])
    if "torque" not in channels or "engine_speed" not in channels:
        return None
    found = through(pull, channels["torque"])
    if found is None:
        return None
    time, torque = found
    return time, torque * at_times(pull, channels["engine_speed"].values, time)


def _findings(
    pull: Pull, factors: Mapping[str, Factor], power: Metric | None, controlled: Controlled | None
) -> list[Finding]:
    where = f"{pull.recording.file}, {pull.from_s:.1f} to {pull.to_s:.1f} s"
    found = []
    for factor in factors.values():
        if factor.exceeded:
            limits = ", ".join(_limit(e) for e in factor.exceeded)
            found.append(
                Finding(
                    "correction-out-of-range", where,
                    f"{factor.standard} does not speak of this day ({limits}); its factor "
                    f"{factor.factor.value:.3f} is shown and should not be used.",
                    "Use the uncorrected figure, or drive again on a day within the limits.",
                )
            )  # fmt: skip
    if power is not None and factors and controlled != "gauge":
        start = "The" if controlled == "absolute" else "If the"
        then = ": a" if controlled == "absolute" else ", a"
        found.append(
            Finding(
                "correction-does-not-suit", where,
                f"{start} boost control of this car holds an absolute pressure{then} weather factor then "
                "corrects for what the control has made up already.",
                "Go by the uncorrected power.",
            )
        )  # fmt: skip
    return found


def _limit(exceeded: LimitExceeded) -> str:
    value, low, high = exceeded.value, exceeded.low, exceeded.high
    if exceeded.quantity == "temperature":
        return f"{value - 273.0:.0f} °C, and the limits are {low - 273.0:.0f} to {high - 273.0:.0f} °C"
    if exceeded.quantity == "dry pressure":
        return f"{value / 1e3:.1f} kPa of dry air, and the limits are {low / 1e3:.0f} to {high / 1e3:.0f} kPa"
    return f"factor {value:.3f}, and the limits are {low:g} to {high:g}"


def _has_boost(pull: Pull) -> bool:
    return bool({"boost", "manifold_pressure"} & set(pull.recording.channels))


def _measured(pull: Pull) -> dict[str, Metric | None]:
    return {name: pull.metrics.get(name) for name in LEVELS}


def _levels(levels: Mapping[str, Metric | None]) -> dict[str, Any]:
    return {name: None if metric is None else metric.as_json() for name, metric in levels.items()}


def _json(metric: Metric, factor: float) -> dict[str, float]:
    return {"value": metric.value * factor, "sd": metric.sd * factor}
