"""What may be wrong with a car, as it is simulated: nothing, one fault, or two at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

from boostproof.diagnosis.causes import compatible
from boostproof.diagnosis.causes.model import Cause
from boostproof.diagnosis.causes.pairs import contradict
from boostproof.physics.change import Change

BOTH = " + "  # between the ids of a pair


@dataclass(frozen=True)
class Part:
    """One fault of a hypothesis.

    Attributes
    ----------
    mechanism : name of the change of the car
    variant : number of the variant of it
    causes : causes that are this change
    changes : edits of the sound car, from mild to severe
    """

    mechanism: str
    variant: int
    causes: tuple[Cause, ...]
    changes: tuple[Change, ...]

    @property
    def key(self) -> str:
        """Its name as a hypothesis of its own."""
        return f"{self.mechanism}/{self.variant}"


@dataclass(frozen=True)
class Hypothesis:
    """One way in which the car may be wrong, as it is simulated.

    Attributes
    ----------
    parts : faults; none for a sound car, two for a pair
    share : share of the mechanism's mass
    """

    parts: tuple[Part, ...] = ()
    share: float = 1.0

    @property
    def key(self) -> str:
        """Mechanisms and numbers of the variants; names the hypothesis' random numbers."""
        return "+".join(p.key for p in self.parts) or "healthy"

    @property
    def healthy(self) -> bool:
        """No fault at all."""
        return not self.parts

    @property
    def paired(self) -> bool:
        """Two faults at once."""
        return len(self.parts) > 1

    @property
    def mechanism(self) -> str:
        """The mechanism alone, shared by its variants."""
        return "+".join(p.mechanism for p in self.parts) or "healthy"

    @property
    def causes(self) -> tuple[Cause, ...]:
        """Causes of all parts."""
        return tuple(c for p in self.parts for c in p.causes)

    @property
    def changes(self) -> tuple[Change, ...]:
        """Edits of all parts."""
        return tuple(c for p in self.parts for c in p.changes)

    @cached_property
    def answers(self) -> tuple[tuple[Cause, ...], ...]:
        """What a person would be told: one cause of every part, in catalogue order; none for a sound car."""
        if self.healthy:
            return ()
        chosen = (tuple(sorted(some, key=lambda c: c.number)) for some in product(*(p.causes for p in self.parts)))
        return tuple(some for some in chosen if len(some) == 1 or compatible(*some))


HEALTHY = Hypothesis()


def answer_id(causes: Sequence[Cause]) -> str:
    """Id of a cause, or of a pair."""
    return BOTH.join(c.id for c in causes)


def hypotheses_for(causes: tuple[Cause, ...], controller: str) -> tuple[Hypothesis, ...]:
    """Healthy, and every mechanism of the causes with its variants."""
    mechanisms: dict[str, list[Cause]] = {}
    for cause in causes:
        mechanisms.setdefault(cause.mechanism, []).append(cause)
    out = [HEALTHY]
    for mechanism, members in mechanisms.items():
        for number, (share, changes) in enumerate(members[0].variants_for(controller)):
            out.append(Hypothesis((Part(mechanism, number, tuple(members), changes),), share))
    return tuple(out)


def places_of_singles(hypotheses: Sequence[Hypothesis]) -> dict[str, int]:
    """Place of the sound car and of every single fault, by key."""
    return {h.key: i for i, h in enumerate(hypotheses) if not h.paired}


def pair(one: Hypothesis, other: Hypothesis) -> Hypothesis | None:
    """Both faults at once, in catalogue order; None where no car can have them both."""
    if one.healthy or other.healthy or one.paired or other.paired or one.mechanism == other.mechanism:
        return None
    first, second = sorted((one.parts[0], other.parts[0]), key=lambda p: p.causes[0].number)
    if contradict(first.changes, second.changes):
        return None
    both = Hypothesis((first, second), one.share * other.share)
    return both if both.answers else None
