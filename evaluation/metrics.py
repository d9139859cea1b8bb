"""Scores of a suite: weighted, so that causes drawn more often than they are met do not count for more."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from practice.score import Scored

from boostproof.diagnosis.causes import BY_ID, CATALOGUE
from boostproof.diagnosis.choice.repair_order import SPECIALIST, VERIFY, repair_minutes, repairs_for
from boostproof.diagnosis.evidence.hypotheses import BOTH

Array = NDArray[np.float64]
BINS = 10
HEALTHY, OTHER = "healthy", "none-of-these"


@dataclass(frozen=True)
class Result:
    """One car of a suite, diagnosed.

    Attributes
    ----------
    suite, name : where it belongs
    stratum : cause that it was drawn for
    truth : accepted ids, the true one first
    weight : how much it counts
    steps : answers as `evaluation.session.Step.as_json` gives them
    note : what else the suite recorded
    """

    suite: str
    name: str
    stratum: str
    truth: tuple[str, ...]
    weight: float
    steps: tuple[dict[str, Any], ...] = field(repr=False)
    note: dict[str, Any] = field(default_factory=dict, repr=False)


@cache
def _first_of(mechanism: str) -> str:
    return next(c.id for c in CATALOGUE if c.mechanism == mechanism)


@cache
def mechanism(hypothesis: str) -> str:
    """What changes in the car: causes that are one change are one answer, called by the first of the catalogue.

    >>> mechanism("dump-pipe-poor"), mechanism("charge-leak + dump-pipe-poor"), mechanism("healthy")
    ('port-entry-poor', 'charge-leak + port-entry-poor', 'healthy')
    """
    parts = [_first_of(BY_ID[i].mechanism) if i in BY_ID else i for i in hypothesis.split(BOTH)]
    return BOTH.join(sorted(parts))


def by_mechanism(answer: dict[str, float]) -> dict[str, float]:
    """An answer with causes of one mechanism taken together."""
    out: dict[str, float] = {}
    for i, p in answer.items():
        out[mechanism(i)] = out.get(mechanism(i), 0.0) + p
    return out


def scored(result: Result, step: int) -> Scored:
    """One step of a car as the scores take it, by mechanism."""
    at = result.steps[step]
    truth = tuple(dict.fromkeys(mechanism(i) for i in result.truth))
    answer = dict.fromkeys(truth, 0.0) | by_mechanism(at["answer"])
    return Scored(result.name, truth, answer, result.stratum, {}, 0.0)


def involved(answer: dict[str, float]) -> dict[str, float]:
    """Chance of every mechanism to be at fault, alone or paired."""
    out: dict[str, float] = {}
    for i, p in by_mechanism(answer).items():
        if i in (HEALTHY, OTHER):
            continue
        for part in i.split(BOTH):
            out[part] = out.get(part, 0.0) + p
    return out


def both_in_top_two(result: Result, step: int) -> bool:
    """Whether the two parts of a true pair lead."""
    chances = involved(result.steps[step]["answer"])
    first = sorted(chances, key=lambda i: (-chances[i], i))[:2]
    return set(first) == set(mechanism(result.truth[0]).split(BOTH))


def unaccused(answer: Mapping[str, float], ranking: Sequence[str]) -> bool:
    """Whether no fault is held for more likely than all else together, and "nothing wrong" is among the first two."""
    accused = any(p > 0.5 for i, p in answer.items() if i not in (HEALTHY, OTHER))
    return not accused and HEALTHY in ranking[:2]


def calibration_error(confidence: Array, correct: Array, weight: Array, bins: int = BINS) -> float:
    """Expected calibration error of the leader in bins of equal mass, bias of finite bins taken off.

    As `practice.score.calibration_error` (Kumar et al. 2019, from memory), with weights.
    """
    total, whole = 0.0, float(weight.sum())
    for part in equal_mass(confidence, weight, bins):
        w = weight[part]
        p = float(w @ confidence[part] / w.sum())
        hit = float(w @ correct[part] / w.sum())
        size = float(w.sum() ** 2 / (w @ w))
        variance = hit * (1.0 - hit) / max(size - 1.0, 1.0)
        total += float(w.sum()) / whole * float(np.sqrt(max((p - hit) ** 2 - variance, 0.0)))
    return total


def equal_mass(confidence: Array, weight: Array, bins: int = BINS) -> list[NDArray[np.intp]]:
    """Rows in bins of about equal weight, by rising confidence; none is empty."""
    order = np.argsort(confidence, kind="stable")
    middle = np.cumsum(weight[order]) - 0.5 * weight[order]
    number = np.minimum((bins * middle / weight.sum()).astype(int), bins - 1)
    return [order[number == b] for b in range(bins) if (number == b).any()]


def calibration_floor(confidence: Array, weight: Array, *, seed: int = 1, rounds: int = 400) -> tuple[float, float]:
    """Mean and 95 % point of the same error for a perfectly calibrated tool with these confidences."""
    rng = np.random.default_rng(seed)
    errors = [
        calibration_error(confidence, (rng.random(len(confidence)) < confidence).astype(float), weight)
        for _ in range(rounds)
    ]
    return float(np.mean(errors)), float(np.percentile(errors, 95))


@dataclass(frozen=True)
class Table:
    """What every car of a suite scored, one row a car."""

    stratum: NDArray[np.str_]
    weight: Array
    columns: dict[str, Array]
    confidence: Array
    correct: Array

    @property
    def size(self) -> int:
        """Number of cars."""
        return len(self.weight)

    def mean(self, name: str, rows: NDArray[np.intp] | None = None) -> float:
        """Weighted mean of a column."""
        rows = np.arange(self.size) if rows is None else rows
        return float(self.weight[rows] @ self.columns[name][rows] / self.weight[rows].sum())

    def error(self, rows: NDArray[np.intp] | None = None) -> float:
        """Calibration error."""
        rows = np.arange(self.size) if rows is None else rows
        return calibration_error(self.confidence[rows], self.correct[rows], self.weight[rows])


def table_of(results: Sequence[Result], step: int) -> Table:
    """Scores of a step: 0 the log alone, -1 the last."""
    cases = [scored(r, step) for r in results]
    leaders = [c.ranking[0] for c in cases]
    confidence = np.array([c.answer[i] for c, i in zip(cases, leaders, strict=True)])
    correct = np.array([float(i in c.truth) for c, i in zip(cases, leaders, strict=True)])
    minutes = [session_minutes(r, step) for r in results]
    columns = {
        "top1": correct,
        "top3": np.array([float(c.hit(3)) for c in cases]),
        "p_truth": np.array([c.on_truth for c in cases]),
        "log_score": np.array([c.log_score for c in cases]),
        "brier": np.array([c.brier for c in cases]),
        "confident_wrong": np.array([float(c.confident_wrong) for c in cases]),
        "other": np.array([float(c.answer.get(OTHER, 0.0) > 0.5) for c in cases]),
        "healthy_told": np.array([float(i == HEALTHY) for i in leaders]),
        "unaccused": np.array([float(unaccused(c.answer, c.ranking)) for c in cases]),
        "minutes": np.array([m for m, _ in minutes]),
        "oracle": np.array([m for _, m in minutes]),
        "tests": np.array([float(len(r.steps[: step + 1 or None]) - 1) for r in results]),
        "doubtful": np.array([float(r.steps[step]["least_size"] < 10.0) for r in results]),
    }
    if all(BOTH in r.truth[0] for r in results):
        columns["both_in_two"] = np.array([float(both_in_top_two(r, step)) for r in results])
    return Table(
        np.array([r.stratum for r in results]), np.array([r.weight for r in results]), columns, confidence, correct
    )


def interval(
    table: Table, value: Callable[[NDArray[np.intp]], float], *, seed: int = 1, rounds: int = 500
) -> tuple[float, float]:
    """95 % bootstrap interval over cars, drawn anew within every cause; causes of one car are taken together."""
    rng = np.random.default_rng(seed)
    by_cause = [np.flatnonzero(table.stratum == s) for s in np.unique(table.stratum)]
    groups = [g for g in by_cause if len(g) > 1]
    alone = [g for g in by_cause if len(g) == 1]
    groups += [np.concatenate(alone)] if alone else []
    values = [
        value(np.concatenate([rng.choice(g, size=len(g)) for g in groups])) for _ in range(rounds)
    ]
    low, high = np.percentile(values, [2.5, 97.5])
    return float(low), float(high)


def worst_cause(table: Table, name: str, least: int = 4) -> tuple[str, float, int]:
    """The cause with the lowest mean of a column among those with enough cars; its number of cars."""
    means = {
        str(s): (table.mean(name, rows), len(rows))
        for s in np.unique(table.stratum)
        if len(rows := np.flatnonzero(table.stratum == s)) >= least
    }
    if not means:
        return "", float("nan"), 0
    worst = min(means, key=lambda s: (means[s][0], s))
    return worst, *means[worst]


def mending_minutes(hypothesis: str) -> float:
    """What mending and proving takes who knows the cause.

    Nothing wrong costs a proving pull; a fault that is on no list is the specialist's.
    """
    if hypothesis in (HEALTHY, OTHER):
        return VERIFY if hypothesis == HEALTHY else SPECIALIST
    return sum(repair_minutes(i) for i in hypothesis.split(BOTH))


def session_minutes(result: Result, step: int) -> tuple[float, float]:
    """Minutes of tests and repairs until the car is mended, and those of somebody who knew the cause.

    Repairs are tried in the product's own order, each proved by a pull, up to where the product expects
    that sending the car to a specialist is cheaper. A repair mends where it is an accepted cause; of a pair
    both parts must have been mended.
    """
    steps = result.steps[: step + 1 or None]
    answer = steps[-1]["answer"]
    total = sum(s["minutes"] for s in steps)
    oracle = min(mending_minutes(i) for i in result.truth)
    mends = [set(i.split(BOTH)) for i in result.truth]
    tried: set[str] = set()
    for part in repairs_in_order(answer):
        total += mending_minutes(part)
        tried.add(part)
        if any(m <= tried for m in mends):
            return total, oracle
    return total + SPECIALIST, oracle


def repairs_in_order(answer: dict[str, float]) -> list[str]:
    """Repairs that the product would try before it gives up, "healthy" where a pull should prove that first."""
    named = [i for i in answer if i != OTHER]
    answers = [() if i == HEALTHY else tuple(i.split(BOTH)) for i in named]
    repairs = repairs_for(answers)
    p = np.array([*(answer[i] for i in named), answer.get(OTHER, 0.0)])[None, :]
    order = repairs.order(p)
    count = int(repairs.spent(p, order)[0].argmin())
    parts = list(dict.fromkeys(i for a in answers for i in (a or (HEALTHY,))))
    return [parts[k] for k in order[0, :count]]
