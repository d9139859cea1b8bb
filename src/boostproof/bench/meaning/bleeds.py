"""The bleed of the controller: its area from flow, from what the ear says, from decays, and the hole that it is."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from boostproof.bench.meaning.emptying import area_of_fall, area_of_flow, hole_of
from boostproof.bench.meaning.leaks import exponent, holding_volume
from boostproof.bench.meaning.model import Healthy, healthy_among
from boostproof.bench.meaning.session import Estimate, Item, Session, at_least, at_most
from boostproof.bench.readings import VentRow
from boostproof.bench.tests.controllers import LOUDNESS
from boostproof.physics import rigs

BALL, BLEED = "ball and spring", "bleed valve"
EAR = 0.15  # of the flow that a word stands for (judgement)
STEADY = 1.2e3  # Pa, a person reading a steady needle
LEAST_PRESSURE = 5e3  # Pa gauge at the bleed, below which a flow says nothing of its area


def read_bleed(session: Session) -> None:
    """Area of the bleed from flow, from decay and from a leak-down, and the hole that it is."""
    several = _bleeds_by_flow(session) + _bleeds_by_decay(session) + _bleeds_by_ear(session)
    if session.facts.controller == BALL:
        several += _bleeds_by_leak_down(session)
    area = session.combined(several, "the area of the bleed")
    if area is None:
        return
    session.estimates["bleed"] = area
    known = session.facts.bleed_hole
    sound = rigs.row(session.facts.sound, "bleed_area")
    healthy = (
        healthy_among(sound, "as specified" if known is not None else "sound cars of this kind")
        if session.facts.controller in (BALL, BLEED)
        else None
    )
    says = {
        "low": "Little can leave by the bleed: it is blocked, or the way to it is.",
        "high": "More leaves than a sound bleed lets out: the hole is too large, or the line leaks as well.",
        "": "Effective area through which the actuator side is vented.",
    }
    session.add("bleed-area", "controller", "bleed area", "area", area, healthy, says, floor=0.0)
    hole = Estimate(hole_of(area.draws, session.hole_flow()), area.readings, area.limit)
    across = None
    if healthy is not None and healthy.low is not None and healthy.high is not None:
        across = Healthy(float(hole_of(healthy.low)), float(hole_of(healthy.high)), healthy.why)
    session.add(
        "bleed-hole", "controller", "bleed hole", "length", hole, across,
        "The same area as the sharp-edged hole that passes as much.",
    )  # fmt: skip


def _vented(session: Session) -> Iterator[tuple[Item, int, VentRow, Estimate]]:
    """Rows of the vent with the pressure behind the bleed: read, or supply less offset at the setting as found.

    Of a bleed valve only the setting as found: it is another hole at every other one.
    """
    offset = session.estimates.get("offset") if session.facts.controller == BALL else None
    for item in session.of_test("controller-vent"):
        supply = session.pressure(item, "supply", item.reading.supply, 0.0)
        for j, row in enumerate(item.reading.rows or ()):
            as_found = row.turns_in in (None, "as found")
            if not as_found and session.facts.controller == BLEED:
                continue
            behind = session.pressure(item, f"row {j} line pressure", row.line_pressure, STEADY)
            if behind is None and supply is not None and offset is not None and as_found and not offset.limit:
                behind = Estimate(supply.draws - offset.draws, tuple(dict.fromkeys(supply.readings + offset.readings)))
            if behind is not None and np.percentile(behind.draws[1:], 5.0) >= LEAST_PRESSURE:
                yield item, j, row, behind


def _bleeds_by_flow(session: Session) -> list[Estimate]:
    """Flow at the vent over the pressure behind it, as mean of all settings of one reading."""
    found: dict[str, list[Estimate]] = {}
    for item, j, row, behind in _vented(session):
        flow = session.quantity(item, f"row {j} flow", row.flow)
        if flow is not None:
            area = area_of_flow(flow, behind.draws, session.facts.air)
            readings = tuple(dict.fromkeys((item.label, *behind.readings)))
            found.setdefault(item.label, []).append(Estimate(area, readings))
    return [mean for rows in found.values() if (mean := session.combined(rows, "the area of the bleed")) is not None]


def _bleeds_by_ear(session: Session) -> list[Estimate]:
    """How loud the vent is at the setting as found: a guide to its flow, so one side only."""
    found = []
    for item, _, row, behind in _vented(session):
        if row.flow is not None or row.loudness is None or row.turns_in not in (None, "as found"):
            continue
        low, high = LOUDNESS[row.loudness]
        slip = np.exp(EAR * session.chance.normal(f"{item.label} ear"))
        readings = tuple(dict.fromkeys((item.label, *behind.readings)))
        litres, bound = (high, at_most) if row.loudness == "none" else (low, at_least)
        found.append(bound(area_of_flow(litres / 6e4 * slip, behind.draws, session.facts.air), readings))
    return found


def _bleeds_by_decay(session: Session) -> list[Estimate]:
    found = []
    for item in session.of_test("bleed-decay"):
        r = item.reading
        start = session.pressure(item, "start", r.start, STEADY)
        end = session.pressure(item, "end", r.end, STEADY)
        if start is None or end is None:
            continue
        if end.value >= start.value:
            session.refuse(item, "The pressure at the end is not below that at the start, so no bleed is taken from it.")
            continue
        volume = holding_volume(session, item)
        if r.reservoir is not None:
            volume = volume + session.chance.of(r.reservoir, f"{item.label} reservoir")
        if r.time == "none":
            never = area_of_fall(start.draws, end.draws, 60.0, volume, session.facts.air)
            found.append(at_most(never, (item.label,)))
            continue
        time = session.quantity(item, "time", r.time)
        if time is None:
            continue
        area = area_of_fall(
            start.draws, end.draws, np.maximum(time, 0.02), volume, session.facts.air, exponent(session, item, time)
        )
        quick = np.percentile(time[1:], 5.0) < 0.1  # nobody times that by hand
        found.append(at_least(area, (item.label,)) if quick else Estimate(area, (item.label,)))
    return found


def _bleeds_by_leak_down(session: Session) -> list[Estimate]:
    """Supply shut before a ball: the pressure falls through the bleed until only the offset is left."""
    offset = session.estimates.get("offset")
    found = []
    for item in session.through(hot=False):
        leak = item.reading.leak
        if leak is None or offset is None:
            continue
        away = 0.0 * offset.draws if leak.gauge_at == "at actuator" else offset.draws
        start = session.pressure(item, "leak start", leak.start, STEADY)
        end = session.pressure(item, "after 10 s", leak.after_10_s, STEADY)
        if start is None or end is None or float(np.percentile(start.draws[1:] - away[1:], 5.0)) < LEAST_PRESSURE:
            continue
        volume = holding_volume(session, item)
        readings = tuple(dict.fromkeys((item.label, *offset.readings)))
        left = end.draws - away
        area = area_of_fall(np.maximum(start.draws - away, 0.0), np.maximum(left, 0.0), 10.0, volume, session.facts.air)
        fallen = start.draws - end.draws
        if np.mean(fallen[1:] > 0.0) < 0.95:
            found.append(at_most(area, readings))
        elif np.mean(left[1:] > 2e3) < 0.95:
            found.append(at_least(area, readings))
        else:
            found.append(Estimate(area, readings))
    return found
