"""Cars through one slow full-load ramp up to redline: the curve that a forecast is read from."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from boostproof.bench import set_ups
from boostproof.bench.response import Array, Schedule
from boostproof.diagnosis.evidence.drive import Drive
from boostproof.diagnosis.evidence.simulator import highest_pull, run_pull
from boostproof.physics.change import Change
from boostproof.physics.system import INPUTS, OUTPUT_INDEX

SHARES = tuple(round(float(s), 3) for s in np.linspace(0.41, 0.97, 20))  # of redline
_WARM = 0.5  # gate and housing of a car that has been driven, so that what only heat brings on shows too
_LENGTHS = (3.0, 20.0)  # s, shortest and longest ramp
_LOWEST = 0.20  # of redline, from which on a ramp may begin


@dataclass(frozen=True)
class Ramp:
    """A full-load ramp that is still to be driven.

    Attributes
    ----------
    speeds : engine speed of the output slots (slots,) [rad/s]
    redline : [rad/s]
    target : boost asked for [Pa gauge]
    schedule : how it is driven
    """

    speeds: Array
    redline: float
    target: float
    schedule: Schedule = field(repr=False)

    def asking(self, target: float) -> Ramp:
        """The same ramp with another boost asked for."""
        return replace(self.given("target", target), target=target)

    def given(self, name: str, value: Array | float) -> Ramp:
        """The same ramp with another input, as `physics.system.INPUTS`."""
        inputs = self.schedule.inputs.copy()
        inputs[:, INPUTS.index(name)] = value
        return replace(self, schedule=replace(self.schedule, inputs=inputs))


def ramp_for(
    redline: float,
    target: float,
    ambient: float,
    temperature: float,
    *,
    loop: bool,
    driven: Drive | None = None,
    rate: float | None = None,
) -> Ramp:
    """The ramp of a case.

    Parameters
    ----------
    redline : [rad/s]
    target : boost wanted [Pa gauge]
    ambient, temperature : of the air around [Pa abs], [K]
    loop : the car has a boost loop, which asks for shorter steps
    driven : pulls that were driven: their duty over engine speed serves a car whose duty follows a table
    rate : how fast the engine speed rises [rad/s2]; as it was driven where None, else as in a usual slow pull
    """
    begin, as_driven = set_ups.RAMP_FROM, None
    if driven is not None and highest_pull(driven):
        begin, as_driven = _driven(driven, redline)
    used = as_driven if rate is None else rate
    length = 6.0 if used is None else float(np.clip((set_ups.RAMP_TO - begin) * redline / max(used, 1e-6), *_LENGTHS))
    schedule = set_ups.slow_ramp(
        redline, target, ambient, SHARES, seconds=length, loop=loop, temperature=temperature, begin=begin, heat=_WARM
    )
    ramp = Ramp(np.array(SHARES) * redline, redline, target, schedule)
    if driven is None or not highest_pull(driven):
        return ramp
    return ramp.given("logged_duty", np.interp(schedule.inputs[:, INPUTS.index("engine_speed")], *_duty(driven)))


def _driven(drive: Drive, redline: float) -> tuple[float, float]:
    """Where the highest pull began, as a share of redline, and how fast its engine speed rose [rad/s2]."""
    steps = np.flatnonzero(np.isin(drive.record, highest_pull(drive)))
    first, last = int(steps[0]), int(steps[-1])
    opened = first
    throttle = drive.inputs[:, INPUTS.index("throttle")]
    while opened > 0 and throttle[opened - 1] > 0.9:
        opened -= 1
    speed = drive.inputs[:, INPUTS.index("engine_speed")]
    rate = (speed[last] - speed[opened]) / max(float(drive.steps[opened:last].sum()), 0.1)
    return float(np.clip(speed[opened] / redline, _LOWEST, set_ups.RAMP_FROM)), float(max(rate, 1.0))


def _duty(drive: Drive) -> tuple[Array, Array]:
    """Duty over engine speed in the highest pull."""
    steps = np.flatnonzero(np.isin(drive.record, highest_pull(drive)))
    speed, duty = (drive.inputs[steps, INPUTS.index(name)] for name in ("engine_speed", "logged_duty"))
    order = np.argsort(speed, kind="stable")
    return speed[order], duty[order]


def run(par: Array, ramp: Ramp, changes: tuple[Change, ...] = ()) -> Array:
    """Outputs of cars on the ramp, (slots, outputs, n) as `physics.system.OUTPUTS`.

    Parameters
    ----------
    par : (parameters, n) SI
    ramp : to be driven
    changes : of the set-up
    """
    return run_pull(par, changes, ramp.schedule)


def boost_of(outputs: Array) -> Array:
    """True boost at the manifold, (slots, n) [Pa gauge]."""
    return np.asarray(outputs[:, OUTPUT_INDEX["boost"]], float)
