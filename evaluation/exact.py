"""Small problems of test and repair with their exact best policy, to hold our rule of choice against.

A problem has a few causes, one of which (or something unknown) is the case, a few imperfect tests that can be
done once, and a repair for every cause with a proof behind it. Tests and repairs may follow each other in any
order; sending the car on ends it. The best policy is found by dynamic programming over all sets of outcomes
and of failed repairs. Repairing alone is best in the order of p/c (Kadane & Simon 1977, by arXiv 1203.3502).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import product

import numpy as np
from numpy.typing import NDArray

from boostproof.diagnosis.choice.repair_order import SPECIALIST, VERIFY, Repairs
from boostproof.diagnosis.choice.worth import Belief, in_order, look_ahead, worth

Array = NDArray[np.float64]
UNDONE = -1


@dataclass(frozen=True)
class Problem:
    """A small problem.

    Attributes
    ----------
    p : (causes + 1,) probabilities, the last of something that no repair mends
    repairs : (causes,) minutes of each with its proof
    tests : for each a table (causes + 1, outcomes) of chances; rows sum to 1
    minutes : (tests,) of each
    giving_up : minutes of sending the car on
    """

    p: Array
    repairs: Array
    tests: tuple[Array, ...] = field(repr=False)
    minutes: Array
    giving_up: float = SPECIALIST


def random_problem(seed: int, *, causes: int = 5, tests: int = 5, outcomes: int = 2) -> Problem:
    """A problem drawn at random: costs as in a bay, tests that tell some causes from others and err.

    Every test reads one outcome with a chance of 0.75 to 0.98; which one it should be is drawn for each cause.
    The unknown cause answers as a sound part would, by the first outcome.
    """
    rng = np.random.default_rng([seed, 8])
    tables = []
    for _ in range(tests):
        right = rng.uniform(0.75, 0.98)
        table = np.full((causes + 1, outcomes), (1.0 - right) / (outcomes - 1))
        meant = np.where(rng.random(causes) < 0.45, rng.integers(1, outcomes, causes), 0)
        table[np.arange(causes), meant] = right
        table[-1, 0] = right
        tables.append(table)
    p = np.append(0.95 * rng.dirichlet(np.ones(causes)), 0.05)
    repairs = VERIFY + np.exp(rng.uniform(np.log(20.0), np.log(400.0), causes))
    return Problem(p, repairs, tuple(tables), rng.uniform(5.0, 45.0, tests))


def exact_minutes(problem: Problem) -> float:
    """Expected minutes of the best policy.

    The value of a state is kept times its probability, so that outcomes of a test simply add. States are
    (outcome of every test or not done) x (set of repairs that failed), from everything known back to nothing.
    """
    causes, tests = len(problem.repairs), len(problem.tests)
    failed = _failed_sets(causes)
    worth_of: dict[tuple[int, ...], Array] = {}
    states = product(*(range(UNDONE, table.shape[1]) for table in problem.tests))
    for state in sorted(states, key=lambda s: sum(o != UNDONE for o in s), reverse=True):
        joint = _joint(problem, state)
        mass = joint[-1] + (~failed) @ joint[:-1]
        best = problem.giving_up * mass
        for t in range(tests):
            if state[t] == UNDONE:
                after = [worth_of[(*state[:t], o, *state[t + 1 :])] for o in range(problem.tests[t].shape[1])]
                best = np.minimum(best, problem.minutes[t] * mass + np.sum(after, axis=0))
        # with more repairs failed less is left to do: sets from full to empty
        for number in range(2**causes - 1, -1, -1):
            for r in range(causes):
                if not failed[number, r]:
                    tried = problem.repairs[r] * mass[number] + best[number | 1 << r]
                    best[number] = min(best[number], tried)
        worth_of[state] = best
    return float(worth_of[(UNDONE,) * tests][0])


def _failed_sets(causes: int) -> NDArray[np.bool_]:
    """Which repairs belong to each set, by number. [(sets, causes)]"""
    return np.asarray((np.arange(2**causes)[:, None] >> np.arange(causes)) & 1 == 1)


def _joint(problem: Problem, state: tuple[int, ...]) -> Array:
    """Probability of every cause together with the outcomes seen. [(causes + 1,)]"""
    joint = problem.p.copy()
    for table, outcome in zip(problem.tests, state, strict=True):
        if outcome != UNDONE:
            joint *= table[:, outcome]
    return joint


# -- policies ----------------------------------------------------------------------------------------

Choose = Callable[[Belief, list[Array], Array], "int | None"]
"""Which of the open tests, by belief, tables and minutes; None for repairing."""


def our_choice(belief: Belief, tables: list[Array], minutes: Array) -> int | None:
    """The rule of the program, two steps ahead among the best four."""
    return _by_worth(belief, tables, minutes, ahead=True)


def one_step_choice(belief: Belief, tables: list[Array], minutes: Array) -> int | None:
    """The same rule one step ahead."""
    return _by_worth(belief, tables, minutes, ahead=False)


def no_tests(belief: Belief, tables: list[Array], minutes: Array) -> int | None:
    """Repairing at once, for comparison."""
    return None


def _by_worth(belief: Belief, tables: list[Array], minutes: Array, *, ahead: bool) -> int | None:
    joints = [belief.joint(table) for table in tables]
    found = [worth(belief, joint) for joint in joints]
    saved = np.array([w.minutes for w in found]) - minutes
    if ahead:
        saved = look_ahead(belief, tables, joints, saved, lambda test, after: float(minutes[test]), lambda one, other: True)
    best = in_order(saved.tolist(), [w.bits for w in found], [False] * len(found))[0]
    return best if saved[best] > 0.0 else None


def policy_minutes(problem: Problem, choose: Choose) -> float:
    """Expected minutes of a policy: its test where it wants one, else the repair that is first in the order."""
    causes = len(problem.repairs)

    def follow(state: tuple[int, ...], failed: frozenset[int]) -> float:
        """Minutes from here on, times the probability of being here."""
        joint = _joint(problem, state)
        joint[list(failed)] = 0.0
        mass = float(joint.sum())
        if mass <= 1e-12:
            return 0.0
        repairs = Repairs(problem.repairs, tuple((r,) for r in range(causes)), problem.giving_up)
        belief = Belief(joint / mass, np.eye(causes + 1), repairs)
        open_tests = [t for t, outcome in enumerate(state) if outcome == UNDONE]
        chosen = None
        if open_tests:
            chosen = choose(belief, [problem.tests[t] for t in open_tests], problem.minutes[open_tests])
        if chosen is not None:
            t = open_tests[chosen]
            after = [(*state[:t], o, *state[t + 1 :]) for o in range(problem.tests[t].shape[1])]
            return float(problem.minutes[t]) * mass + sum(follow(s, failed) for s in after)
        first = repairs.first(belief.answers)
        if first is None:
            return problem.giving_up * mass
        return float(problem.repairs[first]) * mass + follow(state, failed | {first})

    return follow((UNDONE,) * len(problem.tests), frozenset())


def page(count: int, *, seed: int) -> str:
    """What the policies cost over the exact best, as a table in Markdown.

    Parameters
    ----------
    count : problems, half of them with tests of three outcomes
    seed : of the first problem
    """
    policies: dict[str, Choose] = {
        "the program's rule": our_choice,
        "one step ahead only": one_step_choice,
        "repairing without tests": no_tests,
    }
    over: dict[str, list[float]] = {name: [] for name in policies}
    for number in range(count):
        problem = random_problem(seed + number, outcomes=2 + number % 2)
        best = exact_minutes(problem)
        for name, choose in policies.items():
            over[name].append(policy_minutes(problem, choose) / best)
    lines = [
        f"Minutes over those of the best policy, {count} problems of 5 causes and 5 tests.", "",
        "| policy | mean | 95 of 100 within | worst |", "|---|---|---|---|",
    ]  # fmt: skip
    for name, ratios in over.items():
        lines.append(f"| {name} | {np.mean(ratios):.3f} | {np.percentile(ratios, 95):.3f} | {max(ratios):.3f} |")
    return "\n".join(lines)
