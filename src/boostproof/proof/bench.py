"""Bench readings before and after a repair: the same figure twice, on one gauge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from boostproof.bench.meaning import KINDS, CarFacts, Meaning, read_meanings
from boostproof.findings import Finding
from boostproof.proof.model import Measured
from boostproof.proof.states import LEAST_FACTOR

ReadingVerdict = Literal["cured", "better", "no different", "changed", "worse", "cannot say"]


@dataclass(frozen=True)
class ReadingChange:
    """One figure of the car before and after.

    Attributes
    ----------
    before, after : as the bench reads them
    difference : after minus before, in ``unit``; None where one of them is open on a side
    verdict : of the repair, by this figure; "changed" where it is that of a sound car before and after
    unit : of the difference
    """

    before: Meaning
    after: Meaning
    difference: Measured | None
    verdict: ReadingVerdict
    unit: str

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        factor = KINDS[self.after.kind].factor
        return {
            "id": self.after.id,
            "name": self.after.name,
            "unit": self.unit,
            "before": self.before.value * factor,
            "after": self.after.value * factor,
            "before_verdict": self.before.verdict,
            "after_verdict": self.after.verdict,
            "difference": None if self.difference is None else self.difference.as_json(),
            "verdict": self.verdict,
        }


def compare_readings(
    before: Sequence[Any],
    after: Sequence[Any],
    gauges: tuple[Any, Any],
    facts: CarFacts,
    *,
    seed: int = 1,
) -> tuple[tuple[ReadingChange, ...], tuple[Finding, ...]]:
    """Figures that were read before and after a repair.

    Parameters
    ----------
    before, after : readings, each in the order done
    gauges : ``[gauge]`` of each file, None where it is not described
    facts : of the car
    seed : of the draws of errors

    Returns
    -------
    changes, by part of the car; findings of both benches

    Notes
    -----
    Errors are drawn once for both (JCGM 101): the zero and the scale of one gauge, and the sizes of the car, cancel
    in the difference as JCGM 100, F.1.2.3 has it, while marks and the person do not. With two gauges nothing but
    chance is shared.
    """
    first, doubts = read_meanings(before, gauges[0], facts, seed=seed)
    same = gauges[0] == gauges[1]
    # Readings that were not done only count: the numbers of the others, and with them their own errors, move on.
    aside = [replace(reading, not_done="no time") for reading in before] if same else []
    second, more = read_meanings([*aside, *after], gauges[1], facts, seed=seed if same else seed + 1)
    known = {meaning.id: meaning for meaning in first}
    changes = tuple(_change(known[meaning.id], meaning) for meaning in second if meaning.id in known)
    return changes, tuple(dict.fromkeys((*doubts, *more)))


def _change(before: Meaning, after: Meaning) -> ReadingChange:
    shown = KINDS[after.kind]
    if before.limit or after.limit:
        return ReadingChange(before, after, None, _by_words(before, after), shown.unit)
    draws = (after.draws - before.draws) * shown.factor
    value, sd = float(draws[0]), float(draws[1:].std())
    difference = Measured(value, sd, LEAST_FACTOR * sd)
    if abs(value) <= difference.expanded:
        return ReadingChange(before, after, difference, _unchanged(before, after, difference), shown.unit)
    return ReadingChange(before, after, difference, _by_distance(before, after), shown.unit)


def _by_words(before: Meaning, after: Meaning) -> ReadingVerdict:
    """Where one is a limit only the two verdicts speak."""
    wrong = ("low", "high")
    if before.verdict in wrong and after.verdict == "as it should be":
        return "cured"
    if before.verdict == "as it should be" and after.verdict in wrong:
        return "worse"
    return "cannot say"


def _unchanged(before: Meaning, after: Meaning, difference: Measured) -> ReadingVerdict:
    """No change that can be claimed: none that matters, or not sharp enough to tell."""
    healthy = after.healthy or before.healthy
    if healthy is None or healthy.low is None or healthy.high is None:
        return "cannot say"
    width = (healthy.high - healthy.low) * KINDS[after.kind].factor
    return "no different" if abs(difference.value) + difference.expanded <= 0.5 * width else "cannot say"


def _by_distance(before: Meaning, after: Meaning) -> ReadingVerdict:
    """A change that can be claimed: nearer to what a sound car has, or farther."""
    healthy = after.healthy or before.healthy
    if healthy is None:
        return "cannot say"
    far = [_outside(meaning.value, healthy.low, healthy.high) for meaning in (before, after)]
    if far[1] == 0.0 and far[0] == 0.0:
        return "changed"
    if far[1] < far[0]:
        return "cured" if after.verdict == "as it should be" else "better"
    return "worse"


def _outside(value: float, low: float | None, high: float | None) -> float:
    """How far outside a range, zero within it."""
    return float(max((-np.inf if low is None else low) - value, value - (np.inf if high is None else high), 0.0))
