"""The suites: which cars, drawn from which seed, and how one of them is diagnosed.

A car is named by suite, cause and running number within the cause, and its seed follows from that name, so
that a larger tier holds the cars of a smaller one. Two sets of seeds are kept apart: "dev" to look at while
changing the product, "score" for the page and nothing else.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from practice.cases import cases_in, practice_folder, truth_of

from boostproof.diagnosis.causes import BY_ID, Cause
from boostproof.diagnosis.causes.pairs import compatible
from boostproof.diagnosis.evidence.hypotheses import BOTH
from boostproof.diagnosis.inference.weighing import HEALTHY_PRIOR, beliefs_for
from evaluation import dirty, folders
from evaluation.families import families
from evaluation.metrics import HEALTHY, OTHER
from evaluation.session import in_model
from evaluation.truths import blank, draw_car, driven

DRAWN = 1  # raised when cars are drawn otherwise than before: earlier results then no longer count
BASES = {"dev": 1_000_000, "score": 2_000_000, "fresh": 3_000_000, "unseen": 4_000_000}
TESTS = 2
IN_MODEL = ("S1", "S3", "S4", "S5")
SUITES = (*IN_MODEL[:1], "S2", "practice", "S3", "S4", "S5", "S6", "S7", "S8")
TITLES = {
    "S1": "cars of the model itself",
    "S2": "cars of another simulator",
    "practice": "practice cases",
    "S3": "the true cause struck from the list",
    "S4": "two faults at once",
    "S5": "sound cars",
    "S6": "dirty logs",
    "S7": "engines without a turbo",
    "S8": "small problems with an exact answer",
}
# number of cars by tier; of S3 about a hundred per cause in the largest
TIERS: dict[str, dict[str, int]] = {
    "ci": {"S1": 6, "S2": 2, "S5": 1, "S7": 3},
    "issue": {"S1": 600, "practice": 48, "S4": 60, "S5": 60, "S7": 12, "S8": 60},
    "release": {
        "S1": 3000, "S2": 1000, "practice": 48, "S3": 5000, "S4": 600, "S5": 500, "S6": 300, "S7": 60, "S8": 300,
    },
}  # fmt: skip
LEAST = {"ci": 0, "issue": 8, "release": 40}  # cars per cause in S1 and S2
CI_TESTS = 1


@dataclass(frozen=True)
class Task:
    """One car to be diagnosed.

    Attributes
    ----------
    suite : name
    cause : cause (or pair) that it is drawn for, as its stratum
    number : running number within the cause
    base : of the seeds
    weight : how much it counts
    tests : at most so many
    given : a folder, for practice cases
    """

    suite: str
    cause: str
    number: int
    base: int
    weight: float
    tests: int
    given: str = ""

    @property
    def seed(self) -> int:
        """Follows from the name, whatever other cars there are."""
        text = f"{self.suite} {self.cause} {self.number}"
        return self.base + int.from_bytes(hashlib.sha256(text.encode()).digest()[:3], "big")

    @property
    def name(self) -> str:
        """For tables."""
        return f"{self.suite} {self.cause} {self.number}"

    @property
    def family(self) -> int:
        """Of cars from the model: drawn among those that can have the cause, by how often they have it."""
        shares = np.array([_share(n, self.cause) for n in range(len(families()))])
        rng = np.random.default_rng([self.seed, 15])
        return int(rng.choice(len(shares), p=shares / shares.sum()))


@lru_cache(maxsize=32)
def _priors(number: int) -> Mapping[str, float]:
    return beliefs_for(blank(number).causes, HEALTHY_PRIOR).singles


def _share(number: int, cause: str) -> float:
    priors = _priors(number)
    if cause == HEALTHY:
        return 1.0
    return float(np.prod([priors.get(i, 0.0) for i in cause.split(BOTH)]))


@lru_cache(maxsize=1)
def base_rates() -> dict[str, float]:
    """How often each cause (and nothing) is met among the cars of all families."""
    out: dict[str, float] = {HEALTHY: HEALTHY_PRIOR}
    count = len(families())
    for number in range(count):
        for cause, p in _priors(number).items():
            out[cause] = out.get(cause, 0.0) + p / count
    total = sum(out.values())
    return {i: p / total for i, p in out.items()}


def spread(rates: Mapping[str, float], count: int, least: int) -> dict[str, int]:
    """How many cars of every cause: by rate, but at least so many; if there are few, the causes drawn evenly.

    >>> spread({"a": 0.9, "b": 0.1}, 10, 3)
    {'a': 9, 'b': 3}
    >>> spread({"a": 0.7, "b": 0.2, "c": 0.1}, 2, 0)
    {'a': 1, 'b': 1}
    """
    causes = sorted(rates)
    if count < 2 * len(causes) and not least:
        edges = np.cumsum([rates[i] for i in causes]) / sum(rates.values())
        places = (np.arange(count) + 0.5) / count
        chosen = np.searchsorted(edges, places).clip(0, len(causes) - 1)
        return {causes[k]: int((chosen == k).sum()) for k in np.unique(chosen)}
    total = sum(rates.values())
    return {i: max(least, round(count * rates[i] / total)) for i in causes}


def tasks_of(suite: str, count: int, *, base: int, least: int, tests: int) -> list[Task]:
    """All cars of a suite, those of one family beside each other."""

    def tasks(numbers: Mapping[str, int], rates: Mapping[str, float]) -> list[Task]:
        return [
            Task(suite, cause, k, base, rates[cause] / n, tests)
            for cause, n in numbers.items()
            for k in range(n)
        ]

    if suite == "S1":
        out = tasks(spread(base_rates(), count, least), base_rates())
    elif suite == "S3":
        some = [i for i in base_rates() if i != HEALTHY]
        alike = dict.fromkeys(some, 1.0)  # every cause may be the one that is not on the list
        out = tasks(spread(alike, count, 0), alike)
    elif suite == "S4":
        out = tasks(_counted(_pairs(), count, base), dict.fromkeys(_pairs(), 1.0))
    elif suite == "S5":
        out = tasks({HEALTHY: count}, {HEALTHY: 1.0})
    elif suite in ("S2", "S6"):
        rates = demo_rates()
        out = tasks(spread(rates, count, min(least, count // len(rates))), rates)
    elif suite == "practice":
        cases = cases_in(practice_folder())[:count]
        out = [Task(suite, truth_of(p)["causes"][0], k, base, 1.0, tests, str(p)) for k, p in enumerate(cases)]
    elif suite == "S7":
        out = tasks({"no turbo": count}, {"no turbo": 1.0})
    else:
        raise ValueError(f"no suite is called {suite}")
    return sorted(out, key=lambda t: (t.family, t.cause, t.number)) if suite in IN_MODEL else out


def demo_rates() -> dict[str, float]:
    """Base rates of the causes that the demo's simulator makes, and of a sound car."""
    from boostproof.demo.faults import FAULTS

    rates = base_rates()
    return {i: rates[f.accepts[0]] for i, f in FAULTS.items() if f.accepts[0] in rates}


@lru_cache(maxsize=1)
def _pairs() -> tuple[str, ...]:
    """Pairs that some family can have, in catalogue order."""
    found: dict[str, None] = {}
    for number in range(len(families())):
        causes = blank(number).causes
        for i, a in enumerate(causes):
            for b in causes[i + 1 :]:
                if compatible(a, b):
                    found.setdefault(f"{a.id}{BOTH}{b.id}")
    return tuple(found)


def _counted(pairs: tuple[str, ...], count: int, base: int) -> dict[str, int]:
    """A few of the many pairs, in proportion to both rates, one car each."""
    rates = base_rates()
    p = np.array([np.prod([rates[i] for i in pair.split(BOTH)]) for pair in pairs])
    order = np.random.default_rng([base, 16]).choice(len(pairs), size=min(count, len(pairs)), replace=False, p=p / p.sum())
    return {pairs[k]: 1 for k in order}


def run_task(task: Task) -> dict[str, Any]:
    """Diagnose one car; the answer as the file of results holds it."""
    runner: Callable[[Task], dict[str, Any]] = _in_model if task.suite in IN_MODEL else _from_folder
    return runner(task)


def _in_model(task: Task) -> dict[str, Any]:
    causes: tuple[Cause, ...] = ()
    if task.cause != HEALTHY:
        causes = tuple(BY_ID[i] for i in task.cause.split(BOTH))
    car = draw_car(task.family, causes, task.seed, pool_seed=task.base)
    made = driven(car, task.seed)
    in_play = made[1]
    if task.suite == "S3":
        in_play = tuple(c for c in in_play if c.mechanism != causes[0].mechanism)
    steps = in_model(car, made, seed=task.seed, tests=task.tests, causes=in_play)
    truth = (OTHER,) if task.suite == "S3" else (task.cause,)
    note = {"family": families()[task.family].name, "severities": [round(s, 4) for s in car.severities]}
    return {"truth": truth, "steps": [s.as_json() for s in steps], "note": note}


def _from_folder(task: Task) -> dict[str, Any]:
    from boostproof.errors import BoostproofError

    rng = np.random.default_rng([task.seed, 17])
    note: dict[str, Any] = {}
    with tempfile.TemporaryDirectory(prefix="boostproof-evaluation-") as place:
        folder = _folder_of(task, Path(place) / "case", rng, note)
        truth = truth_of(folder)["causes"] if (folder / "truth.toml").is_file() else [task.cause]
        try:
            if task.suite == "S7":  # what is said of the log is known before anything is inferred
                return {"truth": truth, "steps": [], "note": {"findings": folders.said_of(folder)}}
            steps, kinds = folders.session(folder, tests=task.tests)
        except BoostproofError as error:  # said in plain words, which is an answer of its own
            return {"truth": truth, "steps": [], "note": {**note, "refused": error.kind}}
    note["findings"] = kinds
    return {"truth": truth, "steps": [s.as_json() for s in steps], "note": note}


def _folder_of(task: Task, place: Path, rng: np.random.Generator, note: dict[str, Any]) -> Path:
    if task.suite == "practice":
        return Path(task.given)
    if task.suite == "S7":
        return dirty.write_aspirated(place, rng)
    from boostproof.demo import make_case

    severity = float(rng.uniform(0.05, 1.0))
    note["severity"] = round(severity, 3)
    make_case(place, cause=task.cause, severity=severity, seed=task.seed)
    if task.suite == "S6":
        kind = list(dirty.SPOILS)[task.seed % len(dirty.SPOILS)]
        log, clean = place / "recordings" / "log.csv", folders.said_of(place)
        dirty.write_sheet(log, dirty.SPOILS[kind](dirty.read_sheet(log), rng))
        note |= {"spoilt": kind, "also_said": sorted({*_said(place)} - {*clean})}
    return place


def _said(folder: Path) -> list[str]:
    """Kinds of the findings about a case's recordings; none where they are refused, which is told elsewhere."""
    from boostproof.errors import BoostproofError

    try:
        return folders.said_of(folder)
    except BoostproofError:
        return []
