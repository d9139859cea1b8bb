"""Dangerous cars driven by the plan: how often boost passes the hard limit, and how many pulls it takes.

``python -m evaluation.pull_plans --cars 300`` draws cars of the model itself whose boost would pass the limit before
the redline, and drives each as the plan says, pull by pull, with a driver, a gauge and an engine model that is wrong
by as much as the diagnosis allows for. The cars are drawn apart from the candidates that the plan reckons with.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.car.prior import build_prior
from boostproof.diagnosis.choice.pull_risk import stop_for
from boostproof.diagnosis.evidence.hypotheses import BOTH
from boostproof.diagnosis.evidence.pulls import CHANNELS, CURVE_LENGTH
from boostproof.diagnosis.evidence.setup import causes_of
from boostproof.pullplan.before import ensemble_before
from boostproof.pullplan.ensemble import Ensemble
from boostproof.pullplan.ladder import Halt, next_pull
from boostproof.pullplan.outlook import Driven
from boostproof.pullplan.rungs import Rung
from boostproof.pullplan.terms import RAMP, Terms
from boostproof.pullplan.watch import watch
from evaluation.families import RPM, families

Array = NDArray[np.float64]
MOST_PULLS = 16
RATE = 20.0  # samples a second that the watch sees
GAUGE = 1.0e3  # Pa, error of the gauge's zero
NOISE = 4.0e2  # Pa, of one sample
BIN = 200.0 * RPM


@dataclass(frozen=True)
class Trial:
    """One car driven.

    Attributes
    ----------
    family, cause : of the car
    worst : highest boost of all pulls less the hard limit [Pa]
    pulls : driven
    why : what ended it
    stopped : pulls that the watch ended before the ceiling
    reached : highest engine speed as found, as share of the redline
    """

    family: str
    cause: str
    worst: float
    pulls: int
    why: str
    stopped: int
    reached: float

    @property
    def exceeded(self) -> bool:
        """The limit was passed."""
        return self.worst > 0.0


@dataclass(frozen=True)
class TrueCar:
    """Boost of a car over engine speed by set-up [Pa gauge], (r,) each."""

    speed: Array = field(repr=False)
    boost: dict[str, Array] = field(repr=False)
    cause: str = ""

    def dangerous(self, terms: Terms) -> bool:
        """Whether it passes the limit before the redline as found."""
        return bool(self.boost["as found"].max() > terms.hard)


def drive_by_plan(ensemble: Ensemble, car: TrueCar, terms: Terms, rng: np.random.Generator, family: str = "") -> Trial:
    """Drive a car as the plan says until it asks for no further pull.

    Parameters
    ----------
    ensemble : candidates before any pull
    car : the true one
    terms : of the ladder
    rng : of the driver, the gauge and the noise
    family : for tables
    """
    pulls: list[Driven] = []
    worst, stopped, why = -np.inf, 0, "too many pulls"
    zero = float(rng.normal(0.0, GAUGE))
    while len(pulls) < MOST_PULLS:
        step = next_pull(ensemble, pulls, terms)
        if isinstance(step, Halt):
            why = step.why
            break
        pull, peak, early = drive(step, car, terms, rng, zero)
        pulls.append(pull)
        worst, stopped = max(worst, peak - terms.hard), stopped + early
    found = [p.ceiling for p in pulls if p.set_up == "as found"]
    reached = max(found, default=0.0) / terms.redline
    return Trial(family, car.cause, float(worst), len(pulls), why, stopped, reached)


def drive(
    step: Rung, car: TrueCar, terms: Terms, rng: np.random.Generator, zero: float
) -> tuple[Driven, float, bool]:
    """One pull with the watch: what was read, the highest true boost, and whether the watch ended it early."""
    curve = car.boost[step.set_up]
    time = np.arange(0.0, (terms.redline - terms.start) / terms.ramp, 1.0 / RATE)
    speed = terms.start + terms.ramp * time
    read = np.interp(speed, car.speed, curve) + zero + rng.normal(0.0, NOISE, len(time))
    last, why = len(time), "ceiling"
    for n in range(1, len(time) + 1):
        call = watch(step, terms, time[:n], speed[:n], read[:n])
        if not call.go:
            last, why = n, call.why
            break
    early = why != "ceiling"
    # the ceiling that the driver waits for still holds while he reacts to a stop
    share = rng.uniform(0.5, 1.0)
    at_ceiling = step.ceiling + terms.ramp * share * terms.lift
    lifted = min(float(speed[last - 1]) + terms.ramp * share * terms.reaction, at_ceiling)
    peak = float(curve[car.speed <= lifted].max(initial=-np.inf))
    reached = float(min(speed[last - 1], step.ceiling))
    return Driven(step.set_up, *_bins(speed[:last], read[:last]), reached), peak, early


def _bins(speed: Array, read: Array) -> tuple[Array, Array]:
    count = max(2, round((speed[-1] - speed[0]) / BIN))
    parts = np.array_split(np.arange(len(speed)), min(count, len(speed)))
    return np.array([speed[p].mean() for p in parts]), np.array([read[p].mean() for p in parts])


def wrong_model(speed: Array, car: Array, rng: np.random.Generator, size: float) -> Array:
    """A smooth error of the model over engine speed, ``size`` times what the diagnosis allows for. [Pa, (r,)]"""
    error = CHANNELS["boost"]
    kernel = np.exp(-0.5 * ((speed[:, None] - speed[None, :]) / CURVE_LENGTH) ** 2) + 1e-6 * np.eye(len(speed))
    curve = np.linalg.cholesky(kernel) @ rng.standard_normal(len(speed))
    full = curve * np.hypot(error.curve_share * np.abs(car), error.curve) + rng.normal(0.0, error.offset)
    # where there is next to no boost there is next to no error either
    return np.asarray(size * full * np.clip(np.abs(car) / 2.0e4, 0.0, 1.0))


@lru_cache(maxsize=4)
def family_terms(number: int) -> Terms:
    """The terms of a family: no stop boost told, a brake dyno."""
    spec = families()[number].car
    target = build_prior(spec).target
    assert target is not None  # every family has one
    stop = stop_for(None, target)
    return Terms(stop.boost, stop.told, target, spec.engine.redline.value, RAMP["brake dyno"] * RPM)


@lru_cache(maxsize=4)
def family_ensemble(number: int, seed: int) -> Ensemble:
    """Candidates of a family before any pull."""
    spec = families()[number].car
    loop = spec.controller.kind.startswith("solenoid")
    return ensemble_before(build_prior(spec), causes_of(spec), family_terms(number), loop=loop, seed=seed)


def true_cars(number: int, count: int, seed: int, *, wrong: float = 1.0, dangerous: bool = True) -> list[TrueCar]:
    """Cars of a family, drawn by how often they come among those that are dangerous (or among all).

    Parameters
    ----------
    number : of the family
    count : cars
    seed : of the draw; candidates of another seed are other cars
    wrong : size of the model's error on them, of what the diagnosis allows for
    dangerous : only cars whose boost passes the limit before the redline as found
    """
    pool, terms = family_ensemble(number, seed), family_terms(number)
    rng = np.random.default_rng([seed, number, 5])
    out: list[TrueCar] = []
    while len(out) < count:
        i = int(rng.choice(len(pool.weight), p=pool.weight))
        boost = {}
        for set_up, curves in pool.boost.items():
            boost[set_up] = curves[:, i] + wrong_model(pool.speed, curves[:, i], rng, wrong)
        cause = BOTH.join(pool.causes[pool.hypothesis[i]]) or "sound"
        car = TrueCar(pool.speed, boost, cause)
        if car.dangerous(terms) or not dangerous:
            out.append(car)
    return out


def run(numbers: Sequence[int], count: int, seed: int, *, wrong: float = 1.0, dangerous: bool = True) -> list[Trial]:
    """Trials of ``count`` cars of each family."""
    out = []
    for number in numbers:
        ensemble, terms, name = family_ensemble(number, 1), family_terms(number), families()[number].name
        rng = np.random.default_rng([seed, number, 6])
        for car in true_cars(number, count, seed, wrong=wrong, dangerous=dangerous):
            out.append(drive_by_plan(ensemble, car, terms, rng, name))
    return out


def upper_bound(exceeded: int, count: int, share: float = 0.95) -> float:
    """Exact binomial upper bound of a rate.

    >>> round(upper_bound(0, 3000), 5)
    0.001
    """
    from scipy.stats import beta

    return 1.0 if exceeded >= count else float(beta.ppf(share, exceeded + 1, count - exceeded))


def summary(trials: Sequence[Trial]) -> dict[str, Any]:
    """The figures of a set of trials."""
    n, bad = len(trials), sum(t.exceeded for t in trials)
    return {
        "cars": n,
        "exceeded": bad,
        "upper_bound_95": round(upper_bound(bad, n), 5),
        "mean_pulls": round(float(np.mean([t.pulls for t in trials])), 2),
        "most_pulls": max(t.pulls for t in trials),
        "not_driven_at_all": sum(t.pulls == 0 for t in trials),
        "to_the_redline": sum(t.why == "done" for t in trials),
        "mean_reached_share_of_redline": round(float(np.mean([t.reached for t in trials])), 3),
        "stopped_by_watch": sum(t.stopped for t in trials),
        "worst_kpa_over": round(max((t.worst for t in trials if t.pulls), default=0.0) / 1e3, 1),
        "exceeding": sorted({f"{t.family}: {t.cause} +{t.worst / 1e3:.1f} kPa" for t in trials if t.exceeded}),
    }


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=240, help="in all, spread over the families")
    parser.add_argument("--families", type=int, nargs="*", default=list(range(len(families()))))
    parser.add_argument("--seed", type=int, default=2_000_007)
    parser.add_argument("--wrong", type=float, default=1.0, help="size of the model's error on the cars")
    parser.add_argument("--all", action="store_true", help="cars as they come, not only dangerous ones")
    given = parser.parse_args()
    each = -(-given.cars // len(given.families))
    trials = run(given.families, each, given.seed, wrong=given.wrong, dangerous=not given.all)
    print(json.dumps(summary(trials), indent=2))


if __name__ == "__main__":
    main()
