"""Values of a column in SI: by its unit, or by the one unit in which they make sense."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from boostproof.recording.columns.channel_table import Row
from boostproof.recording.columns.ratio_steps import step_of_ratio, step_words
from boostproof.recording.columns.thinned import thin
from boostproof.recording.model import Channel, FloatArray
from boostproof.units import Unit, get_unit

# Units that headers name wrongly, by dimension, the likelier first.
_MISNAMED = {
    "temperature": ("C", "F", "K"), "speed": ("km/h", "mph", "m/s"), "rotational_speed": ("rpm", "krpm"),
}  # fmt: skip

_LEAST_RPM = {"engine_speed": 20.0, "shaft_speed": 1000.0}  # no log worth reading stays below


@dataclass(frozen=True)
class Scaled:
    """Values in SI, the unit they were read in, how sure that unit is, and why where it was guessed.

    ``factor`` and ``offset`` are the line from the numbers as written to SI; ``said_unit`` is the unit that
    the file names where the numbers contradict it.
    """

    values: FloatArray
    unit: str
    sure: float
    reason: str
    factor: float = 1.0
    offset: float = 0.0
    said_unit: str = ""


def scale_values(values: FloatArray, row: Row, unit: Unit | None, channels: Mapping[str, Channel]) -> Scaled:
    """Bring a column that is no pressure into SI.

    Parameters
    ----------
    values : as written
    row : the channel it is
    unit : unit where the file names one
    channels : channels read so far: temperatures of one file are taken in one unit
    """
    if unit is not None and unit.dimension != row.dimensions[0] and unit.dimension != "ratio":
        return _own_scale(values, unit, row)
    if unit is None or (unit.dimension == "ratio" and row.dimensions[0] == "fraction"):
        if not row.default_unit:
            return _ratio(values, row)
        unit_name, sure, reason = _guess(values, row, channels)
        if unit_name == "1":
            return Scaled(values, "", sure, reason)
        if unit_name == "own":
            return _own_scale(values, get_unit("V" if _top(values) < 6.0 else "%"), row)
        taken = get_unit(unit_name, row.dimensions[0])
        si = _in_si(values, taken)
        return Scaled(si, taken.name, sure, reason, taken.factor, taken.offset)
    if unit.dimension == "ratio":
        return Scaled(values, "", 1.0, "")
    if row.name in _LEAST_RPM and unit.name == "rpm" and 0.0 < _top(values) < _LEAST_RPM[row.name]:
        taken = get_unit("krpm", "rotational_speed")
        reason = f"up to {_top(values):.4g} can only be thousands of rpm"
        return Scaled(values * taken.factor, taken.name, 0.8, reason, taken.factor, said_unit=unit.name)
    differs = _misnamed(values, row, unit) or _like_the_coolant(values, row, unit, channels)
    if differs is not None:
        return differs
    return Scaled(_in_si(values, unit), unit.name, 1.0, "", unit.factor, unit.offset)


def _ratio(values: FloatArray, row: Row) -> Scaled:
    """A plain number, or a mixture written in tenths, hundredths or thousandths."""
    some = thin(values)
    step = step_of_ratio(some[np.isfinite(some)], row.name)
    if step == 1.0:
        return Scaled(values, "", 1.0, "")
    reason = f"up to {_top(values):.4g} can only be {step_words(step)}"
    return Scaled(values / step, "", 0.8, reason, 1.0 / step)


def _in_si(values: FloatArray, unit: Unit) -> FloatArray:
    """The same numbers in SI; long columns are gone through as seldom as can be."""
    if unit.factor == 1.0 and unit.offset == 0.0:
        return values
    si = values * unit.factor if unit.factor != 1.0 else values + unit.offset
    if unit.factor != 1.0 and unit.offset != 0.0:
        si += unit.offset
    return si


def _misnamed(values: FloatArray, row: Row, unit: Unit) -> Scaled | None:
    """Numbers that cannot be in the unit that the header names, in the only one that they can be in."""
    dimension = row.dimensions[0]
    if dimension == "fraction":
        if not (row.name in ("throttle", "pedal") and _is_share(values)):
            return None
        reason = f"the header says {unit.name}, but it runs from shut to {_top(values):.3g} as a share of 1 does"
        return Scaled(values, "", 0.6, reason, said_unit=unit.name)
    if dimension not in _MISNAMED or _inside(values, row, unit) > 0.5:
        return None
    fitting = [u for u in (get_unit(n, dimension) for n in _MISNAMED[dimension]) if _inside(values, row, u) > 0.95]
    if not fitting:
        return None
    taken = fitting[0]
    reason = f"the header says {unit.name}, but up to {_top(values):.4g} can only be {taken.name}"
    si = _in_si(values, taken)
    return Scaled(si, taken.name, 1.0, reason, taken.factor, taken.offset, unit.name)


def _like_the_coolant(
    values: FloatArray, row: Row, unit: Unit, channels: Mapping[str, Channel]
) -> Scaled | None:
    """A temperature whose header names the same unit as the coolant's, and that unit is wrong there."""
    coolant = channels.get("coolant_temperature")
    if row.dimensions[0] != "temperature" or coolant is None or coolant.said_unit != unit.name:
        return None
    taken = get_unit(coolant.unit, "temperature")
    if _inside(values, row, taken) < 0.95:
        return None
    reason = f"the header says {unit.name}, but the coolant, said to be in {unit.name} too, is in {taken.name}"
    si = _in_si(values, taken)
    return Scaled(si, taken.name, 0.8, reason, taken.factor, taken.offset, unit.name)


def _inside(values: FloatArray, row: Row, unit: Unit) -> float:
    some = thin(values) * unit.factor + unit.offset
    some = some[np.isfinite(some)]
    return float(np.mean((some >= row.low) & (some <= row.high))) if some.size else 1.0


def _is_share(values: FloatArray) -> bool:
    """From shut to wide open within 0 to 1, as no throttle in per cent runs."""
    some = thin(values)
    some = some[np.isfinite(some)]
    if some.size < 20:
        return False
    low, high = np.percentile(some, [5.0, 99.5])
    return bool(0.7 < high < 1.05 and low < 0.3 * high and len(np.unique(some)) >= 10)


def _top(values: FloatArray) -> float:
    values = thin(values)
    finite = values[np.isfinite(values)]
    return float(np.percentile(finite, 99.5)) if finite.size else 0.0


def _middle(values: FloatArray) -> float:
    values = thin(values)
    finite = values[np.isfinite(values)]
    return float(np.median(finite)) if finite.size else 0.0


def _own_scale(values: FloatArray, unit: Unit, row: Row) -> Scaled:
    """A throttle in volts or degrees has its own ends for a scale: shut is 0, widest is 1."""
    if row.dimensions[0] == "rotational_speed":  # revolutions a second
        factor = 2.0 * np.pi * unit.factor
        return Scaled(values * factor, unit.name, 0.8, "revolutions counted per second", factor)
    finite = thin(values)
    finite = finite[np.isfinite(finite)]
    low, high = (float(np.percentile(finite, share)) for share in (0.2, 99.8)) if finite.size else (0.0, 1.0)
    if unit.dimension == "angle":
        low = min(low, 0.0)
    span = high - low if high > low else 1.0
    return Scaled(
        (values - low) / span,
        unit.name,
        0.9,
        f"read between its own ends, {low:.3g} and {high:.3g}{_shown(unit)}",
        1.0 / span,
        -low / span,
    )


def _shown(unit: Unit) -> str:
    """A unit behind its numbers; counts of a converter, which pass for per cent, have none."""
    return "" if unit.name == "%" else f" {unit.name}"


def _guess(values: FloatArray, row: Row, channels: Mapping[str, Channel]) -> tuple[str, float, str]:
    """(unit, certainty, reason) for a column without unit; unit "1" for a plain share."""
    top = _top(values)
    dimension = row.dimensions[0]
    if dimension == "rotational_speed":
        least = 1000.0 if row.name == "shaft_speed" else 30.0
        name = "rpm" if top > least else "krpm"
        return name, 0.98 if name == "rpm" else 0.8, f"no unit given; up to {top:.4g} is {name}"
    if dimension == "fraction":
        if top <= 1.2:
            return "1", 0.9, f"no unit given; up to {top:.3g} is a share of 1"
        if row.name in ("throttle", "pedal") and (top < 5.3 or top > 130.0):
            return "own", 0.8, ""  # volts, or counts of a converter
        return "%", 0.97 if top <= 130.0 else 0.5, ""
    if dimension == "temperature":
        return _guess_temperature(values, row, channels)
    if dimension == "mass_flow":
        name = "kg/h" if top > 420.0 else "g/s" if top > 70.0 else "lb/min"
        return name, 0.7, f"no unit given; up to {top:.4g} is likeliest {name}"
    sure = 0.97 if dimension in ("angle", "voltage") else 0.8
    return row.default_unit, sure, "" if sure > 0.9 else f"no unit given; taken as {row.default_unit}"


def _guess_temperature(
    values: FloatArray, row: Row, channels: Mapping[str, Channel]
) -> tuple[str, float, str]:
    beside = [c.unit for c in channels.values() if c.unit in ("C", "F", "K") and c.name != row.name]
    middle = _middle(values)
    if row.name == "coolant_temperature":
        name = "K" if middle > 280.0 else "F" if middle > 135.0 else "C"
    elif row.name.startswith("exhaust"):
        name = beside[0] if beside else "F" if middle > 1120.0 else "C"
    else:
        name = beside[0] if beside else "K" if middle > 250.0 else "F" if middle > 78.0 else "C"
    same = "like the other temperatures" if beside and name == beside[0] else f"{middle:.4g} in the middle"
    return name, 0.85, f"no unit given; {same}, so {name}"
