"""Tests that repeat another one: on hot parts, or with a part that is known to be good."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from boostproof.bench.parts import PARTS, at_fault
from boostproof.bench.response import Array, Candidates, Features, Response
from boostproof.bench.tests.model import (
    BenchTest,
    CarContext,
    Gauge,
)
from boostproof.observation import reading, word
from boostproof.physics import layout, rigs

# -- hot-repeat --------------------------------------------------------------------------------------

# row of a part and the row that heat adds to it; what has none answers hot as it does cold
ADDED_BY_HEAT: tuple[tuple[str, str], ...] = (("friction", "heat_binding"),)
REPEATED_HOT = ("actuator-sweep", "controller-sweep", "line-sweep", "solenoid-check")


def hot_parts(candidates: Candidates) -> Candidates:
    """The same cars with their parts hot."""
    par = candidates.par.copy()
    for part, added in ADDED_BY_HEAT:
        par[layout.index_of(part)] += candidates.par[layout.index_of(added)]
    return replace(candidates, par=par, sound=candidates.sound)


def on_hot_parts(features: Features) -> Features:
    """Features of a test as hot parts give them."""

    def hot(candidates: Candidates) -> Mapping[str, Array]:
        return features(hot_parts(candidates))

    return hot


def _respond_hot(r: Any, gauge: Gauge, context: CarContext) -> Response:
    from boostproof.bench.tests import BY_ID  # the catalogue holds this test too

    test = BY_ID.get(r.of) if r.of is not None else None
    if test is None or test.id == r.test:
        return Response(r.test, lambda candidates: {}, ())
    cold = test.respond(r, gauge, context)
    return replace(cold, test=r.test, features=on_hot_parts(cold.features))


def _hot_shift(candidates: Candidates) -> Mapping[str, Array]:
    """What heat changes of the sweep: all that a repetition can add to it."""
    hot = hot_parts(candidates).par
    return {"hot shift": rigs.first_movement(hot) - rigs.first_movement(candidates.par)}


def _probe_hot(context: CarContext) -> Response:
    return Response("hot-repeat", _hot_shift, (reading("hot shift", 0.0, 4.0e3),))


# -- swap-known-good ---------------------------------------------------------------------------------

# chance of the result where the swapped part was at fault, and where it was not (common practice, no source)
RESULT_CHANCES: Mapping[str, tuple[float, float]] = {
    "cured": (0.75, 0.05),
    "better": (0.15, 0.10),
    "no change": (0.06, 0.72),
    "worse": (0.02, 0.08),
    "new fault": (0.02, 0.05),
}
LARGEST_RATIO = 8.0  # no statement weighs more


def result_ratio(result: str) -> float:
    """How much likelier a result is with the swapped part at fault than without, kept within 1/8 to 8.

    >>> result_ratio("cured"), round(result_ratio("better"), 2), result_ratio("no change")
    (8.0, 1.5, 0.125)
    """
    fault, other = RESULT_CHANCES[result]
    return float(np.clip(fault / other, 1.0 / LARGEST_RATIO, LARGEST_RATIO))


def _swap_features(part: str) -> Features:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        return {f"swapped {part}": at_fault(candidates, part)}

    return features


def _respond_swap(r: Any, gauge: Gauge, context: CarContext) -> Response:
    if r.what not in PARTS or r.result is None:
        return Response("swap-known-good", lambda candidates: {}, ())
    ratio = result_ratio(r.result)
    low, high = (0.5, 2.0) if ratio > 1.0 else (-1.0, 0.5)
    # a word's two chances are 1 - wrong and wrong / 2
    wrong = 2.0 / (max(ratio, 1.0 / ratio) + 2.0)
    seen = word(f"swapped {r.what}", low, high, 0.05, wrong=wrong)
    return Response("swap-known-good", _swap_features(r.what), (seen,))


def _probe_swap(context: CarContext) -> Response:
    """The part that is swapped most easily: the controller, or the hose where there is none."""
    part = "hoses" if context.controller == "none" else "controller"
    return Response("swap-known-good", _swap_features(part), (reading(f"swapped {part}", 0.0, 0.45),))


HOT_REPEAT = BenchTest(
    "hot-repeat", 27, 10.0, _respond_hot, _probe_hot,
    fits=lambda c: any(test in c.done for test in REPEATED_HOT),
)  # fmt: skip
SWAP_KNOWN_GOOD = BenchTest("swap-known-good", 28, 30.0, _respond_swap, _probe_swap)
