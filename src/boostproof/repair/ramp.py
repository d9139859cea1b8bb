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
_SPAN = 0.60  # of redline that the ramp goes through


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
        inputs = self.schedule.inputs.copy()
        inputs[:, INPUTS.index("target")] = target
        return replace(self, target=target, schedule=replace(self.schedule, inputs=inputs))


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
    rate : how fast the engine speed rises [rad/s2]; as in a usual slow pull where None
    """
    length = 6.0 if rate is None else float(np.clip(_SPAN * redline / max(rate, 1e-6), *_LENGTHS))
    schedule = set_ups.slow_ramp(
        redline, target, ambient, SHARES, seconds=length, loop=loop, temperature=temperature
    )
    inputs = schedule.inputs.copy()
    inputs[:, INPUTS.index("gate_heat")] = _WARM
    if driven is not None and highest_pull(driven):
        speed, duty = _duty(driven)
        inputs[:, INPUTS.index("logged_duty")] = np.interp(inputs[:, INPUTS.index("engine_speed")], speed, duty)
    speeds = np.array(SHARES) * redline
    return Ramp(speeds, redline, target, replace(schedule, inputs=inputs))


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
