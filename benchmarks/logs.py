"""A long log read, understood and measured, against a general table library that only reads it.

Each in a process of its own, so that its memory is its own; imports are left out of the seconds, as a shop's
program is running when a log comes.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from benchmarks.figure import Figure
from benchmarks.lanes import ROOT

_RATE = 100.0  # rows a second
_CYCLE, _PULL = 250.0, 9.0  # s; forty pulls in a million rows, a long day on a dyno

_READ = """
import sys, time, json
import polars as pl
pl.DataFrame({"a": [1.0]}).select(pl.col("a") + 1)
start, cpu = time.perf_counter(), time.process_time()
frame = pl.read_csv(sys.argv[1])
wall, cpu = time.perf_counter() - start, time.process_time() - cpu
"""
_MEASURE = """
import sys, time, json
import numpy, polars
from boostproof.recording import find_pulls, read_recording
from boostproof.recording.checks.about_pulls import about_pulls
start, cpu = time.perf_counter(), time.process_time()
recording = read_recording(sys.argv[1])
every = find_pulls(recording, part_load=True)
about_pulls(recording, every)
wall, cpu = time.perf_counter() - start, time.process_time() - cpu
assert sum(pull.full_load for pull in every) == int(sys.argv[2]), len(every)
"""
_TELL = """
try:
    import resource
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e9 if sys.platform == "darwin" else 1e6)
except ImportError:
    peak = float("nan")
print(json.dumps([wall, cpu, peak]))
"""


def write_log(path: Path, rows: int, seed: int = 5) -> int:
    """An invented log of 12 columns with a pull every four minutes; the number of pulls."""
    import polars as pl

    rng = np.random.default_rng(seed)
    time = np.arange(rows) / _RATE
    since = time % _CYCLE - 5.0
    full = (since >= 0.0) & (since < _PULL)
    coasting = (since >= _PULL) & (since < _PULL + 6.0)
    rpm = np.where(full, 2000.0 + 450.0 * since, np.where(coasting, 6050.0 - 640.0 * (since - _PULL), 2200.0))
    boost = np.where(full, np.minimum(30.0 * since - 15.0, 95.0 - 0.5 * since), np.where(coasting, -80.0, -45.0))

    def noisy(values: np.ndarray | float, sd: float, digits: int) -> np.ndarray:
        return np.round(values + rng.normal(0.0, sd, rows), digits)

    frame = pl.DataFrame(
        {
            "Time (s)": np.round(time, 2),
            "Engine speed (rpm)": noisy(rpm, 5.0, 0),
            "Throttle (%)": noisy(np.where(full, 98.0, np.where(coasting, 1.0, 13.0)), 0.2, 1),
            "Boost (kPa)": noisy(boost, 0.5, 2),
            "Barometer (kPa)": np.full(rows, 99.3),
            "Intake air (C)": noisy(np.where(full, 30.0 + 2.0 * since, 28.0), 0.2, 1),
            "Lambda": noisy(np.where(full, 0.82, 1.0), 0.01, 3),
            "Air flow (g/s)": noisy(np.maximum(boost + 100.0, 5.0) * rpm / 4500.0, 0.5, 1),
            "Gate duty (%)": noisy(np.where(full, 46.0, 10.0), 0.2, 1),
            "Battery (V)": noisy(13.9, 0.02, 2),
            "Coolant (C)": np.full(rows, 88.0),
            "Exhaust (C)": noisy(np.where(full, 700.0 + 20.0 * since, 600.0), 2.0, 0),
        }
    )
    frame.write_csv(path)
    return int(np.count_nonzero(np.diff(full.astype(np.int8)) == -1))


def _timed(code: str, *arguments: str) -> tuple[float, float, float]:
    env = {**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "src")))}
    done = subprocess.run(
        [sys.executable, "-c", code + _TELL, *arguments], capture_output=True, check=True, text=True, env=env
    )
    wall, cpu, peak = json.loads(done.stdout.splitlines()[-1])
    return wall, cpu, peak


def long_log(rows: int) -> dict[str, Figure]:
    """Seconds, memory, and times what reading alone takes, for a log of so many rows and 12 columns."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.csv"
        pulls = write_log(path, rows)
        alone = min(_timed(_READ, str(path)) for _ in range(3))
        ours = min(_timed(_MEASURE, str(path), str(pulls)) for _ in range(3))
    share = rows / 1_000_000
    return {
        "log_s": Figure(
            f"a log of {rows:,} rows, 12 columns, {pulls} pulls, read and measured", ours[0], "s", max(2.0 * share, 1.0)
        ),
        "log_cpu_s": Figure("… CPU time of it", ours[1], "s"),
        "log_memory_gb": Figure("… most memory", ours[2], "GB", 1.5),
        "log_times_reading": Figure("… times what a table library takes to read it", ours[0] / alone[0], ""),
    }
