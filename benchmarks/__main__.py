"""The figures that the program stands on: ``python3 dev.py bench`` (``--smoke`` a quick look, ``--json``).

Speed of the car model, its error against a tight reference solver, and how soon the command line answers.
Exit code 1 where a figure is worse than what the program needs; the limits are far from what a quiet machine
shows, so that only a real loss trips them. ``python -m benchmarks.lanes`` looks at kernels in detail.
"""

# ruff: noqa: T201  # printing is its job
from __future__ import annotations

import argparse
import json
import platform
import subprocess
import sys
import time
from dataclasses import asdict, dataclass

import numpy as np

from benchmarks.lanes import car_candidates, car_kernel
from boostproof.diagnosis.drive import JUMP_TIME, STEP_JUMP, STEP_PULL
from boostproof.physics import layout, system
from boostproof.physics.lanes import Kernel, make_kernel
from boostproof.physics.ops import component
from boostproof.physics.system import OUTPUT_INDEX

PULL_SECONDS = 6.0
REFERENCE_STEP = 0.25e-3  # s; halving it changes the reference by less than a tenth of the limits below


@dataclass(frozen=True)
class Figure:
    """One measured figure, its unit, and the limit beyond which it is a failure."""

    name: str
    value: float
    unit: str
    limit: float | None = None
    at_least: bool = False

    @property
    def good(self) -> bool:
        """Within its limit, or without one."""
        if self.limit is None:
            return True
        return self.value >= self.limit if self.at_least else self.value <= self.limit


@component
def classical_step(state, par, inp, h):
    """The classical fourth-order Runge-Kutta step: explicit, no Jacobian, so independent of the scheme in
    use but for the equations and the stops of the arm."""
    ambient = inp[4] + 0.0 * state[0]
    k1, _, outputs = system.rates(state, par, inp)
    k2, _, _ = system.rates(system._moved(state, k1, 0.5 * h, par, ambient), par, inp)
    k3, _, _ = system.rates(system._moved(state, k2, 0.5 * h, par, ambient), par, inp)
    k4, _, _ = system.rates(system._moved(state, k3, h, par, ambient), par, inp)
    k = (
        (k1[0] + 2.0 * (k2[0] + k3[0]) + k4[0]) * 0.16666667,
        (k1[1] + 2.0 * (k2[1] + k3[1]) + k4[1]) * 0.16666667,
        (k1[2] + 2.0 * (k2[2] + k3[2]) + k4[2]) * 0.16666667,
        (k1[3] + 2.0 * (k2[3] + k3[3]) + k4[3]) * 0.16666667,
        (k1[4] + 2.0 * (k2[4] + k3[4]) + k4[4]) * 0.16666667,
        (k1[5] + 2.0 * (k2[5] + k3[5]) + k4[5]) * 0.16666667,
    )
    return system._moved(state, k, h, par, ambient), outputs


def reference_kernel() -> Kernel:
    """The same equations under the classical step."""
    return make_kernel(
        classical_step, system.initial, system.N_STATE, layout.SIZE, system.N_INPUT, system.N_OUTPUT,
        sources=[__file__, system], name="car_reference",
    )  # fmt: skip


def pull() -> tuple[np.ndarray, np.ndarray]:
    """Inputs and steps of a pull in the steps that a diagnosis uses: 2,500 to 6,500 rpm from a tip-in."""
    jump = np.full(round(JUMP_TIME / STEP_JUMP), STEP_JUMP)
    steps = np.concatenate([jump, np.full(round((PULL_SECONDS - JUMP_TIME) / STEP_PULL), STEP_PULL)])
    t = np.cumsum(steps) - steps
    values = {
        "engine_speed": (2500 + 4000 * t / PULL_SECONDS) * np.pi / 30,
        "throttle": np.minimum(1.0, 0.2 + 8 * t),
        "target": 1.2e5,
        "logged_duty": 0.0,
        "ambient_pressure": 101_325.0,
        "ambient_temperature": 298.0,
    }
    return np.column_stack([np.broadcast_to(values[name], t.shape) for name in system.INPUTS]), steps


def speed(cars: int) -> list[Figure]:
    """Pulls per second of one core's time, float32."""
    inputs, steps = pull()
    record = np.arange(len(steps)) // 20
    kernel, par = car_kernel(), car_candidates(cars)
    start = time.perf_counter()
    kernel.run(par[:, :1], inputs, steps, record, int(record.max()) + 1)
    first = time.perf_counter() - start
    rates = []
    for _ in range(5):
        start = time.process_time()
        kernel.run(par, inputs, steps, record, int(record.max()) + 1, threads=1)
        rates.append(cars / (time.process_time() - start))
    # The slow engine is for machines without numba, where nothing better can be had.
    limit = 5_000.0 if kernel.engine == "lanes" else 100.0
    return [
        Figure("first call of the kernel, compiling where it is not on disk", first, "s"),
        Figure(f"6 s pulls per CPU-second ({kernel.engine})", max(rates), "1/s", limit, at_least=True),
    ]


def accuracy(cars: int) -> list[Figure]:
    """Boost of float32 in the steps in use against float64 classical Runge-Kutta in fine steps."""
    inputs, steps = pull()
    record = np.arange(len(steps))
    parts = np.rint(steps / REFERENCE_STEP).astype(int)
    fine_steps = np.repeat(steps / parts, parts)
    fine_record = np.full(len(fine_steps), -1)
    fine_record[np.cumsum(parts) - parts] = record  # the same moments, not means over each step
    par = car_candidates(cars)
    boost = OUTPUT_INDEX["boost"]
    used = car_kernel().run(par, inputs, steps, record, len(steps))[:, boost]
    reference = reference_kernel().run(
        par, np.repeat(inputs, parts, axis=0), fine_steps, fine_record, len(steps), dtype=np.float64
    )[:, boost]
    worst = np.abs(used - reference).max(axis=0) / 1e3  # kPa, of every car
    return [
        Figure("boost error of the middle car at its worst moment", float(np.median(worst)), "kPa", 0.5),
        Figure("boost error of the worst car in a hundred", float(np.quantile(worst, 0.99)), "kPa", 4.0),
        Figure("cars with an error above 1 kPa", 100.0 * float((worst > 1.0).mean()), "%"),
    ]


def start_up() -> list[Figure]:
    """Seconds until ``boostproof --help`` has answered, best of five."""
    taken = []
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-m", "boostproof", "--help"], capture_output=True, check=True)
        taken.append(time.perf_counter() - start)
    return [Figure("boostproof --help", min(taken), "s", 0.3)]


def main() -> int:
    parser = argparse.ArgumentParser(prog="dev.py bench", description=__doc__)
    parser.add_argument("--smoke", action="store_true", help="few cars, under a minute")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    options = parser.parse_args()
    figures = [
        *start_up(),
        *speed(1_024 if options.smoke else 8_192),
        *accuracy(64 if options.smoke else 2_048),
    ]
    machine = f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}"
    if options.json:
        rows = [asdict(figure) | {"good": figure.good} for figure in figures]
        print(json.dumps({"format": 1, "machine": machine, "figures": rows}, indent=1))
    else:
        print(machine)
        for figure in figures:
            limit = "" if figure.limit is None else f"{'>=' if figure.at_least else '<='} {figure.limit:g}"
            mark = "" if figure.good else "  WORSE THAN NEEDED"
            print(f"{figure.name:62} {figure.value:12,.4g} {figure.unit:4} {limit:10}{mark}".rstrip())
    return 0 if all(figure.good for figure in figures) else 1


if __name__ == "__main__":
    sys.exit(main())
