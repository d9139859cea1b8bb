"""What a test is worth, on tables of chances: expected repair minutes and bits, one step and two steps ahead.

States are whatever may be the case (candidate cars, or causes themselves); every state belongs to answers by
shares, every test is a table of the chance of each outcome in each state. Nothing here knows where the
tables come from, so that small problems with an exact solution run through the same lines as a real case.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.choice.repair_order import Repairs

TIE = 2.0  # min, closer values are as good as each other: the safer test goes first, then the more telling one
LOOKED_AHEAD = 4  # best tests among which a second one is looked at
_COARSE = 16  # outcomes of a test that the look ahead tells apart

Cost = Callable[[int, int | None], float]  # minutes of a test, after another one where that was done first


@dataclass(frozen=True)
class Belief:
    """What is thought to be the case.

    Attributes
    ----------
    weight : (states,) probabilities
    share : (answers, states), how a state belongs to answers; columns sum to 1, the last row is what no
        repair mends
    repairs : what mends each answer
    """

    weight: Array = field(repr=False)
    share: Array = field(repr=False)
    repairs: Repairs

    @cached_property
    def weighted(self) -> Array:
        """Joint probability of states and answers. [(states, answers)]"""
        return np.ascontiguousarray((self.share * self.weight).T)

    @cached_property
    def answers(self) -> Array:
        """Probability of every answer."""
        return np.asarray(self.weighted.sum(axis=0))

    @cached_property
    def minutes(self) -> float:
        """Expected minutes of repairing as things stand."""
        return float(self.repairs.expected(self.answers[None, :])[0])

    def joint(self, table: Array) -> Array:
        """Joint probability of outcomes and answers. [(outcomes, answers)]

        Parameters
        ----------
        table : (states, outcomes) chances; rows sum to 1
        """
        return np.asarray(table.T @ self.weighted)


@dataclass(frozen=True)
class Worth:
    """What one test is worth, before its cost.

    Attributes
    ----------
    minutes : expected repair minutes that it saves
    bits : expected information about the answer
    """

    minutes: float
    bits: float


def worth(belief: Belief, joint: Array) -> Worth:
    """What an outcome known beforehand would save, one step ahead."""
    now = belief.answers
    minutes = belief.minutes - float(belief.repairs.expected(joint).sum())
    return Worth(max(0.0, minutes), max(0.0, entropy(now[None, :]) - entropy(joint)))


def entropy(joint: Array) -> float:
    """Expected bits that are missing about the answer when the row is known; rows need not sum to 1."""
    total = joint.sum(axis=1, keepdims=True)
    share = joint / np.maximum(total, 1e-300)
    return float(-(joint * np.log2(np.maximum(share, 1e-300))).sum())


def coarse(belief: Belief, table: Array, joint: Array) -> Array:
    """The table with alike outcomes put together: those that leave alike answers. [(states, few outcomes)]"""
    if table.shape[1] <= _COARSE:
        return table
    mass = joint.sum(axis=1)
    after = joint / np.maximum(mass[:, None], 1e-300)
    # the answer that the outcome raises most, then how much it raises it
    risen = np.log((after + 1e-3) / (belief.answers + 1e-3))
    leader = risen.argmax(axis=1)
    order = np.lexsort((after[np.arange(len(after)), leader], leader))
    middle = np.cumsum(mass[order]) - 0.5 * mass[order]
    cell = np.empty(len(order), int)
    cell[order] = np.minimum((middle / mass.sum() * _COARSE).astype(int), _COARSE - 1)
    together = np.zeros((table.shape[1], _COARSE))
    together[np.arange(len(cell)), cell] = 1.0
    return np.asarray(table @ together[:, np.unique(cell)])


def two_step(belief: Belief, first: Array, second: Array, cost: float) -> float:
    """Repair minutes that a test saves when another may follow it where its outcome asks for that.

    Parameters
    ----------
    first, second : tables of both tests
    cost : minutes of the second one, right after the first
    """
    weighted = belief.weighted[:, None, :] * first[:, :, None]
    states, outcomes, answers = weighted.shape
    both = second.T @ weighted.reshape(states, outcomes * answers)
    both = both.reshape(second.shape[1], outcomes, answers)
    after_one = both.sum(axis=0)
    after_both = belief.repairs.expected(both.reshape(-1, answers)).reshape(second.shape[1], outcomes)
    best = np.minimum(belief.repairs.expected(after_one), cost * after_one.sum(axis=1) + after_both.sum(axis=0))
    return belief.minutes - float(best.sum())


def look_ahead(
    belief: Belief,
    tables: Sequence[Array],
    joints: Sequence[Array],
    saved: Array,
    cost: Cost,
    shared: Callable[[int, int], bool],
) -> Array:
    """Net minutes saved by each test, with a second one behind it where the two together are worth more.

    Parameters
    ----------
    tables, joints : of every test, and its outcomes with the answers
    saved : (tests,) net minutes saved by each alone
    cost : minutes of a test, alone or after another
    shared : whether two tests are looked at together

    Returns
    -------
    (tests,)
        As `saved`, raised for the first test of a bundle that saves more than either of its two alone:
        a test of no use does not borrow the worth of the one behind it.
    """
    out = saved.copy()
    best = [int(i) for i in np.argsort(-saved, kind="stable")[:LOOKED_AHEAD]]
    small = {i: coarse(belief, tables[i], joints[i]) for i in best}
    alone = {i: belief.minutes - float(belief.repairs.expected(belief.joint(small[i])).sum()) for i in best}
    for i in best:
        for j in best:
            if i == j or not shared(i, j):
                continue
            follows = cost(j, i)
            # what the second adds, with both tables as coarse as each other
            gain = two_step(belief, small[i], small[j], follows) - alone[i]
            bundle = float(saved[i]) + gain
            if bundle > max(saved[i], saved[j]):
                out[i] = max(out[i], bundle)
    return out


def in_order(saved: Sequence[float], bits: Sequence[float], danger: Sequence[bool]) -> list[int]:
    """Tests best first by minutes saved; of those within `TIE` of the best left, first what is no danger.

    >>> in_order([10.0, 9.0, 3.0], [0.2, 0.5, 0.9], [False, False, False])
    [1, 0, 2]
    >>> in_order([10.0, 9.0, 3.0], [0.2, 0.5, 0.9], [False, True, False])
    [0, 1, 2]
    """
    left = sorted(range(len(saved)), key=lambda i: -saved[i])
    out = []
    while left:
        tied = [i for i in left if saved[i] > saved[left[0]] - TIE]
        best = min(tied, key=lambda i: (danger[i], -bits[i], i))
        left.remove(best)
        out.append(best)
    return out
