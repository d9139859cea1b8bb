"""How soon a band of 1,000 candidates is there for one more size of a repair.

The candidates are made up and stand under a few answers, and so is the log of five pulls, whose errors are asked for as
a case's are.
"""

from __future__ import annotations

import numpy as np

from benchmarks.cars import random_cars
from benchmarks.figure import Figure
from benchmarks.timing import best
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.evidence.bins import Bin
from boostproof.diagnosis.evidence.drive import Drive
from boostproof.diagnosis.evidence.hypotheses import Hypothesis
from boostproof.diagnosis.evidence.pulls import errors_to_come
from boostproof.recording.model import Channel, Recording
from boostproof.repair.forecast import Asked, Problem
from boostproof.repair.limits import Told
from boostproof.repair.ramp import ramp_for
from boostproof.repair.size_bands import CANDIDATES, at_size
from boostproof.repair.subjects import Subjects
from boostproof.repair.words import parse_repairs

ANSWERS, PULLS, BINS, ROWS = 4, 5, 12, 25  # bins of each pull, rows of each bin
LIMIT = 0.05  # s, for a hand that moves a slider
_CAUSES = ("port-too-small", "port-entry-poor", "spring-droop", "charge-leak")


def one_size() -> dict[str, Figure]:
    """Wall seconds from a size to its band, chances and the bands by cause, on all cores."""
    problem, asked = made_up(CANDIDATES), Asked(parse_repairs(["port 30 mm"]))
    at_size(problem, asked, 0, 0.030, seed=1)  # compiles
    taken = best(lambda: at_size(problem, asked, 0, 0.031, seed=1), 9)
    return {"size_band_s": Figure("a band of 1,000 candidates for one more size", taken, "s", LIMIT)}


def made_up(count: int) -> Problem:
    """Random cars under four answers, a pull of 6 s, and the errors of a log of five others."""
    par = random_cars(count)[0].astype(float)
    answer = np.arange(count) % ANSWERS
    target = 1.0e5
    drive = ramp_for(720.0, target, 101_325.0, 298.0, loop=False)
    rng = np.random.default_rng(1)
    cars = Subjects(
        sound=par, actual=par, severity=rng.random((2, count)), hypothesis=answer, hypotheses=[Hypothesis()] * ANSWERS,
        answer=answer, answers=tuple((BY_ID[i],) for i in _CAUSES), weight=np.full(count, 1.0 / count), ambient=101_325.0,
        pulls=target + 5e3 * rng.standard_normal((PULLS * BINS, count)),
    )  # fmt: skip
    errors = errors_to_come("boost", [_log(target, rng)], _bins(), drive.speeds)
    return Problem(cars, drive, errors, "ball and spring", Told((1.5e5, True)))


def _log(target: float, rng: np.random.Generator) -> Recording:
    rows = PULLS * BINS * ROWS
    boost = Channel("boost", "Boost", "Pa", "gauge", 1.0, "", 0, target + 500.0 * rng.standard_normal(rows))
    return Recording("log.csv", "csv", rows, 100.0, np.arange(rows) / 100.0, {"boost": boost})


def _bins() -> Drive:
    speeds = np.linspace(290.0, 580.0, BINS)
    bins = tuple(
        Bin(k // BINS, k, float(speeds[k % BINS]), k * ROWS, (k + 1) * ROWS) for k in range(PULLS * BINS)
    )
    return Drive(np.zeros((1, 1)), np.ones(1), np.zeros(1, np.int32), bins, PULLS)
