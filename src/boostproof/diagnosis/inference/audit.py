"""The candidates that a result names, computed once more in double precision with half steps.

The steps in use are right to a fraction of a kilopascal for nearly every car; one that is not (near the
edge between spooling and not, or with a swinging boost loop) is uncertain physics and must not stand in an
answer unmarked. An embedded error estimate does not find such cars, halving does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.diagnosis.evidence.drive import Drive
from boostproof.diagnosis.evidence.simulator import run_drive
from boostproof.diagnosis.inference.particles import Particles
from boostproof.physics.system import OUTPUT_INDEX

MOST = 64  # cars of one audit, those with the largest weights
ALLOWED = 1.0e3  # Pa; a sensor shows no less
SHARE = 0.02  # weight of a hypothesis from which its cars are named in a result


@dataclass(frozen=True)
class Audit:
    """What a second, finer computation says of the first.

    Attributes
    ----------
    cars : how many different ones were computed again
    largest : largest difference of boost in any bin of any of them [Pa]
    weight : share of their weight whose difference is above `ALLOWED` [1]
    """

    cars: int
    largest: float
    weight: float

    @property
    def passed(self) -> bool:
        """Nearly all of the weight lies on cars that are computed well."""
        return self.weight <= 0.05


def audit(particles: Particles, drive: Drive) -> Audit:
    """Compute the cars that a result names again, in float64 with every step halved.

    Parameters
    ----------
    particles : cars of the posterior with their simulated outputs
    drive : the pulls that they were simulated on
    """
    named = np.zeros(len(particles.weight), bool)
    for h in np.unique(particles.hypothesis):
        chosen = particles.hypothesis == h
        named |= chosen & (particles.weight[chosen].sum() >= SHARE)
    places = np.flatnonzero(named)
    if not len(places):
        return Audit(0, 0.0, 0.0)
    cars, first, back = np.unique(
        particles.candidates.par[:, places], axis=1, return_index=True, return_inverse=True
    )
    weight = np.bincount(back.ravel(), particles.weight[places])
    heaviest = np.argsort(-weight)[:MOST]
    halved = replace(
        drive,
        inputs=np.repeat(drive.inputs, 2, axis=0),
        steps=np.repeat(0.5 * drive.steps, 2),
        record=_at_first_half(drive.record),
        first_steps=tuple(2 * first for first in drive.first_steps),
    )
    exact = run_drive(cars[:, heaviest], halved, dtype=np.float64)[:, OUTPUT_INDEX["boost"]]
    used = particles.candidates.all_outputs[:, OUTPUT_INDEX["boost"]][:, places[first[heaviest]]]
    difference = np.abs(exact - used).max(axis=0)
    share = weight[heaviest] / weight[heaviest].sum()
    return Audit(len(heaviest), float(difference.max()), float(share[difference > ALLOWED].sum()))


def _at_first_half(record: NDArray[np.int32]) -> NDArray[np.int32]:
    """Slots of halved steps, whose first half begins at the moment that the whole step showed."""
    out = np.full(2 * len(record), -1, np.int32)
    out[::2] = record
    return out
