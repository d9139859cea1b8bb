"""The answer of the forecast for programs: its types, and how it is made of the result."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal, TypedDict

import numpy as np

from boostproof.workflows.answer_parts import FindingAnswer, InputsAnswer

if TYPE_CHECKING:
    from boostproof.repair.bands import Band
    from boostproof.repair.model import Chosen, Size
    from boostproof.repair.sizing import Tried
    from boostproof.workflows.forecast import RepairForecast


class RepairAnswer(TypedDict):
    """One repair; size in the unit named, null where the part is as it was meant. minutes and parts: low, high."""

    id: str
    title: str
    written: str
    size: float | None
    unit: Literal["mm", "kPa_gauge", "turns"] | None
    minutes: list[float]
    parts: list[float]
    caution: str


class BandAnswer(TypedDict):
    """Boost at each engine speed of rpm: nine in ten curves lie between low and high."""

    low_kpa_gauge: list[float]
    middle_kpa_gauge: list[float]
    high_kpa_gauge: list[float]


class AfterCauseAnswer(TypedDict):
    """The repaired car, were this the cause. holds: chance that boost nowhere passes the target by more than the
    tolerance; cured: that it also reaches it and the repairs are for this cause."""

    id: str
    probability: float
    holds: float
    cured: float
    band: BandAnswer


class MarginAnswer(TypedDict):
    """A limit. told: it was given with the car, else it is usual. chance: that it is passed after the repair,
    chance_now: as the car stands. value, low, high: the worst along the pull, nine in ten between."""

    id: str
    title: str
    unit: Literal["kPa_gauge", "kPa_abs", "1", "m/s", "K"]
    limit: float
    told: bool
    value: float
    low: float
    high: float
    chance: float
    chance_now: float


class TriedAnswer(TypedDict):
    """One size: chances of not passing and of reaching the target, and the middle of the highest boost. holds counts,
    for what a gate passes, only where the gate is at its stop; everywhere counts the whole pull."""

    size: float
    holds: float
    everywhere: float
    reaches: float
    peak_kpa_gauge: float


class SizingAnswer(TypedDict):
    """Sizes of the trade. chosen: the least change that holds the target with the confidence, null where none does;
    next: the size beyond it, and gain what it adds. of_causes: supposed to be the fault; empty for all of them."""

    repair: str
    unit: Literal["mm", "kPa_gauge", "turns"]
    of_causes: list[str]
    confidence: float
    tried: list[TriedAnswer]
    chosen: TriedAnswer | None
    next: TriedAnswer | None
    gain: float | None


class AreaAnswer(TypedDict):
    """Effective gate area that the target needs over rpm (low, middle, high rows), what the repaired car has at full
    travel and what the car has as found (low, middle, high)."""

    rpm: list[float]
    needed_mm2: list[list[float]]
    there_mm2: list[float]
    found_mm2: list[float]


class SettingAnswer(TypedDict):
    """Setting of the controller for the target. floor: boost with the controller out, below which no setting goes."""

    turns: float
    sd: float
    per_turn_kpa: float
    floor_kpa_gauge: list[float]
    reachable: float
    far: bool


class InsteadAnswer(TypedDict):
    """Something to do without parts, and what it does not mend."""

    id: Literal["leave", "less-redline", "raise-target", "specialist"]
    title: str
    says: str
    hides: str
    rpm: float | None
    boost_kpa_gauge: float | None
    chance: float | None
    minutes: float | None


class FirstTestAnswer(TypedDict):
    """The best test still open."""

    id: str
    minutes: float
    minutes_saved: float


class CostsAnswer(TypedDict):
    """minutes, parts, money: of these repairs with the pull that proves them, low and high. The other minutes are
    expected over all that may be wrong, parts counted as minutes."""

    minutes: list[float]
    parts: list[float]
    money: list[float]
    money_per_hour: float
    cures: float
    repair_now_minutes: float
    best_order_minutes: float
    test_first_minutes: float | None
    first_test: FirstTestAnswer | None
    decision: Literal["repair now", "test first", "another repair first", "specialist"]


class ForecastAnswer(TypedDict):
    """The answer of ``boostproof forecast CASE --json``. together: the band over all causes, null where leading ones
    give bands that do not meet (apart names two of them): there is then no curve in between. found: as the car
    stands. Chances are over the known causes."""

    format: Literal[1]
    seed: int
    versions: dict[str, str]
    inputs: InputsAnswer
    car: str
    repairs: list[RepairAnswer]
    target_kpa_gauge: float
    target_known: bool
    tolerance_kpa: float
    confidence: float
    none_of_these: float
    rpm: list[float]
    together: BandAnswer | None
    by_cause: list[AfterCauseAnswer]
    apart: list[str]
    found: BandAnswer
    holds: float
    reaches: float
    margins: list[MarginAnswer]
    sizing: SizingAnswer | None
    area: AreaAnswer
    setting: SettingAnswer | None
    beside: list[InsteadAnswer]
    costs: CostsAnswer
    recheck_fuelling: bool
    findings: list[FindingAnswer]
    written: list[str]
    seconds: float


_UNITS = {"length": ("mm", 1e3), "pressure": ("kPa_gauge", 1e-3), "turns": ("turns", 1.0)}


def size_unit(size: Size) -> tuple[str, float]:
    """Unit in which sizes of a repair are told, and the factor to it."""
    return _UNITS[size.dimension]


def as_json(found: RepairForecast, *, pressure: str = "kPa") -> dict[str, Any]:
    """The answer object; sentences say pressures in the unit named."""
    r = found.result
    return {
        "format": 1, "seed": found.seed, "versions": found.versions, "inputs": found.inputs, "car": found.car,
        "repairs": [_repair(c, found) for c in found.repairs],
        "target_kpa_gauge": r.ramp.target / 1e3, "target_known": found.target is not None,
        "tolerance_kpa": found.tolerance / 1e3, "confidence": found.confidence,
        "none_of_these": found.none_of_these,
        "rpm": _numbers(r.ramp.speeds * 30.0 / np.pi, 0),
        "together": None if r.after is None else band_answer(r.after),
        "by_cause": [
            {"id": c.id, "probability": c.probability, "holds": c.holds, "cured": c.cured, "band": band_answer(c.band)}
            for c in r.by_cause
        ],
        "apart": list(r.apart), "found": band_answer(r.found), "holds": r.holds, "reaches": r.reaches,
        "margins": [
            {"id": m.id, "title": m.title, "unit": m.unit, "limit": m.limit, "told": m.told, "value": m.value,
             "low": m.low, "high": m.high, "chance": m.chance, "chance_now": m.chance_now}
            for m in r.margins
        ],
        "sizing": _sizing(found), "area": _area(found), "setting": _setting(found), "beside": _beside(found, pressure),
        "costs": _costs(found), "recheck_fuelling": r.fuelling,
        "findings": [f.as_dict() for f in found.findings], "written": [], "seconds": found.seconds,
    }  # fmt: skip


def _numbers(values: Any, digits: int) -> list[float]:
    return [round(float(v), digits) for v in values]


def band_answer(band: Band) -> dict[str, list[float]]:
    """A band as `BandAnswer`."""
    rows = {"low": band.low, "middle": band.middle, "high": band.high}
    return {f"{name}_kpa_gauge": _numbers(row / 1e3, 2) for name, row in rows.items()}


def _repair(c: Chosen, found: RepairForecast) -> dict[str, Any]:
    unit, factor = size_unit(c.repair.size) if c.repair.size is not None else (None, 1.0)
    return {
        "id": c.repair.id, "title": c.title, "written": c.written,
        "size": None if c.size is None else round(c.size * factor, 4), "unit": None if c.size is None else unit,
        "minutes": list(found.rates.minutes_of(c)), "parts": list(found.rates.parts_of(c)),
        "caution": c.repair.caution,
    }  # fmt: skip


def _sizing(found: RepairForecast) -> dict[str, Any] | None:
    s = found.result.sizing
    if s is None:
        return None
    size = next(c.repair.size for c in found.repairs if c.repair.id == s.repair)
    assert size is not None  # sized repairs only
    unit, factor = size_unit(size)

    def row(t: Tried | None) -> dict[str, float] | None:
        return None if t is None else {
            "size": round(t.size * factor, 4), "holds": t.holds, "everywhere": t.everywhere, "reaches": t.reaches,
            "peak_kpa_gauge": round(t.peak / 1e3, 2),
        }  # fmt: skip

    return {
        "repair": s.repair, "unit": unit, "of_causes": list(s.of_causes), "confidence": s.confidence,
        "tried": [row(t) for t in s.tried], "chosen": row(s.chosen), "next": row(s.next), "gain": s.gain,
    }  # fmt: skip


def _area(found: RepairForecast) -> dict[str, Any]:
    a = found.result.area
    return {
        "rpm": _numbers(a.speeds * 30.0 / np.pi, 0), "needed_mm2": [_numbers(row * 1e6, 1) for row in a.needed],
        "there_mm2": _numbers(a.there * 1e6, 1), "found_mm2": _numbers(a.found * 1e6, 1),
    }  # fmt: skip


def _setting(found: RepairForecast) -> dict[str, Any] | None:
    s = found.result.setting
    return None if s is None else {
        "turns": s.turns, "sd": s.sd, "per_turn_kpa": s.per_turn / 1e3,
        "floor_kpa_gauge": _numbers(np.array(s.floor) / 1e3, 2), "reachable": s.reachable, "far": s.far,
    }  # fmt: skip


def _beside(found: RepairForecast, pressure: str) -> list[dict[str, Any]]:
    from boostproof.bench.procedures import fill

    return [
        {
            "id": b.id, "title": b.title, "says": fill(b.says, pressure=pressure), "hides": b.hides,
            "rpm": None if b.speed is None else round(b.speed * 30.0 / np.pi),
            "boost_kpa_gauge": None if b.boost is None else round(b.boost / 1e3, 2), "chance": b.chance,
            "minutes": b.minutes,
        }
        for b in found.result.beside
    ]  # fmt: skip


def _costs(found: RepairForecast) -> dict[str, Any]:
    c = found.result.costs
    first = None if c.first is None else {"id": c.first.id, "minutes": c.first.minutes, "minutes_saved": c.first.saved}
    spans: dict[str, Sequence[float]] = {"minutes": c.minutes, "parts": c.parts, "money": c.money}
    return {
        **{name: _numbers(span, 1) for name, span in spans.items()}, "money_per_hour": found.rates.hour,
        "cures": c.cures, "repair_now_minutes": c.now, "best_order_minutes": c.best,
        "test_first_minutes": c.tested, "first_test": first, "decision": c.decision,
    }  # fmt: skip
