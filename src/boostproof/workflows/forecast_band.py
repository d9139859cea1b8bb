"""The band of a forecast, out of the answer of ``boostproof forecast --json``."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError

if TYPE_CHECKING:
    Array = NDArray[np.float64]

LOW, HIGH = "low_kpa_gauge", "high_kpa_gauge"
_MIXED = ("mixed", "together", "all")  # where all answers are in one band


@dataclass(frozen=True)
class ForecastBand:
    """Boost expected after a repair, shape (n,) each [rpm, Pa gauge]."""

    rpm: Array = field(repr=False)
    low: Array = field(repr=False)
    high: Array = field(repr=False)


def read_band(file: Path) -> ForecastBand:
    """Read the band that takes all answers together; where there is none, the first that is there.

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
    bands = list(_bands(answer, (), None))
    if not bands:
        raise _no_band(file, f"{file.name} holds no band of boost over engine speed.")
    mixed = [band for keys, band in bands if any(key in _MIXED for key in keys)]
    return (mixed or [band for _, band in bands])[0]


def _bands(
    part: Any, keys: tuple[str, ...], rpm: list[float] | None
) -> Iterator[tuple[tuple[str, ...], ForecastBand]]:
    """Every band in an answer; one without engine speeds has those of what it stands in."""
    if isinstance(part, list):
        for one in part:
            yield from _bands(one, keys, rpm)
    if not isinstance(part, Mapping):
        return
    rpm = _numbers(part.get("rpm")) or rpm
    low, high = _numbers(part.get(LOW)), _numbers(part.get(HIGH))
    if rpm and low and high and len(low) == len(high) == len(rpm):
        yield keys, ForecastBand(np.array(rpm, float), 1e3 * np.array(low, float), 1e3 * np.array(high, float))
    for key, inside in part.items():
        yield from _bands(inside, (*keys, str(key)), rpm)


def _numbers(values: Any) -> list[float] | None:
    if isinstance(values, list) and values and all(isinstance(v, (int, float)) for v in values):
        return values
    return None


def _no_band(file: Path, says: str) -> InputError:
    return InputError(
        says, kind="no-band", where=str(file),
        do=f"Give the answer of 'boostproof forecast --json', with rpm, {LOW} and {HIGH}.",
    )  # fmt: skip
