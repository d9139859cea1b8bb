"""Parts of the answer of ``boostproof prove`` as types; the whole of it is in `answers`."""

from __future__ import annotations

from typing import Literal, TypedDict

StateAnswer = Literal["holds", "outside", "cannot tell"]
ChangeAnswer = Literal["better", "worse", "different", "no different", "cannot tell"]
ProofVerdict = Literal["cured", "better", "no different", "worse", "cannot say"]


class MeasuredAnswer(TypedDict):
    """A figure with its standard and its expanded uncertainty."""

    value: float
    sd: float
    expanded: float


class RangeAnswer(TypedDict):
    """One range of engine speed: boost as read on its day, the difference at standard weather, and what the target
    says; null where no target holds."""

    name: Literal["spool", "plateau", "top end"]
    rpm_from: float
    rpm_to: float
    before_kpa_gauge: MeasuredAnswer
    after_kpa_gauge: MeasuredAnswer
    difference_kpa: MeasuredAnswer
    off_target_before_kpa: MeasuredAnswer | None
    off_target_after_kpa: MeasuredAnswer | None
    state_before: StateAnswer | None
    state_after: StateAnswer | None
    change: ChangeAnswer


class SwingAnswer(TypedDict):
    """Spike or oscillation, mean over the pulls of each side."""

    name: Literal["spike", "oscillation"]
    before_kpa: MeasuredAnswer
    after_kpa: MeasuredAnswer
    difference_kpa: MeasuredAnswer
    state_before: StateAnswer
    state_after: StateAnswer
    change: ChangeAnswer


class RoomAnswer(TypedDict):
    """Room left after the repair; null where target or stop is not known."""

    below_target_kpa: MeasuredAnswer | None
    below_stop_kpa: MeasuredAnswer | None
    highest_kpa_gauge: float
    highest_rpm: float


class DayAnswer(TypedDict):
    """What the weather of the two days did to the difference; beyond: why they cannot be held against each other."""

    shift_kpa: float
    sd_kpa: float
    barometer_before_kpa_abs: float
    barometer_after_kpa_abs: float
    charge_difference_k: float | None
    beyond: list[str]


class LeftAnswer(TypedDict):
    """Where the curve after leaves the band of the forecast; sure: by more than its own doubt."""

    rpm_from: float
    rpm_to: float
    side: Literal["above", "below"]
    most_kpa: float
    sure: bool


class BandAnswer(TypedDict):
    """The curve after against its forecast: the band over all causes, or where there is none the best of the causes'
    bands, of which says whose."""

    of: str
    inside: float
    verdict: Literal["as forecast", "not as forecast"]
    left: list[LeftAnswer]
    rpm: list[float]
    low_kpa_gauge: list[float]
    high_kpa_gauge: list[float]


class ReadingChangeAnswer(TypedDict):
    """A figure of the bench before and after; difference is null where one of them is a limit."""

    id: str
    name: str
    unit: str
    before: float
    after: float
    before_verdict: Literal["as it should be", "low", "high", "cannot tell"]
    after_verdict: Literal["as it should be", "low", "high", "cannot tell"]
    difference: MeasuredAnswer | None
    verdict: Literal["cured", "better", "no different", "changed", "worse", "cannot say"]


class PowerAnswer(TypedDict):
    """Peak power before and after; why_uncorrected is empty where it was brought to a standard day."""

    basis: Literal["sae_j1349", "uncorrected"]
    before_kw: MeasuredAnswer
    after_kw: MeasuredAnswer
    difference_kw: MeasuredAnswer
    change: ChangeAnswer
    why_uncorrected: str
