"""The bands of a forecast, out of the answer of ``boostproof forecast --json``."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError

if TYPE_CHECKING:
    Array = NDArray[np.float64]

LOW, HIGH = "low_kpa_gauge", "high_kpa_gauge"


@dataclass(frozen=True)
class ForecastBand:
    """Boost expected after a repair, shape (n,) each [rpm, Pa gauge]; ``of`` the cause it is for, empty for all."""

    rpm: Array = field(repr=False)
    low: Array = field(repr=False)
    high: Array = field(repr=False)
    of: str = ""


def read_bands(file: Path) -> tuple[ForecastBand, ...]:
    """Read the band over all causes; where the causes part too much for one, a band for each.

    Raises
    ------
    InputError
        If the file cannot be read, is no such answer, or holds no band.
    """
    try:
        answer = json.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(
            f"{file.name} cannot be read ({error.strerror or 'no access'}).", kind="cannot-read", where=str(file),
            do="Write the answer of 'boostproof forecast --json' into a file and name it.",
        ) from None  # fmt: skip
    except ValueError:
        raise _no_band(file, f"{file.name} is no JSON answer.") from None
    bands = _bands(answer) if isinstance(answer, Mapping) else ()
    if not bands:
        raise _no_band(file, f"{file.name} holds no band of boost over engine speed.")
    return bands


def _bands(answer: Mapping[str, Any]) -> tuple[ForecastBand, ...]:
    """Of the whole answer, or of a plain object with the band itself; never that of the car as it was found."""
    rpm = answer.get("rpm")
    for part in (answer.get("together"), answer):
        band = _band(rpm, part, "")
        if band is not None:
            return (band,)
    causes = answer.get("by_cause")
    rows = [row for row in causes if isinstance(row, Mapping)] if isinstance(causes, list) else []
    found = [_band(rpm, row.get("band"), str(row.get("id", ""))) for row in rows]
    return tuple(band for band in found if band is not None)


def _band(rpm: Any, part: Any, of: str) -> ForecastBand | None:
    if not isinstance(part, Mapping):
        return None
    rows = [_numbers(values) for values in (rpm, part.get(LOW), part.get(HIGH))]
    if not rows[0] or any(row is None or len(row) != len(rows[0]) for row in rows):
        return None
    speed, low, high = (np.array(row, float) for row in rows)
    return ForecastBand(speed, 1e3 * low, 1e3 * high, of)


def _numbers(values: Any) -> list[float] | None:
    if isinstance(values, list) and values and all(isinstance(v, (int, float)) for v in values):
        return values
    return None


def _no_band(file: Path, says: str) -> InputError:
    return InputError(
        says, kind="no-band", where=str(file),
        do=f"Give the answer of 'boostproof forecast --json', with rpm, {LOW} and {HIGH}.",
    )  # fmt: skip
