"""Tests that are pulls of their own: gate held open, controller out, tip-in, re-apply, another ramp.

What they would show is simulated with the set-up as changes of the car. Their recordings are read with the
other recordings of a case; a reading of such a test names one and is no evidence by itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from boostproof.bench import set_ups
from boostproof.bench.response import Array, Candidates, Features, Response
from boostproof.bench.tests.model import BenchTest, CarContext, Gauge
from boostproof.observation import reading
from boostproof.physics.change import Change
from boostproof.physics.system import OUTPUT_INDEX

_BOOST, _SHOWN = OUTPUT_INDEX["boost"], OUTPUT_INDEX["boost_measured"]
_LOW, _HIGH = 0.65, 0.94  # shares of redline
def _loop(context: CarContext) -> bool:
    return context.controller.startswith("solenoid")


# -- gate held open, controller out ------------------------------------------------------------------


def _ramp_features(context: CarContext, changes: tuple[Change, ...], name: str) -> Features:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        ramp = set_ups.slow_ramp(context.redline, context.target, candidates.ambient, (_LOW, _HIGH))
        # a gate wide open at hardly any boost is stiff: in usual steps one car in eight ran away, in these none
        out = candidates.simulate(changes, ramp.finer(4) if changes is set_ups.GATE_HELD_OPEN else ramp)
        return {f"{name} mid": out[0, _SHOWN], f"{name} high": out[1, _SHOWN]}

    return features


def _floor_features(context: CarContext) -> Features:
    return _ramp_features(context, set_ups.GATE_HELD_OPEN, "floor")


def _respond_floor(r: Any, gauge: Gauge, context: CarContext) -> Response:
    return Response(r.test, _floor_features(context), ())


def _probe_floor(context: CarContext) -> Response:
    return Response(
        "floor-pull", _floor_features(context), (reading("floor mid", 0.0, 5.0e3), reading("floor high", 0.0, 7.0e3))
    )


def _spring_features(context: CarContext) -> Features:
    return _ramp_features(context, set_ups.CONTROLLER_BYPASSED, "spring level")


def _respond_spring(r: Any, gauge: Gauge, context: CarContext) -> Response:
    return Response(r.test, _spring_features(context), ())


def _probe_spring(context: CarContext) -> Response:
    seen = (reading("spring level mid", 0.0, 4.0e3), reading("spring level high", 0.0, 5.0e3))
    return Response("spring-only-pull", _spring_features(context), seen)


# -- throttle opened at held speed -------------------------------------------------------------------

_HELD = (0.5, 0.7)  # shares of redline
_SETTLED = 4  # slots at the end that say where it settles


def _tip_features(context: CarContext) -> Features:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        out: dict[str, Array] = {}
        for number, share in enumerate(_HELD):
            schedule = set_ups.tip_in(
                share * context.redline, context.target, candidates.ambient, loop=_loop(context)
            )
            boost = candidates.simulate((), schedule)[:, _SHOWN]
            level = boost[-_SETTLED:].mean(axis=0)
            out[f"overshoot {number}"] = np.maximum(boost.max(axis=0) - level, 0.0)
            out[f"held level {number}"] = level
        return out

    return features


def _respond_tip(r: Any, gauge: Gauge, context: CarContext) -> Response:
    return Response(r.test, _tip_features(context), ())


def _probe_tip(context: CarContext) -> Response:
    # a spike depends on what the model leaves out (pulses, heat): twice as unsure as the level
    seen = (
        reading("overshoot 0", 0.0, 6.0e3),
        reading("overshoot 1", 0.0, 6.0e3),
        reading("held level 0", 0.0, 4.0e3),
        reading("held level 1", 0.0, 4.0e3),
    )
    return Response("tip-in", _tip_features(context), seen)


# -- lift and full load again ------------------------------------------------------------------------


def _again_features(context: CarContext) -> Features:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        speed = 0.6 * context.redline
        schedule = set_ups.re_apply(speed, context.target, candidates.ambient, loop=_loop(context))
        out = candidates.simulate((), schedule)[:, _SHOWN]
        return {"second spool": out[3] - out[0], "second level": out[4] - out[1]}

    return features


def _respond_again(r: Any, gauge: Gauge, context: CarContext) -> Response:
    return Response(r.test, _again_features(context), ())


def _probe_again(context: CarContext) -> Response:
    # level and sensor errors cancel between the two; on the way up heat and the moment of opening do not
    seen = (reading("second spool", 0.0, 1.5e4), reading("second level", 0.0, 2.5e3))
    return Response("re-apply", _again_features(context), seen)


# -- another ramp, other air -------------------------------------------------------------------------


def _repeat_features(context: CarContext) -> Features:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        quick = set_ups.slow_ramp(
            context.redline, context.target, candidates.ambient, (_LOW, _HIGH),
            seconds=3.0, loop=_loop(context), temperature=283.0,
        )  # fmt: skip
        out = candidates.simulate((), quick)
        return {
            "change mid": out[0, _SHOWN] - candidates.at_speed(_SHOWN, _LOW * context.redline),
            "change high": out[1, _SHOWN] - candidates.at_speed(_SHOWN, _HIGH * context.redline),
        }

    return features


def _respond_repeat(r: Any, gauge: Gauge, context: CarContext) -> Response:
    return Response(r.test, _repeat_features(context), ())


def _probe_repeat(context: CarContext) -> Response:
    # at mid revs a quick ramp may still be on the way up, where the model is least sure
    seen = (reading("change mid", 0.0, 1.0e4), reading("change high", 0.0, 4.0e3))
    return Response("repeat-ramp", _repeat_features(context), seen)


FLOOR_PULL = BenchTest("floor-pull", 11, 20.0, _respond_floor, _probe_floor)
SPRING_ONLY_PULL = BenchTest(
    "spring-only-pull", 12, 15.0, _respond_spring, _probe_spring,
    fits=lambda c: c.controller != "none",
)  # fmt: skip
TIP_IN = BenchTest("tip-in", 18, 15.0, _respond_tip, _probe_tip, need="can_hold_speed")
RE_APPLY = BenchTest("re-apply", 19, 5.0, _respond_again, _probe_again)
REPEAT_RAMP = BenchTest("repeat-ramp", 21, 20.0, _respond_repeat, _probe_repeat)
