"""Tests of the engine around the boost control: exhaust leaks, fault memory, plugs and fuel, compression."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from boostproof.bench.parts import at_fault, row
from boostproof.bench.response import Array, Candidates, Response
from boostproof.bench.tests.model import (
    BenchTest,
    CarContext,
    Gauge,
    log10,
    number,
)
from boostproof.observation import Observation, reading, word

_DEGREE = np.pi / 180.0

# -- exhaust-smoke -----------------------------------------------------------------------------------

_SMOKE_SPEED = 70.0  # m/s through a leak at some 3 kPa, the pressure of a smoke machine (common practice, no source)
_LITRES = {"faint": (0.5, 2.5), "clear": (2.5, 8.0), "strong": (8.0, 1e3)}  # L/min (formats: loudness)


def _smoke_features(candidates: Candidates) -> Mapping[str, Array]:
    return {"smoke": log10(row(candidates.par, "exhaust_leak") + 1e-7)}


def _respond_smoke(r: Any, gauge: Gauge, context: CarContext) -> Response:
    observations: tuple[Observation, ...] = ()
    if r.leak_at == "none" or (r.leak_at is None and r.loudness == "none"):
        observations = (word("smoke", -9.0, -5.7, 0.3, wrong=0.12),)
    elif r.loudness in _LITRES:
        low, high = (float(np.log10(x / 6.0e4 / _SMOKE_SPEED)) for x in _LITRES[r.loudness])
        observations = (word("smoke", low, high, 0.4, wrong=0.15),)
    elif r.leak_at is not None:
        observations = (word("smoke", -6.1, 0.0, 0.3, wrong=0.05),)
    return Response("exhaust-smoke", _smoke_features, observations)


def _probe_smoke(context: CarContext) -> Response:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        return {"smoke": np.clip(_smoke_features(candidates)["smoke"], -6.2, -4.5)}

    return Response("exhaust-smoke", features, (reading("smoke", 0.0, 0.4),))


# -- fault-memory-look -------------------------------------------------------------------------------

# what codes say when the control unit holds the engine back (common practice, no source)
_HELD_BACK = ("limp", "limit", "protect", "reduced", "derate", "torque", "emergency", "knock", "overheat", "overboost")


def _memory_features(candidates: Candidates) -> Mapping[str, Array]:
    par, sound = candidates.par, candidates.sound
    retarded = row(par, "ignition_retard") - row(sound, "ignition_retard")
    lower = row(sound, "target_shift") - row(par, "target_shift") > 5.0e3
    less = row(sound, "duty_limit") - row(par, "duty_limit") > 0.1
    return {
        "retard": row(par, "ignition_retard"),
        "held back": np.asarray(lower | less | (retarded > 3.0 * _DEGREE), float),
        "software": at_fault(candidates, "software"),
    }


def _respond_memory(r: Any, gauge: Gauge, context: CarContext) -> Response:
    observations: list[Observation] = []
    retard = r.ignition_retard
    if retard is True:
        observations.append(word("retard", 2.0 * _DEGREE, 2.0, 1.0 * _DEGREE, wrong=0.2))
    elif retard is False or retard == "none":
        observations.append(word("retard", -2.0, 3.0 * _DEGREE, 1.0 * _DEGREE, wrong=0.1))
    elif retard is not None:
        # knock control takes it back by cylinder and by moment: what is read once scatters
        observations.append(reading("retard", retard.value, 1.5 * _DEGREE))
    limited = r.codes is not None and any(w in code.lower() for code in r.codes for w in _HELD_BACK)
    if limited or r.plate_follows_pedal is False:
        observations.append(word("held back", 0.5, 2.0, 0.1, wrong=0.2))
    elif r.plate_follows_pedal is True or r.codes == ():
        observations.append(word("held back", -1.0, 0.5, 0.1, wrong=0.25))
    if r.software_changed is not None:
        # a statement about the past: it raises a cause about fourfold at most (common practice, no source)
        low, high = (0.5, 2.0) if r.software_changed else (-1.0, 0.5)
        observations.append(word("software", low, high, 0.1, wrong=0.4 if r.software_changed else 0.55))
    return Response("fault-memory-look", _memory_features, tuple(observations), {"retard": 0.35})


def _probe_memory(context: CarContext) -> Response:
    seen = (reading("retard", 0.0, 1.8 * _DEGREE), reading("held back", 0.0, 0.3))
    return Response("fault-memory-look", _memory_features, seen)


# -- plugs-and-fuel ----------------------------------------------------------------------------------

_WIDE_GAP = 0.85e-3  # m; 0.5 to 0.8 mm is usual under boost (common practice, no source)
_LEAN_WORDS, _MISFIRE_WORDS = ("white", "blister", "pale"), ("black", "soot", "wet", "crack")
_SAG = 0.08  # share by which fuel pressure may fall over a pull


def _fuel_features(candidates: Candidates) -> Mapping[str, Array]:
    par, sound = candidates.par, candidates.sound
    return {
        "misfire": 1.0 - row(par, "indicated_efficiency") / row(sound, "indicated_efficiency"),
        "lean": row(par, "mixture") - row(sound, "mixture"),
    }


def _respond_fuel(r: Any, gauge: Gauge, context: CarContext) -> Response:
    observations: list[Observation] = []
    gap = number(r.gap)
    if gap is not None:
        low, high = (0.03, 1.0) if gap > _WIDE_GAP else (-1.0, 0.05)
        observations.append(word("misfire", low, high, 0.02, wrong=0.4))
    colour = (r.colour or "").lower()
    if any(w in colour for w in _LEAN_WORDS):
        observations.append(word("lean", 0.015, 1.0, 0.015, wrong=0.4))
    elif any(w in colour for w in _MISFIRE_WORDS):
        observations.append(word("misfire", 0.03, 1.0, 0.02, wrong=0.4))
    rows = sorted(
        (row.rpm.value, pressure)
        for row in r.rows
        if row.rpm is not None and (pressure := number(row.fuel_pressure)) is not None
    )
    if len(rows) >= 2:
        sags = rows[-1][1] < (1.0 - _SAG) * max(p for _, p in rows[:-1])
        low, high = (0.02, 1.0) if sags else (-1.0, 0.04)
        observations.append(word("lean", low, high, 0.015, wrong=0.15 if sags else 0.3))
    return Response("plugs-and-fuel", _fuel_features, tuple(observations))


def _probe_fuel(context: CarContext) -> Response:
    return Response("plugs-and-fuel", _fuel_features, (reading("misfire", 0.0, 0.06), reading("lean", 0.0, 0.03)))


# -- compression -------------------------------------------------------------------------------------

_EVEN, _UNEVEN = 0.85, 0.78  # lowest cylinder over the highest: sound from the first on (common practice, no source)
_CRANKING = 1.25  # exponent of cranking compression with its losses, p = p_amb r^1.25 (common practice, no source)


def _compression_features(candidates: Candidates) -> Mapping[str, Array]:
    lost = 1.0 - row(candidates.par, "breathing") / row(candidates.sound, "breathing")
    return {"breathing lost": lost}


def _respond_compression(r: Any, gauge: Gauge, context: CarContext) -> Response:
    read = [pressure for row in r.rows if (pressure := number(row.pressure)) is not None]
    observations: list[Observation] = []
    if len(read) >= 2:
        ratio = min(read) / max(read)
        if ratio < _UNEVEN:
            observations.append(word("breathing lost", 0.02, 1.0, 0.02, wrong=0.12))
        elif ratio > _EVEN:
            # all alike may still be late cams: the level speaks to that
            observations.append(word("breathing lost", -1.0, 0.06, 0.03, wrong=0.35))
    if read and context.compression_ratio is not None:
        sound = context.compression_ratio**_CRANKING * 1.0e5
        lost = 1.0 - float(np.median(read)) / sound
        observations.append(reading("breathing lost", lost, 0.09 / np.sqrt(len(read)), shared=0.10))
    return Response("compression", _compression_features, tuple(observations), {"breathing lost": 0.8})


def _probe_compression(context: CarContext) -> Response:
    return Response("compression", _compression_features, (reading("breathing lost", 0.0, 0.06),))


EXHAUST_SMOKE = BenchTest("exhaust-smoke", 22, 20.0, _respond_smoke, _probe_smoke, need="smoke")
FAULT_MEMORY_LOOK = BenchTest("fault-memory-look", 24, 5.0, _respond_memory, _probe_memory, need="scan_tool")
PLUGS_AND_FUEL = BenchTest("plugs-and-fuel", 25, 20.0, _respond_fuel, _probe_fuel)
COMPRESSION = BenchTest("compression", 26, 40.0, _respond_compression, _probe_compression)
