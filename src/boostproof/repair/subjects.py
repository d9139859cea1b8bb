"""The cars that a repair is tried on: candidates of the posterior with their faults kept apart from the sound car."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.causes import Cause
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, answer_id
from boostproof.diagnosis.evidence.simulator import SEVERITY_ROWS
from boostproof.diagnosis.inference.particles import Particles

HEALTHY = "healthy"


@dataclass(frozen=True)
class Subjects:
    """Candidate cars, each under one answer: nothing wrong, one cause, or a pair.

    Attributes
    ----------
    sound, actual : (parameters, n) without the fault and as found [SI]
    severity : (2, n) of the first and the second fault, 0 mild to 1 severe
    hypothesis : (n,) index into hypotheses
    hypotheses : ways of being wrong, as they are simulated
    answer : (n,) index into answers
    answers : causes of each; none for a sound car
    weight : (n,) adding to 1
    ambient : pressure around during the pulls [Pa abs]
    pulls : (slots, n) boost as the car's sensor would have shown it on the pulls that were driven [Pa gauge]
    """

    sound: Array = field(repr=False)
    actual: Array = field(repr=False)
    severity: Array = field(repr=False)
    hypothesis: NDArray[np.intp] = field(repr=False)
    hypotheses: Sequence[Hypothesis] = field(repr=False)
    answer: NDArray[np.intp] = field(repr=False)
    answers: tuple[tuple[Cause, ...], ...] = field(repr=False)
    weight: Array = field(repr=False)
    ambient: float
    pulls: Array = field(repr=False)

    @property
    def count(self) -> int:
        """Number of cars."""
        return len(self.weight)

    def id_of(self, answer: int) -> str:
        """Id of an answer, as the verdict names it."""
        return answer_id(self.answers[answer]) or HEALTHY

    def probability(self, answer: int) -> float:
        """Share of an answer among these cars."""
        return float(self.weight[self.answer == answer].sum())

    def only(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> Subjects:
        """Some of the cars; their weights add to 1 again."""
        weight = self.weight[chosen]
        return replace(
            self, sound=self.sound[:, chosen], actual=self.actual[:, chosen], severity=self.severity[:, chosen],
            hypothesis=self.hypothesis[chosen], answer=self.answer[chosen], pulls=self.pulls[:, chosen],
            weight=weight / max(float(weight.sum()), 1e-300),
        )  # fmt: skip

    def fewer(self, count: int) -> Subjects:
        """At most so many cars, of equal weight, drawn evenly in proportion to their weights."""
        if self.count <= count:
            return self
        order = np.argsort(self.answer, kind="stable")
        places = (np.arange(count) + 0.5) / count
        picked = order[np.searchsorted(np.cumsum(self.weight[order]), places).clip(0, self.count - 1)]
        some = self.only(picked)
        return replace(some, weight=np.full(count, 1.0 / count))


def subjects_from(particles: Particles, known: Mapping[str, float]) -> Subjects:
    """Cars of the posterior, each given to one of the answers that its simulation stands for.

    Causes that are one change of the car share its candidates in proportion to their probabilities.

    Parameters
    ----------
    particles : candidates with the numbers behind them
    known : probability of every cause and pair, by id
    """
    from scipy.special import ndtr

    cars = particles.candidates
    answers: dict[str, tuple[Cause, ...]] = {}
    names = [HEALTHY] * len(particles.weight)
    weight = particles.weight.copy()
    for h in np.unique(particles.hypothesis):
        rows = np.flatnonzero(particles.hypothesis == h)
        options = particles.hypotheses[h].answers or ((),)
        share = np.array([max(known.get(answer_id(o), 0.0), 0.0) if o else 1.0 for o in options])
        share = share / share.sum() if share.sum() > 0.0 else np.full(len(options), 1.0 / len(options))
        given = _given(share, len(rows))
        for i, option in enumerate(options):
            mine = rows[given == i]
            answers.setdefault(answer_id(option) or HEALTHY, option)
            for row in mine:
                names[row] = answer_id(option) or HEALTHY
            if len(mine):
                weight[mine] = particles.weight[rows].sum() * share[i] / len(mine)
    order = list(answers)
    numbers = np.array([order.index(name) for name in names], np.intp)
    return Subjects(
        sound=cars.sound, actual=cars.par,
        severity=np.asarray(ndtr(particles.z[list(SEVERITY_ROWS)])),
        hypothesis=particles.hypothesis, hypotheses=particles.hypotheses, answer=numbers,
        answers=tuple(answers.values()), weight=weight / weight.sum(), ambient=cars.ambient,
        pulls=_measured(cars.all_outputs),
    )  # fmt: skip


def _given(share: Array, count: int) -> NDArray[np.intp]:
    """Which option each of ``count`` cars is given to: by share, mixed through, at least one for each above zero."""
    wanted = np.where(share > 0.0, np.maximum(share * count, 1.0), 0.0)
    wanted *= count / wanted.sum()
    turn = np.concatenate([(np.arange(int(np.ceil(w))) + 0.5) / w for w in wanted if w > 0.0])
    option = np.concatenate([np.full(int(np.ceil(w)), i) for i, w in enumerate(wanted) if w > 0.0])
    return np.asarray(option[np.argsort(turn, kind="stable")[:count]], np.intp)


def _measured(outputs: Array) -> Array:
    from boostproof.physics.system import OUTPUT_INDEX

    return np.asarray(outputs[:, OUTPUT_INDEX["boost_measured"]], float)
