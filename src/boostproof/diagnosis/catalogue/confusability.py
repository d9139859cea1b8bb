"""Which causes can be told apart on a car: how well every other cause imitates a true one, computed.

The evidence of a true cause (`boostproof.diagnosis.catalogue.expected`) is fitted with every other: first on a linear
model around a few severities of each, which costs no simulation, then, where that leaves a cause near enough,
by the same Gauss-Newton rounds as in a diagnosis. Evidences are normal approximations around the best fit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.catalogue.expected import Bank, Progress, Subject, bank_of, subject_of
from boostproof.diagnosis.evidence.blocks import EvidenceSet
from boostproof.diagnosis.inference.fit import STEP, Mode, find_modes
from boostproof.diagnosis.inference.importance import log_sum_exp

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec

NEAR = 10.0  # nats behind the best, on the linear model, within which a cause is fitted by simulation
STARTS = 2  # fits of a hypothesis that go on
ROUNDS = 2  # of simulation
LINEAR = 0.3  # nats within which the linear model is believed
TRUE_SEVERITIES = (0.5,)  # each further one takes the same time again, and a person waits
TOGETHER = 0.8  # probability against each other below which causes count as not told apart
_LINEAR_ROUNDS = 5
_DAMPING = (0.0, 1.0, 10.0, 100.0)
_DROPPING = {1: 60.0, 2: 40.0, 3: 30.0}  # nats behind the best after so many rounds that end a fit
_LARGEST_MOVE = 2.5  # standard deviations, in one round


def linear_fits(bank: Bank, evidence: EvidenceSet) -> tuple[Array, Array, Array]:
    """Every point of a bank fitted to evidence, as if all predictions were linear around it.

    Returns
    -------
    z : (dimensions, points) of the best fits
    objective : (points,) there, as `Mode.objective`
    log evidence : (points,) by the normal approximation; -inf for points that fall far behind on the way
    """
    d, n = bank.z.shape
    residuals = np.clip(evidence.residuals(bank.candidates), -1e4, 1e4).reshape(-1, n, d + 1)
    slopes = np.moveaxis((residuals[:, :, 1:] - residuals[:, :, :1]) / STEP, 1, 0)  # (points, m, dimensions)
    out, objectives, logs = bank.z.T.copy(), np.full(n, np.inf), np.full(n, -np.inf)
    kept = np.arange(n)
    z = out.copy()
    for step in range(_LINEAR_ROUNDS + 1):
        near = _Linear(evidence, bank.z.T[kept], residuals[:, kept, 0], slopes[kept])
        r, objective = near.misfit(z)
        slope = slopes[kept]
        weighted = slope * evidence.weights(r).T[:, :, None]
        precision = np.eye(d) + np.swapaxes(slope, 1, 2) @ weighted
        if step == _LINEAR_ROUNDS:
            out[kept], objectives[kept] = z, objective
            logs[kept] = -objective - 0.5 * np.linalg.slogdet(precision)[1]
            break
        z, objective = _moved(near, z, objective, precision, z + np.einsum("nmd,mn->nd", weighted, r))
        if step in _DROPPING:
            stays = objective < objective.min() + _DROPPING[step]
            kept, z = kept[stays], z[stays]
    return out.T, objectives, logs


@dataclass(frozen=True)
class _Linear:
    """Points with the linear model around each."""

    evidence: EvidenceSet
    origin: Array
    start: Array
    slope: Array

    def misfit(self, z: Array) -> tuple[Array, Array]:
        """Residuals (m, points) and objective (points,) at (points, dimensions)."""
        r = self.start + (self.slope @ (z - self.origin)[:, :, None])[:, :, 0].T
        return r, 0.5 * (z**2).sum(axis=1) - self.evidence.by_block(r).sum(axis=0)


def _moved(
    near: _Linear, z: Array, objective: Array, precision: Array, gradient: Array
) -> tuple[Array, Array]:
    """Every point moved by the best of a few damped steps, or not at all."""
    diagonal = np.einsum("nii->ni", precision)
    best, lowest = z, objective
    for damping in _DAMPING:
        damped = precision + damping * diagonal[:, :, None] * np.eye(z.shape[1])
        step = -np.linalg.solve(damped, gradient[:, :, None])[:, :, 0]
        step *= np.minimum(1.0, _LARGEST_MOVE / np.maximum(np.abs(step).max(axis=1), 1e-12))[:, None]
        _, value = near.misfit(z + step)
        best = np.where((value < lowest)[:, None], z + step, best)
        lowest = np.minimum(value, lowest)
    return best, lowest


def log_evidences(bank: Bank, evidence: EvidenceSet, *, near: float = NEAR, rounds: int = ROUNDS) -> Array:
    """Log evidence of every hypothesis, given that the car is brought in; -inf for the sound car.

    Parameters
    ----------
    bank, evidence : a car with a fault, and what it shows
    near : nats within which a fit on the linear model goes on
    rounds : of simulation, for those
    """
    z, objective, linear = linear_fits(bank, evidence)
    out = np.full(len(bank.subject.hypotheses), -np.inf)
    np.maximum.at(out, bank.hypothesis, linear)
    going = np.flatnonzero(out[bank.hypothesis] > out.max() - near)
    rank = np.array([np.sum(linear[bank.hypothesis == bank.hypothesis[k]] > linear[k]) for k in going])
    going = going[rank < STARTS]
    if len({bank.subject.hypotheses[i].mechanism for i in bank.hypothesis[going]}) == 1:
        return out - bank.noticed  # nothing else is near
    simulator = replace(bank.subject.simulator, evidence=evidence)
    hypotheses = list(bank.subject.hypotheses)
    result = simulator.evaluate(z[:, going], hypotheses, bank.hypothesis[going])
    # what a simulation at the fit adds to the objective is what the linear model got wrong
    excess = 0.5 * (z[:, going] ** 2).sum(axis=0) - result.log_likelihood - objective[going]
    bent = np.abs(excess) > LINEAR
    modes = [_mode(bank.hypothesis[k], z[:, k], evidence) for k in going[bent]]
    if modes:
        find_modes(simulator, hypotheses, modes, rounds)
    for i in np.unique(bank.hypothesis[going]):
        straight = linear[going[~bent]][bank.hypothesis[going[~bent]] == i]
        fitted = [m.log_evidence for m in modes if m.hypothesis == i]
        out[i] = max([*straight.tolist(), *fitted])
    return out - bank.noticed


def _mode(hypothesis: int, z: Array, evidence: EvidenceSet) -> Mode:
    return Mode(int(hypothesis), z.copy(), np.ones(len(evidence.blocks), bool))


def probabilities(bank: Bank, log_evidence: Array) -> dict[str, float]:
    """Probability of every cause, all as likely as any other beforehand; variants by their shares."""
    logs: dict[str, list[float]] = {}
    floor = float(log_evidence.max()) - 500.0  # of hypotheses whose fit was given up
    for h, value in zip(bank.subject.hypotheses, log_evidence, strict=True):
        for cause in h.causes:
            logs.setdefault(cause.id, []).append(max(float(value), floor) + float(np.log(h.share)))
    total = {name: float(log_sum_exp(np.array(parts), axis=0)) for name, parts in logs.items()}
    values = np.array(list(total.values()))
    p = np.exp(values - log_sum_exp(values, axis=0))
    return dict(zip(total, p.tolist(), strict=True))


def expected_verdict(
    bank: Bank, hypothesis: int, severity: float, tests: Sequence[str] = (), *, near: float = NEAR
) -> dict[str, float]:
    """Probabilities that a true fault is expected to end with.

    Parameters
    ----------
    bank : the car
    hypothesis, severity : the true fault, at the nearest severity of the bank
    tests : ids of tests that were done beside the log
    near : see `log_evidences`
    """
    evidence = bank.evidence(bank.point(hypothesis, severity), tests)
    return probabilities(bank, log_evidences(bank, evidence, near=near))


@dataclass(frozen=True)
class Remaining:
    """What is left of a cause where it is the true one: means over severities and variants.

    Attributes
    ----------
    probabilities : of every cause, by id
    against : probability of the true one against each other alone, by id
    """

    cause: str
    probabilities: Mapping[str, float]
    against: Mapping[str, float]

    @property
    def truth(self) -> float:
        """Probability on the true cause."""
        return self.probabilities[self.cause]

    def taken_for(self, count: int = 2, above: float = 0.01) -> list[tuple[str, float]]:
        """The causes that it is most taken for, with their probabilities."""
        rest = [(i, p) for i, p in self.probabilities.items() if i != self.cause and p > above]
        return sorted(rest, key=lambda item: (-item[1], item[0]))[:count]


def remaining(
    bank: Bank,
    tests: Sequence[str],
    *,
    severities: Sequence[float] = TRUE_SEVERITIES,
    near: float = NEAR,
    progress: Progress | None = None,
) -> dict[str, Remaining]:
    """What is left of every cause, by id, with the log and the tests given.

    Parameters
    ----------
    bank : the car
    tests : ids of tests that were done beside the log
    severities : at which every fault is taken to be true, of those of the bank
    near : see `log_evidences`
    progress : called with what is being done and the share done
    """
    say = progress or (lambda text, share: None)
    faults = [i for i, h in enumerate(bank.subject.hypotheses) if not h.healthy]
    found: dict[str, list[tuple[float, dict[str, float]]]] = {}
    for number, i in enumerate(faults):
        h = bank.subject.hypotheses[i]
        say(f"what {h.causes[0].title.lower()} can be taken for", number / len(faults))
        for severity in severities:
            p = expected_verdict(bank, i, severity, tests, near=near)
            for cause in h.causes:
                found.setdefault(cause.id, []).append((h.share, p))
    return {cause: _mean(cause, parts) for cause, parts in found.items()}


def _mean(cause: str, parts: Sequence[tuple[float, dict[str, float]]]) -> Remaining:
    weight = np.array([share for share, _ in parts])
    p = np.array([list(one.values()) for _, one in parts])
    own = np.array([one[cause] for _, one in parts])[:, None]
    against = own / np.maximum(own + p, 1e-300)
    names = list(parts[0][1])
    mean = (weight @ p / weight.sum()).tolist()
    return Remaining(
        cause,
        dict(zip(names, mean, strict=True)),
        {n: a for n, a in zip(names, (weight @ against / weight.sum()).tolist(), strict=True) if n != cause},
    )


def together(left: Mapping[str, Remaining], limit: float = TOGETHER) -> list[tuple[str, ...]]:
    """Groups of causes of which each, where true, stays below a limit against every other; largest first.

    A cause may stand in several groups; each group is as large as it can be.
    """
    near = {
        i: {j for j in left if j != i and left[i].against[j] < limit and left[j].against[i] < limit}
        for i in left
    }
    groups: list[set[str]] = []

    def grow(group: set[str], open_: set[str], closed: set[str]) -> None:  # Bron and Kerbosch 1973
        if not open_ and not closed and len(group) > 1:
            groups.append(group)
        for one in sorted(open_):
            grow(group | {one}, open_ & near[one], closed & near[one])
            open_, closed = open_ - {one}, closed | {one}

    grow(set(), set(left), set())
    order = list(left)
    rows = [tuple(sorted(g, key=order.index)) for g in groups]
    return sorted(rows, key=lambda g: (-len(g), [order.index(i) for i in g]))


def inseparable(
    car: CarSpec,
    can: Mapping[str, bool] | None = None,
    *,
    progress: Progress | None = None,
) -> list[tuple[str, ...]]:
    """Groups of causes of a car that its log and every test the shop can do leave together.

    Parameters
    ----------
    car : what is known
    can : what the shop can do, by keys of ``[pull_place]``; None for what the car's file says, and what it
        does not say counts as possible
    progress : called with what is being done and the share done
    """
    say = progress or (lambda text, share: None)
    say("simulating every cause on this car", 0.0)
    return left_together(subject_of(car, can), progress=progress)


def left_together(subject: Subject, *, progress: Progress | None = None) -> list[tuple[str, ...]]:
    """As `inseparable`, for a subject that stands already."""
    say = progress or (lambda text, share: None)
    tests = [t.id for t in subject.tests]
    bank = bank_of(subject, tests)
    left = remaining(bank, tests, progress=lambda text, share: say(text, 0.2 + 0.8 * share))
    return together(left)
