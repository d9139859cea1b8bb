"""The bare actuator: where it opens, how stiff its spring is, what rubs, how far it goes."""

from __future__ import annotations

import numpy as np

from boostproof.bench.meaning.model import Healthy, healthy_among
from boostproof.bench.meaning.session import Array, Estimate, Item, Session, at_least, at_most, number
from boostproof.physics import rigs

# standard deviations of a person's judgement; those of the tests, less what is reckoned apart below [Pa]
FIRST, FULL, HOME = 1.2e3, 2.0e3, 2.0e3
SEEN = (0.0, 0.7e-3)  # travel at which an eye has seen the arm move (judgement) [m]
SHORT = (0.0, 0.04)  # share of the travel still missing where it seems to have stopped (judgement) [1]
AREA_FALL = (0.0, 0.06)  # share by which the diaphragm's area falls over its stroke: a few per cent (1.10)
SOUND_HYSTERESIS = 8.0e3  # Pa, common practice, no source; 15 kPa and more is stiction


def read_springs(session: Session) -> None:
    """Enter what the actuator sweeps say, cold and hot."""
    for hot in (False, True):
        sweeps = list(session.of_test("actuator-sweep", hot=hot))
        if sweeps:
            _read(session, sweeps, hot)
    if {"opening", "opening hot"} <= session.estimates.keys():
        _hot_against_cold(session)


def seen_travel(session: Session, item: Item) -> Array:
    """Travel at which this person saw the arm move. [m]"""
    return session.chance.flat(f"{item.label} seen", *SEEN)


def possible(session: Session, item: Item) -> bool:
    """Whether first movement, full travel and return of a sweep can have been so; questions it if not."""
    first, full, home = (number(getattr(item.reading, k)) for k in ("first_movement", "full_travel", "last_return"))
    if first is not None and full is not None and full < first:
        session.refuse(item, "Full travel lies below first movement, so neither is used.")
        return False
    noise = session.gauges[item.gauge].noise(HOME)
    if first is not None and home is not None and home > first + 4.0 * noise:
        session.refuse(item, "The arm is home at a higher pressure than it first moved at, so the return is not used.")
    return True


def slope_of(session: Session, item: Item) -> Estimate | None:
    """Chamber pressure per travel between first movement and full travel. [Pa/m]

    ``(p_full - p_first) / (travel (1 - missing) - seen)``: on one gauge, so that its zero cancels.
    """
    first = session.pressure(item, "first movement", item.reading.first_movement, FIRST)
    full = session.pressure(item, "full travel", item.reading.full_travel, FULL)
    travel = session.quantity(item, "travel", item.reading.travel)
    if first is None or full is None or travel is None:
        return None
    way = travel * (1.0 - session.chance.flat(f"{item.label} short", *SHORT)) - seen_travel(session, item)
    if np.mean(way > 1e-3) < 0.99:
        return None
    return Estimate((full.draws - first.draws) / np.maximum(way, 1e-3), (item.label,))


def opening_of(session: Session, item: Item) -> Estimate | None:
    """Pressure at which the arm starts to move: first seen movement less what the spring took until then. [Pa]

    "none" up to the highest pressure put on is a lower limit.
    """
    first = session.pressure(item, "first movement", item.reading.first_movement, FIRST)
    if first is not None:
        rate = slope_of(session, item)
        slope = session.sound("spring_rate") if rate is None else np.maximum(rate.draws, 0.0)
        return Estimate(first.draws - slope * seen_travel(session, item), (item.label,))
    top = session.pressure(item, "supply", item.reading.supply_up_to, 0.0)
    if item.reading.first_movement == "none" and top is not None:
        return at_least(top.draws, (item.label,))
    return None


def _full_of(session: Session, item: Item) -> Estimate | None:
    full = session.pressure(item, "full travel", item.reading.full_travel, FULL)
    if full is not None:
        rate = slope_of(session, item)
        slope = session.sound("spring_rate") if rate is None else np.maximum(rate.draws, 0.0)
        travel = session.quantity(item, "travel", item.reading.travel)
        way = session.sound("gate_travel") if travel is None else travel
        missing = slope * way * session.chance.flat(f"{item.label} short", *SHORT)
        return Estimate(full.draws + missing, (item.label,))
    top = session.pressure(item, "supply", item.reading.supply_up_to, 0.0)
    if item.reading.full_travel == "none" and top is not None:
        return at_least(top.draws, (item.label,))
    return None


def _hysteresis_of(session: Session, item: Item) -> Estimate | None:
    first = session.pressure(item, "first movement", item.reading.first_movement, FIRST)
    home = session.pressure(item, "last return", item.reading.last_return, HOME)
    if first is None or home is None or home.value > first.value + 4.0 * session.gauges[item.gauge].noise(HOME):
        return None
    rate = slope_of(session, item)
    slope = session.sound("spring_rate") if rate is None else rate.draws
    # up it is seen a little after it starts, down a little before it is quite home
    apart = seen_travel(session, item) - session.chance.flat(f"{item.label} seen home", *SEEN)
    return Estimate(first.draws - home.draws - slope * apart, (item.label,))


def _read(session: Session, sweeps: list[Item], hot: bool) -> None:
    tail, word = (" hot", ", hot") if hot else ("", "")
    dash = "-hot" if hot else ""
    usable = [item for item in sweeps if possible(session, item)]
    _opening(session, usable, tail, dash, word)
    full = session.combined([e for i in usable if (e := _full_of(session, i))], "the pressure at full travel")
    never = f"opening{tail}" in session.estimates and session.estimates[f"opening{tail}"].limit
    if full is not None and not never:
        known = session.facts.full_pressure
        healthy = (
            Healthy(known.value - 2.0 * known.sd, known.value + 2.0 * known.sd, "as specified")
            if known is not None
            else healthy_among(rigs.full_opening(session.facts.sound), "sound cars of this kind")
        )
        session.add(
            f"full-travel-pressure{dash}", "actuator", f"pressure at full travel{word}", "gauge pressure", full, healthy,
            {
                "low": "The arm is at its stop before it should be: short travel or a soft spring.",
                "high": "The arm needs more pressure to its stop than it should: a stiff spring, or something holds it.",
                "": "Pressure at which the arm has reached its stop, air straight on the actuator.",
            },
        )  # fmt: skip
    _travel(session, sweeps, dash, word)
    _spring(session, usable, tail, dash, word)
    rub = session.combined([e for i in usable if (e := _hysteresis_of(session, i))], "the hysteresis")
    if rub is not None:
        _friction(session, rub, tail, dash, word)


def _opening(session: Session, usable: list[Item], tail: str, dash: str, word: str) -> None:
    opening = session.combined([e for i in usable if (e := opening_of(session, i))], "the opening pressure")
    if opening is None:
        return
    session.estimates[f"opening{tail}"] = opening
    known = session.facts.opening
    healthy = (
        Healthy(known.value - 2.0 * known.sd, known.value + 2.0 * known.sd, "as specified")
        if known is not None
        else healthy_among(rigs.first_movement(session.facts.sound), "sound cars of this kind")
    )
    session.add(
        f"opening-pressure{dash}", "actuator", f"opening pressure{word}", "gauge pressure", opening, healthy,
        {
            "low": "The arm leaves its seat at less pressure than it should: weak spring or too little preload.",
            "high": "The arm leaves its seat at more pressure than it should: strong spring, much preload, or it sticks."
            if not opening.limit else
            "The arm never moved although it should have long before: it is seized, or the diaphragm does not push.",
            "": "Pressure at which the arm starts to move, air straight on the actuator.",
        },
    )  # fmt: skip
    area = _diaphragm_area(session)
    if area is not None and not opening.limit:
        session.add(
            f"opening-force{dash}", "actuator", f"spring force at opening{word}", "force",
            Estimate(opening.draws * area, opening.readings), None,
            "Opening pressure times the area of the diaphragm.",
        )  # fmt: skip


def _travel(session: Session, sweeps: list[Item], dash: str, word: str) -> None:
    several = [
        Estimate(way, (i.label,))
        for i in sweeps
        if "none" not in (i.reading.full_travel, i.reading.first_movement)  # else it is not the travel to the stop
        and (way := session.quantity(i, "travel", i.reading.travel)) is not None
    ]
    travel = session.combined(several, "the travel")
    if travel is None:
        return
    session.estimates.setdefault("travel", travel)
    session.add(
        f"full-travel{dash}", "actuator", f"full travel{word}", "length", travel, travel_healthy(session),
        {
            "low": "The arm stops early: something limits the gate, or the rod is set wrong.",
            "high": "The arm goes further than this kind does: the rod or the stop is not as it was.",
            "": "Travel at the rod from shut to the stop.",
        },
    )  # fmt: skip


def travel_healthy(session: Session) -> Healthy:
    """Full travel of a sound car, with what a rule cannot tell."""
    known = session.facts.travel
    if known is not None:
        half = 2.0 * max(known.sd, 0.4e-3)
        return Healthy(known.value - half, known.value + half, "as specified")
    return healthy_among(rigs.full_travel(session.facts.sound), "sound cars of this kind")


def _spring(session: Session, usable: list[Item], tail: str, dash: str, word: str) -> None:
    slope = session.combined([e for i in usable if (e := slope_of(session, i))], "the spring slope")
    if slope is None:
        return
    if np.mean(slope.draws[1:] > 0.0) < 0.95:
        slope = at_most(slope.draws, slope.readings)
    else:
        session.estimates[f"slope{tail}"] = slope
    session.add(
        f"spring-slope{dash}", "actuator", f"spring slope{word}", "pressure per travel", slope,
        healthy_among(rigs.row(session.facts.sound, "spring_rate"), "sound cars of this kind"),
        {
            "low": "Little pressure from first movement to full travel: a soft spring, or the travel is short of it.",
            "high": "Boost will climb softly as the gate opens: a stiff spring, a small diaphragm, or the arm drags.",
            "": "Pressure per travel between first movement and full travel: what boost rises by as the gate opens.",
        },
    )  # fmt: skip
    area = _diaphragm_area(session)
    opening, travel = session.estimates.get(f"opening{tail}"), session.estimates.get("travel")
    if area is None or slope.limit or opening is None or opening.limit or travel is None:
        return
    # k x = A(x) p(x) - A(0) p(0): the area falls as the arm goes out, so k is less than the slope times the area
    fall = session.chance.flat("area fall", *AREA_FALL)
    rate = area * (slope.draws - fall * (opening.draws / travel.draws + slope.draws))
    session.add(
        f"spring-rate{dash}", "actuator", f"spring rate at the rod{word}", "spring rate",
        Estimate(rate, slope.readings), Healthy(*_usual_rate(session), "common practice, no source"),
        {
            "low": "The spring is softer than is usual for this kind of gate.",
            "high": "The spring is stiffer than is usual for this kind of gate.",
            "": "Spring slope times the area of the diaphragm, less what the area loses over the stroke.",
        },
    )  # fmt: skip


def _usual_rate(session: Session) -> tuple[float, float]:
    return (8e3, 25e3) if session.facts.external else (3e3, 10e3)


def _friction(session: Session, rub: Estimate, tail: str, dash: str, word: str) -> None:
    session.estimates[f"hysteresis{tail}"] = rub
    healthy = Healthy(None, SOUND_HYSTERESIS, "common practice, no source")
    session.add(
        f"hysteresis{dash}", "actuator", f"hysteresis, up against down{word}", "pressure difference", rub, healthy,
        {
            "high": "The arm comes home at far less pressure than it left: it rubs or sticks.",
            "": "Pressure at first movement less that at which it is home again: twice the friction.",
        },
        floor=0.0,
    )  # fmt: skip
    area = _diaphragm_area(session)
    if area is not None:
        session.add(
            f"friction-force{dash}", "actuator", f"friction{word}", "force",
            Estimate(0.5 * rub.draws * area, rub.readings), None,
            "Half the hysteresis times the area of the diaphragm.", floor=0.0,
        )  # fmt: skip


def _hot_against_cold(session: Session) -> None:
    cold, hot = session.estimates["opening"], session.estimates["opening hot"]
    if cold.limit or hot.limit:
        return
    session.add(
        "opening-hot-less-cold", "actuator", "opening pressure, hot less cold", "pressure difference",
        Estimate(hot.draws - cold.draws, cold.readings + hot.readings),
        Healthy(-8e3, 5e3, "a spring loses about 3 % of its rate by 100 K, EN 13906-1 from memory"),
        {
            "high": "Hot it needs more pressure to move than cold: something binds when hot.",
            "low": "Hot it opens at less pressure than cold: the spring gives way, or the rod sits differently.",
            "": "The same arm moves hot as it does cold.",
        },
    )  # fmt: skip


def _diaphragm_area(session: Session) -> Array | None:
    across = session.known("diaphragm")
    return None if across is None else 0.25 * np.pi * across**2
