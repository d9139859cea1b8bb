"""Which parameters a part of the car owns, and whether a candidate's part differs from the sound one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Candidates
from boostproof.physics import layout

BALL_STUCK = 4.0e5  # Pa that a ball takes off from which on it is shut for good, and its seat is the block

# Parts as they are named in car.toml and readings.toml; the rows are those that a new part would bring.
PARTS: dict[str, tuple[str, ...]] = {
    "exhaust": ("exhaust_loss", "exhaust_leak"),
    "catalyst": ("exhaust_loss",),
    "turbo": (
        "compressor_diameter", "compressor_area", "compressor_head", "compressor_work", "compressor_work_slope",
        "turbine_area", "turbine_diameter", "turbine_efficiency", "shaft_inertia", "shaft_drag", "turbo_wear",
    ),
    "gate": (
        "port_diameter", "gate_flow", "lift_ratio", "free_travel", "gate_travel", "gate_leak", "friction",
        "opening_pressure", "spring_rate", "diaphragm_leak", "upper_vent", "other_gates", "other_opening",
        "other_travel", "other_flow", "other_friction", "dump_area", "assistance", "heat_binding", "rod_off",
    ),
    "spring": ("opening_pressure", "spring_rate", "diaphragm_leak", "upper_vent", "friction"),
    "controller": (
        "offset", "ball_stick", "check", "bleed_area", "solenoid", "vent_area", "upper_feed", "duty_stuck",
        "duty_stuck_at", "duty_reversed",
    ),
    "setting": ("offset", "bleed_area"),
    "hoses": ("line_area", "hose_area", "line_leak", "take_off", "ports_swapped"),
    "engine": (
        "breathing", "breathing_tilt", "breathing_bow", "indicated_efficiency", "friction_pressure",
        "exhaust_temperature_base",
    ),
    "software": (
        "feed_forward", "loop_gain", "loop_integral", "spool_band", "wind_up", "duty_limit", "target_shift",
        "ignition_retard",
    ),
    "target": ("target_shift",),
    "fuel": ("mixture",),
    "intake": ("filter_loss", "charge_leak", "bypass_leak"),
    "cooler": ("cooler_loss", "cooler_effectiveness", "charge_leak"),
    "sensor": ("boost_gain", "boost_offset", "boost_lag", "boost_full_scale"),
    "pipes off for other work": ("charge_leak", "line_leak"),
}  # fmt: skip


def row(par: Array, name: str) -> Array:
    """One parameter of all candidates."""
    return np.asarray(par[layout.index_of(name)])


def changed(candidates: Candidates, name: str) -> NDArray[np.bool_]:
    """Whether a parameter is not what it was in the sound car. [(n,) of bool]"""
    return np.asarray(~np.isclose(row(candidates.par, name), row(candidates.sound, name), rtol=1e-6, atol=0.0))


def controller_reversed(candidates: Candidates) -> NDArray[np.bool_]:
    """A ball and spring the wrong way round: its spring takes nothing off, and hardly anything gets past. [(n,)]"""
    pinched = changed(candidates, "hose_area") & (row(candidates.par, "hose_area") < 1.0e-8)
    return np.asarray(changed(candidates, "offset") & (row(candidates.par, "offset") <= 0.0) & pinched)


def at_fault(candidates: Candidates, part: str) -> Array:
    """1 where a new part of this name would bring a parameter back to what it should be, else 0. [(n,)]

    Raises
    ------
    KeyError
        There is no such part.
    """
    out = np.zeros(candidates.par.shape[1], bool)
    for name in PARTS[part]:
        out |= changed(candidates, name)
    shut = row(candidates.par, "ball_stick") > BALL_STUCK
    if part == "controller":
        out |= shut & changed(candidates, "line_area")
    elif part == "hoses":  # a ball stuck shut stops the line by itself
        out &= ~(shut & ~changed(candidates, "line_leak") & ~changed(candidates, "hose_area"))
        out &= ~controller_reversed(candidates)
    return np.asarray(out, float)
