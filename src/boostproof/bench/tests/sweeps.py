"""Air on the signal side, up and down: straight on the actuator, through the controller, through the line."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from boostproof.bench.response import Array, Candidates, Response
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
from boostproof.physics import layout, rigs

SEEP = 4.0e-11  # m2, what sound seals pass
SLOW = 0.5  # s, from which on an arm that follows late disturbs the other readings of a sweep
EMPTYING_SPEED = 150.0  # m/s, volume over time and area of a chamber that empties, as of one that fills (`rigs`)
_RISE = 20.0  # s from first movement to full travel in steps (common practice, no source)
_DEAD = 3.0e-6  # m3 of the spring side that no travel takes up
_OPENED = 6.0e-6  # m2, effective: a port of 3 to 4 mm open to the air
_HOSE_UNSURE = 0.12  # share of a pressure at the regulator that is not known while much air is lost behind an unknown hose
_WIDE = {"opening": 2.5e5, "full": 2.5e5, "return": 2.5e5, "travel": 1.5e-2, "swing": 2e-2}


def _unless_swapped(par: Array, pressure: Array) -> Array:
    """A pressure on the way up; none moves an arm whose hose is on the spring side of the diaphragm. [Pa gauge]"""
    return np.asarray(np.where(rigs.row(par, "ports_swapped") > 0.5, rigs.SEARCH_LIMIT, pressure))


def _spring_side_opened(par: Array) -> Array:
    """The same cars with the port on the spring side of the diaphragm open to the air."""
    out = par.copy()
    out[layout.index_of("upper_vent")] = np.maximum(rigs.row(par, "upper_vent"), _OPENED)
    return out


def squeezed(par: Array) -> Array:
    """Pressure that the arm's full travel squeezes into the chamber on its spring side, where that is shut. [Pa gauge]

    The air there is squeezed at one temperature, and leaves by the vent as from a chamber that empties.
    """
    volume = rigs.row(par, "upper_volume")
    left = np.maximum(volume - rigs.row(par, "diaphragm_area") * rigs.full_travel(par), _DEAD)
    emptied = _RISE * EMPTYING_SPEED * rigs.row(par, "upper_vent") / volume
    pressure = rigs.AMBIENT * np.maximum(volume / left - 1.0, 0.0) * np.exp(-emptied)
    return np.asarray(np.where(rigs.row(par, "ports_swapped") > 0.5, 0.0, pressure))


def _lazier(par: Array) -> Array:
    """What the arm that moves last of two asks above the first; nothing where there is one. [Pa]"""
    return np.asarray(rigs.row(par, "other_gates") * np.maximum(rigs.row(par, "other_opening"), 0.0))


def _past_diaphragm(par: Array) -> Array:
    """Area by which the diaphragm loses air for good: what gets past it still has to find the vent. [m2]"""
    torn, vent = rigs.row(par, "diaphragm_leak"), rigs.row(par, "upper_vent")
    return np.asarray(torn * vent / np.hypot(torn, vent))


def _direct(candidates: Candidates, opened: bool = False) -> dict[str, Array]:
    par = _spring_side_opened(candidates.par) if opened else candidates.par
    lost = _past_diaphragm(par)

    def at_regulator(chamber: Array) -> Array:
        return rigs.regulator_for(par, chamber, lost)

    return {
        "opening": _unless_swapped(par, at_regulator(rigs.first_movement(par) + _lazier(par))),
        "full": _unless_swapped(par, at_regulator(rigs.full_opening(par) + squeezed(par) + _lazier(par))),
        "return": at_regulator(rigs.row(par, "opening_pressure") - rigs.row(par, "friction")),
        "travel": rigs.full_travel(par),
        "leak": log10(lost + SEEP),
        "outlet": np.zeros(par.shape[1]),
        "fill": np.full(par.shape[1], -1.5),
        "at line": log10(rigs.row(par, "line_leak")),
        "at actuator": log10(rigs.row(par, "diaphragm_leak")),
    }


def _through(candidates: Candidates, opened: bool = False) -> dict[str, Array]:
    par = _spring_side_opened(candidates.par) if opened else candidates.par
    home = rigs.row(par, "opening_pressure") - rigs.row(par, "friction")
    return _through_without_return(candidates, opened) | {"return": rigs.supply_for(par, home.clip(0.0))}


def _through_without_return(candidates: Candidates, opened: bool = False) -> dict[str, Array]:
    par = _spring_side_opened(candidates.par) if opened else candidates.par
    leaks = _past_diaphragm(par) + rigs.row(par, "line_leak") + rigs.row(par, "bleed_area")
    arrived = rigs.arrived(par)
    return {
        "opening": _unless_swapped(par, rigs.supply_for(par, rigs.first_movement(par)) / arrived),
        "full": _unless_swapped(par, rigs.supply_for(par, rigs.full_opening(par) + squeezed(par)) / arrived),
        "travel": rigs.full_travel(par),
        "leak": log10(leaks + SEEP),
        "outlet": log10(rigs.outlet_area(par)),
        "fill": log10(rigs.filling_time(par)),
        "at line": log10(rigs.row(par, "line_leak")),
        "at actuator": log10(rigs.row(par, "diaphragm_leak")),
    }


def leak_area_observation(leak: Any, feature: str = "leak") -> Observation | None:
    """A leak-down as the logarithm of the leaking area.

    Chamber, hose and gauge, together 0.1 L, empty at about 80 kPa gauge by 3.6e11 Pa/s per m2 of area
    (choked flow, physics of `rigs.decayed`); an empty volume gives a lower bound, a full one an upper bound.
    """
    start = number(leak.start)
    if start is None or start < 2e4:
        return None
    for left, seconds in ((leak.after_10_s, 10.0), (leak.after_60_s, 60.0)):
        value = number(left)
        if value is None:
            continue
        share = max(value, 0.0) / start
        if share > 0.9 and seconds < 60.0 and number(leak.after_60_s) is not None:
            continue
        if share > 0.9:
            return word(feature, -14.0, float(np.log10(0.12 * start / seconds / 3.6e11)), 0.25)
        if share < 0.05:
            return word(feature, float(np.log10(1.2 * start / seconds / 3.6e11)), -2.0, 0.25)
        rate = -np.log(share) * start / seconds / 3.6e11
        return reading(feature, float(np.log10(rate)), 0.3)
    return None


def _vent_observation(vent: Any) -> Observation | None:
    """How fast the arm came home, as the logarithm of the area that the chamber emptied through."""
    held = number(vent.held)
    if held is None or held < 1e-3:
        return None
    after = [
        (seconds, value / held)
        for seconds, left in ((1.0, vent.after_1_s), (5.0, vent.after_5_s), (30.0, vent.after_30_s))
        if (value := number(left)) is not None
    ]
    stuck = [seconds for seconds, share in after if share > 0.5]
    home = [seconds for seconds, share in after if share < 0.2]
    upper = -7.3 - float(np.log10(max(stuck))) if stuck else 0.0
    lower = -7.6 - float(np.log10(min(home))) if home else -14.0
    return None if not after else word("outlet", lower, max(upper, lower + 0.3), 0.3)


def _observations(r: Any, gauge: Gauge, through: bool, context: CarContext) -> tuple[Observation, ...]:
    out: list[Observation] = []
    noise = gauge.noise()
    follows = number(r.follows)
    slow = through and follows is not None and follows > SLOW
    limit = number(r.supply_up_to)
    at = places(r.heard_at)
    torn = not through and "actuator" in at and r.loudness == "strong"
    for feature, value, person in (
        ("opening", r.first_movement, 1.5e3),
        ("full", r.full_travel, 4.0e3),
        ("return", r.last_return, 3.0e3),
    ):
        if value is None:
            continue
        if value == "none":
            already = feature == "full" and r.first_movement == "none"
            if limit is not None and not already and feature != "return":
                out.append(none_up_to(feature, limit, 4.0e3))
            continue
        if feature == "return" and through and context.controller == "ball and spring":
            continue  # a ball closes at another pressure than it opens
        if slow and feature == "full":
            person = 2.5e4  # nobody waits long enough at every step
        unsure = _HOSE_UNSURE * value.value if torn else 0.0
        sd = float(np.sqrt(noise**2 + person**2 + unsure**2))
        out.append(reading(feature, value.value, sd, shared=gauge.zero))
    moved = r.first_movement is not None and r.first_movement != "none"
    travel = number(r.travel)
    if moved and r.full_travel not in (None, "none") and travel is not None:
        out.append(reading("travel", travel, 5.0e-4))
    if r.leak is not None and not slow and not (through and context.controller == "ball and spring"):
        found = leak_area_observation(r.leak)
        if found is not None:
            out.append(found)
    if r.vent is not None and through:
        found = _vent_observation(r.vent)
        if found is not None:
            out.append(found)
    if through and follows is not None:
        if follows < 0.2:
            out.append(word("fill", -9.0, float(np.log10(0.7)), 0.3))
        else:
            out.append(reading("fill", float(np.log10(follows)), 0.4))
    # a hiss noted at one place says much; none noted anywhere is a weak sign that there was none
    if "hose" in at:
        out.append(heard("at line"))
    elif through:
        out.append(word("at line", -16.0, -7.0, 0.3, wrong=0.4))
    if "actuator" in at:
        out.append(heard("at actuator"))
    else:
        out.append(word("at actuator", -16.0, -7.0, 0.3, wrong=0.4))
    return tuple(out)


def _respond_direct(r: Any, gauge: Gauge, context: CarContext) -> Response:
    features = partial(_direct, opened=r.spring_side_port == "opened")
    return Response(r.test, features, _observations(r, gauge, False, context), _WIDE)


def _respond_through(r: Any, gauge: Gauge, context: CarContext) -> Response:
    seen = _observations(r, gauge, True, context)
    predict = _through if any(o.feature == "return" for o in seen) else _through_without_return
    features = partial(predict, opened=r.spring_side_port == "opened")
    return Response(r.test, features, seen, _WIDE)


def _probe(test: str, features: Any) -> Any:
    def probe(context: CarContext) -> Response:
        seen = [reading("opening", 0.0, 3.5e3), reading("travel", 0.0, 7e-4), reading("leak", 0.0, 0.4)]
        if test == "actuator-sweep":
            seen += [reading("full", 0.0, 5.0e3), reading("return", 0.0, 4.5e3)]
        else:
            seen.append(reading("outlet", 0.0, 0.5))
        if test != "actuator-sweep" and context.controller == "ball and spring":
            seen = [o for o in seen if o.feature != "leak"]
        return Response(test, features, tuple(seen))

    return probe


ACTUATOR_SWEEP = BenchTest("actuator-sweep", 2, 15.0, _respond_direct, _probe("actuator-sweep", _direct))

CONTROLLER_SWEEP = BenchTest(
    "controller-sweep", 7, 15.0, _respond_through, _probe("controller-sweep", _through_without_return),
    fits=lambda c: c.controller != "none",
)  # fmt: skip

LINE_SWEEP = BenchTest(
    "line-sweep", 29, 8.0, _respond_through, _probe("line-sweep", _through_without_return),
    fits=lambda c: c.controller == "none",
)  # fmt: skip
