"""How a car is driven for a recording: key-on, cruise, a ladder of pulls, roll-off between them."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from . import loop
from .draw import Car
from .people import Rng
from .run import SAMPLE, Phase, cruise, pull, roll_off, run

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Drive:
    """How the car was driven: place, gear, ramp, the pulls, and the logger."""

    place: str
    gear: int | None
    ramp: float | None
    phases: tuple[Phase, ...]
    full_pulls: tuple[int, ...]
    key_on: float  # s
    started: float  # s
    rate: float


def plan(car: Car, rng: Rng) -> Drive:
    """Draw a drive: key-on, cruise, a ladder of pulls that end early when boost runs away."""
    place = str(rng.choice(["brake dyno", "inertia dyno", "road"], p=[0.34, 0.38, 0.28]))
    gear = int(rng.choice([3, 4])) if place != "brake dyno" or rng.random() < 0.3 else None
    ramp = float(rng.choice(np.arange(250.0, 500.0, 50.0))) if place == "brake dyno" else None
    e = car.hardware.engine
    if ramp is not None:
        load = ramp
    else:
        # the inertia that gives a usual rate at the torque of full boost (about 1.05 MPa at 1 bar absolute)
        full = e.displacement * (1.0 + car.target / 1e5) * 1.05e6 / (4.0 * pi)
        load = -full / (float(rng.uniform(330.0, 800.0)) * pi / 30.0)
    start = float(rng.choice([1800.0, 1900.0, 2000.0, 2100.0, 2200.0]))
    count = int(rng.choice([1, 2, 3, 4, 5], p=[0.12, 0.22, 0.26, 0.25, 0.15]))
    stop = car.target + float(rng.uniform(0.15, 0.5)) * car.target + 1.2e4
    reaction = float(rng.uniform(0.12, 0.35))
    pedal = float(rng.uniform(0.11, 0.16))
    phases: list[Phase] = [cruise(start, 4.0, pedal=pedal, keep=False), cruise(start, 2.0, pedal=pedal)]
    full_pulls: list[int] = []
    if rng.random() < 0.15:
        gentle = start + float(rng.uniform(1500.0, 3000.0))
        phases += [
            pull(gentle, load, lift_at=stop, pedal=float(rng.uniform(0.36, 0.5))),
            roll_off(start, 1.0),
            roll_off(start, 3.0, keep=False),
            cruise(start, 2.0, pedal=pedal),
        ]
    first = start + float(rng.uniform(0.5, 0.75)) * (car.redline - start)
    for n in range(count):
        end = car.redline if n == count - 1 else first + (car.redline - first) * n / max(count - 1, 1)
        full_pulls.append(len(phases))
        phases.append(pull(round(end / 50.0) * 50.0, load, lift_at=stop, reaction=reaction))
        rest = float(rng.uniform(1.0, 3.5))
        phases += [roll_off(start, rest, rate=float(rng.uniform(900.0, 1500.0)))]
        if n < count - 1:
            phases += [
                roll_off(start, 8.0, rate=1500.0, keep=bool(rng.random() < 0.5)),
                cruise(start, 2.0, pedal=pedal),
            ]
    rate = float(rng.choice([10.0, 16.0, 20.0, 20.0, 25.0, 40.0, 50.0]))
    gap = float(rng.uniform(20.0, 160.0))
    began = float(rng.choice([0.0, 0.0, rng.uniform(10.0, 400.0)]))
    return Drive(place, gear, ramp, tuple(phases), tuple(full_pulls), began, began + gap, rate)


def _key_on(car: Car, lasts: float) -> Array:
    """Rows with the engine standing: everything at ambient."""
    air = car.hardware.air
    rows = np.zeros((int(lasts / SAMPLE), loop.COLUMNS))
    rows[:, loop.TIME] = np.arange(len(rows)) * SAMPLE
    for column in (
        loop.P_MANIFOLD,
        loop.P_PIPE,
        loop.P_COMPRESSOR,
        loop.P_EXHAUST,
        loop.P_BACK,
        loop.P_CHAMBER,
        loop.P_LINE,
    ):
        rows[:, column] = air.pressure
    for column in (loop.T_MANIFOLD, loop.T_COMPRESSOR):
        rows[:, column] = air.temperature + 4.0
    rows[:, loop.T_EXHAUST] = rows[:, loop.T_BACK] = air.temperature + 250.0
    rows[:, loop.LAMBDA] = 9.0
    return rows


def record(car: Car, drive: Drive) -> tuple[Array, list[Array]]:
    """True values of the whole recording, key-on included, and those of each full pull."""
    driven, _ = run(car.hardware, drive.phases)
    pulls = [driven[driven[:, loop.PHASE] == k] for k in drive.full_pulls]
    pulls = [p for p in pulls if len(p) > 20]
    driven = driven.copy()
    driven[:, loop.TIME] += drive.started - driven[0, loop.TIME]
    still = _key_on(car, 3.0)
    still[:, loop.TIME] += drive.key_on
    still[:, loop.PHASE] = -1.0
    return np.vstack([still, driven]), pulls
