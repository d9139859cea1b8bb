"""Cars of another simulator driven by the pull plan, as `evaluation.pull_plans` drives cars of the model itself."""

from __future__ import annotations

import argparse
import json
from dataclasses import replace

import numpy as np

from boostproof.car.prior import build_prior
from boostproof.demo import loop
from boostproof.demo.bench import stream
from boostproof.demo.draw import KINDS, Car, random_car
from boostproof.demo.drive import plan as plan_drive
from boostproof.demo.faults import FAULTS, apply, suits
from boostproof.demo.hardware import NONE
from boostproof.demo.paper import car_text
from boostproof.demo.run import cruise, pull, run
from boostproof.diagnosis.evidence.setup import car_blocks, causes_of
from boostproof.pullplan.before import ensemble_before
from boostproof.pullplan.ramp import speeds
from boostproof.pullplan.terms import Terms
from boostproof.workflows.plan import terms_of
from evaluation.families import RPM, car_of
from evaluation.pull_plans import Array, Trial, TrueCar, drive_by_plan, summary


def curve_of(car: Car, terms: Terms) -> Array:
    """True boost on the ladder's ramp up to the redline. [Pa gauge, (r,)]"""
    start, end = terms.start / RPM, terms.redline / RPM
    driven, _ = run(car.hardware, [cruise(start, 4.0, keep=False), pull(end, terms.ramp / RPM)])
    return boost_at(driven, car.hardware.air.pressure, speeds(terms))


def boost_at(rows: Array, around: float, wanted: Array) -> Array:
    """True boost at engine speeds on the way up. [Pa gauge]

    Parameters
    ----------
    rows : of the other simulator, (rows, `loop.COLUMNS`)
    around : pressure of the air [Pa abs]
    wanted : engine speeds [rad/s]
    """
    speed, boost = rows[:, loop.RPM] * RPM, rows[:, loop.P_MANIFOLD] - around
    rising = np.flatnonzero(np.maximum.accumulate(speed) <= speed + 1e-9)
    return np.asarray(np.interp(wanted, speed[rising], boost[rising]))


def least_boost(car: Car) -> Car:
    """The car with its controller out and a short new hose straight to the actuator."""
    signal = {"kind": NONE, "bleed_area": 0.0, "path_area": 1e-5, "leak_area": 0.0, "take_off": 0.0}
    return replace(car, hardware=car.hardware.changed("signal", **signal))


def trial(cause: str, severity: float, seed: int) -> Trial | None:
    """Drive one car by the plan, before any diagnosis; None where it is not dangerous or cannot have the cause."""
    kinds = [k for k in KINDS if suits(cause, k)]
    if not kinds:
        return None
    rng = stream(seed, "car")
    sound = random_car(rng, kind=float(rng.choice(kinds)))
    car = apply(sound, cause, severity, stream(seed, "fault"))
    text = car_text(car, sound, plan_drive(car, stream(seed, "drive")), [], "a car", stream(seed, "words"), "kPa")
    spec = car_of(text)
    terms, _ = terms_of(spec)
    true = {"as found": curve_of(car, terms)}
    if true["as found"].max() <= terms.hard:
        return None
    controller = spec.controller.kind
    if controller != "none":
        true = {"least boost": curve_of(least_boost(car), terms), **true}
    ensemble = ensemble_before(
        build_prior(spec), causes_of(spec), terms,
        loop=controller.startswith("solenoid") and spec.controller.closed_loop is not False,
        ambient=car.hardware.air.pressure, temperature=car.hardware.air.temperature, facts=car_blocks(spec),
    )  # fmt: skip
    of = TrueCar(speeds(terms), true, cause)
    return drive_by_plan(ensemble, of, terms, np.random.default_rng([seed, 9]), controller)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=24)
    parser.add_argument("--seed", type=int, default=5000)
    given = parser.parse_args()
    names, n = sorted(FAULTS), 0
    trials: list[Trial] = []
    while len(trials) < given.cars:
        cause = names[n % len(names)]
        severity = float(stream(given.seed + n, "severity").uniform(0.3, 1.0))
        done = trial(cause, severity, given.seed + n)
        if done is not None:
            trials.append(done)
        n += 1
    print(json.dumps(summary(trials) | {"drawn": n}, indent=2))


if __name__ == "__main__":
    main()
