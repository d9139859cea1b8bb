"""How soon a band of 1,000 candidates is there for one more size of a repair.

The candidates are made up and stand under a few answers, and nothing was logged; errors of the model are drawn as for
a log of 60 bins.
"""

from __future__ import annotations

import numpy as np

from benchmarks.cars import random_cars
from benchmarks.figure import Figure
from benchmarks.timing import best
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.evidence.hypotheses import Hypothesis
from boostproof.diagnosis.evidence.pulls import ErrorsToCome
from boostproof.repair.forecast import Asked, Problem
from boostproof.repair.limits import Told
from boostproof.repair.ramp import ramp_for
from boostproof.repair.size_bands import CANDIDATES, at_size
from boostproof.repair.subjects import Subjects
from boostproof.repair.words import parse_repairs

ANSWERS, BINS = 4, 60
LIMIT = 0.05  # s, for a hand that moves a slider
_CAUSES = ("port-too-small", "port-entry-poor", "spring-droop", "charge-leak")


def one_size() -> dict[str, Figure]:
    """Wall seconds from a size to its band, chances and the bands by cause, on all cores."""
    problem, asked = made_up(CANDIDATES), Asked(parse_repairs(["port 30 mm"]))
    at_size(problem, asked, 0, 0.030, seed=1)  # compiles
    taken = best(lambda: at_size(problem, asked, 0, 0.031, seed=1), 9)
    return {"size_band_s": Figure("a band of 1,000 candidates for one more size", taken, "s", LIMIT)}


def made_up(count: int) -> Problem:
    """Random cars under four answers, a pull of 6 s, and errors of the model that fall off along engine speed."""
    par = random_cars(count)[0].astype(float)
    answer = np.arange(count) % ANSWERS
    target = 1.0e5
    drive = ramp_for(720.0, target, 101_325.0, 298.0, loop=False)
    rng = np.random.default_rng(1)
    cars = Subjects(
        sound=par, actual=par, severity=rng.random((2, count)), hypothesis=answer, hypotheses=[Hypothesis()] * ANSWERS,
        answer=answer, answers=tuple((BY_ID[i],) for i in _CAUSES), weight=np.full(count, 1.0 / count), ambient=101_325.0,
        pulls=target + 5e3 * rng.standard_normal((BINS, count)),
    )  # fmt: skip
    place = np.concatenate([np.linspace(0.4, 0.8, BINS), drive.speeds / 720.0])
    covariance = 9e6 * np.exp(-np.abs(place[:, None] - place) / 0.2) + np.diag([1e6] * BINS + [0.0] * len(drive.speeds))
    errors = ErrorsToCome(list(range(BINS)), np.full(BINS, target), covariance)
    return Problem(cars, drive, lambda level, changed: errors, "ball and spring", Told((1.5e5, True)))
