"""What each suite is judged by: the measured values, their intervals, the marks to pass and to reach for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.diagnosis.evidence.hypotheses import BOTH
from evaluation.metrics import HEALTHY, OTHER, Result, Table, calibration_floor, interval, table_of

Rows = NDArray[np.intp]
CHECK_PRIOR, COMPLAINT_PRIOR = 0.25, 0.05  # chance that nothing is wrong: brought for a check, for a complaint
LOG, LAST = 0, -1
FEWEST = 30  # cars below which no mark is judged


@dataclass(frozen=True)
class Mark:
    """One line of the table.

    Attributes
    ----------
    suite, says : what is measured on which cars
    step : LOG or LAST
    column : of the table of scores; "ece" and "ratio" are computed over all cars
    passes, reaches : marks, None where there is none
    higher : more is better
    """

    suite: str
    says: str
    step: int
    column: str
    passes: float | None
    reaches: float | None = None
    higher: bool = True


MARKS = (
    Mark("S1", "first cause right, log alone", LOG, "top1", 0.65),
    Mark("S1", "right cause among three, log alone", LOG, "top3", 0.95),
    Mark("S1", "first cause right after two tests at most", LAST, "top1", 0.95, 0.98),
    Mark("S1", "mean probability of the truth", LAST, "p_truth", 0.90),
    Mark("S1", "log score", LAST, "log_score", 0.15, 0.06, higher=False),
    Mark("S1", "Brier score", LAST, "brier", 0.06, 0.03, higher=False),
    Mark("S1", "calibration error, log alone", LOG, "ece", 0.03, 0.02, higher=False),
    Mark("S1", "calibration error after the tests", LAST, "ece", 0.03, 0.02, higher=False),
    Mark("S1", "log alone, had pairs and unknown faults been ruled out", LOG, "ece_known", 0.03, 0.02, higher=False),
    Mark("S1", "after the tests, had they been ruled out", LAST, "ece_known", 0.03, 0.02, higher=False),
    Mark("S1", "more than 90 % sure and wrong", LAST, "confident_wrong", 0.02, 0.005, higher=False),
    Mark("S1", "a known cause called unknown", LAST, "other", 0.05, 0.01, higher=False),
    Mark("S1", "minutes of work over those of who knows the cause", LAST, "ratio", 1.35, 1.15, higher=False),
    *(
        mark
        for suite in ("S2", "practice")
        for mark in (
            Mark(suite, "first cause right, log alone", LOG, "top1", None),
            Mark(suite, "right cause among three, log alone", LOG, "top3", None),
            Mark(suite, "first cause right after two tests at most", LAST, "top1", 0.80, 0.90),
            Mark(suite, "mean probability of the truth", LAST, "p_truth", None, 0.85),
            Mark(suite, "log score", LAST, "log_score", None, higher=False),
            Mark(suite, "Brier score", LAST, "brier", None, higher=False),
            Mark(suite, "calibration error, log alone", LOG, "ece", 0.06, 0.03, higher=False),
            Mark(suite, "calibration error after the tests", LAST, "ece", 0.06, 0.03, higher=False),
            Mark(suite, "more than 90 % sure and wrong", LAST, "confident_wrong", 0.05, higher=False),
            Mark(suite, "a known cause called unknown", LAST, "other", 0.05, 0.01, higher=False),
            Mark(suite, "minutes of work over those of who knows the cause", LAST, "ratio", None, higher=False),
        )
    ),
    Mark("S3", "told to be none of the known causes", LAST, "other", 0.75, 0.95),
    Mark("S3", "more than 90 % sure and wrong", LAST, "confident_wrong", None, higher=False),
    Mark("S4", "both parts lead, log alone", LOG, "both_in_two", None),
    Mark("S4", "both parts lead after the tests", LAST, "both_in_two", 0.85, 0.95),
    Mark("S5", "told that nothing was found, brought for a complaint", LAST, "healthy_told", 0.90, 0.99),
    Mark("S5", "told that nothing was found, brought for a check", LAST, "healthy_check", 0.90, 0.99),
    Mark("S5", "no cause above one half and sound among the first two, for a complaint", LAST, "unaccused", 0.95),
    Mark("S5", "no cause above one half and sound among the first two, for a check", LAST, "unaccused_check", 0.95),
    Mark("S6", "first cause right after two tests at most", LAST, "top1", None),
    Mark("S6", "more than 90 % sure and wrong", LAST, "confident_wrong", 0.05, higher=False),
)


@dataclass(frozen=True)
class Measured:
    """A mark with what came out.

    Attributes
    ----------
    mark : what was asked
    cars : number of cars
    value, low, high : measured, with a 95 % interval
    floor : mean and 95 % point of the calibration error of a perfect tool, None for other scores
    """

    mark: Mark
    cars: int
    value: float
    low: float
    high: float
    floor: tuple[float, float] | None = None

    @property
    def verdict(self) -> str:
        """Whether the mark is met; nothing is said of few cars, and where the mark lies in the interval, so."""
        m = self.mark
        if m.passes is None and m.reaches is None:
            return ""
        if self.cars < FEWEST:
            return "too few cars"
        limit = m.reaches if m.passes is None else m.passes
        assert limit is not None
        return self._against() + (", within its interval" if self.low <= limit <= self.high else "")

    def _against(self) -> str:
        m = self.mark

        def met(limit: float | None) -> bool:
            return limit is not None and (self.value >= limit if m.higher else self.value <= limit)

        if met(m.reaches):
            return "stretch"
        if m.passes is None:
            return "below stretch"
        return "pass" if met(m.passes) else "**not met**"


def measure(suite: str, results: Sequence[Result]) -> list[Measured]:
    """All lines of a suite; cars without an answer are left out here and counted elsewhere."""
    answered = [r for r in results if r.steps]
    if not answered:
        return []
    tables = {LOG: table_of(answered, LOG), LAST: table_of(answered, LAST)}
    if suite == "S5":
        checked = table_of([_reweighed(r, CHECK_PRIOR) for r in answered], LAST)
        tables[LAST].columns["healthy_check"] = checked.columns["healthy_told"]
        tables[LAST].columns["unaccused_check"] = checked.columns["unaccused"]
    if suite == "S1":
        known = {step: table_of([_of_the_list(r) for r in answered], step) for step in (LOG, LAST)}
    return [
        _measured(m, known[m.step] if m.column == "ece_known" else tables[m.step]) for m in MARKS if m.suite == suite
    ]


def _measured(mark: Mark, table: Table) -> Measured:
    value = _value(mark.column, table)
    every = np.arange(table.size)
    low, high = interval(table, value)
    if mark.column in table.columns and np.unique(table.columns[mark.column]).tolist() in ([0.0], [1.0]):
        # all cars alike: the bootstrap sees no spread; three in so many are not ruled out (rule of three)
        rule = min(1.0, 3.0 / table.size)
        low, high = (1.0 - rule, 1.0) if low > 0.5 else (0.0, rule)
    floor = calibration_floor(table.confidence, table.weight) if mark.column in ("ece", "ece_known") else None
    return Measured(mark, table.size, value(every), low, high, floor)


def _value(column: str, table: Table) -> Callable[[Rows], float]:
    if column in ("ece", "ece_known"):
        return table.error
    if column == "ratio":
        return lambda rows: table.mean("minutes", rows) / table.mean("oracle", rows)
    return lambda rows: table.mean(column, rows)


def _of_the_list(result: Result) -> Result:
    """The answers when pairs and unknown faults are ruled out beforehand: what these cars are drawn from."""
    return _answered(result, lambda i: 0.0 if i == OTHER or BOTH in i else 1.0)


def _reweighed(result: Result, prior: float) -> Result:
    """The answers had the chance that nothing is wrong been another one beforehand: exact, by Bayes' rule."""
    factor = (prior / (1.0 - prior)) / (COMPLAINT_PRIOR / (1.0 - COMPLAINT_PRIOR))
    return _answered(result, lambda i: factor if i == HEALTHY else 1.0)


def _answered(result: Result, factor: Callable[[str], float]) -> Result:
    """The same car with the odds of its answers times a factor; those times nothing are left out."""
    steps: list[dict[str, Any]] = []
    for step in result.steps:
        answer = {i: p * f for i, p in step["answer"].items() if (f := factor(i)) > 0.0}
        total = sum(answer.values())
        steps.append({**step, "answer": {i: p / total for i, p in answer.items()} if total > 0.0 else answer})
    return replace(result, steps=tuple(steps))
