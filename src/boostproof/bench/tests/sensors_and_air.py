"""Tests of the sensor, of the charge pipes under pressure, and of the exhaust's back-pressure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from boostproof.bench.response import Array, Candidates, Response
from boostproof.bench.tests.model import (
    BenchTest,
    CarContext,
    Gauge,
    log10,
    number,
    places,
)
from boostproof.observation import Observation, reading, word
from boostproof.physics import rigs
from boostproof.physics.system import OUTPUT_INDEX


def _sensor_features(rows: tuple[tuple[float, float], ...]) -> Any:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        gain, offset = rigs.row(candidates.par, "boost_gain"), rigs.row(candidates.par, "boost_offset")
        return {f"reads {i}": gain * (applied + around) + offset for i, (applied, around) in enumerate(rows)}

    return features


def _respond_sensor(r: Any, gauge: Gauge, context: CarContext) -> Response:
    rows = [row for row in (r.rows or ()) if number(row.reads) is not None and number(row.applied) is not None]
    around = next((row.barometer.value for row in rows if row.barometer is not None), rigs.AMBIENT)
    known = any(row.barometer is not None for row in rows)
    points, observations = [], []
    for i, row in enumerate(rows):
        local = row.barometer.value if row.barometer is not None else around
        points.append((row.applied.value, local))
        gauged = row.reads.reference == "gauge"
        value = row.reads.value + (local if gauged else 0.0)
        applied_error = np.hypot(gauge.zero, 0.4 * gauge.mark) if row.applied.value > 1e3 else 0.0
        sd = float(np.hypot(700.0, applied_error))
        observations.append(reading(f"reads {i}", value, sd, shared=300.0 if known else 2.0e3))
    flat = {f"reads {i}": 8e4 for i in range(len(rows))}
    return Response("sensor-check", _sensor_features(tuple(points)), tuple(observations), flat)


def _probe_sensor(context: CarContext) -> Response:
    features = _sensor_features(((0.0, rigs.AMBIENT), (1e5, rigs.AMBIENT)))
    return Response("sensor-check", features, (reading("reads 0", 0, 1e3), reading("reads 1", 0, 2.5e3)))


def _intake_features(supply: float, timed: bool = False) -> Any:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        par = candidates.par
        lifted = np.clip((supply - rigs.row(par, "bypass_lift")) * 1e-4, 0.0, 1.0)
        bypass = rigs.row(par, "bypass_leak") * lifted
        pipes = rigs.row(par, "charge_leak")
        out = {
            "leak": log10(pipes + bypass + 3e-7),
            "place": log10(bypass + 1e-8) - log10(pipes + 1e-8),
            "pipes": log10(pipes + 1e-9),
            "bypass": log10(bypass + 1e-9),
        }
        if timed:
            start, area = np.full_like(pipes, supply), pipes + bypass + _RINGS
            out["fall"] = _fall(rigs.decayed(start, area, _volume(par), 30.0) / supply)
        return out

    return features


_RINGS = 1.0e-7  # m2 that rings and valves of a sound engine at rest let past (common practice, no source)
_EMPTY = 0.03  # share of the pressure under which a gauge says that nothing is left


def _volume(par: Array) -> Array:
    """Air space under pressure: pipes, cooler, manifold, and the cylinders whose valves stand open. [m3]"""
    return np.asarray(rigs.row(par, "charge_volume") + rigs.row(par, "displacement"))


def _fall(share_left: Any) -> Any:
    """Logarithm of how often the pressure would fall by 1/e; grows with the leaking area."""
    return log10(-np.log(np.clip(share_left, _EMPTY, 1.0 - 1e-6)))


_HELD = {"held": (-9.0, -5.2), "seeps": (-9.0, -5.0), "flows": (-5.5, -4.3), "cannot reach": (-5.1, 0.0)}


def _drop_observation(drop: Any, supply: float, gauge: Gauge) -> Observation | None:
    """The fall of pressure in 30 s, supply shut."""
    fallen = 0.0 if drop == "none" else drop.value
    left = 1.0 - fallen / supply
    if left > 1.0:
        return None
    if left < 2.0 * _EMPTY:
        return word("fall", float(_fall(2.0 * _EMPTY)), 9.0, 0.2, wrong=0.06)
    step = 0.5 * gauge.mark / supply
    if fallen <= gauge.mark:
        return word("fall", -9.0, float(_fall(1.0 - 3.0 * step)), 0.3, wrong=0.06)
    noise = gauge.noise() * np.sqrt(2.0) / supply / (left * -np.log(left)) / np.log(10.0)
    # rings and valves of sound engines differ threefold, volumes by a quarter
    return reading("fall", float(_fall(left)), float(noise), shared=0.28)


def _hiss(feature: str) -> Observation:
    """Air heard at a place: it leaks there, from some tenths of a square millimetre on (judgement)."""
    return word(feature, -6.6, 0.0, 0.3, wrong=0.05)


def _respond_intake(r: Any, gauge: Gauge, context: CarContext) -> Response:
    supply = r.supply.value if r.supply is not None else 1e5
    observations: list[Observation] = []
    if r.held is not None:
        low, high = _HELD[r.held]
        # how much a shop's supply can feed differs twofold either way
        observations.append(word("leak", low, high, 0.2 if r.held in ("held", "seeps") else 0.35, wrong=0.06))
    elif r.drop_in_30_s is not None:
        found = _drop_observation(r.drop_in_30_s, supply, gauge)
        observations += [] if found is None else [found]
    at = places(r.heard_at)
    if "bypass valve" in at:
        observations += [word("place", 0.0, 9.0, 0.2, wrong=0.02), _hiss("bypass")]
    elif any(p.startswith(("pipe", "cooler", "throttle", "turbo outlet")) for p in at):
        observations += [word("place", -9.0, 0.0, 0.2, wrong=0.02), _hiss("pipes")]
    timed = any(o.feature == "fall" for o in observations)
    return Response("intake-pressurise", _intake_features(supply, timed), tuple(observations))


def _probe_intake(context: CarContext) -> Response:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        out = dict(_intake_features(1e5)(candidates))
        out["leak"] = np.clip(out["leak"], -5.6, -4.0)
        out["place"] = np.where(out["leak"] > -5.0, np.clip(out["place"], -1.0, 1.0), 0.0)
        return out

    return Response("intake-pressurise", features, (reading("leak", 0, 0.25), reading("place", 0, 0.5)))


def _back_pressure_features(speeds: tuple[float, ...]) -> Any:
    output = OUTPUT_INDEX["turbine_outlet_pressure"]

    def features(candidates: Candidates) -> Mapping[str, Array]:
        return {
            f"pressure {i}": candidates.at_speed(output, speed) - candidates.ambient
            for i, speed in enumerate(speeds)
        }

    return features


def _respond_back_pressure(r: Any, gauge: Gauge, context: CarContext) -> Response:
    rows = [
        (row.rpm.value, pressure)
        for row in (r.rows or ())
        if not (r.no_load or row.no_load) and row.rpm is not None and (pressure := number(row.pressure)) is not None
    ]
    observations = tuple(
        reading(f"pressure {i}", pressure, float(np.hypot(0.12 * pressure, 1.5e3)))
        for i, (_, pressure) in enumerate(rows)
    )
    flat = {f"pressure {i}": 8e4 for i in range(len(rows))}
    features = _back_pressure_features(tuple(speed for speed, _ in rows))
    return Response("exhaust-back-pressure", features, observations, flat)


def _probe_back_pressure(context: CarContext) -> Response:
    features = _back_pressure_features((0.9 * context.redline,))
    return Response("exhaust-back-pressure", features, (reading("pressure 0", 0, 3e3),))


SENSOR_CHECK = BenchTest("sensor-check", 17, 10.0, _respond_sensor, _probe_sensor)
INTAKE_PRESSURISE = BenchTest("intake-pressurise", 15, 20.0, _respond_intake, _probe_intake)
EXHAUST_BACK_PRESSURE = BenchTest(
    "exhaust-back-pressure", 16, 15.0, _respond_back_pressure, _probe_back_pressure,
    need="exhaust_tap",
)  # fmt: skip
