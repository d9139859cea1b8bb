"""Fair shares: what each of several sources added to a number that they reached together.

The share of a source is its mean addition over all orders in which the sources could have come in
(L. S. Shapley, "A value for n-person games", Contributions to the Theory of Games II, 1953). Shares
sum to what all sources changed together, whatever the order in which the work was really done.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import factorial

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array

EXACT = 8  # sources up to which all subsets are weighed; beyond, a balanced sample of orders
_ORDERS = 2  # random orders, each taken in all rotations, forwards and backwards


@dataclass(frozen=True)
class Coalitions:
    """Subsets of sources whose value must be known, and how the shares follow from them.

    Attributes
    ----------
    subsets : (subsets, sources); the first is empty and the last is whole
    player, before, after : (steps,) which source comes in, and the subsets without and with it
    weight : (steps,) of the step in the source's mean
    """

    subsets: NDArray[np.bool_] = field(repr=False)
    player: NDArray[np.intp] = field(repr=False)
    before: NDArray[np.intp] = field(repr=False)
    after: NDArray[np.intp] = field(repr=False)
    weight: Array = field(repr=False)

    def shares(self, value: Array) -> Array:
        """Share of every source, (sources, ...), of a value known for every subset, (subsets, ...)."""
        step = value[self.after] - value[self.before]
        out = np.zeros((self.subsets.shape[1], *value.shape[1:]))
        np.add.at(out, self.player, step * self.weight.reshape(-1, *[1] * (value.ndim - 1)))
        return out


def coalitions(count: int) -> Coalitions:
    """Subsets of ``count`` sources and the steps between them.

    All subsets up to `EXACT` sources. Beyond, orders in which every source stands in every place equally
    often, always the same ones; the shares sum to the whole exactly then too.

    >>> two = coalitions(2)
    >>> two.shares(np.array([0.0, 1.0, 2.0, 5.0])).tolist()  # alone 1 and 2, together 5
    [2.0, 3.0]
    """
    return _all_subsets(count) if count <= EXACT else _some_orders(count)


def _all_subsets(count: int) -> Coalitions:
    number = np.arange(2**count)
    subsets = (number[:, None] >> np.arange(count)) & 1 == 1
    size = subsets.sum(axis=1)
    by_size = np.array([factorial(s) * factorial(max(count - s - 1, 0)) / factorial(count) for s in range(count + 1)])
    before, player = np.nonzero(~subsets)
    return Coalitions(subsets, player, before, before + (1 << player), by_size[size[before]])


def _some_orders(count: int) -> Coalitions:
    rng = np.random.default_rng(count)
    orders = []
    for _ in range(_ORDERS):
        order = rng.permutation(count)
        for shift in range(count):
            orders += [np.roll(order, shift), np.roll(order, shift)[::-1]]
    index: dict[bytes, int] = {}
    subsets: list[NDArray[np.bool_]] = []

    def place(subset: NDArray[np.bool_]) -> int:
        key = subset.tobytes()
        if key not in index:
            index[key] = len(subsets)
            subsets.append(subset.copy())
        return index[key]

    player, before, after = [], [], []
    place(np.zeros(count, bool))
    for order in orders:
        held = np.zeros(count, bool)
        for source in order:
            player.append(int(source))
            before.append(place(held))
            held[source] = True
            after.append(place(held))
    whole = place(np.ones(count, bool))
    # the whole stands last, as with all subsets
    last = len(subsets) - 1
    swap = np.arange(last + 1)
    swap[[whole, last]] = swap[[last, whole]]
    return Coalitions(
        np.stack(subsets)[swap],
        np.array(player),
        swap[np.array(before)],
        swap[np.array(after)],
        np.full(len(player), 1.0 / len(orders)),
    )
