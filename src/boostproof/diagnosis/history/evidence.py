"""What was said about the car as evidence: capped factors on the odds of every cause.

A statement s with chances ``P(s | cause)`` and their average m over the causes in play (by how common they
are) moves the odds of a cause by ``r = trust P / m + 1 - trust``. One statement counts at most 8 times, up or
down. Together they count at most 20 times: the sum L of the logs becomes ``log 20 tanh(L / log 20)``, so that
more hearsay still keeps its order and adds less and less. Last, all is drawn towards nothing until no cause
passes `HIGHEST_ALONE` on how common it is and what was said alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from math import exp, log, tanh
from typing import TYPE_CHECKING

from boostproof.diagnosis.evidence.hypotheses import answer_id
from boostproof.diagnosis.history.statements import Statement, statements
from boostproof.diagnosis.history.table import HEALTHY, NONE_OF_THESE
from boostproof.findings import Finding

if TYPE_CHECKING:
    from boostproof.car.spec import History
    from boostproof.diagnosis.causes.model import Cause

SOURCE = "history"  # what this source of evidence is called

STATEMENT_CAP = log(8.0)
TOTAL_CAP = log(20.0)
HIGHEST_ALONE = 0.75  # probability that no cause passes by what was said alone
_REST = 0.05  # prior of "healthy" and of "none of these"


@dataclass(frozen=True)
class HistoryLine:
    """One statement and what it does to the log odds of every answer, after the caps. [nats]

    Attributes
    ----------
    says : the statement in a sentence
    log_odds : by id of a cause or pair, with "healthy" and "none-of-these"
    """

    says: str
    log_odds: Mapping[str, float] = field(repr=False)


@dataclass(frozen=True)
class HistoryEvidence:
    """What was said, for every answer a diagnosis may give.

    Attributes
    ----------
    log_odds : factor on the prior odds, as its log, by id of a cause ("port-too-small"), of a pair
        ("port-too-small + gate-stuck-open"), "healthy" and "none-of-these"; empty where nothing was said
    lines : the statements; their shares add up to `log_odds`
    findings : what contradicts itself
    """

    log_odds: Mapping[str, float] = field(default_factory=dict)
    lines: tuple[HistoryLine, ...] = ()
    findings: tuple[Finding, ...] = ()

    def against_average(self, answer: str, probability: Mapping[str, float]) -> list[tuple[str, float]]:
        """Every statement with its share in the log odds of an answer against all others.

        Parameters
        ----------
        answer : id of a cause or pair
        probability : of every answer, to weigh the others by
        """
        others = {i: p for i, p in probability.items() if i != answer}
        total = sum(others.values())

        def rest(line: HistoryLine) -> float:
            return sum(p * line.log_odds.get(i, 0.0) for i, p in others.items()) / total if total > 0.0 else 0.0

        return [(line.says, line.log_odds.get(answer, 0.0) - rest(line)) for line in self.lines]

    def weighs_most(self, answer: str, probability: Mapping[str, float], nats: float) -> str:
        """The statement that does most of what history does to an answer; empty where nothing was said.

        Parameters
        ----------
        answer, probability : as above
        nats : what history does to it in all; its sign says whether a reason for or against is wanted
        """
        sign = 1.0 if nats >= 0.0 else -1.0
        shares = self.against_average(answer, probability)
        return max(shares, key=lambda item: sign * item[1])[0] if shares else ""


def history_evidence(
    history: History | None, causes: Sequence[Cause], *, pairs: bool = True
) -> HistoryEvidence:
    """What [history] of car.toml says for and against every cause.

    Parameters
    ----------
    history : as read; None where there is none
    causes : those that the car can have
    pairs : also for every two of them at once

    Returns
    -------
    HistoryEvidence
    """
    if history is None:
        return HistoryEvidence()
    said, findings = statements(history, causes)
    if not said:
        return HistoryEvidence(findings=findings)
    both = list(combinations(sorted(causes, key=lambda c: c.number), 2)) if pairs else []
    parts = [_ratios(s, causes, both) for s in said]
    answers = list(parts[0])
    share = {a: _damping(sum(p[a] for p in parts)) for a in answers}
    told = {a: share[a] * sum(p[a] for p in parts) for a in answers}
    drawn = _draw_in(told, causes)
    lines = tuple(
        HistoryLine(s.says, {a: drawn * share[a] * p[a] for a in answers}) for s, p in zip(said, parts, strict=True)
    )
    return HistoryEvidence({a: drawn * told[a] for a in answers}, lines, findings)


def _ratios(
    s: Statement, causes: Sequence[Cause], pairs: Sequence[tuple[Cause, Cause]]
) -> dict[str, float]:
    """Log ratio of one statement to its average, by answer."""
    ids = [c.id for c in causes]
    weight = [c.base_rate for c in causes]
    mean = sum(w * s.chance[i] for w, i in zip(weight, ids, strict=True)) / sum(weight)

    def ratio(chance: float) -> float:
        value = log(s.trust * chance / mean + 1.0 - s.trust)
        return s.weight * max(-STATEMENT_CAP, min(STATEMENT_CAP, value))

    out = {i: ratio(s.chance[i]) for i in (*ids, HEALTHY)}
    out[NONE_OF_THESE] = ratio(s.chance.get(NONE_OF_THESE, mean))
    for pair in pairs:
        out[answer_id(pair)] = ratio(s.of_both(pair[0].id, pair[1].id))
    return out


def _damping(total: float) -> float:
    """What is left of each part of a sum so that the sum stays below `TOTAL_CAP`."""
    return TOTAL_CAP * tanh(total / TOTAL_CAP) / total if total else 1.0


def _draw_in(told: Mapping[str, float], causes: Sequence[Cause]) -> float:
    """Factor on all log odds, 1 or less, with which no cause passes `HIGHEST_ALONE`."""
    rates = sum(c.base_rate for c in causes)
    prior = {c.id: (1.0 - 2.0 * _REST) * c.base_rate / rates for c in causes}
    prior |= {HEALTHY: _REST, NONE_OF_THESE: _REST}
    low, high = 0.0, 1.0
    if _highest(told, prior, 1.0) <= HIGHEST_ALONE:
        return 1.0
    for _ in range(30):
        middle = 0.5 * (low + high)
        if _highest(told, prior, middle) > HIGHEST_ALONE:
            high = middle
        else:
            low = middle
    return low


def _highest(told: Mapping[str, float], prior: Mapping[str, float], factor: float) -> float:
    mass = {i: p * exp(factor * told[i]) for i, p in prior.items()}
    return max(p for i, p in mass.items() if i not in (HEALTHY, NONE_OF_THESE)) / sum(mass.values())
