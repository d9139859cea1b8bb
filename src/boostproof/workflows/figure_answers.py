"""Types of what makes pulls comparable: the additional keys of ``inspect``, and the answer of ``compare``."""

from __future__ import annotations

from typing import Literal, TypedDict


class ValueAnswer(TypedDict):
    """A value with its standard deviation, in the unit of its name."""

    value: float
    sd: float


class AirAnswer(TypedDict):
    """The air around; a wide humidity where nobody wrote it down."""

    barometer_kpa_abs: ValueAnswer
    barometer_source: str
    temperature_k: ValueAnswer | None
    temperature_source: Literal["logged", "given", "not known"]
    humidity: ValueAnswer
    humidity_known: bool


class FactorAnswer(TypedDict):
    """Corrected power over measured power; valid says that the standard's limits are kept, not that it suits."""

    standard: str
    factor: ValueAnswer
    valid: bool
    exceeded: list[str]


class WeatherAnswer(TypedDict):
    """One pull on a standard day; peak_power_kw always holds the uncorrected power where power was logged, and
    boost_at_standard both ways of boost control where it is not known which the car has."""

    air: AirAnswer
    factors: dict[str, FactorAnswer]
    peak_power_kw: dict[str, ValueAnswer]
    boost_measured: dict[str, ValueAnswer | None]
    boost_at_standard: dict[str, dict[str, ValueAnswer | None]]


class RepeatsAnswer(TypedDict):
    """What repeats of one set-up say, in the order driven."""

    pulls: int
    rpm_from: float
    rpm_to: float
    metrics: dict[str, ValueAnswer | None]
    says: str


class ReferenceAnswer(TypedDict):
    """The air that a flow is corrected to."""

    pressure_kpa_abs: float
    temperature_k: float


class MarginAnswer(TypedDict):
    """A least margin as a share of one, and the engine speed where it is."""

    rpm: float
    value: float
    sd: float


class OutsideAnswer(TypedDict):
    """A stretch of engine speeds at which a line lies off the map, and on which side."""

    rpm_from: float
    rpm_to: float
    side: str


class OnMapAnswer(TypedDict):
    """An operating line on the map of its compressor, at the engine speeds of the line; null where it is outside.
    Margins and efficiencies are shares of one."""

    nearest_surge: MarginAnswer | None
    nearest_choke: MarginAnswer | None
    efficiency_at_end: ValueAnswer | None
    corrected_shaft_speed_rpm: list[float | None]
    corrected_shaft_speed_sd: list[float | None]
    shaft_speed_rpm: list[float | None]
    efficiency: list[float | None]
    efficiency_sd: list[float | None]
    surge_margin: list[float | None]
    surge_margin_sd: list[float | None]
    choke_margin: list[float | None]
    choke_margin_sd: list[float | None]
    outside: list[OutsideAnswer]


class OperatingLineAnswer(TypedDict):
    """Where each compressor works along a pull, and what each figure was taken from."""

    peak: dict[str, ValueAnswer | None]
    reference: ReferenceAnswer
    rpm: list[float]
    corrected_flow_kg_s: list[float]
    corrected_flow_sd: list[float]
    pressure_ratio: list[float]
    pressure_ratio_sd: list[float]
    sources: dict[str, str]
    on_map: OnMapAnswer | None


class InertiaAnswer(TypedDict):
    """Power and torque from the rise of a known inertia; losses are not included."""

    peak_power_kw: ValueAnswer
    peak_power_rpm: float
    peak_torque_nm: ValueAnswer
    peak_torque_rpm: float
    smoothed_over_s: float
    says: str


class PullAirAnswer(TypedDict):
    """Air and power of one pull."""

    operating_line: OperatingLineAnswer | None
    inertia_dyno: InertiaAnswer | None


class SpanAnswer(TypedDict):
    """Where two set-ups differ; averaged where the mean over the span settles it and no single speed does."""

    rpm_from: float
    rpm_to: float
    mean_kpa: float
    averaged: bool


class ScatterAnswer(TypedDict):
    """Run-to-run scatter that was reckoned with, and the repeats behind it."""

    sd_kpa: float
    repeats: int


class SetAnswer(TypedDict):
    """One side of a comparison: its pulls, as FILE#NUMBER."""

    name: str
    pulls: list[str]
