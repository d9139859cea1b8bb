"""Tests of the signal line itself: how fast the bleed lets the pressure down, how much a hose passes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from boostproof.bench.emptying import actuator_side_outlet, emptying_time
from boostproof.bench.parts import BALL_STUCK, controller_reversed, row
from boostproof.bench.response import Array, Candidates, Features, Response
from boostproof.bench.tests.model import (
    BenchTest,
    CarContext,
    Gauge,
    heard,
    log10,
    number,
    places,
)
from boostproof.observation import Observation, none_up_to, reading, word
from boostproof.physics import rigs

_PER_LITRE_MINUTE = 6.0e4  # m3/s -> L/min
_QUIET = 0.5  # L/min of free air, under which a hiss is not heard (formats: loudness)
_REACTION = 0.12  # s, of the hand on a watch, start and stop together
_PATIENCE = 60.0  # s, after which "none" is written
NEW_HOSE = 5.5e-6  # m2, 0.5 m of 4 mm hose, f = 0.03, K = 1.5: A / sqrt(f L / D + K)
_MANUAL = ("ball and spring", "bleed valve")


# -- bleed-decay -------------------------------------------------------------------------------------


def _decay_features(start: float, end: float, reservoir: float) -> Features:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        par = candidates.par
        area = actuator_side_outlet(par)
        fallen = emptying_time(par, start, end, area, reservoir)
        silent = np.clip(_quiet_pressure(par), 0.02 * start, start)
        hiss = emptying_time(par, start, silent, area, reservoir)
        return {
            "decay": log10(np.minimum(fallen, 1e5) + _REACTION),
            "hiss": log10(np.minimum(hiss, 1e5) + _REACTION),
            "at line": log10(row(par, "line_leak")),
            "at actuator": log10(row(par, "diaphragm_leak")),
        }

    return features


def _quiet_pressure(par: Array) -> Array:
    """Pressure at which the bleed passes just what cannot be heard any more; high for a blocked one. [Pa gauge]"""
    low, high = np.zeros(par.shape[1]), np.full(par.shape[1], 5.0e5)
    for _ in range(10):
        middle = 0.5 * (low + high)
        loud = rigs.bleed_flow(par, middle, row(par, "bleed_area")) * _PER_LITRE_MINUTE > _QUIET
        low, high = np.where(loud, low, middle), np.where(loud, middle, high)
    return high


def _respond_decay(r: Any, gauge: Gauge, context: CarContext) -> Response:
    start = 1.0e5 if r.start is None else r.start.value
    end = 0.5 * start if r.end is None else r.end.value
    observations: list[Observation] = []
    if start > end:
        time = number(r.time)
        if time is not None:
            # both pressures are read: an error of one moves the time by its share of the fall
            read = np.hypot(gauge.noise(), gauge.noise()) / (start - end)
            by_hand = _REACTION / (time + _REACTION)
            sd = float(np.hypot(np.hypot(read, by_hand), 0.05)) / np.log(10.0)
            shared = float(np.hypot(0.5 * gauge.zero / (start - end) / np.log(10.0), 0.04))
            observations.append(reading("decay", float(np.log10(time + _REACTION)), sd, shared=shared))
        elif r.time == "none":
            observations.append(none_up_to("decay", float(np.log10(_PATIENCE)), 0.1))
    hiss = number(r.hiss_stops)
    if hiss is not None:
        observations.append(reading("hiss", float(np.log10(hiss + _REACTION)), 0.3, shared=0.1))
    at = places(r.heard_at)
    observations += [heard(feature) for place, feature in _HEARD if place in at]
    added = number(r.reservoir) or 0.0
    features = _decay_features(start, end, added)
    return Response("bleed-decay", features, tuple(observations), {"decay": 4.0, "hiss": 4.0})


_HEARD = (("hose", "at line"), ("actuator", "at actuator"))


def _probe_decay(context: CarContext) -> Response:
    return Response("bleed-decay", _decay_features(1.0e5, 5.0e4, 1.0e-3), (reading("decay", 0.0, 0.12),))


# -- hose-flow ---------------------------------------------------------------------------------------


def hose_areas(candidates: Candidates, with_valve: bool) -> tuple[Array, Array]:
    """Effective areas of the signal hoses, off the car and open at the end: as found, and new. [m2]

    A line that passes less than the sound one has the difference in its hose; where the controller sets
    the area from take-off to actuator (`with_valve`) the hose itself is taken as a usual one.
    """
    par, sound = candidates.par, candidates.sound

    def extra(name: str) -> Array:
        return np.asarray(np.maximum(row(par, name) ** -2.0 - row(sound, name) ** -2.0, 0.0))

    line = np.full(par.shape[1], NEW_HOSE) if with_valve else row(sound, "line_area")
    new = line**-2.0 + row(sound, "hose_area") ** -2.0
    # a ball stuck shut, or the wrong way round, blocks the controller; the hoses are as they were
    pinched = np.where(row(par, "ball_stick") > BALL_STUCK, 0.0, extra("line_area"))
    further = np.where(controller_reversed(candidates), 0.0, extra("hose_area"))
    return np.asarray((new + pinched + further) ** -0.5), np.asarray(new**-0.5)


def _hose_features(supply: float, with_valve: bool) -> Features:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        area, new = hose_areas(candidates, with_valve)
        flow = rigs.bleed_flow(candidates.par, np.full_like(area, supply), area) * _PER_LITRE_MINUTE
        return {
            "hose flow": log10(flow + 0.05),
            "share of new": log10(area / new + 1e-3),
            "at line": log10(row(candidates.par, "line_leak")),
        }

    return features


def _with_valve(context: CarContext) -> bool:
    return context.controller not in ("none", "ball and spring")


def _respond_hose(r: Any, gauge: Gauge, context: CarContext) -> Response:
    supply = 1.0e5 if r.supply is None else r.supply.value
    flow, new = number(r.flow), number(r.flow_new_hose)
    observations: list[Observation] = []
    if flow is not None and new is not None and new > 0.0:
        # one supply and one meter for both: their errors cancel
        value = float(np.log10(flow / new + 1e-3))
        observations.append(reading("share of new", value, 0.03, shared=0.02))
    elif flow is not None:
        value = float(np.log10(flow * _PER_LITRE_MINUTE + 0.05))
        pressure = gauge.zero / max(supply, 2e4)
        shared = float(np.hypot(0.15 if _with_valve(context) else 0.10, 0.4 * pressure))
        observations.append(reading("hose flow", value, 0.04, shared=shared))
    elif r.flow == "none":
        observations.append(word("share of new", -9.0, -1.3, 0.2, wrong=0.05))
    elif r.passes is not None:
        # "passes" is half of a new hose or more (catalogue of tests)
        low, high = (-0.3, 9.0) if r.passes else (-9.0, -0.3)
        observations.append(word("share of new", low, high, 0.15, wrong=0.08))
    if "hose" in places(r.heard_at):
        observations.append(heard("at line"))
    flat = {"share of new": 2.5, "hose flow": 2.5}
    return Response("hose-flow", _hose_features(supply, _with_valve(context)), tuple(observations), flat)


def _probe_hose(context: CarContext) -> Response:
    return Response("hose-flow", _hose_features(1.0e5, _with_valve(context)), (reading("share of new", 0.0, 0.07),))


BLEED_DECAY = BenchTest(
    "bleed-decay", 8, 5.0, _respond_decay, _probe_decay,
    fits=lambda c: c.controller in _MANUAL,
)  # fmt: skip
HOSE_FLOW = BenchTest("hose-flow", 9, 5.0, _respond_hose, _probe_hose)
