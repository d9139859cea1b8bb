"""Tests that log one more pressure on the pull that was driven: at the actuator, before and after the turbine.

Their recordings enter the likelihood with the other channels of the log (diagnosis); here stands what they
would show.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from boostproof.bench.response import Array, Candidates, Features, Response
from boostproof.bench.tests.model import BenchTest, CarContext, Gauge, number
from boostproof.observation import Observation, reading, word
from boostproof.physics.system import OUTPUT_INDEX

_SPRING_SIDE = OUTPUT_INDEX["upper_pressure"]
_LOW, _HIGH = 0.6, 0.9  # shares of redline at which the log is looked at


def _line_features(redline: float) -> Features:
    output = OUTPUT_INDEX["line_pressure"]

    def features(candidates: Candidates) -> Mapping[str, Array]:
        return {
            "line mid": candidates.at_speed(output, _LOW * redline),
            "line high": candidates.at_speed(output, _HIGH * redline),
            "spring side highest": candidates.pull_outputs[:, _SPRING_SIDE].max(axis=0),
        }

    return features


def _respond_line(r: Any, gauge: Gauge, context: CarContext) -> Response:
    seen: tuple[Observation, ...] = ()
    highest = number(r.spring_side)
    if highest is not None:
        # the vent sets it: of that the model knows the order only, hence a share
        sd = float(np.hypot(gauge.noise(), 0.25 * highest + 1.0e3))
        seen = (reading("spring side highest", highest, sd, shared=gauge.zero),)
    elif r.spring_side == "none":
        seen = (word("spring side highest", -2.0e4, 3.0e3 + gauge.mark, 1.5e3, wrong=0.05),)
    return Response(r.test, _line_features(context.redline), seen, {"spring side highest": 1.0e5})


def _probe_line(context: CarContext) -> Response:
    # sensor 1.5 kPa, model of the line 4 kPa
    seen = (reading("line mid", 0.0, 4.3e3), reading("line high", 0.0, 4.3e3))
    return Response("line-pressure-log", _line_features(context.redline), seen)


def _turbine_features(redline: float) -> Features:
    before, after = OUTPUT_INDEX["turbine_inlet_pressure"], OUTPUT_INDEX["turbine_outlet_pressure"]
    boost = OUTPUT_INDEX["boost"]

    def features(candidates: Candidates) -> Mapping[str, Array]:
        def ratio(share: float) -> Array:
            speed = share * redline
            inlet = candidates.at_speed(before, speed)
            return inlet / (candidates.at_speed(boost, speed) + candidates.ambient)

        return {
            "exhaust ratio mid": ratio(_LOW),
            "exhaust ratio high": ratio(_HIGH),
            "behind turbine": candidates.at_speed(after, _HIGH * redline) - candidates.ambient,
        }

    return features


def _respond_turbine(r: Any, gauge: Gauge, context: CarContext) -> Response:
    return Response(r.test, _turbine_features(context.redline), ())


def _probe_turbine(context: CarContext) -> Response:
    # a mean-value model knows the pressure before the turbine to some 8 % (judgement)
    seen = (
        reading("exhaust ratio mid", 0.0, 0.12),
        reading("exhaust ratio high", 0.0, 0.14),
        reading("behind turbine", 0.0, 3.0e3),
    )
    return Response("turbine-pressure-log", _turbine_features(context.redline), seen)


LINE_PRESSURE_LOG = BenchTest(
    "line-pressure-log", 13, 20.0, _respond_line, _probe_line,
    need="second_pressure_sensor",
)  # fmt: skip
TURBINE_PRESSURE_LOG = BenchTest(
    "turbine-pressure-log", 14, 30.0, _respond_turbine, _probe_turbine,
    need="exhaust_tap",
)  # fmt: skip
