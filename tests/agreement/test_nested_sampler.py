"""Evidences of the product against those of another sampler that knows nothing of fits and slopes.

The car is the product's own, driven for two seconds; all but six of its unknowns stand at their middle, so that
static nested sampling (dynesty, from the prior inwards by random walks) can do it at all. Every answer below is a
hypothesis with one set of evidence. Neither way is exact: each says how sure it is.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cache
from typing import Any, NamedTuple

import numpy as np
import pytest
from evaluation.families import families

from boostproof.bench.response import Array, Candidates, Response
from boostproof.car.prior import Prior, build_prior
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.evidence.bins import Bin
from boostproof.diagnosis.evidence.blocks import Block, EvidenceSet, response_blocks
from boostproof.diagnosis.evidence.drive import JUMP_TIME, STEP_BETWEEN, STEP_JUMP, STEP_PULL, Drive
from boostproof.diagnosis.evidence.hypotheses import Hypothesis, hypotheses_for, pair
from boostproof.diagnosis.evidence.pulls import expected_block
from boostproof.diagnosis.evidence.setup import complaint_blocks
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.diagnosis.inference import tempered
from boostproof.diagnosis.inference.importance import distinct
from boostproof.diagnosis.inference.search import search
from boostproof.observation import reading
from boostproof.physics import system
from boostproof.physics.layout import INDEX
from boostproof.physics.system import OUTPUT_INDEX

FAMILY = families()[1]  # two litres, internal gate, no controller
FREE = ("breathing", "turbine_area", "port_diameter", "opening_pressure", "spring_span", "boost_offset")
SINGLE = {
    "healthy": "", "port": "port-too-small", "spring": "spring-weak", "leak": "charge-leak", "sensor": "sensor-scale-wrong",
}  # fmt: skip
NAMES = [*SINGLE, "port and leak"]
CAUSES = tuple(BY_ID[name] for name in SINGLE.values() if name)
LIVE, ALONGSIDE = 150, 30
RUNS = 4  # of the product, 96 candidates each; two of them are what it calls halves
SECONDS = 2.0

# -- the car --------------------------------------------------------------------------------------------


def reduced(prior: Prior) -> Prior:
    """The same prior with all but `FREE` at their middle."""
    held = [n for n in prior.nuisances if n.name not in FREE]

    def derive(values: dict[str, Array]) -> None:
        middle = np.zeros_like(next(iter(values.values())))
        values.update({n.name: n.value(middle) for n in held})
        prior.derive(values)

    free = tuple(n for n in prior.nuisances if n.name in FREE)
    return replace(prior, nuisances=free, derive=derive)


def ramp(target: float) -> Drive:
    """A fifth of a second of cruise and a full-load ramp from 45 to 97 % of redline."""
    redline = FAMILY.car.engine.redline.value
    lead, jump = np.arange(-0.2, 0.0, STEP_BETWEEN), np.arange(0.0, JUMP_TIME, STEP_JUMP)
    time = np.concatenate([lead, jump, np.arange(JUMP_TIME, SECONDS, STEP_PULL)])
    steps = np.diff(np.append(time, SECONDS))
    middle = time + 0.5 * steps
    share = 0.45 + 0.52 * np.maximum(middle, 0.0) / SECONDS
    inputs = np.zeros((len(time), system.N_INPUT))
    inputs[:, 0], inputs[:, 1] = share * redline, np.where(middle < 0.0, 0.13, 1.0)
    inputs[:, 2], inputs[:, 4], inputs[:, 5], inputs[:, 6] = target, 1.0e5, 295.0, 0.5
    levels = np.linspace(0.55, 0.95, 6)
    near = np.abs(share[:, None] - levels) < 0.02
    record = np.where(near.any(axis=1), near.argmax(axis=1), -1).astype(np.int32)
    bins = tuple(Bin(0, slot, level * redline, 0, 0) for slot, level in enumerate(levels))
    return Drive(inputs, steps, record, bins, 1)


def read(name: str, value: float, sd: float) -> list[Block]:
    """One parameter of the car, read on the bench."""

    def features(candidates: Candidates) -> dict[str, Array]:
        return {name: candidates.par[INDEX[name]]}

    return response_blocks(Response(name, features, (reading(name, value, sd),), {name: 40.0 * sd}))


@cache
def hypotheses() -> tuple[Hypothesis, ...]:
    """One variant of every fault, and a pair, as in `NAMES`."""
    of = {h.causes[0].id if h.parts else "": h for h in reversed(hypotheses_for(CAUSES, "none"))}
    both = pair(of["port-too-small"], of["charge-leak"])
    assert both is not None
    return (*(of[name] for name in SINGLE.values()), both)


@cache
def case(truth: str, readings: bool) -> Simulator:
    """The short drive with what a hidden car with this fault showed on it: the log alone, or with two readings."""
    prior = reduced(build_prior(FAMILY.car))
    assert prior.target is not None and prior.size == len(FREE)
    drive = ramp(prior.target)
    known = complaint_blocks(prior.target)
    simulator = Simulator(prior, drive, drive, EvidenceSet(tuple(known)), 1.0e5)
    hidden = np.array([0.4, -0.3, -0.5, 0.2, -0.4, 0.3, 0.4, 0.1])[:, None]
    seen = simulator.candidates(*simulator.parameters(hidden, hypotheses(), np.array([NAMES.index(truth)])))
    off = seen.all_outputs.copy()
    off[:, OUTPUT_INDEX["boost_measured"], 0] += 900.0 * np.array([0.8, 0.2, -1.1, -0.4, 0.9, 0.3])
    blocks = [expected_block(replace(seen, all_outputs=off), 0, drive, ["boost"]), *known]
    if readings:
        blocks += read("opening_pressure", float(seen.par[INDEX["opening_pressure"], 0]) + 2.0e3, 3.0e3)
        blocks += read("port_diameter", float(seen.par[INDEX["port_diameter"], 0]) - 5e-4, 8e-4)
    return replace(simulator, evidence=EvidenceSet(tuple(blocks)))


# -- the other sampler ------------------------------------------------------------------------------------


class SideBySide:
    """Stands where dynesty expects a pool: walks take turns, and the cars of all of them are simulated at once."""

    def __init__(self, log_likelihood: Callable[[Array], Array]) -> None:
        self._many = log_likelihood
        self._turn = threading.Condition()
        self._asked: dict[int, Array] = {}
        self._told: dict[int, float] = {}
        self._walking = 0

    def log_likelihood(self, z: Array) -> float:
        """Of one car, (d,): waits until all walks have asked."""
        me = threading.get_ident()
        if threading.current_thread() is threading.main_thread():
            return float(self._many(z[:, None])[0])
        with self._turn:
            self._asked[me] = np.array(z)
            self._turn.notify_all()
            self._turn.wait_for(lambda: me in self._told)
            return self._told.pop(me)

    def map(self, function: Callable[[Any], Any], items: Iterable[Any]) -> list[Any]:
        """As the built-in, in order."""
        todo = list(items)
        out: list[Any] = []
        for first in range(0, len(todo), ALONGSIDE):
            out += self._together(function, todo[first : first + ALONGSIDE])
        return out

    def _together(self, function: Callable[[Any], Any], items: list[Any]) -> list[Any]:
        out: list[Any] = [None] * len(items)

        def walk(place: int) -> None:
            try:
                out[place] = function(items[place])
            finally:
                with self._turn:
                    self._walking -= 1
                    self._turn.notify_all()

        self._walking = len(items)
        threads = [threading.Thread(target=walk, args=(k,)) for k in range(len(items))]
        for thread in threads:
            thread.start()
        with self._turn:
            while self._walking:
                self._turn.wait_for(lambda: len(self._asked) == self._walking)
                if self._asked:
                    who = list(self._asked)
                    values = self._many(np.stack([self._asked[k] for k in who], axis=1))
                    self._told.update(zip(who, values.tolist(), strict=True))
                    self._asked.clear()
                    self._turn.notify_all()
        for thread in threads:
            thread.join()
        return out


class Found(NamedTuple):
    log_evidence: float
    sd: float


def nested(simulator: Simulator, name: str) -> Found:
    """Log evidence by static nested sampling, over the unknowns that the hypothesis has."""
    from dynesty import NestedSampler
    from scipy.special import ndtri

    hypothesis = [hypotheses()[NAMES.index(name)]]
    parts = len(hypothesis[0].parts)
    rows = [*range(len(FREE)), *(-1 - k for k in range(parts))]

    def many(own: Array) -> Array:
        z = np.zeros((simulator.dimensions, own.shape[1]))
        z[rows] = own
        return simulator.evaluate(z, hypothesis, np.zeros(own.shape[1], np.intp)).log_likelihood

    walks = SideBySide(many)
    sampler = NestedSampler(
        walks.log_likelihood,
        lambda u: ndtri(np.clip(u, 1e-12, 1.0 - 1e-12)),
        len(rows),
        nlive=LIVE,
        sample="rwalk",
        bound="single",
        walks=25,
        rstate=np.random.default_rng([*name.encode(), simulator.evidence.size]),
        pool=walks,
        queue_size=ALONGSIDE,
        use_pool={"prior_transform": False, "update_bound": False},
    )
    sampler.run_nested(dlogz=0.1, print_progress=False)
    return Found(float(sampler.results.logz[-1]), float(sampler.results.logzerr[-1]))


def product(simulator: Simulator, name: str) -> Found:
    """Log evidence as the product finds it: search, fit, tempered sampling around every mode."""
    everything = np.ones(len(simulator.evidence.blocks), bool)
    some = [hypotheses()[k] for k in sorted({0, NAMES.index(name)})]
    found = search(simulator, some, None, everything, seed=5, say=lambda text, share: None)
    modes = distinct(found.modes[len(some) - 1])
    drawn = tempered.sample(simulator, some, [m for m in modes for _ in range(RUNS)], 96, seed=5)
    of = np.array([tempered.added(drawn[k::RUNS]).log_evidence(everything) for k in range(RUNS)])
    share = np.exp(of - of.max())
    sd = share.std(ddof=1) / share.mean() / np.sqrt(RUNS)
    return Found(float(of.max() + np.log(share.mean())), float(sd))


# -- agreement -------------------------------------------------------------------------------------------

IN_SHORT = {("spring", False), ("port", True), ("port and leak", True)}
EVERY = [
    pytest.param(name, readings, marks=() if (name, readings) in IN_SHORT else pytest.mark.slow)
    for readings in (False, True)
    for name in NAMES
]


@pytest.mark.parametrize(("name", "readings"), EVERY)
def test_evidence_of_what_is_wrong_is_that_of_nested_sampling(name: str, readings: bool) -> None:
    simulator = case(name, readings)
    other, mine = nested(simulator, name), product(simulator, name)
    assert mine.log_evidence == pytest.approx(other.log_evidence, abs=3.0 * np.hypot(other.sd, mine.sd) + 0.3)


RIVALS = [("spring", "healthy", False), ("port", "spring", True), ("port", "sensor", True)]


@pytest.mark.slow
@pytest.mark.parametrize(("truth", "name", "readings"), RIVALS)
def test_what_does_not_fit_is_never_given_too_much(truth: str, name: str, readings: bool) -> None:
    """Where a log speaks against a hypothesis, cars that fit it nowhere in particular hold much of the evidence.

    They lie far and wide around no mode, so that the product may give such a hypothesis too little.
    """
    simulator = case(truth, readings)
    other, mine, right = nested(simulator, name), product(simulator, name), product(simulator, truth)
    allowed = 3.0 * np.hypot(other.sd, mine.sd) + 0.3
    assert other.log_evidence - 3.0 - allowed < mine.log_evidence < other.log_evidence + allowed
    assert right.log_evidence > other.log_evidence + 3.0
