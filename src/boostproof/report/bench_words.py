"""What a figure behind bench readings is, in words: measured, sound, and what is said of it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from boostproof.units import from_si, get_unit

_PRESSURES = {"kPa gauge": " gauge", "kPa abs": " abs", "kPa": "", "kPa/mm": "/mm", "kPa/min": "/min", "kPa/turn": "/turn"}
_OTHERS = {"1": "", "mm2": " mm²", "deg": "°", "%": " %"}


def meaning_in_words(m: Mapping[str, Any], units: str) -> tuple[str, str, str, str]:
    """One meaning of the bench answer for a person.

    Parameters
    ----------
    m : as in the bench answer (formats.md, Answers)
    units : of pressure

    Returns
    -------
    name, measured value with its doubt, that of a sound car ("-" where it is not known), what is said of it
    """
    factor, unit = shown_in(m["unit"], units)
    healthy = m["healthy"]
    ends = [] if healthy is None else [healthy[k] * factor for k in ("low", "high") if healthy[k] is not None]
    numbers = [m["value"] * factor, *ends]
    digits = digits_of(2.0 * m["sd"] * factor, numbers)
    said = {"cannot tell": "" if healthy is None else "cannot tell: "}.get(m["verdict"], f"{m['verdict']}: ")
    if m["verdict"] == "as it should be":
        return (m["name"], _measured(m, factor, digits) + unit, _range(healthy, factor, digits), m["verdict"])
    return (m["name"], _measured(m, factor, digits) + unit, _range(healthy, factor, digits), said + m["says"])


def _measured(m: Mapping[str, Any], factor: float, digits: int) -> str:
    value = f"{round(m['value'] * factor, digits) + 0.0:.{digits}f}"  # no zero with a minus sign
    if m["limit"]:
        return f"{m['limit']} {value}"
    return f"{value} ± {2.0 * m['sd'] * factor:.{digits}f}"


def _range(healthy: Mapping[str, Any] | None, factor: float, digits: int) -> str:
    if healthy is None:
        return "-"
    low, high = (None if healthy[k] is None else f"{healthy[k] * factor:.{digits}f}" for k in ("low", "high"))
    if low is None or (healthy["low"] == 0.0 and high is not None):
        return f"up to {high}"
    return f"from {low}" if high is None else f"{low} to {high}"


def shown_in(unit: str, units: str) -> tuple[float, str]:
    """Factor from the unit of the answer to the one shown, and how that is written behind a number."""
    if unit in _PRESSURES:
        chosen = get_unit(units, "pressure")
        return float(from_si(1e3, chosen)), f" {chosen.name}{_PRESSURES[unit]}"
    return 1.0, _OTHERS.get(unit, f" {unit}")


def digits_of(doubt: float, numbers: Sequence[float]) -> int:
    """Decimals so that the doubt shows two figures, or the numbers three where there is no doubt."""
    largest = max((abs(n) for n in numbers), default=0.0)
    size = doubt if doubt > 0.0 else 0.1 * largest
    if size <= 0.0:
        return 1
    return int(min(max(1 - math.floor(math.log10(size)), 0), 5))
