"""Tests by hand and eye: travel, port, seat, shaft, a cold look."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from boostproof.bench.parts import controller_reversed
from boostproof.bench.response import Array, Candidates, Response
from boostproof.bench.tests.model import BenchTest, CarContext, Gauge, log10, number
from boostproof.observation import Observation, reading, word
from boostproof.physics import rigs


def _lesser(par: Array, first: str, other: str) -> Array:
    """The gate that does less is the one that is written down, where there are two that differ."""
    one = rigs.row(par, first)
    two = np.where(rigs.row(par, "other_gates") > 0.5, rigs.row(par, other), one)
    return np.asarray(np.minimum(one, two))


def _travel_features(candidates: Candidates) -> Mapping[str, Array]:
    par = candidates.par
    return {"swing": _lesser(par, "free_travel", "other_travel"), "friction": log10(rigs.row(par, "friction"))}


def _respond_travel(r: Any, gauge: Gauge, context: CarContext) -> Response:
    observations: list[Observation] = []
    if r.arm == "swings freely":
        observations.append(word("friction", -9.0, 4.3, 0.3, wrong=0.06))
    elif r.arm == "binds":
        observations.append(word("friction", 3.7, 9.0, 0.3, wrong=0.06))
    elif r.arm == "will not move":
        observations.append(word("friction", 4.7, 9.0, 0.3, wrong=0.03))
    swing = number(r.swing)
    if swing is not None and r.arm != "will not move":
        observations.append(reading("swing", swing, 1.0e-3))
    return Response("free-travel", _travel_features, tuple(observations), {"swing": 1.8e-2})


def _probe_travel(context: CarContext) -> Response:
    return Response(
        "free-travel", _travel_features, (reading("swing", 0, 1.2e-3), reading("friction", 0, 0.5))
    )


def _port_features(candidates: Candidates) -> Mapping[str, Array]:
    par = candidates.par
    return {"port": rigs.row(par, "port_diameter"), "entry": _lesser(par, "gate_flow", "other_flow")}


def _respond_port(r: Any, gauge: Gauge, context: CarContext) -> Response:
    observations: list[Observation] = []
    port = number(r.port)
    if port is not None:
        observations.append(reading("port", port, 7e-4))
    if r.entry == "clean":
        observations.append(word("entry", 0.5, 2.0, 0.06, wrong=0.15))
    elif r.entry is not None:
        observations.append(word("entry", -1.0, 0.58, 0.06, wrong=0.1))
    return Response("port-measure", _port_features, tuple(observations), {"port": 2.5e-2})


def _probe_port(context: CarContext) -> Response:
    return Response("port-measure", _port_features, (reading("port", 0, 8e-4), reading("entry", 0, 0.12)))


def _seat_features(candidates: Candidates) -> Mapping[str, Array]:
    return {"seat": log10(rigs.row(candidates.par, "gate_leak") + 1e-6)}


def _respond_seat(r: Any, gauge: Gauge, context: CarContext) -> Response:
    observations: tuple[Observation, ...] = ()
    if r.light is True:
        observations = (word("seat", -5.2, 0.0, 0.25, wrong=0.07),)
    elif r.light is False:
        observations = (word("seat", -9.0, -4.6, 0.25, wrong=0.1),)
    return Response("seat-leak", _seat_features, observations)


def _probe_seat(context: CarContext) -> Response:
    return Response("seat-leak", _seat_features, (reading("seat", 0, 0.45),))


def _shaft_features(candidates: Candidates) -> Mapping[str, Array]:
    return {"wear": rigs.row(candidates.par, "turbo_wear")}


def _respond_shaft(r: Any, gauge: Gauge, context: CarContext) -> Response:
    bad = r.shaft in ("rough", "drags") or r.play == "excessive" or r.wheels in ("rubbed", "damaged")
    said = r.shaft is not None or r.play is not None or r.wheels is not None
    observations: tuple[Observation, ...] = ()
    if bad:
        observations = (word("wear", 0.15, 2.0, 0.08, wrong=0.05),)
    elif said:
        observations = (word("wear", -1.0, 0.2, 0.08, wrong=0.12),)
    return Response("shaft-check", _shaft_features, observations)


def _probe_shaft(context: CarContext) -> Response:
    return Response("shaft-check", _shaft_features, (reading("wear", 0, 0.22),))


# A look finds what is wrong in 90 of 100 cars that have it, and sees it in 7 of 100 that have not (common practice,
# no source). As chances of having written the wrong word: the two chances of a word are 1 - wrong and wrong / 2.
_FOUND, _CLEARED = 2.0 / (0.90 / 0.07 + 2.0), 2.0 / (0.93 / 0.10 + 2.0)
_VENT_BLOCKED = -7.5  # logarithm of the area [m2] of a vent that a breath does not get through: a hole of 0.2 mm


_FILTER_FULL = 2.0 / (0.90 / 0.30 + 2.0)
_INLET_TIGHT = 5.2  # logarithm of a loss [Pa s2/kg2] that is seen: 6 kPa at 0.2 kg/s, several times a clean filter's


def _look_features(candidates: Candidates) -> Mapping[str, Array]:
    par = candidates.par
    return {
        "split": log10(rigs.row(par, "line_leak")),
        "kink": log10(rigs.row(par, "line_area")),
        "take-off": rigs.row(par, "take_off"),
        "ports": rigs.row(par, "ports_swapped"),
        "in and out": np.maximum(controller_reversed(candidates), rigs.row(par, "duty_reversed")),
        "rod": rigs.row(par, "rod_off"),
        "spring side": log10(rigs.row(par, "upper_vent")),
        "mounted": np.asarray(rigs.row(par, "assistance") < 0.0, float),
        "inlet": log10(rigs.row(par, "filter_loss")),
    }


def _respond_look(r: Any, gauge: Gauge, context: CarContext) -> Response:
    observations: list[Observation] = []
    if r.hoses in ("split", "off"):
        observations.append(word("split", -7.0, 0.0, 0.4, wrong=0.04))
    elif r.hoses == "kinked":
        observations.append(word("kink", -14.0, -6.2, 0.4, wrong=0.05))
    elif r.hoses == "no damage seen":
        observations.append(word("split", -16.0, -5.6, 0.5, wrong=0.3))
    for feature, seen in (("ports", "top and side swapped"), ("in and out", "in and out swapped")):
        if r.routing == seen:
            observations.append(word(feature, 0.5, 2.0, 0.05, wrong=0.04))
        elif r.routing is not None:
            observations.append(word(feature, -1.0, 0.5, 0.05, wrong=0.2))
    if r.rod is not None:
        low, high = (0.5, 2.0) if r.rod == "off" else (-1.0, 0.5)
        # what one calls loose, another calls off
        observations.append(word("rod", low, high, 0.05, wrong=0.4 if r.rod == "loose" else 0.04))
    if r.spring_side_port == "blocked":
        observations.append(word("spring side", -16.0, _VENT_BLOCKED, 0.25, wrong=_FOUND))
    elif r.spring_side_port is not None:
        observations.append(word("spring side", _VENT_BLOCKED, 0.0, 0.25, wrong=_CLEARED))
    if r.gate_body == "wrong way round":
        observations.append(word("mounted", 0.5, 2.0, 0.05, wrong=_FOUND))
    elif r.gate_body is not None:
        observations.append(word("mounted", -1.0, 0.5, 0.05, wrong=_CLEARED))
    if r.inlet == "clear":
        observations.append(word("inlet", -9.0, _INLET_TIGHT, 0.15, wrong=_CLEARED))
    elif r.inlet is not None:
        # many a full filter does no harm
        wrong = _FILTER_FULL if r.inlet == "filter full" else _FOUND
        observations.append(word("inlet", _INLET_TIGHT, 9.0, 0.15, wrong=wrong))
    if r.take_off_seen is not None:
        manifold = r.take_off_seen in ("intake manifold", "cold pipe")
        observations.append(
            word("take-off", 0.5, 2.0, 0.05, wrong=0.04)
            if manifold
            else word("take-off", -1, 0.5, 0.05, wrong=0.04)
        )
    return Response("cold-look", _look_features, tuple(observations))


def _probe_look(context: CarContext) -> Response:
    seen = [
        reading("split", 0, 1.3), reading("take-off", 0, 0.3), reading("ports", 0, 0.3),
        reading("in and out", 0, 0.3), reading("rod", 0, 0.25), reading("spring side", 0, 0.8),
        reading("inlet", 0, 0.4),
    ]  # fmt: skip
    if context.external:
        seen.append(reading("mounted", 0, 0.3))

    def features(candidates: Candidates) -> Mapping[str, Array]:
        out = dict(_look_features(candidates))
        out["split"] = np.clip(out["split"], -8.0, -5.0)  # what the eye can tell apart
        out["spring side"] = np.clip(out["spring side"], _VENT_BLOCKED - 1.5, _VENT_BLOCKED + 1.5)
        return out

    return Response("cold-look", features, tuple(seen))


FREE_TRAVEL = BenchTest("free-travel", 4, 10.0, _respond_travel, _probe_travel, need="lift")
PORT_MEASURE = BenchTest("port-measure", 6, 45.0, _respond_port, _probe_port, need="lift")
SEAT_LEAK = BenchTest("seat-leak", 5, 30.0, _respond_seat, _probe_seat, need="lift")
SHAFT_CHECK = BenchTest("shaft-check", 20, 20.0, _respond_shaft, _probe_shaft)
COLD_LOOK = BenchTest("cold-look", 1, 5.0, _respond_look, _probe_look)
