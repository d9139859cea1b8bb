"""How often the first cause could be right after one test or two, whichever were done: a bound on any choice of tests.

``python -m evaluation.two_tests --cars 40`` draws cars of the model itself and ranks the causes on the log alone.
From then on nothing is drawn: the candidates say how likely every outcome of every test is and what would then be
believed, so that the expected share of right answers follows by adding up. It is computed for the tests as the
product chooses them, and for the one and the pair of tests that would make the first cause right most often, the
second chosen when the outcome of the first is known. A mark above the last of these cannot be met by any choice.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.tests import CATALOGUE, CarContext
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.choice.next_test import (
    Known,
    asked_of,
    known_from,
    name_of,
    outcomes_for,
    value_tests,
)
from boostproof.diagnosis.choice.worth import Belief, coarse
from boostproof.diagnosis.evidence.hypotheses import BOTH
from boostproof.diagnosis.inference.particles import particles_from
from boostproof.diagnosis.inference.posterior import Posterior, infer
from evaluation.metrics import HEALTHY, mechanism
from evaluation.suites import BASES, tasks_of
from evaluation.truths import draw_car, driven

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Reach:
    """Expected share of right first answers, by the product's own belief.

    Attributes
    ----------
    now : on the log alone
    chosen_one, chosen_two : after the test that the product proposes, and after the next one that it would then
    best_one, best_two : after those that make the first answer right most often
    """

    now: float
    chosen_one: float
    chosen_two: float
    best_one: float
    best_two: float


def reach(belief: Belief, tables: Sequence[Array], groups: Array, costs: Array, first: int) -> Reach:
    """Share of right first answers after the best tests and after the cheapest repair's.

    Parameters
    ----------
    belief : what is thought to be the case
    tables : of every test, (states, outcomes) chances
    groups : (answers, groups) of 0 and 1, answers that count as one
    costs : (tests,) minutes
    first : the test that the product proposes
    """
    small = [coarse(belief, table, belief.joint(table)) for table in tables]
    right = np.array([_right(belief.joint(table), groups) for table in small])
    twos = [_seconds(belief, small, groups, costs, k) for k in range(len(small))]
    return Reach(
        _right(belief.answers[None, :], groups),
        float(right[first]),
        twos[first][0],
        float(right.max()),
        max(two for _, two in twos),
    )


def _right(joint: Array, groups: Array) -> float:
    return float((joint @ groups).max(axis=1).sum())


def _seconds(belief: Belief, tables: Sequence[Array], groups: Array, costs: Array, first: int) -> tuple[float, float]:
    """Share right after a first test and the second that saves most minutes, and the one that is right most often.

    The second is chosen for every outcome of the first; where none saves minutes, none is done.
    """
    weighted = belief.weighted[:, None, :] * tables[first][:, :, None]
    states, outcomes, answers = weighted.shape
    flat = weighted.reshape(states, outcomes * answers)
    after = weighted.sum(axis=0)
    minutes, right = [-belief.repairs.expected(after)], [(after @ groups).max(axis=1)]
    for k, table in enumerate(tables):
        if k == first:
            continue
        both = (table.T @ flat).reshape(-1, outcomes, answers)
        repairs = belief.repairs.expected(both.reshape(-1, answers)).reshape(-1, outcomes).sum(axis=0)
        minutes.append(-repairs - costs[k] * after.sum(axis=1))
        right.append((both @ groups).max(axis=2).sum(axis=0))
    cheapest = np.argmax(minutes, axis=0)
    found = np.stack(right)
    return float(found[cheapest, np.arange(outcomes)].sum()), float(found.max(axis=0).sum())


def reach_of(posterior: Posterior, context: CarContext) -> Reach | None:
    """Of a case with no test done; None where no test is offered."""
    particles = particles_from(posterior, seed=1)
    tests = tuple(t for t in CATALOGUE if t.fits(context) and context.possible(t.need))
    offered = value_tests(posterior, particles, tests, context, seed=1).offered
    if not offered:
        return None
    known = known_from(posterior, particles)
    by_id = {t.id: t for t in tests}
    tables = [
        outcomes_for(known, by_id[v.test], *asked_of(known, by_id[v.test], context), 1)[0].table for v in offered
    ]
    return reach(known.belief, tables, groups_of(known), np.array([v.cost for v in offered]), first=0)


def groups_of(known: Known) -> Array:
    """Answers that are one change of the car count as one; "none of these" is one of its own. [(answers, groups)]"""
    names = [mechanism(name_of(answer)) for answer in known.answers] + [""]
    distinct = list(dict.fromkeys(names))
    out = np.zeros((len(names), len(distinct)))
    out[np.arange(len(names)), [distinct.index(n) for n in names]] = 1.0
    return out


def summary(found: Sequence[tuple[Reach, float]]) -> dict[str, float]:
    """Weighted means over cars."""
    weight = np.array([w for _, w in found])
    return {
        f.name: round(float(np.average([getattr(r, f.name) for r, _ in found], weights=weight)), 3)
        for f in fields(Reach)
    } | {"cars": len(found)}


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=40)
    parser.add_argument("--set", choices=tuple(BASES), default="dev", help="which seeds, as of dev.py evaluate")
    given = parser.parse_args()
    found: list[tuple[Reach, float]] = []
    for task in tasks_of("S1", given.cars, base=BASES[given.set], least=0, tests=0):
        causes = () if task.cause == HEALTHY else tuple(BY_ID[i] for i in task.cause.split(BOTH))
        car = draw_car(task.family, causes, task.seed, pool_seed=task.base)
        simulator, every, context = driven(car, task.seed)
        one = reach_of(infer(simulator, every, context.controller, seed=1), context)
        if one is not None:
            found.append((one, task.weight))
            print(json.dumps({"car": task.name, **{k: round(v, 3) for k, v in asdict(one).items()}}), flush=True)
    print(json.dumps(summary(found)))


if __name__ == "__main__":
    main()
