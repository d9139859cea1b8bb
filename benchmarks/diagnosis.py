"""How long the ranking of the causes takes, beside the simulation that it cannot do without.

The log is of a simulated car with a worn controller spring, which the diagnosis does not know.
"""

from __future__ import annotations

import time

import numpy as np
from evaluation.families import families, level_rows, recording_of

from benchmarks.figure import Figure
from benchmarks.timing import best
from boostproof.diagnosis.evidence.drive import Driven
from boostproof.diagnosis.evidence.setup import build
from boostproof.diagnosis.evidence.simulator import run_drive
from boostproof.diagnosis.inference.posterior import infer
from boostproof.physics.system import OUTPUT_INDEX

CARS = 1024  # simulated once, what the ranking is measured in
FADE = 0.8  # boost in the log of that of a car drawn from the prior


def ranking() -> dict[str, Figure]:
    """CPU seconds of a ranking with one pull, and how many times the simulation of 1024 cars that is."""
    family = families()[1]
    recording, pull = recording_of(family)
    recording, _ = recording_of(family, {"boost": np.full(recording.rows, 5.0e4)})
    simulator, causes, _ = build(family.car, [Driven(recording, (pull,))], (), None)
    z = np.random.default_rng(3).standard_normal((simulator.prior.size, CARS))
    cars = simulator.prior.sound(z)
    boost = np.asarray(run_drive(cars[:, :1], simulator.drive)[:, OUTPUT_INDEX["boost"], 0], float)
    faded, _ = recording_of(family, {"boost": level_rows(FADE * boost, simulator.drive.bins)})
    simulator, causes, _ = build(family.car, [Driven(faded, (pull,))], (), None)
    once = best(lambda: run_drive(cars, simulator.drive), 3, clock=time.process_time)
    whole = best(lambda: infer(simulator, causes, family.car.controller.kind), 1, clock=time.process_time)
    return {
        "ranking_s": Figure("ranking every cause from one pull", whole, "s of CPU"),
        "ranking_over_cars": Figure(f"the same over the simulation of {CARS} cars", whole / once, "", 400.0),
    }


if __name__ == "__main__":
    for figure in ranking().values():
        print(f"{figure.name:62} {figure.value:12,.4g} {figure.unit}")  # noqa: T201
