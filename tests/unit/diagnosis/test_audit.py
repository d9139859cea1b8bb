"""A second, finer computation finds cars whose first one cannot be believed, and only those."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
from benchmarks.cars import pull, random_cars

from boostproof.bench.response import Candidates
from boostproof.diagnosis.evidence.drive import Drive
from boostproof.diagnosis.evidence.simulator import car_kernel
from boostproof.diagnosis.inference.audit import ALLOWED, MOST, audit
from boostproof.diagnosis.inference.particles import Particles
from boostproof.physics.stepping import pull_steps


def driven(steps: np.ndarray, cars: int, weight: np.ndarray | None = None) -> tuple[Particles, Drive]:
    inputs, _ = pull(steps)
    record = (np.arange(len(steps)) * 12 // len(steps)).astype(np.int32)
    drive = Drive(inputs, steps, record, tuple(SimpleNamespace() for _ in range(12)), 1)  # type: ignore[arg-type]
    par = random_cars(cars, seed=4)[0].astype(float)
    out = car_kernel().run(par, inputs, steps, record, 12)
    candidates = Candidates(par, np.zeros(12), np.asarray(out, float), all_outputs=np.asarray(out, float))
    weight = np.full(cars, 1.0 / cars) if weight is None else weight
    return Particles(candidates, np.zeros(cars, int), weight, []), drive


def test_the_steps_in_use_pass() -> None:
    found = audit(*driven(pull_steps(6.0), 96))
    assert found.cars == MOST
    assert found.passed
    assert found.largest < 2.0 * ALLOWED


def test_steps_that_are_too_long_are_found() -> None:
    found = audit(*driven(np.full(100, 0.06), 48))
    assert found.largest > 5.0 * ALLOWED
    assert not found.passed


def test_the_heaviest_cars_are_computed_once_each() -> None:
    particles, drive = driven(pull_steps(2.0), 3)
    again = np.array([0, 0, 1, 2, 2, 2])
    repeated = Particles(
        Candidates(
            particles.candidates.par[:, again],
            np.zeros(12),
            particles.candidates.pull_outputs[:, :, again],
            all_outputs=particles.candidates.all_outputs[:, :, again],
        ),
        np.array([0, 0, 0, 0, 0, 1]),
        np.array([0.3, 0.3, 0.2, 0.1, 0.09, 0.01]),  # the last hypothesis is not named
        [],
    )
    assert audit(repeated, drive).cars == 3
