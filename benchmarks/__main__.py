"""The figures that the program stands on: ``python3 dev.py bench`` (``--smoke`` a quick look, ``--json``).

Speed of the car model, its error against steps of 0.25 ms in double precision, how soon the command line
answers, how fast a long log is read and measured and
how soon after it was dropped its plot is drawn, how soon jobs are kept and found, how soon the next
test is chosen and a band is there for one more size of a repair, and how soon the causes are ranked. Exit code 1 where a
figure is worse than what the program needs; the limits are far from what a quiet machine shows, so that only
a real loss trips them. With ``--smoke``, which runs on machines that others use, a figure of clock time that is beyond
its limit is marked, and ends with exit code 1 only beyond twice its limit; ratios, errors and memory as ever.
``--keep`` adds the figures to ``benchmarks/history.jsonl``.
``python -m benchmarks.lanes`` looks at kernels in detail.
"""

# ruff: noqa: T201  # printing is its job
from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.cars import pull, random_cars
from benchmarks.choice import next_test
from benchmarks.diagnosis import first_look, ranking
from benchmarks.figure import Figure
from benchmarks.keeping import keeping
from benchmarks.lanes import FRESH_PROCESS, ROOT, car_kernel
from benchmarks.limits import fma_gflops
from benchmarks.logs import long_log
from benchmarks.pages import pages
from benchmarks.sizes import one_size
from benchmarks.timing import best
from benchmarks.uploads import uploads
from boostproof.physics import layout
from boostproof.physics.stepping import JUMP_TIME
from boostproof.physics.system import OUTPUT_INDEX

HISTORY = Path(__file__).with_name("history.jsonl")
REFERENCE_STEP = 0.25e-3  # s; twice as long ones change the boost of 99 cars in 100 by less than 0.03 kPa
GOOD_ENOUGH = 0.1  # kPa
CHUNK = 512  # cars of the accuracy check at a time, for memory


def speed(cars: int) -> dict[str, Figure]:
    """Pulls per second of one core's time, float32, cars of every kind; and on two cores."""
    inputs, steps = pull()
    record = np.arange(len(steps)) // 20
    drive = (inputs, steps, record, int(record.max()) + 1)
    kernel, par = car_kernel(), random_cars(cars)[0]
    first = best(lambda: kernel.run(par[:, :1], *drive), 1)

    def rate(clock: Any, threads: int) -> float:
        return cars / best(lambda: kernel.run(par, *drive, threads=threads), clock=clock)

    # The slow engine is for machines without numba, where nothing better can be had.
    limit = 5_000.0 if kernel.engine == "lanes" else 100.0
    one, two = rate(time.perf_counter, 1), rate(time.perf_counter, 2)
    out = {
        "first_call_s": Figure("first call of the kernel, compiling where it is not on disk", first, "s"),
        "pulls_per_cpu_second": Figure(
            f"6 s pulls per CPU-second ({kernel.engine})", rate(time.process_time, 1), "1/s", limit, at_least=True
        ),
    }
    if (os.cpu_count() or 1) > 1 and kernel.engine == "lanes":
        out["two_core_gain"] = Figure("two threads over one", two / one, "")
    return out


def accuracy(cars: int) -> dict[str, Figure]:
    """Boost of float32 in the steps in use against float64 in fine steps, after the throttle has opened."""
    inputs, steps = pull()
    parts = np.ceil(steps / REFERENCE_STEP - 1e-9).astype(int)
    fine_inputs, fine_steps = pull(np.repeat(steps / parts, parts))
    record = np.arange(len(steps))
    fine_record = np.full(len(fine_steps), -1)
    fine_record[np.cumsum(parts) - parts] = record  # the same moments, not means over each step
    open_ = np.cumsum(steps) - steps > JUMP_TIME
    par, controllers, _ = random_cars(cars, seed=2)
    boost = OUTPUT_INDEX["boost"]
    worst = np.empty(cars)
    for begin in range(0, cars, CHUNK):
        some = par[:, begin : begin + CHUNK]
        used = car_kernel().run(some, inputs, steps, record, len(steps))[open_, boost]
        exact = car_kernel().run(
            some, fine_inputs, fine_steps, fine_record, len(steps), dtype=np.float64
        )[open_, boost]
        worst[begin : begin + CHUNK] = np.abs(used - exact).max(axis=0) / 1e3
    loop = par[layout.INDEX["closed_loop"]] > 0.5
    plain = worst[~loop]
    out = {
        "max_error_kpa": Figure("boost error of the worst car", float(worst.max()), "kPa"),
        "max_error_kpa_without_loop": Figure(
            "… of those without a boost loop", float(plain.max()), "kPa", 3.0 * GOOD_ENOUGH
        ),
        "cars_above_0_1_kpa_without_loop_percent": Figure(
            "… of which above 0.1 kPa", 100.0 * float((plain > GOOD_ENOUGH).mean()), "%"
        ),
        "median_error_kpa": Figure("boost error of the middle car", float(np.median(worst)), "kPa", GOOD_ENOUGH),
        "loop_median_error_kpa": Figure(
            "… of those with a boost loop, whose swings shift in time", float(np.median(worst[loop])), "kPa", 0.5
        ),
        "loop_error_kpa_90_percent": Figure(
            "… which 90 in 100 of them keep to", float(np.quantile(worst[loop], 0.9)), "kPa", 4.0
        ),
    }
    kinds = np.array(controllers)
    for kind in sorted(set(controllers)):
        chosen = worst[(kinds == kind) & ~loop]
        if len(chosen):
            name = f"boost error of the worst car without a loop: {kind}"
            out[f"max_error_kpa {kind}"] = Figure(name, float(chosen.max()), "kPa")
    return out


def start_up() -> dict[str, Figure]:
    """Seconds until ``boostproof --help`` has answered, and a fresh process has run a hundred pulls."""

    def started(command: list[str], times: int, **more: Any) -> float:
        return best(lambda: subprocess.run(command, capture_output=True, check=True, **more), times)

    with tempfile.TemporaryDirectory() as folder:
        path = os.pathsep.join((str(ROOT), str(ROOT / "src")))
        where = {"env": {**os.environ, "BOOSTPROOF_CACHE": folder, "PYTHONPATH": path}}
        command = [sys.executable, "-c", FRESH_PROCESS]
        cold, warm = started(command, 1, **where), started(command, 5, **where)
    return {
        "help_s": Figure("boostproof --help", started([sys.executable, "-m", "boostproof", "--help"], 5), "s", 0.3),
        "process_cold_s": Figure("a process that compiles and runs 100 pulls", cold, "s"),
        "process_warm_s": Figure("a process that finds its kernel and runs 100 pulls", warm, "s", 1.5),
    }


def main() -> int:
    parser = argparse.ArgumentParser(prog="dev.py bench", description=__doc__)
    smoke = "few cars, under a minute; clock time fails only beyond twice its limit"
    parser.add_argument("--smoke", action="store_true", help=smoke)
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument("--keep", action="store_true", help="add the figures to benchmarks/history.jsonl")
    options = parser.parse_args()
    figures = {
        **start_up(),
        **speed(1_024 if options.smoke else 8_192),
        "fma_gflops_measured": Figure("multiply-adds of one core, measured", fma_gflops(), "GFLOP/s"),
        **accuracy(128 if options.smoke else 4_096),
        **long_log(100_000 if options.smoke else 1_000_000),
        **keeping(),
        **next_test(),
        **one_size(),
        **ranking(),
        **first_look(),
        **uploads(),
        **({} if options.smoke else pages()),
    }
    machine = f"{_processor()}, {platform.system()}, Python {platform.python_version()}, numpy {np.__version__}"
    plain = {"format": 2, "machine": machine, **{key: figure.value for key, figure in figures.items()}}
    if options.keep:
        line = {"date": datetime.now(UTC).strftime("%Y-%m-%d"), **plain}
        with HISTORY.open("a", encoding="utf-8") as history:
            history.write(json.dumps(line) + "\n")
    if options.json:
        rows = [
            {"key": key, **asdict(figure), "good": figure.good, "fails": figure.fails(smoke=options.smoke)}
            for key, figure in figures.items()
        ]
        print(json.dumps(plain | {"figures": rows}, indent=1))
    else:
        print(machine)
        for figure in figures.values():
            limit = "" if figure.limit is None else f"{'>=' if figure.at_least else '<='} {figure.limit:g}"
            mark = "" if figure.good else "  WORSE THAN NEEDED"
            print(f"{figure.name:62} {figure.value:12,.4g} {figure.unit:4} {limit:10}{mark}".rstrip())
    return int(any(figure.fails(smoke=options.smoke) for figure in figures.values()))


def _processor() -> str:
    """Name of the processor and how wide its registers are, where the system tells."""
    info = Path("/proc/cpuinfo")
    if not info.exists():
        return platform.processor() or platform.machine()
    text = info.read_text()
    name = next((line.split(":", 1)[1].strip() for line in text.splitlines() if line.startswith("model name")), "")
    wide = "AVX-512" if "avx512f" in text else "AVX2" if "avx2" in text else ""
    return " ".join(part for part in (name or platform.machine(), wide) if part)


if __name__ == "__main__":
    sys.exit(main())
