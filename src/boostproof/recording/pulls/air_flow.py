"""Where the compressor works during a pull: air flow, pressure ratio, corrected flow, efficiency, margins.

Measured where the log holds it, else reckoned, and the sd says which. Points stand every hundred rpm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from boostproof.errors import InputError, InputRangeError
from boostproof.physics.corrected import SAE_J1826, ReferenceConditions, corrected_flow
from boostproof.physics.gas import AIR_GAMMA, AIR_GAS_CONSTANT
from boostproof.recording.model import FloatArray, Metric, Pull
from boostproof.recording.pulls.curve import curve_of
from boostproof.recording.pulls.on_map import OnMap, place_on_map
from boostproof.recording.pulls.own_clock import at_times, through
from boostproof.recording.rows import step_of
from boostproof.recording.signals.smooth import filled, smooth, window_for

if TYPE_CHECKING:
    from boostproof.physics.compressor_table import CompressorTable

#: Volumetric efficiency at full load, on manifold pressure and charge temperature. Common practice, no source.
USUAL_VOLUMETRIC = Metric(0.90, 0.08)
_STEP = 100.0  # rpm between points
_SMOOTH_S = 0.3
_METER = 0.04  # share, sd of a logged air flow: fouling, pulsation and scaling; common practice, no source
_SENSOR_K = 3.0  # sd of a logged gas temperature at full load; common practice, no source
_AROUND = Metric(293.0, 8.0)  # K, where nobody knows the air of the day
_BAY = Metric(4.0, 4.0)  # K, that the air warms up to the compressor; common practice, no source
_COMPRESSOR = Metric(0.70, 0.06)  # efficiency, for a charge temperature that was not logged; engineering estimate
_COOLER = Metric(0.70, 0.12)  # effectiveness of the charge cooler; engineering estimate
_INLET_LOSS = Metric(3e3, 1.2e3)  # Pa, filter and duct at the pull's highest flow; engineering estimate, 1 to 5
_OUTLET_LOSS = Metric(0.04, 0.02)  # of the manifold pressure, cooler, pipes and throttle at that flow; the same
_POWER = (AIR_GAMMA - 1.0) / AIR_GAMMA


@dataclass(frozen=True)
class Doubtful:
    """Values over the points of a pull, each with its sd; shapes (n,)."""

    value: FloatArray = field(repr=False)
    sd: FloatArray = field(repr=False)


@dataclass(frozen=True)
class OperatingLine:
    """Operating points of one compressor along a pull.

    Attributes
    ----------
    rpm : engine speed, shape (n,) [rpm]
    air_flow : of one compressor [kg/s]
    pressure_ratio : outlet over inlet total pressure [1]
    corrected_flow : in the reference air [kg/s]
    reference : that air
    inlet_temperature : before the compressor [K]
    outlet_temperature : as logged [K], None where it was not
    efficiency : isentropic, from the logged outlet temperature [1], None where that was not logged
    on_map : where a table was given
    sources : what each figure was taken from, in words
    """

    rpm: FloatArray = field(repr=False)
    air_flow: Doubtful
    pressure_ratio: Doubtful
    corrected_flow: Doubtful
    reference: ReferenceConditions
    inlet_temperature: Metric
    outlet_temperature: Doubtful | None
    efficiency: Doubtful | None
    on_map: OnMap | None
    sources: Mapping[str, str]

    def summary(self) -> dict[str, Metric | None]:
        """Peak corrected flow, the pressure ratio and engine speed there, and what the map says of it."""
        at = int(np.argmax(self.corrected_flow.value))
        found: dict[str, Metric | None] = {
            "peak_corrected_flow_kg_s": _at(self.corrected_flow, at),
            "peak_air_flow_kg_s": _at(self.air_flow, at),
            "pressure_ratio_there": _at(self.pressure_ratio, at),
            "rpm_there": Metric(float(self.rpm[at]), 0.5 * _STEP / np.sqrt(3.0)),
            "efficiency_there": None if self.efficiency is None else _at(self.efficiency, at),
        }
        return found

    def as_json(self) -> dict[str, Any]:
        """The ``operating_line`` object of one pull in ``inspect --json``."""
        return {
            "peak": {name: None if m is None else m.as_json() for name, m in self.summary().items()},
            "reference": {
                "pressure_kpa_abs": self.reference.pressure / 1e3,
                "temperature_k": self.reference.temperature,
            },
            "rpm": self.rpm.tolist(),
            "corrected_flow_kg_s": self.corrected_flow.value.tolist(),
            "corrected_flow_sd": self.corrected_flow.sd.tolist(),
            "pressure_ratio": self.pressure_ratio.value.tolist(),
            "pressure_ratio_sd": self.pressure_ratio.sd.tolist(),
            "sources": dict(self.sources),
            "on_map": None if self.on_map is None else self.on_map.as_json(),
        }


def operating_line(
    pull: Pull,
    *,
    displacement: Metric,
    count: int = 1,
    volumetric_efficiency: Metric = USUAL_VOLUMETRIC,
    charge_temperature: Metric | None = None,
    ambient_temperature: Metric | None = None,
    inlet_loss: Metric = _INLET_LOSS,
    outlet_loss: Metric = _OUTLET_LOSS,
    reference: ReferenceConditions = SAE_J1826,
    table: CompressorTable | None = None,
) -> OperatingLine:
    """Air flow and pressure ratio of each compressor over a pull.

    Parameters
    ----------
    pull : at full load, with manifold pressure
    displacement : of all cylinders of a four-stroke engine [m3]
    count : equal compressors in parallel, which share the flow
    volumetric_efficiency : on manifold state, used where air flow was not logged [1]
    charge_temperature : at the manifold, where it was not logged; left out it is reckoned [K]
    ambient_temperature : of the air around, where it was not logged [K]
    inlet_loss : of filter and duct at the pull's highest flow [Pa]; goes with the square of the flow
    outlet_loss : from compressor to manifold at that flow, as a share of manifold pressure [1]; used where
        compressor-outlet pressure was not logged
    reference : air that the flow is corrected to; a table's own goes before it
    table : measured points of the compressor, to place the line on

    Returns
    -------
    OperatingLine

    Raises
    ------
    InputError
        If the pull is not at full load or holds no manifold pressure.
    InputRangeError
        If displacement, count or volumetric efficiency is not above zero.

    Notes
    -----
    ``m = eta_v p V N / (120 R T)`` for a four-stroke engine (N in rpm). Uncertainties are combined to first
    order (JCGM 100, 5.1); what one input does to several figures is not carried from one to the other.
    """
    _check(displacement, count, volumetric_efficiency)
    curve = curve_of(pull)
    rpm = np.arange(np.ceil(curve.first / _STEP) * _STEP, curve.last + 1e-6, _STEP)
    if len(rpm) < 2:
        raise InputError(
            "Too little of this pull can be used for the air flow.", kind="short-pull", where=pull.recording.file,
            do="Log a pull through 500 rpm or more.",
        )  # fmt: skip
    reader = _Reader(pull, rpm)
    barometer = pull.recording.barometer
    sources: dict[str, str] = {}
    around = reader.channel("ambient_temperature")
    inlet = _inlet_temperature(around, ambient_temperature, sources)
    manifold = _manifold(pull, curve.at(rpm), curve.noise)
    outlet = reader.pressure("compressor_outlet_pressure")
    flow = _flow(reader, manifold, displacement, volumetric_efficiency, charge_temperature, inlet, sources)
    share = (flow.value / flow.value.max()) ** 2
    before = Doubtful(
        barometer.value - share * inlet_loss.value, np.hypot(barometer.sd, share * inlet_loss.sd)
    )
    if outlet is None:
        lost = share * outlet_loss.value
        outlet = Doubtful(
            manifold.value * (1.0 + lost), np.hypot(manifold.sd, manifold.value * share * outlet_loss.sd)
        )
        sources["compressor outlet"] = "manifold pressure and a usual loss to it"
    else:
        sources["compressor outlet"] = "logged"
    ratio = _quotient(outlet, before)
    each = Doubtful(flow.value / count, flow.sd / count)
    reference = reference if table is None else table.reference
    corrected = _corrected(each, before, inlet, reference)
    hot = reader.channel("compressor_outlet_temperature")
    return OperatingLine(
        rpm, each, ratio, corrected, reference, inlet, hot,
        None if hot is None else _efficiency(ratio, hot, inlet),
        None if table is None else place_on_map(rpm, ratio, corrected, inlet, table),
        sources,
    )  # fmt: skip


class _Reader:
    """Channels of a pull, smoothed, at the points."""

    def __init__(self, pull: Pull, rpm: FloatArray) -> None:
        self.pull, self.rpm = pull, rpm
        recording, rows = pull.recording, slice(pull.start, pull.stop)
        self.time = recording.time[rows]
        speed = filled(recording.channels["engine_speed"].values[rows]) * 30.0 / np.pi
        self.speed = np.maximum.accumulate(smooth(speed, self._window(self.time), 1))

    def _window(self, time: FloatArray) -> int:
        known = self.pull.recording.time_known
        return window_for(_SMOOTH_S, step_of(time), len(time)) if known else 1

    def _at_points(self, time: FloatArray, values: FloatArray) -> FloatArray:
        """Values at their own times, smoothed, at the points."""
        # Without a time the rows are those of the speed.
        same = len(time) == len(self.time) and bool(np.array_equal(time, self.time))
        speed = self.speed if same else np.interp(time, self.time, self.speed)
        return np.asarray(np.interp(self.rpm, speed, smooth(values, self._window(time), 1)))

    def channel(self, name: str, sd: float = _SENSOR_K) -> Doubtful | None:
        """A logged channel with the sd of its sensor, None where it was not logged."""
        channel = self.pull.recording.channels.get(name)
        found = None if channel is None else through(self.pull, channel)
        return None if found is None else Doubtful(self._at_points(*found), np.full(len(self.rpm), sd))

    def pressure(self, name: str) -> Doubtful | None:
        """A logged pressure [Pa abs], with 1 % of its value, and the barometer where it is gauge."""
        recording = self.pull.recording
        channel = recording.channels.get(name)
        found = None if channel is None or channel.reference is None else through(self.pull, channel)
        if channel is None or found is None:
            return None
        time, values = found
        gauge = channel.reference == "gauge"
        if gauge:
            around = recording.pressure_abs(name) - channel.values
            known = np.where(np.isfinite(around), around, recording.barometer.value)
            values = values + at_times(self.pull, known, time)
        value = self._at_points(time, values)
        return Doubtful(value, np.hypot(0.01 * value, recording.barometer.sd if gauge else 0.0))


def _manifold(pull: Pull, boost: FloatArray, noise: float) -> Doubtful:
    """Manifold pressure [Pa abs], with 1 % of its value for the sensor."""
    recording = pull.recording
    value = 1e3 * boost + recording.barometer.value
    gauge = recording.manifold_channel().reference == "gauge"
    air = recording.barometer.sd if gauge else 0.0
    return Doubtful(value, np.sqrt((0.01 * value) ** 2 + (1e3 * noise) ** 2 + air**2))


def _inlet_temperature(around: Doubtful | None, told: Metric | None, sources: dict[str, str]) -> Metric:
    """Air before the compressor [K]: the air around, warmed in the engine bay."""
    if around is not None:
        air, sources["air temperature"] = Metric(float(np.median(around.value)), 2.0), "logged"
    elif told is not None:
        air, sources["air temperature"] = told, "as told"
    else:
        air, sources["air temperature"] = _AROUND, "not known, taken as 12 to 28 °C"
    return Metric(air.value + _BAY.value, float(np.hypot(air.sd, _BAY.sd)))


def _flow(
    reader: _Reader,
    manifold: Doubtful,
    displacement: Metric,
    volumetric: Metric,
    charge: Metric | None,
    inlet: Metric,
    sources: dict[str, str],
) -> Doubtful:
    """Air flow of the whole engine [kg/s]."""
    measured = reader.channel("air_flow")
    if measured is not None and np.all(measured.value > 0.0):
        sources["air flow"] = "logged"
        return Doubtful(measured.value, _METER * measured.value)
    sources["air flow"] = "reckoned from displacement, manifold pressure and charge temperature"
    temperature = reader.channel("intake_temperature")
    if temperature is not None:
        sources["charge temperature"] = "logged"
    elif charge is not None:
        sources["charge temperature"] = "as told"
        temperature = Doubtful(np.full(len(reader.rpm), charge.value), np.full(len(reader.rpm), charge.sd))
    else:
        sources["charge temperature"] = "reckoned from a usual compressor and charge cooler"
        temperature = _charge(manifold, reader.pull.recording.barometer.value, inlet)
    value = (
        volumetric.value * manifold.value * displacement.value * reader.rpm
        / (120.0 * AIR_GAS_CONSTANT * temperature.value)
    )  # fmt: skip
    share = np.sqrt(
        (volumetric.sd / volumetric.value) ** 2
        + (displacement.sd / displacement.value) ** 2
        + (manifold.sd / manifold.value) ** 2
        + (temperature.sd / temperature.value) ** 2
    )
    return Doubtful(value, value * share)


def _charge(manifold: Doubtful, around: float, inlet: Metric) -> Doubtful:
    """Charge temperature behind a usual compressor and cooler [K]."""
    rise = inlet.value * (np.maximum(manifold.value / around, 1.0) ** _POWER - 1.0) / _COMPRESSOR.value
    value = inlet.value + (1.0 - _COOLER.value) * rise
    left = (1.0 - _COOLER.value) * rise * _COMPRESSOR.sd / _COMPRESSOR.value
    return Doubtful(value, np.sqrt(inlet.sd**2 + (rise * _COOLER.sd) ** 2 + left**2))


def _quotient(above: Doubtful, below: Doubtful) -> Doubtful:
    value = above.value / below.value
    return Doubtful(value, value * np.hypot(above.sd / above.value, below.sd / below.value))


def _corrected(
    flow: Doubtful, before: Doubtful, inlet: Metric, reference: ReferenceConditions
) -> Doubtful:
    value = corrected_flow(before.value, inlet.value, flow.value, reference)
    share = np.sqrt(
        (flow.sd / flow.value) ** 2 + (before.sd / before.value) ** 2 + (0.5 * inlet.sd / inlet.value) ** 2
    )
    return Doubtful(value, value * share)


def _efficiency(ratio: Doubtful, hot: Doubtful, inlet: Metric) -> Doubtful:
    """``eta = T1 (PI**((g - 1)/g) - 1) / (T2 - T1)``; NaN where the air comes out no hotter than it went in."""
    ideal = ratio.value**_POWER - 1.0
    rise = hot.value - inlet.value
    usable = (rise > 5.0) & (ideal > 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = np.where(usable, inlet.value * ideal / rise, np.nan)
        share = np.sqrt(
            (_POWER * ratio.value ** (_POWER - 1.0) * ratio.sd / ideal) ** 2
            + (hot.sd / rise) ** 2
            + (inlet.sd * hot.value / (inlet.value * rise)) ** 2
        )
    return Doubtful(value, value * share)


def _at(values: Doubtful, index: int) -> Metric | None:
    value = float(values.value[index])
    return Metric(value, float(values.sd[index])) if np.isfinite(value) else None


def _check(displacement: Metric, count: int, volumetric: Metric) -> None:
    for name, value, unit in (
        ("displacement", displacement.value, "m3"),
        ("count", float(count), ""),
        ("volumetric_efficiency", volumetric.value, ""),
    ):
        if not value > 0.0:
            raise InputRangeError(
                f"{name} must be above zero, got {value:g} {unit}".rstrip() + ".", kind="range",
                where="operating_line", do="Give displacement in m3, and whole compressors.",
            )  # fmt: skip
