"""Tests of the boost controller: its vent by adjuster setting, and the solenoid by duty."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from boostproof.bench.response import Array, Candidates, Response
from boostproof.bench.set_ups import SHUT_TURNS
from boostproof.bench.tests.model import (
    BenchTest,
    CarContext,
    Gauge,
    heard,
    log10,
    number,
    places,
)
from boostproof.observation import Observation, reading, word
from boostproof.physics import rigs

# loudness as a guide in L/min of free air (formats.md)
LOUDNESS = {"none": (0.0, 0.5), "faint": (0.5, 2.5), "clear": (2.5, 8.0), "strong": (8.0, 200.0)}
_PER_LITRE_MINUTE = 6.0e4  # m3/s -> L/min


def _known_setting(turns: Any) -> bool:
    """A mark or a click cannot be turned into turns; such rows are for people."""
    return turns is None or not isinstance(turns, str) or turns == "as found"


def _setting(turns: Any) -> str:
    return "as found" if turns is None or isinstance(turns, str) else f"{float(turns):g}"


def _vent_features(supply: float, settings: tuple[str, ...], bleed_valve: bool) -> Any:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        par = candidates.par
        arrived = rigs.arrived(par)
        out: dict[str, Array] = {}
        for setting in settings:
            offset, bleed = None, None
            if setting != "as found" and bleed_valve:
                bleed = rigs.row(par, "bleed_per_turn") * (float(setting) + SHUT_TURNS)
            elif setting != "as found":
                offset = rigs.offset_at(par, float(setting))
            pressure = rigs.chamber_at(par, supply, offset=offset, bleed=bleed)
            area = rigs.row(par, "bleed_area") if bleed is None else bleed
            out[f"flow {setting}"] = log10(rigs.bleed_flow(par, pressure, area) * _PER_LITRE_MINUTE + 0.05)
            out[f"pressure {setting}"] = pressure * arrived
        out["at line"] = log10(rigs.row(par, "line_leak"))
        out["at actuator"] = log10(rigs.row(par, "diaphragm_leak"))
        return out

    return features


def _respond_vent(r: Any, gauge: Gauge, context: CarContext) -> Response:
    rows = [row for row in (r.rows or ()) if _known_setting(row.turns_in)]
    bleed_valve = context.controller == "bleed valve"
    supply = r.supply.value if r.supply is not None else context.target
    observations: list[Observation] = []
    by_ear = [row for row in rows if row.loudness is not None and row.flow is None]
    # neighbouring settings answer alike: the first, the last and the one as found say it all
    telling = (
        {id(row) for row in (by_ear[0], by_ear[-2], by_ear[-1])} if len(by_ear) >= 3 else {id(h) for h in by_ear}
    )
    for row in rows:
        name = _setting(row.turns_in)
        flow, pressure = number(row.flow), number(row.line_pressure)
        if flow is not None:
            value = np.log10(flow * _PER_LITRE_MINUTE + 0.05)
            observations.append(reading(f"flow {name}", float(value), 0.10, shared=0.06))
        elif row.loudness is not None and id(row) in telling:
            low, high = LOUDNESS[row.loudness]
            observations.append(
                word(
                    f"flow {name}",
                    float(np.log10(low + 0.05)) if low else -9.0,
                    float(np.log10(high)),
                    0.18,
                    wrong=0.08,
                )
            )
        if pressure is not None:
            sd = float(np.hypot(gauge.noise(), 3.0e3))
            observations.append(
                reading(f"pressure {name}", pressure, sd, shared=float(np.hypot(gauge.zero, 2e3)))
            )
    at = places(r.heard_at)
    if "hose" in at:
        observations.append(heard("at line"))
    if "actuator" in at:
        observations.append(heard("at actuator"))
    settings = tuple(dict.fromkeys(_setting(row.turns_in) for row in rows))
    flat = {f"pressure {s}": 2e5 for s in settings} | {f"flow {s}": 2.5 for s in settings}
    return Response(
        "controller-vent", _vent_features(supply, settings, bleed_valve), tuple(observations), flat
    )


def _probe_vent(context: CarContext) -> Response:
    features = _vent_features(1.15 * context.target, ("as found", "0"), context.controller == "bleed valve")
    seen = (
        reading("flow as found", 0.0, 0.25),
        reading("flow 0", 0.0, 0.25),
        reading("pressure as found", 0.0, 5e3),
    )
    return Response("controller-vent", features, seen)


def _solenoid_features(supply: float, duties: tuple[float, ...]) -> Any:
    def features(candidates: Candidates) -> Mapping[str, Array]:
        par = candidates.par
        arrived = rigs.arrived(par)
        out = {f"pressure {d:g}": rigs.chamber_at(par, supply, duty=d) * arrived for d in duties}
        out["follows duty"] = 1.0 - rigs.row(par, "duty_stuck")
        return out

    return features


def _respond_solenoid(r: Any, gauge: Gauge, context: CarContext) -> Response:
    rows = [row for row in (r.rows or ()) if row.duty is not None]
    supply = r.supply.value if r.supply is not None else context.target
    observations: list[Observation] = []
    for row in rows:
        duty, pressure = row.duty.value, number(row.line_pressure)
        if pressure is not None:
            # between the ends the pressure swings with the pulses and the gauge shows some mean
            swing = 0.10 * supply * min(1.0, 6.0 * duty * (1.0 - duty))
            sd = float(np.hypot(gauge.noise(2.0e3), swing))
            shared = float(np.hypot(gauge.zero, 0.05 * pressure))  # the supply is read too
            observations.append(reading(f"pressure {duty:g}", pressure, sd, shared=shared))
        if row.clicks is not None and 0.05 < duty < 0.95:
            observations.append(
                word("follows duty", 0.3, 2.0, 0.2, wrong=0.25)
                if row.clicks
                else word("follows duty", -1.0, 0.5, 0.2, wrong=0.1)
            )
    duties = tuple(dict.fromkeys(row.duty.value for row in rows))
    flat = {f"pressure {d:g}": 1.5e5 for d in duties}
    return Response("solenoid-check", _solenoid_features(supply, duties), tuple(observations), flat)


def _probe_solenoid(context: CarContext) -> Response:
    duties = (0.0, 0.5, 1.0)
    supply = 0.9 * context.target
    seen = tuple(reading(f"pressure {d:g}", 0.0, 5e3 + 0.1 * supply * 4 * d * (1 - d)) for d in duties)
    return Response("solenoid-check", _solenoid_features(supply, duties), seen)


CONTROLLER_VENT = BenchTest(
    "controller-vent", 23, 10.0, _respond_vent, _probe_vent,
    fits=lambda c: c.controller in ("ball and spring", "bleed valve"),
)  # fmt: skip

SOLENOID_CHECK = BenchTest(
    "solenoid-check", 10, 15.0, _respond_solenoid, _probe_solenoid,
    fits=lambda c: c.controller.startswith("solenoid"), need="duty_driver",
)  # fmt: skip
