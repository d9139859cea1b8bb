"""Readings that cannot have been so: questioned with a finding, and left out of the likelihood.

What reading the file already questions (full travel below first movement, movement above the highest
pressure put on, a leak that rises) is left out here as well, with the sentence that says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from typing import Any

import numpy as np

from boostproof.bench import readings as kinds
from boostproof.bench.tests.model import CarContext, Gauge, gauge_of, number
from boostproof.findings import Finding
from boostproof.quantity import Quantity

IMPOSSIBLE, CONTRADICTING = "impossible-reading", "contradicting-readings"
_AGAIN = "Read it again, or correct the figure."
_BOTH_AGAIN = "Do the test once more; both are used until then."
_LARGEST_HOLE = 2.0e-5  # m2, effective, more than any signal hose or vent has
_FREE_AIR = 0.0404 / np.sqrt(293.15) / 1.185  # m3/s of free air per m2 and Pa of choked flow
_LONGEST_TRAVEL = 3.0e-2  # m at the rod, more than any actuator of this kind gives
_STATE_KEYS = ("turns_in", "solenoid", "state")


@dataclass(frozen=True)
class _Doubt:
    """What is wrong with one reading, and the reading without it."""

    says: str
    without: Any


def question(
    readings: Sequence[Any], gauge: Any, context: CarContext, file: str = "readings.toml"
) -> tuple[tuple[Any, ...], list[Finding]]:
    """Readings without what cannot have been so, and the findings that say what was left out or disagrees.

    Parameters
    ----------
    readings : in the order of the file
    gauge : of the file, None where not described
    context : what is known of the car
    file : name for the findings

    Returns
    -------
    readings as they may enter the likelihood, same length and order; findings
    """
    kept: list[Any] = []
    findings: list[Finding] = []
    for i, reading in enumerate(readings):
        found = gauge_of(reading.gauge or gauge)
        cleaned = reading
        if reading.not_done is None:
            for doubt in _doubts(reading, found, context):
                findings.append(Finding(IMPOSSIBLE, _place(file, i, reading), doubt.says, _AGAIN))
                cleaned = _both(cleaned, reading, doubt.without)
        kept.append(cleaned)
    findings += _between(kept, gauge, file)
    return tuple(kept), findings


def _place(file: str, index: int, reading: Any) -> str:
    return f"{file}, reading {index + 1} ({reading.test})"


def _both(cleaned: Any, original: Any, without: Any) -> Any:
    """What two doubts leave of one reading: a value that either took away is away."""
    gone = {
        name: getattr(without, name)
        for name in original.__dataclass_fields__
        if getattr(without, name) != getattr(original, name)
    }
    return replace(cleaned, **gone)


def _doubts(reading: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    for kind, check in _CHECKS:
        if isinstance(reading, kind):
            yield from check(reading, gauge, context)


def _apart(gauge: Gauge, first: float = 1.2e3, second: float = 1.2e3) -> float:
    """By how much two readings of one gauge may differ for no reason, hardly ever more. [Pa]

    ``first``, ``second``: how well a person sees the moment [Pa], as the sweeps take it.
    """
    return 3.0 * float(np.hypot(gauge.noise(first), gauge.noise(second)))


# -- air on the signal side --------------------------------------------------------------------------


def _sweep(r: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    error = _apart(gauge)
    first, full, back = number(r.first_movement), number(r.full_travel), number(r.last_return)
    if first is not None and full is not None and full < first - _apart(gauge, 1.5e3, 4.0e3):
        yield _Doubt(
            f"Full travel at {r.full_travel} below first movement at {r.first_movement} cannot be: both are left out.",
            replace(r, first_movement=None, full_travel=None),
        )
    if r.first_movement == "none" and full is not None:
        yield _Doubt(
            f"Full travel at {r.full_travel} without any movement cannot be: full travel is left out.",
            replace(r, full_travel=None),
        )
    for key in ("first_movement", "full_travel"):
        seen = getattr(r, key)
        top = number(r.supply_up_to)
        if isinstance(seen, Quantity) and top is not None and seen.value > top + max(error, 2.0 * r.supply_up_to.sd):
            name = key.replace("_", " ")
            yield _Doubt(
                f"{name.capitalize()} at {seen} with no more than {r.supply_up_to} put on cannot be: it is left out.",
                replace(r, **{key: None}),
            )
    if first is not None and back is not None and back > first + _apart(gauge, 1.5e3, 3.0e3):
        yield _Doubt(
            f"Home again at {r.last_return} on the way down although it moved only from {r.first_movement} on: "
            "friction can only make the return later, so the return is left out.",
            replace(r, last_return=None),
        )
    yield from _travels(r, context)
    yield from _leak(r, error)


def _travels(r: Any, context: CarContext) -> Iterator[_Doubt]:
    travel = number(r.travel)
    most = _LONGEST_TRAVEL if context.full_travel is None else 1.4 * context.full_travel + 2.0e-3
    if travel is not None and travel > most:
        limit = "an actuator of this kind gives" if context.full_travel is None else "this actuator gives"
        yield _Doubt(
            f"A travel of {r.travel} is more than {limit}, some {1e3 * min(most, _LONGEST_TRAVEL):.0f} mm at most: "
            "it is left out.",
            replace(r, travel=None),
        )
    vent = r.vent
    if vent is None:
        return
    left = [number(x) for x in (vent.held, vent.after_1_s, vent.after_5_s, vent.after_30_s)]
    known = [x for x in left if x is not None]
    if any(later > earlier + 1.0e-3 for earlier, later in pairwise(known)):
        yield _Doubt(
            "The arm went further out after the air was taken away: what was noted of the return is left out.",
            replace(r, vent=None),
        )


def _leak(r: Any, error: float) -> Iterator[_Doubt]:
    if r.leak is None:
        return
    steps = [number(x) for x in (r.leak.start, r.leak.after_10_s, r.leak.after_60_s)]
    known = [x for x in steps if x is not None]
    if any(later > earlier + error for earlier, later in pairwise(known)):
        yield _Doubt(
            "The pressure rose with the supply shut, so the supply was not shut: what was noted of the leak is left out.",
            replace(r, leak=None),
        )


def _decay(r: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    if r.start is not None and r.end is not None and r.end.value >= r.start.value:
        yield _Doubt(
            f"A fall from {r.start} to {r.end} is none: the time is left out.", replace(r, time=None, hiss_stops=None)
        )


def _most_flow(supply: float) -> float:
    """Free air that the largest hole passes at a supply, m3/s from Pa gauge."""
    return float(_FREE_AIR * _LARGEST_HOLE * (supply + 101325.0))


def _hose(r: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    supply = number(r.supply)
    for key in ("flow", "flow_new_hose"):
        flow = number(getattr(r, key))
        if flow is not None and supply is not None and flow > _most_flow(supply):
            yield _Doubt(
                f"{getattr(r, key)} at {r.supply} is more than any signal hose passes: it is left out.",
                replace(r, **{key: None}),
            )
    flow, new = number(r.flow), number(r.flow_new_hose)
    if flow is not None and new is not None and flow > 1.4 * new:
        yield _Doubt(
            f"The hose passes {r.flow}, a new one of its size only {r.flow_new_hose}: both are left out.",
            replace(r, flow=None, flow_new_hose=None),
        )
    if r.passes is True and flow is not None and new is not None and flow < 0.2 * new:
        yield _Doubt(
            f"Air is said to pass, but only {r.flow} against {r.flow_new_hose}: the word is left out.",
            replace(r, passes=None),
        )


# -- controller --------------------------------------------------------------------------------------


def _vent_rows(r: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    supply = number(r.supply)
    rows = list(r.rows)
    for j, row in enumerate(rows):
        pressure, flow = number(row.line_pressure), number(row.flow)
        if supply is not None and pressure is not None and pressure > supply + _apart(gauge):
            yield _Doubt(
                f"Row {j + 1}: {row.line_pressure} behind the controller with {r.supply} before it cannot be: "
                "it is left out.",
                _with_row(r, j, replace(row, line_pressure=None)),
            )
        if supply is not None and flow is not None and flow > _most_flow(supply):
            yield _Doubt(
                f"Row {j + 1}: {row.flow} is more than {r.supply} can push through a vent of this kind: it is left out.",
                _with_row(r, j, replace(row, flow=None)),
            )
        if flow is not None and row.loudness is not None and _deaf(flow * 6.0e4, row.loudness):
            yield _Doubt(
                f"Row {j + 1}: {row.flow} was measured where the ear said {row.loudness}: the flow is left out.",
                _with_row(r, j, replace(row, flow=None)),
            )


def _with_row(r: Any, index: int, row: Any) -> Any:
    return replace(r, rows=(*r.rows[:index], row, *r.rows[index + 1 :]))


def _deaf(litres: float, loudness: str) -> bool:
    """Flow and loudness more than a whole step apart (none under 0.5, faint 2.5, clear 8 L/min)."""
    step = int(np.searchsorted([0.5, 2.5, 8.0], litres))
    return abs(step - kinds.LOUDNESS.index(loudness)) > 1


def _duty_rows(r: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    supply = number(r.supply)
    for j, row in enumerate(r.rows):
        pressure = number(row.line_pressure)
        if supply is not None and pressure is not None and pressure > supply + _apart(gauge):
            yield _Doubt(
                f"Row {j + 1}: {row.line_pressure} behind the valve with {r.supply} before it cannot be: it is left out.",
                _with_row(r, j, replace(row, line_pressure=None)),
            )


# -- by hand, engine, exhaust ------------------------------------------------------------------------


def _free(r: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    swing = number(r.swing)
    moves = r.swing not in (None, "none") and swing is not None and swing > 2.0e-3
    if r.arm == "will not move" and moves:
        yield _Doubt(f"The arm will not move and yet swings {r.swing}: both are left out.", replace(r, arm=None, swing=None))
    if r.arm == "swings freely" and (r.swing == "none" or (swing is not None and swing < 5e-4)):
        yield _Doubt("The arm swings freely and yet has no swing: both are left out.", replace(r, arm=None, swing=None))


def _seat(r: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    gap = number(r.gap)
    if r.light is False and gap is not None and gap > 5e-5:
        yield _Doubt(f"No light past the gate and yet a gap of {r.gap}: both are left out.", replace(r, light=None, gap=None))


def _intake(r: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    drop, supply = number(r.drop_in_30_s), number(r.supply)
    if drop is not None and supply is not None and drop > supply + _apart(gauge):
        yield _Doubt(
            f"A fall of {r.drop_in_30_s} from {r.supply} cannot be: the fall is left out.", replace(r, drop_in_30_s=None)
        )
    if r.held == "held" and drop is not None and supply is not None and drop > 0.5 * supply:
        yield _Doubt(
            f"The pressure is said to have held and yet fell by {r.drop_in_30_s} of {r.supply}: both are left out.",
            replace(r, held=None, drop_in_30_s=None),
        )


def _back_pressure(r: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    for j, row in enumerate(r.rows):
        pressure = number(row.pressure)
        if pressure is not None and pressure < -_apart(gauge):
            yield _Doubt(
                f"Row {j + 1}: {row.pressure} after the turbine, below the air around, cannot be: it is left out.",
                _with_row(r, j, replace(row, pressure=None)),
            )


def _cylinders(r: Any, gauge: Gauge, context: CarContext) -> Iterator[_Doubt]:
    # air pressed without loss, and a tenth for a gauge in a hurry
    most = None if context.compression_ratio is None else 1.1e5 * context.compression_ratio**1.4 * 1.1
    for j, row in enumerate(r.rows):
        gone = _with_row(r, j, replace(row, pressure=None))
        if row.cylinder is not None and context.cylinders is not None and row.cylinder > context.cylinders:
            yield _Doubt(f"Row {j + 1}: this engine has no cylinder {row.cylinder}: the row is left out.", gone)
        pressure = number(row.pressure)
        if most is not None and pressure is not None and pressure > most:
            yield _Doubt(
                f"Row {j + 1}: {row.pressure} is more than a compression ratio of {context.compression_ratio:g} can "
                "give: it is left out.",
                gone,
            )


_CHECKS: tuple[tuple[type, Any], ...] = (
    (kinds.Sweep, _sweep),
    (kinds.BleedDecay, _decay),
    (kinds.HoseFlow, _hose),
    (kinds.ControllerVent, _vent_rows),
    (kinds.SolenoidCheck, _duty_rows),
    (kinds.FreeTravel, _free),
    (kinds.SeatLeak, _seat),
    (kinds.IntakePressurise, _intake),
    (kinds.ExhaustBackPressure, _back_pressure),
    (kinds.Compression, _cylinders),
)


# -- one reading against another ---------------------------------------------------------------------


def _between(readings: Sequence[Any], gauge: Any, file: str) -> Iterator[Finding]:
    """Findings where two readings of one thing lie further apart than gauges and eyes explain."""
    numbered = [(i, r) for i, r in enumerate(readings) if r.not_done is None]
    for (i, a), (j, b) in combinations(numbered, 2):
        where = f"{_place(file, i, a)} and reading {j + 1} ({b.test})"
        if isinstance(a, kinds.Sweep) and isinstance(b, kinds.Sweep):
            says = _repeated(a, b, gauge) if a.test == b.test else _direct_and_through(a, b, gauge)
            yield from (Finding(CONTRADICTING, where, text, _BOTH_AGAIN) for text in says)
        elif a.test == b.test and isinstance(a, kinds.PortMeasure):
            first, second = number(a.port), number(b.port)
            if first is not None and second is not None and abs(first - second) > 1.5e-3:
                yield Finding(CONTRADICTING, where, f"The port measures {a.port} and {b.port}.", _BOTH_AGAIN)
        elif a.test == b.test and isinstance(a, kinds.FreeTravel):
            first, second = number(a.swing), number(b.swing)
            if first is not None and second is not None and abs(first - second) > 4.0e-3:
                yield Finding(CONTRADICTING, where, f"The arm swings {a.swing} and {b.swing}.", _BOTH_AGAIN)


def _far(a: Any, b: Any, gauge: Any, person: float) -> float:
    """By how much two readings, perhaps of two gauges, may differ for no reason. [Pa]"""
    one, other = gauge_of(a.gauge or gauge), gauge_of(b.gauge or gauge)
    zero = 0.0 if (a.gauge or gauge) == (b.gauge or gauge) else float(np.hypot(one.zero, other.zero))
    noise = float(np.hypot(one.noise(person), other.noise(person)))
    return 3.0 * float(np.hypot(noise, zero))


def _repeated(a: Any, b: Any, gauge: Any) -> Iterator[str]:
    if any(getattr(a, key) != getattr(b, key) for key in _STATE_KEYS):
        return
    first, second = number(a.first_movement), number(b.first_movement)
    if first is not None and second is not None and abs(first - second) > _far(a, b, gauge, 1.5e3):
        yield f"First movement was read at {a.first_movement} and at {b.first_movement}."
    first, second = number(a.travel), number(b.travel)
    if first is not None and second is not None and abs(first - second) > 2.5e-3:
        yield f"The travel was read as {a.travel} and as {b.travel}."


def _direct_and_through(a: Any, b: Any, gauge: Any) -> Iterator[str]:
    """Nothing between supply and actuator can make the arm move at a lower supply than straight on it."""
    pair = {r.test: r for r in (a, b)}
    direct = pair.pop("actuator-sweep", None)
    if direct is None or not pair:
        return
    through = next(iter(pair.values()))
    if through.test not in ("controller-sweep", "line-sweep") or through.solenoid == "powered":
        return
    first, second = number(direct.first_movement), number(through.first_movement)
    if first is not None and second is not None and second < first - _far(direct, through, gauge, 1.5e3):
        way = "the controller" if through.test == "controller-sweep" else "the line"
        yield (
            f"Through {way} the arm moved at {through.first_movement}, with air straight on it only at "
            f"{direct.first_movement}: nothing in between can help it."
        )
