"""What programs get: the answers of the commands as types, and the JSON Schemas made of them.

``python -m boostproof.workflows.answers docs/schemas`` writes the schemas. A test holds every answer
against its schema, so that neither can change without the other.
"""

from __future__ import annotations

import json
import sys
import types
from pathlib import Path
from typing import (
    Any,
    Literal,
    NotRequired,
    TypedDict,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

from boostproof.workflows.answer_parts import FindingAnswer, InputsAnswer
from boostproof.workflows.figure_answers import (
    PullAirAnswer,
    RepeatsAnswer,
    ScatterAnswer,
    SetAnswer,
    SpanAnswer,
    ValueAnswer,
    WeatherAnswer,
)
from boostproof.workflows.first_look import FirstLookAnswer
from boostproof.workflows.forecast_answers import ForecastAnswer
from boostproof.workflows.plan_answers import PlanAnswer
from boostproof.workflows.proof_answers import (
    BandAnswer,
    DayAnswer,
    MeasuredAnswer,
    PowerAnswer,
    ProofVerdict,
    RangeAnswer,
    ReadingChangeAnswer,
    RoomAnswer,
    SwingAnswer,
)
from boostproof.workflows.repair_view import RepairOptionsAnswer
from boostproof.workflows.report_answers import ReportAnswer
from boostproof.workflows.scene_answers import SceneAnswer
from boostproof.workflows.size_bands import SizeBandsAnswer

DRAFT = "https://json-schema.org/draft/2020-12/schema"


class MetricAnswer(TypedDict):
    """A measured value with its standard deviation, in the unit of the metric's name."""

    value: float
    sd: float


class PullAnswer(TypedDict):
    """One pull; a metric that it cannot show is null."""

    recording: str
    from_s: float
    to_s: float
    rpm_from: float
    rpm_to: float
    full_load: bool
    ended: Literal["ceiling", "lifted", "end of file", "unknown"]
    metrics: dict[str, MetricAnswer | None]


class EvidenceAnswer(TypedDict):
    """Share of one source in a cause's log odds against all others together."""

    source: str
    nats: float
    strength: str
    says: str


class SeverityAnswer(TypedDict):
    """How far a parameter has moved; SI, with what it is on the sound car."""

    parameter: str
    value: float
    sd: float
    unit: str
    sound: float


class CauseAnswer(TypedDict):
    """One hypothesis; with healthy and none_of_these the probabilities sum to 1."""

    id: str
    parts: list[str]
    probability: float
    confirmed: bool
    severity: list[SeverityAnswer]
    evidence: list[EvidenceAnswer]


class LookAlikesAnswer(TypedDict):
    """Causes that the evidence leaves together, and the test that parts them."""

    ids: list[str]
    probability: float
    split_by: str | None


class NextTestAnswer(TypedDict):
    """A test still open, best first by minutes saved."""

    id: str
    minutes: float
    minutes_saved: float
    information_bits: float
    cost: float
    expected: dict[str, str]
    cautions: list[str]


class WouldChangeAnswer(TypedDict):
    """A reading of an open test with which another answer would lead (a cause, a pair, "healthy" or
    "none_of_these"), and the chance that the test reads so."""

    test: str
    when: str
    leader: str
    probability: float


class SensitivityAnswer(TypedDict):
    """What leads, and with which probability, where something else is assumed."""

    what: str
    leader: str
    probability: float


class FitAnswer(TypedDict):
    """How far to trust the numbers: least effective sample size, chance of so large a misfit, and the change
    of boost [kPa] when the cars named are computed again in double precision with half steps."""

    trust: Literal["ok", "about", "order only"]
    ess: float
    misfit: float
    audited_cars: int
    audit_difference: float


class UnknownAnswer(TypedDict):
    """A figure of car.toml that was not told, and the minutes of repair that knowing it would save."""

    name: str
    minutes_saved: float


class DiagnoseAnswer(TypedDict):
    """The answer of ``boostproof diagnose CASE --json``."""

    format: Literal[1]
    seed: int
    versions: dict[str, str]
    inputs: InputsAnswer
    causes: list[CauseAnswer]
    healthy: float
    none_of_these: float
    involved: dict[str, float]
    look_alikes: list[LookAlikesAnswer]
    next_tests: list[NextTestAnswer]
    would_change: list[WouldChangeAnswer]
    sensitivity: list[SensitivityAnswer]
    pulls: list[PullAnswer]
    findings: list[FindingAnswer]
    fit: FitAnswer
    used: list[str]
    missing: list[str]
    unknowns: list[UnknownAnswer]
    seconds: float


class FileAnswer(TypedDict):
    """The file as it was read."""

    kind: str
    rows: int
    rate_hz: float | None


class ChannelAnswer(TypedDict):
    """One column and what it was taken for."""

    name: str
    column: str
    unit: str
    reference: Literal["gauge", "abs"] | None
    sure: float
    why: str
    lost_cells: int


class OptionAnswer(TypedDict):
    """One answer to a question: in words, and as a column named for a channel."""

    label: str
    channel: str
    column: str
    unit: str | None
    reference: Literal["gauge", "abs"] | None


class QuestionAnswer(TypedDict):
    """What a person is asked about the columns; guess is the number of the option taken without an answer."""

    about: str
    asks: str
    options: list[OptionAnswer]
    guess: int | None


class InspectAnswer(TypedDict):
    """The answer of ``boostproof inspect FILE --json``."""

    format: Literal[1]
    file: FileAnswer
    channels: list[ChannelAnswer]
    pulls: list[PullAnswer]
    findings: list[FindingAnswer]
    questions: list[QuestionAnswer]
    weather: list[WeatherAnswer | None]
    repeats: RepeatsAnswer | None
    air: list[PullAirAnswer | None]
    written: list[str]


class CompareAnswer(TypedDict):
    """The answer of ``boostproof compare CASE --json``: boost after minus boost before over engine speed. The
    band holds the true difference at all engine speeds together in 95 of 100 comparisons or more."""

    format: Literal[1]
    before: SetAnswer
    after: SetAnswer
    verdict: Literal["different", "no different", "cannot tell"]
    says: str
    mean_difference_kpa: ValueAnswer
    p_value: float
    tells_from_kpa: float
    spans: list[SpanAnswer]
    scatter: ScatterAnswer
    coverage: float
    rpm: list[float]
    before_kpa_gauge: list[float]
    after_kpa_gauge: list[float]
    difference_kpa: list[float]
    sd_kpa: list[float]
    band_low_kpa: list[float]
    band_high_kpa: list[float]
    findings: list[FindingAnswer]
    written: list[str]


class HealthyAnswer(TypedDict):
    """Where the value of a sound car lies; null where it is open on that side."""

    low: float | None
    high: float | None
    why: str


class MeaningAnswer(TypedDict):
    """One figure of the car: in nine of ten cases the true value lies from low to high. Where limit is set the
    readings give one side only, and value is that limit. correlated: figures found together with it, by id, with
    the correlation of their errors."""

    id: str
    group: Literal["actuator", "controller", "line", "gate", "sensor", "engine"]
    name: str
    value: float
    sd: float
    unit: str
    low: float | None
    high: float | None
    limit: Literal["at least", "at most"] | None
    healthy: HealthyAnswer | None
    verdict: Literal["as it should be", "low", "high", "cannot tell"]
    says: str
    readings: list[str]
    correlated: dict[str, float]


class BenchAnswer(TypedDict):
    """The answer of ``boostproof bench CASE --json``."""

    format: Literal[1]
    seed: int
    car: str
    meanings: list[MeaningAnswer]
    findings: list[FindingAnswer]
    written: list[str]


class ProveAnswer(TypedDict):
    """The answer of ``boostproof prove CASE --json``. A change is claimed only beyond its expanded uncertainty; the
    band holds the true difference at all engine speeds together in 95 of 100 proofs or more."""

    format: Literal[1]
    seed: int
    before: SetAnswer
    after: SetAnswer
    verdict: ProofVerdict
    says: str
    next_step: str
    cautions: list[str]
    missing: list[str]
    ranges: list[RangeAnswer]
    overall_difference_kpa: MeasuredAnswer
    swings: list[SwingAnswer]
    still_outside: list[str]
    second_fault: list[str]
    margins: RoomAnswer
    weather: DayAnswer
    scatter: ScatterAnswer
    coverage_factor: float
    holds_from_rpm: float
    tolerance_kpa: float | None
    rpm: list[float]
    before_kpa_gauge: list[float]
    after_kpa_gauge: list[float]
    difference_kpa: list[float]
    band_low_kpa: list[float]
    band_high_kpa: list[float]
    target_kpa_gauge: list[float] | None
    stop_kpa_gauge: float | None
    forecast: BandAnswer | None
    forecast_says: str
    readings: list[ReadingChangeAnswer]
    power: PowerAnswer | None
    findings: list[FindingAnswer]
    written: list[str]


class ErrorBody(TypedDict):
    """What went wrong, where, and what to do."""

    kind: str
    where: str
    says: str
    do: str


class ErrorAnswer(TypedDict):
    """The answer of every command that was not done."""

    format: Literal[1]
    error: ErrorBody


ANSWERS: dict[str, type[Any]] = {
    "diagnose-answer": DiagnoseAnswer,
    "first-look-answer": FirstLookAnswer,
    "inspect-answer": InspectAnswer,
    "compare-answer": CompareAnswer,
    "bench-answer": BenchAnswer,
    "forecast-answer": ForecastAnswer,
    "repair-options-answer": RepairOptionsAnswer,
    "size-bands-answer": SizeBandsAnswer,
    "prove-answer": ProveAnswer,
    "plan-answer": PlanAnswer,
    "scene-answer": SceneAnswer,
    "report-answer": ReportAnswer,
    "error-answer": ErrorAnswer,
}

_PLAIN = {str: "string", bool: "boolean", int: "integer", float: "number", type(None): "null"}


def schema_of(annotation: Any) -> dict[str, Any]:
    """JSON Schema of an annotation made of typed dicts, lists, string-keyed dicts, literals and plain types.

    Raises
    ------
    TypeError
        For any other annotation.
    """
    if is_typeddict(annotation):
        hints = get_type_hints(annotation, include_extras=True)
        return {
            "type": "object",
            "description": (annotation.__doc__ or "").strip(),
            "properties": {name: schema_of(_inner(hint)) for name, hint in hints.items()},
            "required": [name for name, hint in hints.items() if get_origin(hint) is not NotRequired],
            "additionalProperties": False,
        }
    if annotation in _PLAIN:
        return {"type": _PLAIN[annotation]}
    origin, inside = get_origin(annotation), get_args(annotation)
    if origin is list:
        return {"type": "array", "items": schema_of(inside[0])}
    if origin is dict and inside[0] is str:
        return {"type": "object", "additionalProperties": schema_of(inside[1])}
    if origin is Literal:
        return {"enum": list(inside)}
    if origin in (Union, types.UnionType):
        return {"anyOf": [schema_of(part) for part in inside]}
    raise TypeError(f"no schema for {annotation!r}")


def _inner(hint: Any) -> Any:
    return get_args(hint)[0] if get_origin(hint) is NotRequired else hint


def schemas() -> dict[str, dict[str, Any]]:
    """Every answer's schema by name."""
    return {name: {"$schema": DRAFT, "title": name, **schema_of(answer)} for name, answer in ANSWERS.items()}


def write(folder: Path) -> None:
    """Write the schemas into a folder."""
    for name, schema in schemas().items():
        (folder / f"{name}.schema.json").write_text(json.dumps(schema, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]))
