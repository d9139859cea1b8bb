"""Scores of probabilities against the truth: plain functions on plain numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
BINS = 10


@dataclass(frozen=True)
class Scored:
    """One case: what was answered, and what was true.

    Attributes
    ----------
    name : of the case
    truth : accepted ids; "healthy" for a sound car
    answer : probability by id, with "healthy" and "none-of-these"
    group : "decisive reading present", "log only" or "invisible"
    sizes : effective sample size of every cause above 1 %, by id
    seconds : wall time of the diagnosis
    """

    name: str
    truth: tuple[str, ...]
    answer: dict[str, float]
    group: str
    sizes: dict[str, float]
    seconds: float

    @property
    def ranking(self) -> list[str]:
        """Ids, most probable first."""
        return sorted(self.answer, key=lambda i: (-self.answer[i], i))

    @property
    def on_truth(self) -> float:
        """Probability given to what was true."""
        return min(1.0, sum(self.answer.get(i, 0.0) for i in self.truth))

    def hit(self, first: int) -> bool:
        """Whether something true stands among the first few."""
        return any(i in self.truth for i in self.ranking[:first])

    @property
    def confident_wrong(self) -> bool:
        """The leader holds more than 0.9 and is not true."""
        leader = self.ranking[0]
        return self.answer[leader] > 0.9 and leader not in self.truth

    @property
    def brier(self) -> float:
        """Squared distance between answer and truth, accepted ids taken together."""
        return (1.0 - self.on_truth) ** 2 + sum(p * p for i, p in self.answer.items() if i not in self.truth)

    @property
    def log_score(self) -> float:
        """Negative log of the probability on the truth, floored at 1e-6."""
        return float(-np.log(max(self.on_truth, 1e-6)))


def brier(cases: list[Scored]) -> float:
    """Mean Brier score."""
    return sum(c.brier for c in cases) / len(cases)


def log_score(cases: list[Scored]) -> float:
    """Mean log score."""
    return float(np.mean([c.log_score for c in cases]))


def calibration_error(confidence: Array, correct: Array, bins: int = BINS) -> float:
    """Expected calibration error of the leader, equal-mass bins, with the bias of finite bins taken off.

    Per bin the squared gap is reduced by its sampling variance (Kumar et al. 2019, from memory).
    """
    order = np.argsort(confidence, kind="stable")
    total = 0.0
    for part in np.array_split(order, min(bins, len(order))):
        p, hit = float(confidence[part].mean()), float(correct[part].mean())
        n = len(part)
        variance = hit * (1.0 - hit) / max(n - 1, 1)
        total += n / len(order) * np.sqrt(max((p - hit) ** 2 - variance, 0.0))
    return float(total)


def calibration_floor(confidence: Array, *, seed: int = 1, bins: int = BINS) -> tuple[float, float]:
    """Mean and 95 % point of the same error for a perfectly calibrated tool with these confidences."""
    rng = np.random.default_rng(seed)
    errors = [
        calibration_error(confidence, (rng.random(len(confidence)) < confidence).astype(float), bins)
        for _ in range(400)
    ]
    return float(np.mean(errors)), float(np.percentile(errors, 95))


def summary(cases: list[Scored]) -> dict[str, float]:
    """All scores of a set of cases by name."""
    confidence = np.array([c.answer[c.ranking[0]] for c in cases])
    correct = np.array([float(c.hit(1)) for c in cases])
    floor_mean, floor_95 = calibration_floor(confidence)
    sizes = [s for c in cases for s in c.sizes.values()]
    return {
        "cases": float(len(cases)),
        "top1": float(np.mean([c.hit(1) for c in cases])),
        "top3": float(np.mean([c.hit(3) for c in cases])),
        "mean_p_truth": float(np.mean([c.on_truth for c in cases])),
        "brier": brier(cases),
        "log_score": log_score(cases),
        "ece": calibration_error(confidence, correct),
        "ece_floor_mean": floor_mean,
        "ece_floor_95": floor_95,
        "confident_wrong": float(sum(c.confident_wrong for c in cases)),
        "ess_median": float(np.median(sizes)) if sizes else 0.0,
        "ess_least": float(min(sizes)) if sizes else 0.0,
        "seconds_mean": float(np.mean([c.seconds for c in cases])),
        "seconds_most": float(max(c.seconds for c in cases)),
    }
