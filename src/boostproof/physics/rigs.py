"""Bench rigs: the signal side of a candidate driven by shop air, with the components of a pull.

All functions take a parameter array ``(parameters, n)`` of float64 and pressures in Pa gauge as
``(n,)`` or scalars, and return ``(n,)``. The air is at 293 K and the barometer at 101 325 Pa; a bench
result depends on either far less than the gauge can show.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from boostproof.physics import layout
from boostproof.physics.controller import supply_share, valve_duty
from boostproof.physics.gas import AIR_GAS_CONSTANT
from boostproof.physics.orifice import ANR_DENSITY, air_flow, series_area, tube_flow
from boostproof.physics.pneumatics import node_balance

Array = NDArray[np.float64]

AMBIENT = 101325.0
TEMPERATURE = 293.15
SEARCH_LIMIT = 8.0e5  # Pa gauge; shop air never goes further
_HALVINGS = 15  # 8 bar / 2^15 = 24 Pa, in which a straight line is right to a pascal but for kinks
_FILL_SPEED = 150.0  # m/s, from filling curves of a chamber at 100 kPa gauge
_PATIENCE = 30.0  # s, how long a person waits for a gauge to settle (common practice, no source)
_SEEP = 1e-11  # m2; every seal passes something, and it makes the rest state of a blind line unique


def row(par: Array, name: str) -> Array:
    """One parameter of all candidates."""
    out: Array = par[layout.index_of(name)]
    return out


def _bisect(function: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """Root of a falling function between two bounds, per candidate; the bound where there is none.

    Halved as often as makes a straight line between the ends right.
    """
    low, high = low.copy(), high.copy()
    at_low, at_high = np.zeros_like(low), np.zeros_like(high)  # not known at the bounds: zero keeps to them
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        value = function(middle)
        above = value > 0.0
        low, at_low = np.where(above, middle, low), np.where(above, value, at_low)
        high, at_high = np.where(above, high, middle), np.where(above, at_high, value)
    drop = at_low - at_high
    return low + (high - low) * np.divide(at_low, drop, out=np.full_like(low, 0.5), where=drop > 0.0)


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
    supply_abs = np.broadcast_to(np.asarray(supply, float), (par.shape[1],)) + AMBIENT
    lost = _lost_behind_pinch(par)
    branch = series_area(row(par, "hose_area"), lost)

    def hose_net(gauge: Array) -> Array:
        hose = gauge + AMBIENT
        return _into_hose(par, supply_abs, hose, duty, offset, bleed) - _to_ambient(branch, hose)

    start, end = np.full(par.shape[1], -1.0), np.maximum(supply_abs - AMBIENT, 0.0) + 1.0
    hose = _bisect(hose_net, start, end) + AMBIENT

    def chamber_net(gauge: Array) -> Array:
        lower = gauge + AMBIENT
        through = tube_flow(row(par, "hose_area"), hose, lower, np.full_like(hose, TEMPERATURE))[0]
        return np.asarray(through - _to_ambient(lost, lower))

    return _bisect(chamber_net, start, end).clip(0.0)


def supply_for(par: Array, chamber: Array | float, *, duty: float = 0.0) -> Array:
    """Supply at the take-off that holds a chamber pressure; `SEARCH_LIMIT` where none does. [Pa gauge]"""
    n = par.shape[1]
    lower = np.broadcast_to(np.asarray(chamber, float), (n,)) + AMBIENT
    warm = np.full(n, TEMPERATURE)
    lost = _to_ambient(_lost_behind_pinch(par), lower)
    hose = _bisect(
        lambda p: np.asarray(lost - tube_flow(row(par, "hose_area"), p + AMBIENT, lower, warm)[0]),
        np.zeros(n),
        np.full(n, SEARCH_LIMIT),
    )
    return _bisect(
        lambda p: lost - _into_hose(par, p + AMBIENT, hose + AMBIENT, duty, None, None),
        np.zeros(n),
        np.full(n, SEARCH_LIMIT),
    )


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


def _into_hose(
    par: Array, supply: Array, hose: Array, duty: float, offset: Array | None, bleed: Array | None
) -> Array:
    """Flow that the controller lets into the hose less what bleed and vent let out. [kg/s]"""
    return np.asarray(
        node_balance(
            supply,
            hose,
            np.full_like(hose, AMBIENT),
            np.full_like(hose, TEMPERATURE),
            row(par, "line_area"),
            (row(par, "offset") if offset is None else offset) + row(par, "ball_stick"),
            row(par, "check"),
            row(par, "solenoid"),
            row(par, "interrupts"),
            _vent_share(par, duty),
            row(par, "vent_area"),
            row(par, "bleed_area") if bleed is None else bleed,
        )[0]
    )
