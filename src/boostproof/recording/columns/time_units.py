"""In which unit a clock counts: as its header says, or as its steps and the engine speed beside it tell."""

from __future__ import annotations

import numpy as np

from boostproof.recording.model import Column, FloatArray
from boostproof.units import Unit, get_unit

_FASTEST, _SLOWEST = 5000.0, 0.33  # rows a second that a log can have
_DAYS = ("day", "ns")
_RISE, _LEAST_S, _MOST_S = 1000.0, 1.5, 60.0  # rpm that a pull gains, and the seconds that takes


def time_unit(column: Column, unit: Unit | None, engine_speed: FloatArray | None, *, named: bool) -> Unit:
    """The unit of a time column.

    Parameters
    ----------
    column : as written
    unit : where the file names one
    engine_speed : numbers of the engine speed column as written, None where there is none
    named : the header says time; else it only runs like a clock, and may count anything
    """
    if column.clock:
        return get_unit("s", "time")
    values = column.values[np.isfinite(column.values)]
    steps = np.diff(values)
    rising = steps[steps > 0.0]
    step = float(np.median(rising)) if rising.size else 0.0
    if unit is not None and unit.name not in ("s", "ms"):
        return unit
    for name in _DAYS if unit is None and step > 0.0 else ():
        if _possible(step, name) and not any(_possible(step, other) for other in ("s", "ms", "us")):
            return get_unit(name, "time")
    taken = get_unit(_by_steps(values, step, unit, engine_speed), "time")
    if unit is None and not named and engine_speed is not None and taken.name == "ms":
        return _by_rises(column.values, engine_speed, taken)
    return taken


def _possible(step: float, unit: str) -> bool:
    return _SLOWEST < 1.0 / (step * get_unit(unit, "time").factor) < _FASTEST


def _by_steps(values: FloatArray, step: float, unit: Unit | None, engine_speed: FloatArray | None) -> str:
    if unit is not None and unit.name == "ms":
        return "s" if step < 0.2 else "ms"
    if unit is not None:
        # No log that is of use takes a sample every three seconds or less often.
        return "ms" if step > 3.0 and len(values) > 30 else "s"
    if not np.all(values == np.round(values)):
        return "ms" if step > 3.0 else "s"
    if step >= 2000.0:
        return "us"
    if step > 1.0:
        return "ms"
    if engine_speed is None:
        return "s"
    change = np.abs(np.diff(engine_speed[np.isfinite(engine_speed)]))
    return "s" if change.size and float(np.percentile(change, 99.0)) > 30.0 else "ms"


def _by_rises(clock: FloatArray, engine_speed: FloatArray, taken: Unit) -> Unit:
    """Milliseconds, or hundredths of a second where in milliseconds no engine could gain speed so fast."""
    ten = get_unit("10 ms", "time")
    longest = _longest_rise(clock, engine_speed)
    fits = longest * taken.factor < _LEAST_S <= longest * ten.factor < _MOST_S
    return ten if fits else taken


def _longest_rise(clock: FloatArray, engine_speed: FloatArray) -> float:
    """Counts that the engine speed took to rise by 1000 rpm at least without falling, at its longest."""
    told = np.isfinite(clock) & np.isfinite(engine_speed)
    count, speed = clock[told], engine_speed[told]
    if len(speed) < 10:
        return 0.0
    calm = np.convolve(np.pad(speed, 2, mode="edge"), np.full(5, 0.2), "valid")
    falls = np.concatenate([[-1], np.flatnonzero(np.diff(calm) < 0.0), [len(calm) - 1]])
    first, last = falls[:-1] + 1, falls[1:]
    gained = calm[last] - calm[np.minimum(first, last)] >= _RISE
    return float(np.max(count[last] - count[np.minimum(first, last)], where=gained, initial=0.0))
