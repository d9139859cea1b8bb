"""What repairing now and testing first are expected to take, in minutes and money."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.choice.repair_order import MONEY, VERIFY, Repairs, repairs_for
from boostproof.repair.model import Chosen, Span, covered


@dataclass(frozen=True)
class Rates:
    """What the shop takes.

    Attributes
    ----------
    hour : money for an hour of work
    minutes, parts : ranges by repair id, in place of the usual ones
    """

    hour: float = 60.0 / MONEY
    minutes: Mapping[str, Span] = field(default_factory=dict)
    parts: Mapping[str, Span] = field(default_factory=dict)

    def minutes_of(self, chosen: Chosen) -> Span:
        """Time of one repair, low and high [min]."""
        return self.minutes.get(chosen.repair.id, chosen.minutes)

    def parts_of(self, chosen: Chosen) -> Span:
        """Parts of one repair, low and high [money]."""
        return self.parts.get(chosen.repair.id, chosen.parts)


@dataclass(frozen=True)
class FirstTest:
    """The best test still open: its id, its minutes, and the minutes of repair it is expected to save, its own off."""

    id: str
    minutes: float
    saved: float


@dataclass(frozen=True)
class Costs:
    """What it takes.

    Attributes
    ----------
    minutes, parts, money : of the repairs themselves with the pull that proves them, low and high
    cures : chance that they cure the car
    now : expected minutes of repairing so now, and what is left when it does not cure, parts as minutes
    best : expected minutes of the best order of repairs without a further test
    tested : expected minutes with the best test first, None where none is open
    first : that test
    decision : "repair now", "test first", "another repair first" or "specialist"
    """

    minutes: Span
    parts: Span
    money: Span
    cures: float
    now: float
    best: float
    tested: float | None
    first: FirstTest | None
    decision: str


def costs_of(
    chosen: Sequence[Chosen],
    rates: Rates,
    probability: Mapping[tuple[str, ...], float],
    cured: Mapping[tuple[str, ...], float],
    none_of_these: float,
    first: FirstTest | None,
) -> Costs:
    """Weigh repairing now against testing first.

    Parameters
    ----------
    chosen : done together
    rates : of the shop
    probability : of every answer, by the ids of its causes (none for a sound car); with none_of_these they sum to 1
    cured : chance that the repairs cure each of them
    none_of_these : probability that it is something else, which no repair of the list cures
    first : best test still open
    """
    minutes = _total([rates.minutes_of(c) for c in chosen], VERIFY)
    parts = _total([rates.parts_of(c) for c in chosen], 0.0)
    money = tuple(m * rates.hour / 60.0 + p for m, p in zip(minutes, parts, strict=True))
    answers = list(probability)
    order = repairs_for(answers)
    p = np.array([[*(probability[a] for a in answers), none_of_these]])
    left = p * np.array([*(1.0 - cured.get(a, 0.0) for a in answers), 1.0])
    best = float(order.expected(p)[0])
    own = sum(minutes) / 2.0 + sum(parts) / 2.0 * 60.0 / max(rates.hour, 1e-9)
    now = own + float(order.expected(left)[0])
    cures = float(sum(probability[a] * cured.get(a, 0.0) for a in answers))
    tested = None if first is None else best - first.saved
    if first is not None and first.saved > 0.0:
        decision = "test first"
    else:
        decision = _without_test(chosen, order, answers, p[0])
    return Costs(minutes, parts, (money[0], money[1]), cures, now, best, tested, first, decision)


def _without_test(chosen: Sequence[Chosen], order: Repairs, answers: Sequence[tuple[str, ...]], p: Array) -> str:
    """Whether the best order begins with a cause that these repairs are for."""
    if order.first(p) is None:
        return "specialist"
    ids = list(dict.fromkeys(i for answer in answers for i in (answer or ("",))))
    begin = next((ids[i] for i in order.order(p[None, :])[0] if ids[i]), "")
    return "repair now" if begin in covered(chosen) else "another repair first"


def _total(spans: Sequence[Span], more: float) -> Span:
    return more + sum(s[0] for s in spans), more + sum(s[1] for s in spans)
