"""How fast kernels run here: ``python benchmarks/lanes.py`` (a minute, best of several runs).

Prints nanoseconds for one step of one candidate (a lane-step) of the small toy model and of the car model,
what the machine code consists of, how batches and threads scale, and how long compiling and a fresh process
with a compiled kernel on disk take. Compare figures of one machine only, and of a quiet one.
"""

# ruff: noqa: T201  # printing is its job
from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "src"), str(ROOT)]

from tests.unit.physics.assembly import READABLE, lane_loop  # noqa: E402
from tests.unit.physics.kernels import toy_candidates, toy_kernel, toy_pull  # noqa: E402

from benchmarks.cars import pull, random_cars  # noqa: E402
from benchmarks.timing import best  # noqa: E402
from boostproof.diagnosis.evidence.simulator import car_kernel  # noqa: E402
from boostproof.physics.lanes import Kernel  # noqa: E402

Drive = tuple[np.ndarray[Any, Any], np.ndarray[Any, Any], np.ndarray[Any, Any], int]

FRESH_PROCESS = """
import numpy as np
from benchmarks.cars import pull, random_cars
from boostproof.diagnosis.evidence.simulator import car_kernel
inputs, steps = pull()
car_kernel().run(random_cars(100)[0], inputs, steps, np.arange(len(steps)) // 20, 28, engine="lanes")
"""


def measure(name: str, kernel: Kernel, candidates: Callable[[int], Any], pull: Drive) -> None:
    """Print everything about one model."""
    start = time.perf_counter()
    assembly = kernel.assembly()
    compiling = time.perf_counter() - start
    steps = len(pull[1])
    print(f"\n{name}: compiled in {compiling:.2f} s", end="")
    if READABLE:
        found = lane_loop(assembly)
        print(
            f"; lane loop: {found.packed} packed, {found.scalar} scalar, {found.double} double instructions"
            f" of arithmetic, {found.bits}-bit registers",
            end="",
        )
    print("\n  engine   type     threads  candidates   ns per lane-step   ms a run   pulls per s")

    def line(engine: Any, dtype: Any, threads: int, n: int) -> None:
        par = candidates(n)
        kernel.run(par[:, :1], *pull, engine=engine, dtype=dtype)
        taken = best(lambda: kernel.run(par, *pull, engine=engine, dtype=dtype, threads=threads))
        print(
            f"  {engine:8} {np.dtype(dtype).name} {threads:7} {n:11,} {taken / n / steps * 1e9:18.2f}"
            f" {taken * 1e3:10.1f} {n / taken:13,.0f}"
        )

    for n in (1, 100, 1024, 8192):
        line("lanes", np.float32, 1, n)
    line("lanes", np.float32, os.cpu_count() or 1, 8192)
    line("lanes", np.float64, 1, 1024)
    line("numpy", np.float32, 1, 100)
    line("numpy", np.float32, 1, 8192)


def fresh_processes() -> None:
    """Print how long a whole process takes, the first time and with the kernel on disk."""
    with tempfile.TemporaryDirectory() as folder:
        path = os.pathsep.join((str(ROOT), str(ROOT / "src")))
        variables = {**os.environ, "BOOSTPROOF_CACHE": folder, "PYTHONPATH": path}

        def run() -> None:
            subprocess.run([sys.executable, "-c", FRESH_PROCESS], check=True, env=variables)

        first = best(run, 1)
        print(f"\nwhole process, 100 car pulls: first {first:.2f} s, kernel on disk {best(run, 5):.2f} s")


if __name__ == "__main__":
    measure("toy turbo", toy_kernel(), toy_candidates, toy_pull(1200))
    inputs, steps = pull()
    record = np.arange(len(steps)) // 20
    drive = (inputs, steps, record, int(record.max()) + 1)
    measure("car", car_kernel(), lambda n: random_cars(n)[0], drive)
    fresh_processes()
