"""First looks at a case, as people and programs get them while the full answer is worked out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, TypedDict

from boostproof.report.text import ranked_rows
from boostproof.workflows.explained import title_of_answer
from boostproof.workflows.verdict_view import Ranked, ranked

if TYPE_CHECKING:
    from boostproof.diagnosis.inference.first_look import FirstLook

LEAST = 0.01  # probability from which a cause is named
# What pairs may hold together for numbers to be said: two faults also fit the noise of the one pull that was looked at. With
# more, the leader of practice cases moved by up to 87 points until the full answer; with less, by 6 on average.
PAIRS = 0.2


class FirstCauseAnswer(TypedDict):
    """A cause or pair."""

    id: str
    title: str
    probability: float


class FirstLookAnswer(TypedDict):
    """A provisional ranking with all readings, from the highest pull alone or from all pulls: causes of one per cent and
    more, most probable first."""

    format: Literal[1]
    provisional: Literal[True]
    causes: list[FirstCauseAnswer]
    healthy: float
    none_of_these: float
    trust: Literal["about", "order only"]
    all_pulls: bool


@dataclass(frozen=True)
class FirstCause:
    """A cause or pair; none is taken for confirmed at first sight."""

    id: str
    title: str
    probability: float
    confirmed: bool = False


@dataclass(frozen=True)
class FirstRanking:
    """A provisional ranking with all readings.

    Attributes
    ----------
    causes : those of one per cent and more, most probable first
    healthy, none_of_these : probabilities
    trust : "about" or "order only", how its numbers may be said
    all_pulls : from all pulls, not from the highest alone
    """

    causes: tuple[FirstCause, ...]
    healthy: float
    none_of_these: float
    trust: Literal["about", "order only"]
    all_pulls: bool

    @property
    def ranking(self) -> tuple[Ranked, ...]:
        """As it may be said."""
        return ranked(self.causes, ranked_rows(self.causes, self.healthy, self.none_of_these, self.trust))

    def as_json(self) -> FirstLookAnswer:
        """For programs."""
        return {
            "format": 1,
            "provisional": True,
            "causes": [{"id": c.id, "title": c.title, "probability": c.probability} for c in self.causes],
            "healthy": self.healthy,
            "none_of_these": self.none_of_these,
            "trust": self.trust,
            "all_pulls": self.all_pulls,
        }

    @classmethod
    def from_json(cls, told: Mapping[str, Any]) -> FirstRanking:
        """As `as_json` gave it."""
        causes = tuple(FirstCause(c["id"], c["title"], c["probability"]) for c in told["causes"])
        return cls(causes, told["healthy"], told["none_of_these"], told["trust"], told["all_pulls"])


def first_ranking(look: FirstLook) -> FirstRanking:
    """What a first look says, with names."""
    from boostproof.diagnosis.evidence.hypotheses import BOTH

    found = sorted(look.probability.items(), key=lambda item: (-item[1], item[0]))
    causes = tuple(FirstCause(i, title_of_answer(i), p) for i, p in found if p >= LEAST)
    paired = sum(p for i, p in found if BOTH in i)
    trust: Literal["about", "order only"] = "order only" if paired > PAIRS else "about"
    return FirstRanking(causes, look.healthy, look.none_of_these, trust, look.all_pulls)
