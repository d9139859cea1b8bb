"""Boost after a repair for every size of the trade, so that a person can slide through them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from boostproof.repair.bands import Band, band_of, curves_with_errors
from boostproof.repair.forecast import AfterCause, Asked, Problem, after_causes, futures_apart
from boostproof.repair.mend import mended
from boostproof.repair.ramp import boost_of, run
from boostproof.repair.sizing import at_stop

CANDIDATES = 1000
_TIMES = 2  # curves of every candidate in a grid


@dataclass(frozen=True)
class AtSize:
    """The repaired car in one size.

    Attributes
    ----------
    size : [SI; turns]
    after : band over all answers; None where leading answers part
    by_cause : every answer above 10 %, most probable first
    apart : ids of two answers whose bands do not meet
    holds : chance that boost nowhere passes the target by more than the tolerance
    enough : the same where the gate is open as far as it goes; equal to holds for what is no matter of capacity
    reaches : chance that boost comes to within the tolerance of the target
    stopped : chance that the boost never to be passed is passed
    peak : middle of the highest boost [Pa gauge]
    """

    size: float
    after: Band | None = field(repr=False)
    by_cause: tuple[AfterCause, ...] = field(repr=False)
    apart: tuple[str, ...]
    holds: float
    enough: float
    reaches: float
    stopped: float
    peak: float


def at_size(problem: Problem, asked: Asked, sized: int, size: float, *, seed: int, times: int = 1) -> AtSize:
    """One size of one of the repairs on all cars of a problem, the other repairs as asked.

    Parameters
    ----------
    problem : the case, with as many candidates as are to be driven
    asked : repairs and what is wanted of them
    sized : number of the repair whose size it is
    size : [SI; turns]
    seed : of all that is drawn; the same for every size, so that sizes can be compared
    times : curves of every candidate
    """
    cars, ramp = problem.cars, problem.ramp
    this = replace(asked, repairs=tuple(c.at(size) if i == sized else c for i, c in enumerate(asked.repairs)))
    kind = this.repairs[sized].repair.size
    assert kind is not None
    par = mended(cars, this.repairs, problem.controller, seed=seed)
    outputs = run(par, ramp)
    curves = curves_with_errors(
        boost_of(outputs), cars, problem.errors_at, changed=True, seed=seed, draws=times * cars.count
    )
    high = ramp.target + asked.tolerance
    holds = curves.chance(curves.peak < high)
    enough = holds
    if kind.capacity:
        counted = np.where(at_stop(par, outputs)[:, curves.car], curves.boost, 0.0).max(axis=0)
        enough = curves.chance(counted < high)
    by_cause = after_causes(cars, curves, this, ramp.target)
    apart = futures_apart(by_cause, ramp.target)
    return AtSize(
        size, None if apart else band_of(curves), by_cause, apart, holds, enough,
        curves.chance(curves.peak > ramp.target - asked.tolerance), curves.chance(curves.peak > problem.told.stop[0]),
        curves.peak_at(0.5),
    )  # fmt: skip


def over_sizes(
    problem: Problem, asked: Asked, sized: int, *, seed: int = 1, said: Callable[[float], None] | None = None
) -> tuple[AtSize, ...]:
    """Every size of the trade on at most 1,000 candidates, rising.

    Parameters
    ----------
    problem, asked, sized, seed : as of `at_size`
    said : called with the share done
    """
    size = asked.repairs[sized].repair.size
    assert size is not None
    some = replace(problem, cars=problem.cars.fewer(CANDIDATES))
    out = []
    for k, value in enumerate(size.trade):
        out.append(at_size(some, asked, sized, value, seed=seed, times=_TIMES))
        if said is not None:
            said((k + 1) / len(size.trade))
    return tuple(out)
