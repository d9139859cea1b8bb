"""The pull of the ladder as the transient model drives it, from its start to the redline."""

from __future__ import annotations

import numpy as np

from boostproof.bench.response import Array, Schedule
from boostproof.physics.system import INPUTS
from boostproof.pullplan.terms import Terms

_CRUISE, _CRUISE_STEP, _CRUISE_THROTTLE = 1.0, 0.0125, 0.13
_OPENING, _OPENING_STEP = 0.12, 0.004  # s, while everything moves at once
_SPOOL, _SPOOL_STEP = 0.8, 0.0125
_STEP, _LOOP_STEP = 0.025, 0.015  # s; a boost loop asks for shorter steps
_SLOT = 60.0 * np.pi / 30.0  # rad/s between the engine speeds that are looked at, short against a spike
_HEAT = 0.5  # a gate that has been driven before: what only heat brings on shows


def speeds(terms: Terms) -> Array:
    """Engine speeds at which boost is looked at. [rad/s, (slots,)]"""
    return np.asarray(np.arange(terms.start + 0.5 * _SLOT, terms.redline, _SLOT))


def ladder_ramp(terms: Terms, ambient: float, temperature: float, *, loop: bool) -> Schedule:
    """A full-load ramp from the start of the ladder to the redline; one slot per entry of `speeds`.

    Parameters
    ----------
    terms : start, redline, ramp and target
    ambient, temperature : of the air around [Pa abs], [K]
    loop : whether the car has a boost loop
    """
    seconds = (terms.redline - terms.start) / terms.ramp
    steps = np.concatenate(
        [
            _even(_CRUISE, _CRUISE_STEP),
            _even(_OPENING, _OPENING_STEP),
            _even(_SPOOL - _OPENING, _SPOOL_STEP),
            _even(seconds - _SPOOL, _LOOP_STEP if loop else _STEP),
        ]
    )
    time = np.cumsum(steps) - 0.5 * steps - _CRUISE
    speed = terms.start + terms.ramp * np.maximum(time, 0.0)
    given: dict[str, Array | float] = {
        "engine_speed": speed, "throttle": np.where(time < 0.0, _CRUISE_THROTTLE, 1.0), "target": terms.target,
        "logged_duty": 0.0, "ambient_pressure": ambient, "ambient_temperature": temperature, "gate_heat": _HEAT,
    }  # fmt: skip
    inputs = np.empty((len(steps), len(INPUTS)))
    for i, name in enumerate(INPUTS):
        inputs[:, i] = given[name]
    slots = len(speeds(terms))
    slot = np.floor((speed - terms.start) / _SLOT).astype(int)
    record = np.where((time < 0.0) | (slot >= slots), -1, slot).astype(np.int32)
    return Schedule(inputs, steps, record, slots)


def _even(length: float, step: float) -> Array:
    count = max(1, round(length / step))
    return np.full(count, length / count)
