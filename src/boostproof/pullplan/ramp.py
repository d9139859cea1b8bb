"""The pull of the ladder as the transient model drives it, from its start to the redline."""

from __future__ import annotations

import numpy as np

from boostproof.bench import set_ups
from boostproof.bench.response import Array, Schedule
from boostproof.pullplan.terms import Terms

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
    time, steps = set_ups.ramp_steps((terms.redline - terms.start) / terms.ramp, loop=loop)
    speed = terms.start + terms.ramp * np.maximum(time, 0.0)
    slot = np.where(time < 0.0, -1, np.floor((speed - terms.start) / _SLOT))
    windows = [slot == k for k in range(len(speeds(terms)))]
    return set_ups.full_load(
        time, steps, speed, terms.target, ambient, windows, temperature=temperature, heat=_HEAT
    )
