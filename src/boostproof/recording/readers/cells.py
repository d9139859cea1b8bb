"""Text cells of one column into float64, counting what holds no number."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from boostproof.recording.model import FloatArray
from boostproof.recording.readers.layout import CLOCK, NO_VALUE, WITH_UNIT, Decimal
from boostproof.units import find_unit, split_reference

if TYPE_CHECKING:
    import polars as pl

_SAMPLE = 400
_ABSURD = 1e19  # beyond anything logged; even a clock in nanoseconds since 1970 stays below
_SWITCH = {"on": 1.0, "off": 0.0, "true": 1.0, "false": 0.0, "yes": 1.0, "no": 0.0, "active": 1.0,
           "inactive": 0.0,
           "ein": 1.0, "aus": 0.0, "ja": 1.0, "nein": 0.0, "oui": 1.0, "non": 0.0, "si": 1.0, "open": 1.0,
           "closed": 0.0}  # fmt: skip
DAY, _HALF_DAY = 86_400.0, 43_200.0


@dataclass(frozen=True)
class Numbers:
    """Values of a column, how many cells were lost, a unit that stood in the cells, and if it is a clock."""

    values: FloatArray
    lost: int
    unit: str = ""
    clock: bool = False


def read_numbers(cells: pl.Series, decimal: Decimal) -> Numbers:
    """Read a column of text.

    Parameters
    ----------
    cells : polars Series of String
    decimal : decimal mark of the file; a column that clearly uses the other one is still read
    """
    import polars as pl

    sample = [cell.strip() for cell in cells.drop_nulls().head(_SAMPLE).to_list()]
    filled = [cell for cell in sample if cell.lower() not in NO_VALUE]
    if filled and sum(CLOCK.fullmatch(cell) is not None for cell in filled) > 0.8 * len(filled):
        return _read_clock(cells)
    words = {cell.lower() for cell in filled}
    if filled and words <= set(_SWITCH):
        plain = cells.str.strip_chars().str.to_lowercase().replace_strict(_SWITCH, default=None)
        return _numbers(plain.cast(pl.Float64))
    if _point_groups_thousands(filled, decimal):
        cells = cells.str.replace_all(".", "", literal=True)
    first = cells.str.replace_all(",", ".", literal=True) if decimal == "," else cells
    values = first.cast(pl.Float64, strict=False)
    failed = values.is_null() & cells.is_not_null()
    if not failed.any():
        return _numbers(values)
    mended, unit = _mend(cells.filter(failed), decimal)
    patched = values.to_numpy(allow_copy=True).copy()
    patched[failed.to_numpy()] = mended
    kept = _finite(patched)
    return Numbers(kept, int(np.count_nonzero(np.isnan(kept))), unit)


def _numbers(values: pl.Series) -> Numbers:
    return plain_numbers(values.to_numpy().astype(np.float64, copy=False))


def _finite(values: FloatArray) -> FloatArray:
    """Infinities and absurd numbers are how some loggers write "no value"."""
    absurd = np.abs(values) > _ABSURD
    return np.where(absurd, np.nan, values) if absurd.any() else values


def _point_groups_thousands(filled: list[str], decimal: Decimal) -> bool:
    """In a decimal-comma file "1.005" is a thousand and five if the column writes every larger number so."""
    if decimal == ".":
        return False
    dotted = [cell for cell in filled if "." in cell]
    grouped = all(re.fullmatch(r"[+-]?[1-9]\d{0,2}(?:\.\d{3})+(?:,\d+)?", cell) for cell in dotted)
    long = any(re.fullmatch(r"[+-]?\d{4,}(?:,\d+)?", cell) for cell in filled)
    return bool(dotted) and grouped and not long


def _mend(cells: pl.Series, decimal: Decimal) -> tuple[FloatArray, str]:
    """Second try for cells that did not read: blanks, thousands marks, a unit behind, the other mark."""
    import polars as pl

    text = cells.str.strip_chars().str.replace_all(r"^[=']|[\u00a0\u202f'’]", "")
    behind = text.str.extract(WITH_UNIT.pattern, 2).str.strip_chars()
    unit, factors = _units_behind(behind.drop_nulls().value_counts(sort=True)[behind.name].to_list())
    if unit:
        text = text.str.extract(WITH_UNIT.pattern, 1).fill_null(text)
    for _ in range(2):  # of three groups the middle one is behind a blank and before one
        text = text.str.replace_all(r"(\d) (\d{3})", "$1$2")
    other = "." if decimal == "," else ","
    ungrouped = text.str.replace_all(other, "", literal=True)
    if decimal == ",":
        ungrouped = ungrouped.str.replace_all(",", ".", literal=True)
        swapped = text.str.replace_all(",", "", literal=True)
    else:
        swapped = text.str.replace_all(".", "", literal=True).str.replace_all(",", ".", literal=True)
    # "1,234" in a file of decimal points is grouped; "12,5" there is a stray decimal comma.
    grouped = text.str.contains(r"^[+-]?\d{1,3}(?:[.,]\d{3})+(?:[.,]\d+)?$") | ~text.str.contains(
        other, literal=True
    )
    chosen = pl.select(pl.when(grouped).then(ungrouped).otherwise(swapped)).to_series()
    numbers = chosen.cast(pl.Float64, strict=False).to_numpy().astype(np.float64)
    if len(factors) < 2:
        return numbers, unit
    scale = behind.replace_strict(factors, default=None, return_dtype=pl.Float64).to_numpy().astype(np.float64)
    # Boost gauges write a vacuum with or without a sign: "20 inHg" below zero, "14 psi" above it.
    return np.where(scale < 0.0, -np.abs(numbers * scale), numbers * scale), unit


def _units_behind(texts: list[str]) -> tuple[str, dict[str, float]]:
    """The unit text behind the numbers of a column, and what a number behind each text is to be multiplied by.

    Parameters
    ----------
    texts : those that stand there, the commonest first. Several of one dimension are brought to the commonest; inHg
        beside psi is the scale of a boost gauge, with vacuum below zero (a factor below zero)
    """
    units = {text: find_unit(split_reference(text)[0]) for text in texts}
    known = {text: unit for text, unit in units.items() if unit is not None}
    if not known or len(known) < len(texts):
        return "", {}
    first = next(iter(known.values()))
    if {unit.name for unit in known.values()} == {"inHg", "psi"}:
        return "inHg/psi", {text: 1.0 if unit.name == "psi" else -1.0 for text, unit in known.items()}
    if any(unit.dimension != first.dimension or unit.offset != first.offset for unit in known.values()):
        return "", {}
    return texts[0], {text: unit.factor / first.factor for text, unit in known.items()}


def _read_clock(cells: pl.Series) -> Numbers:
    """Times of day (h:m:s, m:s, with or without a date) as seconds that go on over midnight and noon."""
    import polars as pl

    parts = [cells.str.extract(CLOCK.pattern, group) for group in (1, 2, 3, 4)]
    first, second, third = (
        part.cast(pl.Float64, strict=False).to_numpy().astype(np.float64) for part in parts[:3]
    )
    share = (pl.Series(["0."]).new_from_index(0, len(cells)) + parts[3]).cast(pl.Float64, strict=False)
    fraction = np.nan_to_num(share.to_numpy().astype(np.float64))
    with_hours = np.isfinite(third)
    seconds = np.where(with_hours, first * 3600.0 + second * 60.0 + third, first * 60.0 + second) + fraction
    return clock_numbers(seconds)


def clock_numbers(seconds: FloatArray) -> Numbers:
    """Times of day in seconds, NaN where there is none, made to go on over midnight and noon."""
    seconds = seconds.copy()
    known = np.flatnonzero(np.isfinite(seconds))
    steps = np.diff(seconds[known])
    laps = np.where(steps < -0.9 * DAY, DAY, np.where(np.abs(steps + _HALF_DAY) < 600.0, _HALF_DAY, 0.0))
    seconds[known[1:]] += np.cumsum(laps)
    return Numbers(seconds, len(seconds) - len(known), clock=True)


def plain_numbers(values: FloatArray) -> Numbers:
    """Numbers that a file stores as such: infinite and absurd ones count as lost."""
    kept = _finite(values)
    return Numbers(kept, int(np.count_nonzero(np.isnan(kept))))
