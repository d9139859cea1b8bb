"""How long the ranking of the causes takes, beside the simulation that it cannot do without; how soon a first look is told.

The ranked log is of a simulated car with a worn controller spring, which the diagnosis does not know. The first look is that
of the command line, from its start, at an invented case of four pulls.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from evaluation.families import families, level_rows, recording_of

from benchmarks.figure import Figure
from benchmarks.lanes import ROOT
from benchmarks.timing import best
from boostproof.diagnosis.evidence.drive import Driven
from boostproof.diagnosis.evidence.setup import build
from boostproof.diagnosis.evidence.simulator import run_drive
from boostproof.diagnosis.inference.posterior import infer
from boostproof.physics.system import OUTPUT_INDEX

CARS = 1024  # simulated once, what the ranking is measured in
FADE = 0.8  # boost in the log of that of a car drawn from the prior
FIRST_LOOK = 5.0  # s
_SEED, _FULL_LOAD = 10, 40.0  # an invented case with so many seconds of full load at least

# The command as a person sees it on a terminal, ended when the first look stands there.
_UNTIL_FIRST_LOOK = """
import os, sys
class Terminal:
    def isatty(self): return True
    def flush(self): pass
    def write(self, text):
        if "FIRST LOOK" in text: os._exit(0)
sys.stderr = Terminal()
from boostproof.cli import main
main(["diagnose", sys.argv[1]])
os._exit(1)
"""


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
        "ranking_over_cars": Figure(f"the same over the simulation of {CARS} cars", whole / once, "", 600.0),
    }


def first_look() -> dict[str, Figure]:
    """Seconds from the start of the command to the first look."""
    from boostproof.casefolder import read_case
    from boostproof.demo import make_case
    from boostproof.workflows.driven import read_driven

    env = {**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "src")))}
    with tempfile.TemporaryDirectory() as place:
        case = make_case(Path(place) / "case", cause="port-too-small", severity=0.6, seed=_SEED)
        pulls = [pull.as_json() for item in read_driven(read_case(case))[0] for pull in item.pulls]
        assert sum(pull["to_s"] - pull["from_s"] for pull in pulls) >= _FULL_LOAD

        def until_first_look() -> None:
            subprocess.run([sys.executable, "-c", _UNTIL_FIRST_LOOK, str(case)], env=env, check=True)

        until_first_look()  # the kernel is compiled once for every installation
        taken = best(until_first_look, 3)
    name = f"first look at a case with {_FULL_LOAD:.0f} s of full load, process start included"
    return {"first_look_s": Figure(name, taken, "s", FIRST_LOOK)}


if __name__ == "__main__":
    for figure in (ranking() | first_look()).values():
        print(f"{figure.name:62} {figure.value:12,.4g} {figure.unit}")  # noqa: T201
