"""Bench rigs: the signal side of a candidate driven by shop air, with the components of a pull.

All functions take a parameter array ``(parameters, n)`` of float64 and pressures in Pa gauge as
``(n,)`` or scalars, and return ``(n,)``. The air is at 293 K and the barometer at 101 325 Pa; a bench
result depends on either far less than the gauge can show.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostproof.physics import at_rest, layout
from boostproof.physics.controller import supply_share, valve_duty
from boostproof.physics.gas import AIR_GAS_CONSTANT
from boostproof.physics.orifice import ANR_DENSITY, air_flow, series_area

Array = NDArray[np.float64]

AMBIENT = 101325.0
TEMPERATURE = 293.15
SEARCH_LIMIT = 8.0e5  # Pa gauge; shop air never goes further
_FILL_SPEED = 150.0  # m/s, from filling curves of a chamber at 100 kPa gauge
_PATIENCE = 30.0  # s, how long a person waits for a gauge to settle (common practice, no source)
# m2, effective: 5 m of shop hose, 6 mm bore, between the regulator with its gauge and the part; sonic conductance by
# 0.029 d^2 / sqrt(L / d^1.25 + 510) (rule for tubes beside ISO 6358, from memory); other hoses have half or twice that
_SHOP_HOSE = 8.0e-6
_SEEP = 1e-11  # m2; every seal passes something, and it makes the rest state of a blind line unique


def row(par: Array, name: str) -> Array:
    """One parameter of all candidates."""
    out: Array = par[layout.index_of(name)]
    return out


def chamber_at(
    par: Array,
    supply: Array | float,
    *,
    duty: float = 0.0,
    offset: Array | None = None,
    bleed: Array | None = None,
) -> Array:
    """Chamber pressure at rest for a steady supply at the take-off. [Pa gauge]

    ``duty`` that the solenoid is driven with; ``offset`` and ``bleed`` override the controller's own
    (adjuster turned to another setting). What leaks behind a narrow hose counts by areas in series, at
    most 12 % of that leak too little.
    """
    lost = _lost_behind_pinch(par)
    at = _rows_at_rest(par, duty, offset, bleed)
    supply_abs = np.asarray(supply, float) + AMBIENT
    at[at_rest.LOW], at[at_rest.HIGH] = AMBIENT - 1.0, np.maximum(supply_abs, AMBIENT) + 1.0
    at[at_rest.OTHER], at[at_rest.LOST_AREA] = supply_abs, series_area(row(par, "hose_area"), lost)
    at[at_rest.OTHER] = at_rest.pressure_at_rest(at, through_hose=False, behind=True)
    at[at_rest.LOST_AREA] = lost
    return (at_rest.pressure_at_rest(at, through_hose=True, behind=True) - AMBIENT).clip(0.0)


def supply_for(par: Array, chamber: Array | float, *, duty: float = 0.0) -> Array:
    """Supply at the take-off that holds a chamber pressure; `SEARCH_LIMIT` where none does. [Pa gauge]"""
    at = _rows_at_rest(par, duty, None, None)
    at[at_rest.LOW], at[at_rest.HIGH] = AMBIENT, AMBIENT + SEARCH_LIMIT
    at[at_rest.OTHER] = np.asarray(chamber, float) + AMBIENT
    at[at_rest.LOST_FLOW] = _to_ambient(_lost_behind_pinch(par), at[at_rest.OTHER])
    at[at_rest.OTHER] = at_rest.pressure_at_rest(at, through_hose=True, behind=False)
    return at_rest.pressure_at_rest(at, through_hose=False, behind=False) - AMBIENT


def regulator_for(par: Array, chamber: Array, lost: Array) -> Array:
    """What the gauge at the regulator shows while shop air on a chamber holds a pressure there. [Pa gauge]

    The more air is lost, the more the shop hose takes: with a torn diaphragm the arm moves at its usual pressure
    in the chamber, which is a higher one on the gauge.

    Parameters
    ----------
    par : candidates
    chamber : (n,) pressure in the chamber [Pa gauge]
    lost : (n,) area through which it loses air [m2]
    """
    at = _rows_at_rest(par, 0.0, None, None)
    at[at_rest.LOW], at[at_rest.HIGH] = AMBIENT, AMBIENT + SEARCH_LIMIT
    at[at_rest.HOSE_AREA], at[at_rest.OTHER] = _SHOP_HOSE, np.maximum(chamber, 0.0) + AMBIENT
    at[at_rest.LOST_FLOW] = _to_ambient(lost, at[at_rest.OTHER])
    at_gauge = at_rest.pressure_at_rest(at, through_hose=True, behind=False) - AMBIENT
    return np.asarray(chamber + np.maximum(at_gauge - at[at_rest.OTHER] + AMBIENT, 0.0))


def outlet_area(par: Array, *, duty: float = 0.0) -> Array:
    """Area through which the chamber empties when the supply is taken away, hose left on. [m2]"""
    vent = _vent_share(par, duty)
    open_ = supply_share(vent, row(par, "solenoid"), row(par, "interrupts"))
    back = row(par, "line_area") * open_ * (1.0 - row(par, "check"))
    out = back + row(par, "bleed_area") + row(par, "solenoid") * vent * row(par, "vent_area")
    return np.asarray(series_area(out, row(par, "hose_area")) + _lost_behind_pinch(par))


def inlet_area(par: Array) -> Array:
    """Area through which the chamber fills, from take-off to chamber. [m2]"""
    return np.asarray(series_area(row(par, "line_area"), row(par, "hose_area")))


def filling_time(par: Array) -> Array:
    """Time in which the chamber fills to about 80 %, volume over (150 m/s x area). [s]"""
    return np.asarray(row(par, "chamber_volume") / (_FILL_SPEED * inlet_area(par)))


def arrived(par: Array) -> Array:
    """Share of the final pressure that is there when a person reads a slow line. [1]"""
    return np.asarray(np.maximum(1.0 - np.exp(-_PATIENCE / filling_time(par)), 1e-3))


def decayed(pressure: Array, area: Array, volume: Array, seconds: float) -> Array:
    """Gauge pressure of a volume that empties through an area, isothermal. [Pa gauge]

    Steps in logarithmic time, linearly implicit, 40 to the end; against the closed form of choked
    emptying within 1 %.
    """
    p = np.asarray(pressure, float) + AMBIENT
    factor = AIR_GAS_CONSTANT * TEMPERATURE / volume
    times = seconds * np.linspace(0.0, 1.0, 41) ** 3
    for h in np.diff(times):
        flow, _, slope = air_flow(area, np.full_like(p, AMBIENT), p, np.full_like(p, TEMPERATURE))
        p = p + h * factor * flow / (1.0 - h * factor * slope)
    return np.asarray(p - AMBIENT).clip(0.0)


def full_travel(par: Array) -> Array:
    """Largest travel, by actuator or stop. [m]"""
    return np.minimum(row(par, "gate_travel"), row(par, "free_travel"))


def first_movement(par: Array) -> Array:
    """Chamber pressure at which the arm is first seen to move (0.2 mm). [Pa gauge]"""
    return np.asarray(row(par, "opening_pressure") + row(par, "friction") + 2e-4 * row(par, "spring_rate"))


def full_opening(par: Array) -> Array:
    """Chamber pressure at which travel stops growing. [Pa gauge]"""
    return np.asarray(
        row(par, "opening_pressure") + row(par, "friction") + full_travel(par) * row(par, "spring_rate")
    )


def bleed_flow(par: Array, chamber: Array, area: Array) -> Array:
    """Flow out of a bleed at a chamber pressure, free air. [m3/s ANR]"""
    flow, *_ = air_flow(
        area, chamber + AMBIENT, np.full_like(chamber, AMBIENT), np.full_like(chamber, TEMPERATURE)
    )
    return np.asarray(flow / ANR_DENSITY)


def offset_at(par: Array, turns: float) -> Array:
    """Offset of the ball and spring with its adjuster ``turns`` in from slack, seized parts kept. [Pa]"""
    return np.asarray(row(par, "offset_at_slack") + turns * row(par, "offset_per_turn"))


def _vent_share(par: Array, duty: float) -> Array:
    return np.asarray(
        valve_duty(
            np.full(par.shape[1], duty),
            row(par, "duty_stuck"),
            row(par, "duty_stuck_at"),
            row(par, "duty_reversed"),
        )
    )


def _lost_behind_pinch(par: Array) -> Array:
    """Area through which the lower chamber loses air: line leak, and diaphragm with the other vent. [m2]"""
    return np.asarray(
        row(par, "line_leak") + series_area(row(par, "diaphragm_leak"), row(par, "upper_vent")) + _SEEP
    )


def _to_ambient(area: Array, pressure: Array) -> Array:
    """Flow from a pressure to the air around. [kg/s] from [m2] and [Pa abs]"""
    return np.asarray(air_flow(area, pressure, np.full_like(pressure, AMBIENT), np.full_like(pressure, TEMPERATURE))[0])


def _rows_at_rest(par: Array, duty: float, offset: Array | None, bleed: Array | None) -> Array:
    """What `at_rest` must know of line and controller; bracket, pressures and losses are still to be put in."""
    at = np.zeros((at_rest.SIZE, par.shape[1]))
    at[at_rest.AMBIENT], at[at_rest.TEMPERATURE] = AMBIENT, TEMPERATURE
    at[at_rest.AREA], at[at_rest.HOSE_AREA] = row(par, "line_area"), row(par, "hose_area")
    at[at_rest.OFFSET] = (row(par, "offset") if offset is None else offset) + row(par, "ball_stick")
    at[at_rest.BALL], at[at_rest.SOLENOID] = row(par, "check"), row(par, "solenoid")
    at[at_rest.INTERRUPTS], at[at_rest.VENT_SHARE] = row(par, "interrupts"), _vent_share(par, duty)
    at[at_rest.VENT_AREA] = row(par, "vent_area")
    at[at_rest.BLEED] = row(par, "bleed_area") if bleed is None else bleed
    return at
