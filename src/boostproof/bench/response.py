"""What a candidate car would answer to a test, beside what was read: shapes shared by all tests."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.observation import Observation

Array = NDArray[np.float64]


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
    """

    par: Array = field(repr=False)
    pull_speeds: Array = field(repr=False)
    pull_outputs: Array = field(repr=False)
    ambient: float = 101325.0
    sound_boost: Array = field(default_factory=lambda: np.zeros((0, 0)), repr=False)
    noticed: Array = field(default_factory=lambda: np.zeros(0), repr=False)
    all_outputs: Array = field(default_factory=lambda: np.zeros((0, 0, 0)), repr=False)

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
    """

    test: str
    features: Features = field(repr=False)
    observations: tuple[Observation, ...]
    flat: Mapping[str, float] = field(default_factory=dict)
