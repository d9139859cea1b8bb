"""Set-ups of test pulls as changes of the car, and how such pulls would be driven.

The same changes serve for pulls that were driven with such a set-up. The schedules are imagined: they serve to
say what a test would show, so one slow ramp, one held speed and one lift stand for all that a person might do
(common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Schedule
from boostproof.physics.change import Change
from boostproof.physics.system import INPUTS

_TEMPERATURE = 295.0  # K, air around
_JUMP, _JUMP_STEP = 0.12, 0.004  # s, right after the throttle opens everything moves at once
_SPOOL, _SPOOL_STEP = 0.8, 0.0125  # s
_CRUISE, _CRUISE_STEP = 1.0, 0.0125  # s, before a pull
_CRUISE_THROTTLE = 0.13
RAMP_FROM, RAMP_TO = 0.38, 0.98  # of redline


def _set(parameter: str, value: float) -> Change:
    return Change(parameter, "set", value, value)


# A short new line from the compressor straight to the actuator, controller and solenoid out.
CONTROLLER_BYPASSED: tuple[Change, ...] = (
    _set("offset", 0.0),
    _set("ball_stick", 0.0),
    _set("check", 0.0),
    _set("bleed_area", 0.0),
    _set("solenoid", 0.0),
    _set("upper_feed", 0.0),
    _set("closed_loop", 0.0),
    _set("take_off", 0.0),
    _set("line_leak", 0.0),
    _set("line_area", 5.5e-6),
    _set("hose_area", 8.0e-6),
)
# The gate stands open at its stop whatever the signal does: hardly any spring, and both the exhaust and a
# line of its own push it there (full travel takes some 5 kPa; where there is less, there is no boost either).
GATE_HELD_OPEN: tuple[Change, ...] = (
    *CONTROLLER_BYPASSED,
    *(
        _set(name, amount)
        for name, amount in (
            ("opening_pressure", 2.0e3), ("other_opening", 0.0), ("spring_rate", 2.0e5), ("assistance", 1.5),
            ("assistance_fade", 0.0), ("friction", 0.0), ("other_friction", 0.0), ("heat_binding", 0.0),
            ("rod_off", 0.0), ("ports_swapped", 0.0), ("diaphragm_leak", 0.0), ("upper_vent", 6.0e-6),
        )
    ),
)  # fmt: skip

# The gate stands shut whatever the signal does. Only to read what somebody recorded: no test asks for it.
GATE_HELD_SHUT: tuple[Change, ...] = (
    *(
        _set(name, amount)
        for name, amount in (
            ("opening_pressure", 4.0e5), ("other_opening", 0.0), ("assistance", 0.0), ("friction", 4.0e6),
            ("other_friction", 4.0e6), ("rod_off", 0.0), ("ports_swapped", 0.0), ("upper_feed", 0.0),
        )
    ),
)  # fmt: skip
SHUT_TURNS = 0.25  # a shut bleed valve still passes what this part of a turn would


def signal_taken_at(place: str) -> tuple[Change, ...]:
    """The signal line moved to another take-off; behind the cooler at full load is as good as the manifold."""
    return (_set("take_off", 0.0 if place == "compressor outlet" else 1.0),)


def adjuster_at(turns: float, controller: str, found: float | None) -> tuple[Change, ...]:
    """The adjuster of a controller at another setting.

    Parameters
    ----------
    turns : turns in during the pull; of a bleed valve from bleed shut
    controller : "ball and spring" or "bleed valve"
    found : turns in as found, None where not known: then the setting counts from slack, or from bleed shut,
        and what was found wrong with the setting is gone

    >>> [(c.how, c.other, c.severe) for c in adjuster_at(2.0, "ball and spring", 3.5)]
    [('add share', 'offset_per_turn', -1.5)]
    """
    if controller == "bleed valve":
        if found is None:
            return (Change("bleed_area", "share", turns + SHUT_TURNS, turns + SHUT_TURNS, other="bleed_per_turn"),)
        share = (turns + SHUT_TURNS) / (found + SHUT_TURNS)
        return (Change("bleed_area", "scale", share, share),)
    if found is None:
        return (
            Change("offset", "share", 1.0, 1.0, other="offset_at_slack"),
            Change("offset", "add share", turns, turns, other="offset_per_turn"),
        )
    return (Change("offset", "add share", turns - found, turns - found, other="offset_per_turn"),)


# The solenoid driven with one duty by hand, which then comes with the inputs.
FIXED_DUTY: tuple[Change, ...] = (_set("closed_loop", 0.0),)


def exhaust_open(loss: float) -> tuple[Change, ...]:
    """Nothing behind the turbine but ``loss`` of a short pipe [1/m4]; what blocked the rest is gone."""
    return (_set("exhaust_loss", loss),)


def slow_ramp(
    redline: float,
    target: float,
    ambient: float,
    shares: Sequence[float],
    *,
    seconds: float = 6.0,
    loop: bool = False,
    temperature: float = _TEMPERATURE,
    begin: float = RAMP_FROM,
    heat: float = 0.0,
) -> Schedule:
    """A full-load ramp up to 98 % of redline; one slot at each share of redline.

    Parameters
    ----------
    redline : [rad/s]
    target, ambient : boost wanted [Pa gauge], pressure around [Pa abs]
    shares : of redline at which outputs are collected
    seconds : length of the ramp
    loop : whether the car has a boost loop, which asks for shorter steps
    temperature : of the air around [K]
    begin : where it begins, as a share of redline
    heat : of gate and housing, 0 cold to 1 soaked
    """
    time, steps = ramp_steps(seconds, loop=loop)
    share = np.clip(begin + (RAMP_TO - begin) * time / seconds, begin, RAMP_TO)
    windows = [np.abs(share - level) < 0.015 for level in shares]
    return full_load(time, steps, share * redline, target, ambient, windows, temperature=temperature, heat=heat)


def ramp_steps(seconds: float, *, loop: bool) -> tuple[Array, Array]:
    """Middles and sizes of the steps of a ramp that begins at 0 s, with the cruising before it. [s]

    Parameters
    ----------
    seconds : length of the ramp
    loop : whether the car has a boost loop, which asks for shorter steps
    """
    last = 0.015 if loop else 0.025
    return _grid([(-_CRUISE, _CRUISE_STEP), *_full_load(0.0, seconds, last)], seconds)


def full_load(
    time: Array,
    steps: Array,
    engine_speed: Array,
    target: float,
    ambient: float,
    windows: Sequence[NDArray[np.bool_]],
    *,
    temperature: float = _TEMPERATURE,
    heat: float = 0.0,
) -> Schedule:
    """A pull with the throttle opened at once at 0 s.

    Parameters
    ----------
    time, steps : middles and sizes of the steps, (k,) [s]
    engine_speed : (k,) [rad/s]
    target, ambient : boost wanted [Pa gauge], pressure around [Pa abs]
    windows : steps of each slot, (k,)
    temperature : of the air around [K]
    heat : of gate and housing, 0 cold to 1 soaked
    """
    throttle = np.where(time < 0.0, _CRUISE_THROTTLE, 1.0)
    return _schedule(steps, engine_speed, throttle, target, ambient, temperature, windows, heat=heat)


def tip_in(
    engine_speed: float, target: float, ambient: float, *, seconds: float = 2.6, loop: bool = False
) -> Schedule:
    """Throttle opened at once at a held speed; slots of 0.08 s from the opening to the end."""
    last = 0.0125 if loop else 0.02
    time, steps = _grid([(-_CRUISE, _CRUISE_STEP), *_full_load(0.0, seconds, last)], seconds)
    edges = np.arange(0.0, seconds - 1e-9, 0.08)
    windows = [(time >= a) & (time < a + 0.08) for a in edges]
    return full_load(time, steps, np.full_like(time, engine_speed), target, ambient, windows)


LIFT = 1.0  # s, between the two openings of `re_apply`


def re_apply(
    engine_speed: float, target: float, ambient: float, *, seconds: float = 2.5, loop: bool = False
) -> Schedule:
    """Full load, lift for 1 s, full load again at a held speed.

    Slots: 0.4 to 0.7 s after the first opening, end of the first stretch, end of the lift, 0.4 to 0.7 s after
    the second opening, end.
    """
    last = 0.0125 if loop else 0.02
    again = seconds + LIFT
    end = again + seconds
    marks = [
        (-_CRUISE, _CRUISE_STEP), *_full_load(0.0, seconds, last), (seconds, _JUMP_STEP),
        (seconds + _JUMP, _CRUISE_STEP), *_full_load(again, seconds, last),
    ]  # fmt: skip
    time, steps = _grid(marks, end)
    closed = (time > seconds) & (time < again)
    throttle = np.where(time < 0.0, _CRUISE_THROTTLE, np.where(closed, 0.03, 1.0))
    spans = (
        (0.4, 0.7), (seconds - 0.3, seconds), (again - 0.1, again), (again + 0.4, again + 0.7), (end - 0.3, end)
    )  # fmt: skip
    windows = [(time >= a) & (time < b) for a, b in spans]
    return _schedule(steps, np.full_like(time, engine_speed), throttle, target, ambient, _TEMPERATURE, windows)


def _full_load(start: float, seconds: float, last: float) -> list[tuple[float, float]]:
    """Moments from which on a step size holds, from an opening of the throttle on."""
    spooled = min(_SPOOL, seconds)
    return [(start, _JUMP_STEP), (start + _JUMP, _SPOOL_STEP), (start + spooled, last)]


def _grid(marks: Sequence[tuple[float, float]], end: float) -> tuple[Array, Array]:
    """Middles and sizes of the steps between marks ``(from, step)``."""
    stops = [start for start, _ in marks[1:]] + [end]
    steps = np.concatenate(
        [
            np.full(count := max(1, round((stop - start) / step)), (stop - start) / count)
            for (start, step), stop in zip(marks, stops, strict=True)
            if stop > start
        ]
    )
    edges = marks[0][0] + np.cumsum(steps)
    return edges - 0.5 * steps, steps


def _schedule(
    steps: Array,
    engine_speed: Array,
    throttle: Array,
    target: float,
    ambient: float,
    temperature: float,
    windows: Sequence[NDArray[np.bool_]],
    *,
    heat: float = 0.0,
) -> Schedule:
    given: dict[str, Array | float] = {
        "engine_speed": engine_speed, "throttle": throttle, "target": target, "logged_duty": 0.0,
        "ambient_pressure": ambient, "ambient_temperature": temperature, "gate_heat": heat,
    }  # fmt: skip
    inputs = np.empty((len(steps), len(INPUTS)))
    for i, name in enumerate(INPUTS):
        inputs[:, i] = given[name]
    record = np.full(len(steps), -1, np.int32)
    for slot, window in enumerate(windows):
        record[window] = slot
    return Schedule(inputs, steps, record, len(windows))
