"""A case through every size of a repair, as a person slides through them: bands that may be drawn at once."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypedDict

import numpy as np

from boostproof.errors import InputError
from boostproof.workflows.answer_parts import InputsAnswer
from boostproof.workflows.forecast_answers import BandAnswer, band_answer, size_unit

if TYPE_CHECKING:
    from boostproof.repair.forecast import Asked, Problem
    from boostproof.repair.size_bands import AtSize
    from boostproof.workflows.open_case import Progress


class SizeCauseAnswer(TypedDict):
    """The repaired car in one size, were this the cause."""

    id: str
    probability: float
    holds: float
    band: BandAnswer


class AtSizeAnswer(TypedDict):
    """One size. together: null where leading causes give bands that do not meet (apart names two). enough: as holds,
    but counted only where the gate is open as far as it goes. stopped: chance that the stop boost is passed."""

    size: float
    together: BandAnswer | None
    by_cause: list[SizeCauseAnswer]
    apart: list[str]
    holds: float
    enough: float
    reaches: float
    stopped: float
    peak_kpa_gauge: float


class SizesAnswer(TypedDict):
    """Every size of the trade of one repair, the others of ``repairs`` as written. of: what is measured."""

    repairs: list[str]
    repair: str
    of: str
    unit: Literal["mm", "kPa_gauge", "turns"]
    capacity: bool
    lowers: bool
    target_kpa_gauge: float
    tolerance_kpa: float
    confidence: float
    candidates: int
    rpm: list[float]
    sizes: list[AtSizeAnswer]


class SizeBandsAnswer(SizesAnswer):
    """The same as an answer of its own."""

    format: Literal[1]
    seed: int
    versions: dict[str, str]
    inputs: InputsAnswer
    car: str
    seconds: float


def size_bands(
    case: str | Path,
    repairs: Sequence[str],
    *,
    tolerance: str | None = None,
    confidence: float | None = None,
    hour: float | None = None,
    parts: Mapping[str, tuple[float, float]] | None = None,
    seed: int = 1,
    progress: Progress | None = None,
) -> dict[str, Any]:
    """Bands of a case for every size of the first repair that has sizes.

    Parameters
    ----------
    case, repairs, tolerance, confidence, hour, parts, seed, progress : as of `boostproof.workflows.forecast.forecast`

    Returns
    -------
    `SizeBandsAnswer`

    Raises
    ------
    InputError
        If the case or a repair cannot be read, or none of the repairs has sizes.
    """
    from boostproof.workflows.forecast import asked_of, fitted_of, problem_of
    from boostproof.workflows.open_case import open_case, versions

    started = time.perf_counter()
    say = progress or (lambda text, share: None)
    asked = asked_of(
        fitted_of(case), repairs, tolerance=tolerance, confidence=confidence, hour=hour, parts=parts
    )
    if not has_sizes(asked):
        raise InputError(
            f"{', '.join(c.repair.title.lower() for c in asked.repairs)}: that comes in no sizes.", kind="no-sizes",
            where="repairs", do="Choose a repair with sizes, such as a port, a spring or a setting.",
        )  # fmt: skip
    opened = open_case(case, seed=seed, progress=lambda text, share: say(text, 0.6 * share))
    sizes = sizes_of(
        problem_of(opened, seed), asked, seed=seed, said=lambda share: say("trying every size", 0.6 + 0.4 * share)
    )
    return {
        "format": 1, "seed": seed, "versions": versions(), "inputs": opened.inputs, "car": opened.folder.car.car.name,
        **sizes, "seconds": round(time.perf_counter() - started, 3),
    }  # fmt: skip


def has_sizes(asked: Asked) -> bool:
    """Whether one of the repairs comes in sizes."""
    from boostproof.repair.forecast import sized_of

    return sized_of(asked.repairs) is not None


def sizes_of(problem: Problem, asked: Asked, *, seed: int, said: Any = None) -> dict[str, Any]:
    """`SizesAnswer` of repairs of which one has sizes.

    Parameters
    ----------
    problem : the case
    asked : repairs and what is wanted of them
    seed : of all random numbers
    said : called with the share done
    """
    from boostproof.repair.forecast import sized_of
    from boostproof.repair.size_bands import CANDIDATES, over_sizes

    sized = sized_of(asked.repairs)
    assert sized is not None
    repair = asked.repairs[sized].repair
    assert repair.size is not None
    unit, factor = size_unit(repair.size)
    found = over_sizes(problem, asked, sized, seed=seed, said=said)
    return {
        "repairs": [c.written for c in asked.repairs], "repair": repair.id, "of": repair.size.of, "unit": unit,
        "capacity": repair.size.capacity, "lowers": repair.size.lowers,
        "target_kpa_gauge": problem.ramp.target / 1e3, "tolerance_kpa": asked.tolerance / 1e3,
        "confidence": asked.confidence, "candidates": min(CANDIDATES, problem.cars.count),
        "rpm": [round(float(v)) for v in problem.ramp.speeds * 30.0 / np.pi],
        "sizes": [_at(one, factor) for one in found],
    }  # fmt: skip


def _at(one: AtSize, factor: float) -> dict[str, Any]:
    return {
        "size": round(one.size * factor, 4), "together": None if one.after is None else band_answer(one.after),
        "by_cause": [
            {"id": c.id, "probability": c.probability, "holds": c.holds, "band": band_answer(c.band)}
            for c in one.by_cause
        ],
        "apart": list(one.apart), "holds": one.holds, "enough": one.enough, "reaches": one.reaches,
        "stopped": one.stopped, "peak_kpa_gauge": round(one.peak / 1e3, 2),
    }  # fmt: skip
