"""Expected minutes of repairing: which order is best, and when to give up.

An answer is one cause, two at once, or nothing wrong. A repair mends one cause; a pull after it proves it.
A car with two faults is right only when both are mended.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.causes import BY_ID

VERIFY = 20.0  # min, a pull after every repair
SPECIALIST = 600.0  # min, giving up and sending the car on
MONEY = 1.0  # min per currency unit of parts, one currency unit a minute of labour


@dataclass(frozen=True)
class Repairs:
    """What can be repaired, and what each answer needs.

    Attributes
    ----------
    minutes : (repairs,) of each with its parts and its proof
    needs : for each answer, the numbers of the repairs that mend it, at least one; "nothing wrong" needs its
        proof alone, which counts as a repair. A last answer that no repair mends is not listed.
    giving_up : minutes of sending the car on instead
    """

    minutes: Array = field(repr=False)
    needs: tuple[tuple[int, ...], ...]
    giving_up: float = SPECIALIST

    def order(self, p: Array) -> NDArray[np.intp]:
        """Repairs from first to last. [(cases, repairs)]

        By the share of the probability over the cost; a pair counts for each of its repairs with the ratio
        of both together. Without pairs that is the order by p/c, and no other is better for one fault and
        fixed costs (Kadane & Simon 1977, by arXiv 1203.3502); with pairs it is a good one, not always the best.

        Parameters
        ----------
        p : (cases, answers + 1), not necessarily summing to 1; the last column is what no repair mends
        """
        share = np.zeros((len(self.needs), len(self.minutes)))
        for row, need in zip(share, self.needs, strict=True):
            row[list(need)] = 1.0 / self.minutes[list(need)].sum()
        return np.asarray(np.argsort(-(p[:, :-1] @ share), axis=1, kind="stable"))

    def spent(self, p: Array, order: NDArray[np.intp]) -> Array:
        """Expected minutes when giving up after each number of repairs of an order. [(cases, repairs + 1)]"""
        cases, count = order.shape
        place = np.empty_like(order)
        np.put_along_axis(place, order, np.broadcast_to(np.arange(count), order.shape), axis=1)
        mended = np.zeros((cases, count))
        rows = np.arange(cases)
        for a, need in enumerate(self.needs):
            # a pair is mended by the later of its two repairs
            mended[rows, place[:, need[0]] if len(need) == 1 else place[:, list(need)].max(axis=1)] += p[:, a]
        left = p.sum(axis=1, keepdims=True) - np.concatenate(
            [np.zeros((cases, 1)), np.cumsum(mended, axis=1)], axis=1
        )
        left = np.maximum(left, 0.0)
        costs = np.cumsum(self.minutes[order] * left[:, :-1], axis=1)
        return np.asarray(np.concatenate([np.zeros((cases, 1)), costs], axis=1) + self.giving_up * left)

    def expected(self, p: Array) -> Array:
        """Expected minutes of repairing in the best order, giving up where that is cheaper. [(cases,)]

        Parameters
        ----------
        p : (cases, answers + 1). Where a row does not sum to 1 its minutes count by its sum, so that the
            joint probabilities of answers and outcomes of a test can be handed over as they are.
        """
        return np.asarray(self.spent(p, self.order(p)).min(axis=1))

    def first(self, p: Array) -> int | None:
        """The repair to begin with; None where the car is better sent on at once."""
        order = self.order(p[None, :])
        spent = self.spent(p[None, :], order)[0]
        return None if int(spent.argmin()) == 0 else int(order[0, 0])


def repairs_for(answers: Sequence[tuple[str, ...]]) -> Repairs:
    """Repairs of the catalogue for these answers.

    Parameters
    ----------
    answers : ids of the causes of each; empty for nothing wrong

    Returns
    -------
    Repairs
        Each takes the usual time of the cause, its parts as minutes, and a pull to prove it; nothing wrong
        takes that pull alone.
    """
    ids = list(dict.fromkeys(i for answer in answers for i in (answer or ("",))))
    minutes = [repair_minutes(i) if i else VERIFY for i in ids]
    needs = tuple(tuple(ids.index(i) for i in (answer or ("",))) for answer in answers)
    return Repairs(np.array(minutes), needs)


def repair_minutes(cause_id: str) -> float:
    """Usual time of a repair with its parts and its proof. [min]"""
    return VERIFY + BY_ID[cause_id].minutes + MONEY * BY_ID[cause_id].parts
