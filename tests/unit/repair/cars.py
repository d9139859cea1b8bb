"""Candidates for repairs: usual sound cars with a little spread, and the faults of causes on them."""

from __future__ import annotations

import numpy as np
from tests.unit.diagnosis.usual_cars import FITTED, TARGET, usual_car

from boostproof.diagnosis.causes import BY_ID, Cause
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, hypotheses_for, pair
from boostproof.physics import layout
from boostproof.physics.change import apply_all
from boostproof.repair.ramp import Ramp, ramp_for
from boostproof.repair.subjects import Subjects

AMBIENT = 101325.0
REDLINE = float(layout.parameter("redline").neutral)
_SPREAD = {"turbine_area": 0.02, "breathing": 0.01, "exhaust_loss": 0.05, "gate_flow": 0.02}


def kind_with(*causes: str) -> str:
    """A usual kind of car that can have these faults."""
    return next(kind for kind, car in FITTED.items() if all(BY_ID[c].applies(car) for c in causes))


def ramp(loop: bool = False, target: float = TARGET) -> Ramp:
    """Up to redline."""
    return ramp_for(REDLINE, target, AMBIENT, 295.0, loop=loop)


def hypothesis(kind: str, *causes: str) -> Hypothesis:
    """The first variant of a cause, or of two at once."""
    controller = FITTED[kind].controller
    singles = [next(iter(h for h in hypotheses_for((BY_ID[c],), controller) if not h.healthy)) for c in causes]
    if not singles:
        return Hypothesis()
    both = singles[0] if len(singles) == 1 else pair(singles[0], singles[1])
    assert both is not None
    return both


def subjects(
    kind: str, answers: dict[str, float], count: int = 20, severity: float | None = 0.5, seed: int = 1
) -> Subjects:
    """``count`` cars of every answer ("" for sound, "a + b" for two), weighed by probability.

    Nothing was driven: the log says nothing of the model's errors.
    """
    rng = np.random.default_rng(seed)
    n = count * len(answers)
    sound = usual_car(kind, n).astype(float)
    for name, sd in _SPREAD.items():
        sound[layout.index_of(name)] *= np.exp(sd * rng.standard_normal(n))
    actual, hypotheses = sound.copy(), []
    drawn = rng.random((2, n)) if severity is None else np.full((2, n), severity)
    which = np.repeat(np.arange(len(answers)), count)
    told: list[tuple[Cause, ...]] = []
    for i, name in enumerate(answers):
        causes = [c for c in name.split(" + ") if c]
        h = hypothesis(kind, *causes)
        hypotheses.append(h)
        told.append(tuple(sorted((BY_ID[c] for c in causes), key=lambda c: c.number)))
        for part, s in zip(h.parts, drawn, strict=False):
            actual[:, which == i] = apply_all(part.changes, actual[:, which == i], s[which == i])
    p = np.array(list(answers.values()))
    return Subjects(
        sound, actual, drawn, which, hypotheses, which, tuple(told), np.repeat(p / p.sum() / count, count), AMBIENT,
        np.zeros((0, n)),
    )  # fmt: skip


__all__ = ["AMBIENT", "FITTED", "REDLINE", "TARGET", "hypothesis", "kind_with", "ramp", "subjects"]
