"""How likely a test pull passes the boost that must not be passed, by the candidates in the set-up of that pull.

Damage is a constraint before it is a cost: a pull that is not safe enough is not offered, however much it
would tell. Mixture, exhaust temperature and shaft speed are not judged here, because a usual case says nothing
of their limits; the cautions of the tests ask for them. Holding the gate shut is no test of the catalogue.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from boostproof.bench import set_ups
from boostproof.bench.procedures import procedure
from boostproof.bench.response import Array, Candidates
from boostproof.bench.tests import CarContext
from boostproof.diagnosis.evidence.pulls import CHANNELS
from boostproof.physics.change import Change
from boostproof.physics.system import OUTPUT_INDEX

ALLOWED = 0.005  # chance per pull of passing the limit, from which on it is not offered
PASSED = 300.0  # min, what passing it costs in the mean: most engines bear it once, few need a new one (judgement)
_MARGIN_SHARE, _MARGIN = 0.20, 2.0e4  # over the boost wanted, where no stop was told (judgement)

_SHARES = np.linspace(0.42, 0.97, 16)  # of redline at which a ramp is looked at: a few hundred rpm apart
_HELD, _HOLDS = 0.7, 4.0  # share of redline at which the throttle is opened at once, and for how long [s]
_LEAST_BOOST: dict[str, tuple[Change, ...]] = {
    "floor-pull": set_ups.GATE_HELD_OPEN,
    "spring-only-pull": set_ups.CONTROLLER_BYPASSED,
}
_HELD_SPEED = ("tip-in", "re-apply")
_QUICK = ("repeat-ramp",)
_STEPPED = ("floor-pull",)  # driven step by step, stopped where boost nears the target


@dataclass(frozen=True)
class Stop:
    """Boost that a pull must not pass.

    Attributes
    ----------
    boost : [Pa gauge]
    told : it was given with the car, else it is a usual margin over the boost wanted
    """

    boost: float
    told: bool


@dataclass(frozen=True)
class Withheld:
    """A test that is open and not offered.

    Attributes
    ----------
    test : id
    chance : that its pull passes the stop
    stop : the limit it was held against
    """

    test: str
    chance: float
    stop: Stop = field(repr=False)


def stop_for(told: float | None, target: float) -> Stop:
    """The limit: as told, or a fifth over the boost wanted and at least 20 kPa. [Pa gauge]

    >>> stop_for(None, 50e3).boost, stop_for(124e3, 100e3).told
    (70000.0, True)
    """
    if told is not None:
        return Stop(told, True)
    return Stop(target + max(_MARGIN_SHARE * target, _MARGIN), False)


def is_pull(test: str) -> bool:
    """Whether a test takes a full-load pull, by the cautions of its procedure.

    >>> is_pull("tip-in"), is_pull("actuator-sweep")
    (True, False)
    """
    return any(caution.key == "pull" for caution in procedure(test).cautions)


def passing_chances(
    candidates: Candidates, weight: Array, tests: Iterable[str], context: CarContext, stop: Stop
) -> dict[str, float]:
    """Chance that the running maximum of boost passes the stop, for every test that is a pull.

    Parameters
    ----------
    candidates, weight : cars and their probabilities, (n,)
    tests : ids; those that are no pulls are left out
    context : of the case
    stop : the limit
    """
    from scipy.special import ndtr

    known = weight / max(float(weight.sum()), 1e-300)
    error = CHANNELS["boost"]
    peaks: dict[tuple[str, ...], Array] = {}
    out = {}
    for test in tests:
        if not is_pull(test):
            continue
        kind = _kind(test)
        if kind not in peaks:
            peaks[kind] = _peak(candidates, test, context)
        peak = peaks[kind]
        out[test] = float(known @ ndtr((peak - stop.boost) / error.doubt(peak)))
    return out


def _kind(test: str) -> tuple[str, ...]:
    """Tests of one kind are the same pull."""
    if test in _LEAST_BOOST:
        return (test,)
    return ("held",) if test in _HELD_SPEED else ("quick",) if test in _QUICK else ("as driven",)


def _peak(candidates: Candidates, test: str, context: CarContext) -> Array:
    """Highest boost of every car in the pull of a test. [Pa gauge, (n,)]"""
    boost = OUTPUT_INDEX["boost"]
    loop = context.controller.startswith("solenoid")
    changes = _LEAST_BOOST.get(test, ())
    if test in _HELD_SPEED:
        schedule = set_ups.tip_in(
            _HELD * context.redline, context.target, candidates.ambient, seconds=_HOLDS, loop=loop
        )
        return np.asarray(candidates.simulate(changes, schedule)[:, boost].max(axis=0))
    quick = test in _QUICK
    ramp = set_ups.slow_ramp(
        context.redline, context.target, candidates.ambient, _SHARES.tolist(),
        seconds=3.0 if quick else 6.0, loop=loop and not changes, temperature=283.0 if quick else 295.0,
    )  # fmt: skip
    # a gate wide open at hardly any boost is stiff
    curve = candidates.simulate(changes, ramp.finer(4) if changes is set_ups.GATE_HELD_OPEN else ramp)[:, boost]
    if test in _STEPPED:
        curve = _stopped(curve, context.target)
    peak = curve.max(axis=0)
    if not changes and candidates.all_outputs.size:
        peak = np.maximum(peak, candidates.all_outputs[:, boost].max(axis=0))
    return np.asarray(peak)


def _stopped(curve: Array, target: float) -> Array:
    """A ramp that ends one step, some 300 rpm, after boost has reached the target; flat from there."""
    reached = np.maximum.accumulate(curve >= target, axis=0)
    over = np.zeros_like(reached)
    over[2:] = reached[:-2]
    return np.where(over, -np.inf, curve)
