"""How long the choice of the next test takes, beside the arithmetic that it cannot do without.

The candidates and features are made up: simulating what a test would show is timed with the car model.
"""

from __future__ import annotations

import time

import numpy as np

from benchmarks.figure import Figure
from benchmarks.timing import best
from boostproof.diagnosis.choice.outcomes import DRAWN, Seen, outcomes_of
from boostproof.diagnosis.choice.repair_order import Repairs
from boostproof.diagnosis.choice.worth import Belief, look_ahead, worth
from boostproof.observation import reading

CANDIDATES, ANSWERS, TESTS, FEATURES = 1600, 20, 25, 3


def next_test() -> dict[str, Figure]:
    """CPU seconds of valuing 25 tests of three readings each, and how many times the bare arithmetic that is."""
    rng = np.random.default_rng(5)
    answer = np.repeat(np.arange(ANSWERS), CANDIDATES // ANSWERS)
    weight = np.append(np.full(CANDIDATES, 0.95 / CANDIDATES), 0.05)
    seen = Seen(weight, answer, answer == 0)
    share = np.zeros((ANSWERS + 1, CANDIDATES + 1))
    share[answer, np.arange(CANDIDATES)] = share[-1, -1] = 1.0
    needs = tuple((k,) for k in range(ANSWERS))
    belief = Belief(weight, share, Repairs(rng.uniform(40.0, 400.0, ANSWERS), needs))
    names = [f"feature {k}" for k in range(FEATURES)]
    centre = rng.normal(0.0, 3.0, (TESTS, FEATURES, ANSWERS))[:, :, answer]
    values = centre + rng.standard_normal(centre.shape)
    seen_by_test = [reading(name, 0.0, 1.0) for name in names]

    def choose() -> None:
        found = [
            outcomes_of(seen_by_test, dict(zip(names, rows, strict=True)), seen, {}, np.random.default_rng(1)).table
            for rows in values
        ]
        joints = [belief.joint(table) for table in found]
        saved = np.array([worth(belief, joint).minutes for joint in joints])
        look_ahead(belief, found, joints, saved, lambda test, after: 10.0, lambda one, other: True)

    square, vectors = rng.random((DRAWN, CANDIDATES)), rng.random((CANDIDATES, ANSWERS))

    def bare() -> None:
        for _ in range(TESTS):
            np.exp(-square) @ vectors

    taken, least = (best(work, clock=time.process_time) for work in (choose, bare))
    return {
        "next_test_s": Figure("valuing 25 tests on 1600 candidates", taken, "s", 1.0),
        "next_test_over_bare": Figure("the same over its bare exponentials and products", taken / least, "", 8.0),
    }
