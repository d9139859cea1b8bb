"""The repairs that fit the leading causes of a case, each forecast and put through its sizes."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypedDict

import numpy as np

from boostproof.workflows.answer_parts import InputsAnswer
from boostproof.workflows.forecast_answers import ForecastAnswer
from boostproof.workflows.size_bands import SizesAnswer

if TYPE_CHECKING:
    from boostproof.diagnosis.causes import Fitted
    from boostproof.repair.forecast import Asked, Problem
    from boostproof.repair.model import Repair
    from boostproof.repair.sizing import Sizing
    from boostproof.workflows.forecast import RepairForecast
    from boostproof.workflows.open_case import OpenCase, Progress

LEAST = 0.10  # probability from which a cause has its repair among the options
_CAUSES, _OPTIONS = 3, 4


class CompressorAnswer(TypedDict):
    """Where the candidates run on the compressor's map: corrected flow and pressure ratio at each rpm, low, middle and
    high after the repair, and the middle as found."""

    rpm: list[float]
    flow_kg_s: list[list[float]]
    ratio: list[list[float]]
    found_flow_kg_s: list[float]
    found_ratio: list[float]
    reference_kpa_abs: float
    reference_k: float


class ForCauseAnswer(TypedDict):
    """A leading cause that a repair is for: it undoes it, or a large enough size makes up for it."""

    id: str
    title: str
    probability: float
    undone: bool


class OptionAnswer(TypedDict):
    """One repair with its forecast. sizes: null where it comes in none."""

    repairs: list[str]
    title: str
    for_causes: list[ForCauseAnswer]
    forecast: ForecastAnswer
    sizes: SizesAnswer | None
    compressor: CompressorAnswer


class RepairOptionsAnswer(TypedDict):
    """Options side by side. leading: the causes that they are for; more: ids of the other repairs for them."""

    format: Literal[1]
    seed: int
    versions: dict[str, str]
    inputs: InputsAnswer
    car: str
    leading: list[str]
    options: list[OptionAnswer]
    more: list[str]
    seconds: float


def repair_options(
    case: str | Path,
    *,
    options: Sequence[Sequence[str]] = (),
    hour: float | None = None,
    parts: Mapping[str, tuple[float, float]] | None = None,
    seed: int = 1,
    progress: Progress | None = None,
) -> dict[str, Any]:
    """Forecast the repairs that fit the leading causes of a case, side by side.

    A gate or a port is taken in the smallest size that holds the target; where none does, in the best of them.

    Parameters
    ----------
    case : folder
    options : repairs in words, in place of those that fit
    hour, parts : rates of the shop, as of `boostproof.workflows.forecast.forecast`
    seed : of all random numbers
    progress : called with what is being done and the share done

    Returns
    -------
    `RepairOptionsAnswer`

    Raises
    ------
    InputError
        If the case cannot be read, or a repair cannot be.
    """
    from boostproof.diagnosis.reasons.explain import involved
    from boostproof.workflows.forecast import asked_of, fitted_of, problem_of
    from boostproof.workflows.open_case import open_case, versions

    started = time.perf_counter()
    say = progress or (lambda text, share: None)
    fitted = fitted_of(case)
    asked = [asked_of(fitted, written, hour=hour, parts=parts) for written in options]
    opened = open_case(case, seed=seed, progress=lambda text, share: say(text, 0.4 * share))
    causes = involved(opened.posterior)
    leading = leading_causes(causes)
    fits = repairs_that_fit(causes, fitted)
    problem = problem_of(opened, seed)
    chosen: Sequence[Asked | Repair] = asked or fits[:_OPTIONS]
    made = []
    for k, one in enumerate(chosen):
        begin, width = 0.4 + 0.6 * k / len(chosen), 0.6 / len(chosen)

        def said(text: str, share: float, begin: float = begin, width: float = width) -> None:
            say(text, begin + width * share)

        made.append(_option(opened, problem, fitted, one, causes, hour, parts, seed, said))
    say("all repairs forecast", 1.0)
    shown = {r["id"] for option in made for r in option["forecast"]["repairs"]}
    return {
        "format": 1, "seed": seed, "versions": versions(), "inputs": opened.inputs, "car": opened.folder.car.car.name,
        "leading": leading, "options": made, "more": [r.id for r in fits if r.id not in shown],
        "seconds": round(time.perf_counter() - started, 3),
    }  # fmt: skip


def leading_causes(causes: Mapping[str, float]) -> list[str]:
    """Ids of the causes that repairs are looked for, most probable first.

    >>> leading_causes({"charge-leak": 0.2, "port-too-small": 0.7, "return-weak": 0.05})
    ['port-too-small', 'charge-leak']
    """
    ranked = sorted(causes, key=lambda i: (-causes[i], i))
    return [i for i in ranked if causes[i] >= LEAST][:_CAUSES] or ranked[:1]


def repairs_that_fit(causes: Mapping[str, float], fitted: Fitted | None = None) -> tuple[Repair, ...]:
    """Repairs for the leading causes: the usual one of each first, then those that serve most of them in least time.

    Parameters
    ----------
    causes : chance that each is involved, by id
    fitted : what the car has; None for any car

    >>> [r.id for r in repairs_that_fit({"port-too-small": 0.7, "port-entry-poor": 0.3})]
    ['port', 'entry', 'external gate']
    """
    from boostproof.repair.catalogue import repairs_for, usual_repair

    leading = leading_causes(causes)
    able = {i: repairs_for(i, fitted) for i in leading}
    usual = [usual_repair(i, fitted) for i in leading if able[i]]
    others = {r.id: r for some in able.values() for r in some}.values()

    def order(repair: Repair) -> tuple[float, float, str]:
        return -sum(causes[i] for i in leading if i in repair.covers), sum(repair.minutes), repair.id

    return tuple({r.id: r for r in [*usual, *sorted(others, key=order)]}.values())


def _option(
    opened: OpenCase,
    problem: Problem,
    fitted: Fitted,
    wanted: Asked | Repair,
    causes: Mapping[str, float],
    hour: float | None,
    parts: Mapping[str, tuple[float, float]] | None,
    seed: int,
    say: Any,
) -> dict[str, Any]:
    from boostproof.repair.forecast import Asked
    from boostproof.workflows.forecast import asked_of, forecast_of
    from boostproof.workflows.size_bands import has_sizes, sizes_of

    sizing = None
    if isinstance(wanted, Asked):
        asked = wanted
    else:
        say(f"looking for the size of: {wanted.title.lower()}", 0.0)
        written, sizing = _in_words(problem, wanted, seed)
        asked = asked_of(fitted, [written], hour=hour, parts=parts)
    title = " + ".join(c.title for c in asked.repairs)
    say(f"repairing the candidates: {title.lower()}", 0.3)
    found = forecast_of(opened, problem, asked, seed=seed, sizing=sizing)
    sizes = None
    if has_sizes(asked):
        sizes = sizes_of(
            problem, asked, seed=seed, said=lambda share: say(f"trying every size: {title.lower()}", 0.5 + 0.5 * share)
        )
    return {
        "repairs": [c.written for c in asked.repairs], "title": title, "for_causes": for_causes(asked, causes),
        "forecast": found.as_json(), "sizes": sizes, "compressor": _compressor(found, problem),
    }  # fmt: skip


def _in_words(problem: Problem, repair: Repair, seed: int) -> tuple[str, Sizing | None]:
    """A repair as asked for, of what passes exhaust in its best size."""
    from boostproof.repair.forecast import Asked, sizing_of
    from boostproof.repair.model import Chosen
    from boostproof.repair.words import shown

    if repair.size is None or not repair.size.capacity:
        return repair.id, None
    sizing = sizing_of(problem, Asked((Chosen(repair, repair.size.trade[-1], repair.size.tolerance),)), seed=seed)
    assert sizing is not None
    best = sizing.chosen or max(sizing.tried, key=lambda t: (t.holds, t.reaches))
    return f"{repair.id} {shown(best.size, repair.size)}", sizing


def for_causes(asked: Asked, causes: Mapping[str, float]) -> list[dict[str, Any]]:
    """Leading causes that some repairs are for, as `ForCauseAnswer`.

    Parameters
    ----------
    asked : the repairs
    causes : chance that each is involved, by id
    """
    from boostproof.diagnosis.causes import BY_ID

    out = []
    for i in leading_causes(causes):
        if any(i in c.repair.covers for c in asked.repairs):
            undone = any(i in c.repair.mends for c in asked.repairs)
            out.append({"id": i, "title": BY_ID[i].title, "probability": causes[i], "undone": undone})
    return out


def _compressor(found: RepairForecast, problem: Problem) -> dict[str, Any]:
    from boostproof.repair.compressor_band import compressor_band

    band = compressor_band(problem.cars, found.result.cars, problem.ramp, temperature=problem.temperature)

    def rows(values: Any, digits: int) -> list[Any]:
        return np.round(np.asarray(values, float), digits).tolist()  # type: ignore[no-any-return]

    return {
        "rpm": rows(band.speeds * 30.0 / np.pi, 0), "flow_kg_s": rows(band.flow, 5), "ratio": rows(band.ratio, 4),
        "found_flow_kg_s": rows(band.found_flow, 5), "found_ratio": rows(band.found_ratio, 4),
        "reference_kpa_abs": band.reference.pressure / 1e3, "reference_k": band.reference.temperature,
    }  # fmt: skip
