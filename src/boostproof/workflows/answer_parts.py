"""Parts that several answers have in common, as types; the answers themselves are in `answers`."""

from __future__ import annotations

from typing import TypedDict


class FindingAnswer(TypedDict):
    """Doubtful data, to be read beside the result."""

    kind: str
    where: str
    says: str
    do: str


class InputsAnswer(TypedDict):
    """What the answer was made from, beside seed and versions: hash of all that was read, and the choices made."""

    case: str
    without_readings: bool
    without_history: bool
    healthy_prior: float
