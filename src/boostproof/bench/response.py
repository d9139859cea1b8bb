"""What a candidate car would answer to a test, beside what was read: shapes shared by all tests."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.observation import Observation
from boostproof.physics.change import Change

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Schedule:
    """How a test pull would be driven, as the transient model takes it.

    Attributes
    ----------
    inputs : (steps, inputs) as `physics.system.INPUTS`
    steps : (steps,) step sizes [s]
    record : (steps,) output slot or -1; a slot holds the mean over its steps
    slots : number of output slots
    """

    inputs: Array = field(repr=False)
    steps: Array = field(repr=False)
    record: NDArray[np.int32] = field(repr=False)
    slots: int

    def finer(self, parts: int) -> Schedule:
        """The same pull in smaller steps, each cut into parts."""
        return Schedule(
            np.repeat(self.inputs, parts, axis=0),
            np.repeat(self.steps / parts, parts),
            np.repeat(self.record, parts),
            self.slots,
        )


# parameters, changes of the set-up, schedule -> (slots, outputs, n)
Simulate = Callable[[Array, tuple[Change, ...], Schedule], Array]


def _no_simulation(par: Array, changes: tuple[Change, ...], schedule: Schedule) -> Array:
    raise RuntimeError("these candidates were made without a simulation of other pulls")


@dataclass(frozen=True)
class Candidates:
    """Candidate cars as the tests see them.

    Attributes
    ----------
    par : (parameters, n) the car as it stands, SI
    pull_speeds : (slots,) engine speed of the simulated bins of the highest pull [rad/s]
    pull_outputs : (slots, outputs, n) simulated means there, as `physics.system.OUTPUTS`
    ambient : pressure around during the pulls [Pa abs]
    sound_boost : (bins, n) boost of the sound car of each candidate on a slow ramp [Pa gauge]
    noticed : (n,) largest difference that the fault makes on that ramp, in boost or its reading [Pa]
    all_outputs : (slots, outputs, n) simulated means in the bins of all pulls
    sound : (parameters, n) the car without its fault; as `par` where it was not given
    simulated : runs the cars through another pull with another set-up
    """

    par: Array = field(repr=False)
    pull_speeds: Array = field(repr=False)
    pull_outputs: Array = field(repr=False)
    ambient: float = 101325.0
    sound_boost: Array = field(default_factory=lambda: np.zeros((0, 0)), repr=False)
    noticed: Array = field(default_factory=lambda: np.zeros(0), repr=False)
    all_outputs: Array = field(default_factory=lambda: np.zeros((0, 0, 0)), repr=False)
    sound: Array = field(default_factory=lambda: np.zeros((0, 0)), repr=False)
    simulated: Simulate = field(default=_no_simulation, repr=False)

    def __post_init__(self) -> None:
        if self.sound.shape != self.par.shape:
            object.__setattr__(self, "sound", self.par)

    def simulate(self, changes: tuple[Change, ...], schedule: Schedule) -> Array:
        """Outputs of a pull that was not driven, with changes of the set-up. [(slots, outputs, n)]"""
        return np.asarray(self.simulated(self.par, changes, schedule), float)

    def at_speed(self, output: int, engine_speed: float) -> Array:
        """A simulated output of the highest pull at an engine speed, ends held. [(n,)]"""
        speeds = self.pull_speeds
        if len(speeds) == 1:
            return np.asarray(self.pull_outputs[0, output], float)
        i = int(np.clip(np.searchsorted(speeds, engine_speed) - 1, 0, len(speeds) - 2))
        w = float(np.clip((engine_speed - speeds[i]) / (speeds[i + 1] - speeds[i]), 0.0, 1.0))
        return np.asarray(
            (1.0 - w) * self.pull_outputs[i, output] + w * self.pull_outputs[i + 1, output], float
        )


Features = Callable[[Candidates], Mapping[str, Array]]


@dataclass(frozen=True)
class Response:
    """One test as evidence.

    Attributes
    ----------
    test : test id
    features : predicts each feature for candidates, (n,) each
    observations : what was read, by feature
    flat : (feature, width) over which a part that nobody thought of might answer, for "none of these"
    gauge : which gauge was read; readings of one gauge share its zero
    """

    test: str
    features: Features = field(repr=False)
    observations: tuple[Observation, ...]
    flat: Mapping[str, float] = field(default_factory=dict)
    gauge: str = ""
