"""The boost controller: what it takes off the signal, by which share it divides it, what arrives."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from boostproof.bench.meaning.bleeds import BALL, BLEED, LEAST_PRESSURE, STEADY, read_bleed
from boostproof.bench.meaning.model import Healthy, healthy_among
from boostproof.bench.meaning.session import Array, Estimate, Item, Session, at_least, number
from boostproof.bench.meaning.springs import FIRST, FULL, possible
from boostproof.physics import rigs

_PER_TURN = (2e3, 4e4)  # Pa; springs and threads of controllers differ much (judgement)
_COIL = (20.0, 35.0)  # ohm, common practice, no source


def read_controllers(session: Session) -> None:
    """Enter what sweeps through the controller, its vent, its decay and the solenoid say."""
    _against_direct(session)
    _adjuster(session)
    read_bleed(session)
    _arrives(session)
    for item in session.of_test("solenoid-check"):
        _solenoid(session, item)


def _direct(session: Session, key: str, person: float) -> list[tuple[Item, Estimate]]:
    found = []
    for item in session.of_test("actuator-sweep", hot=False):
        value = session.pressure(item, key.replace("_", " "), getattr(item.reading, key), person)
        if value is not None and (key == "first_movement" or not _impossible(item)):
            found.append((item, value))
    return found


def _impossible(item: Item) -> bool:
    first, full = number(item.reading.first_movement), number(item.reading.full_travel)
    return first is not None and full is not None and full < first


def _pairs(session: Session, key: str, person: float) -> list[tuple[Estimate, Estimate]]:
    """Pressures through the controller as found, each with the direct one (of the same gauge if there is one)."""
    direct = _direct(session, key, person)
    pairs = []
    for item in session.through(hot=False):
        if _setting(item.reading.turns_in) is not None or _impossible(item):
            continue  # set to another than the setting as found
        through = session.pressure(item, key.replace("_", " "), getattr(item.reading, key), person)
        same = [e for i, e in direct if i.gauge == item.gauge] or [e for _, e in direct]
        if through is not None and same:
            pairs.append((through, same[-1]))
    return pairs


def _against_direct(session: Session) -> None:
    for item in session.through():
        possible(session, item)
    first, full = _pairs(session, "first_movement", FIRST), _pairs(session, "full_travel", FULL)
    if session.facts.controller == BLEED:
        _ratio(session, first or full)
    else:
        _offset(session, first, full)
    if first and full:
        _transfer(session, first[-1], full[-1])


def _offset(
    session: Session, first: Sequence[tuple[Estimate, Estimate]], full: Sequence[tuple[Estimate, Estimate]]
) -> None:
    """Through less direct: on one gauge its zero cancels."""
    several = [Estimate(t.draws - d.draws, d.readings + t.readings) for t, d in first]
    if not several:
        several = [Estimate(t.draws - d.draws, d.readings + t.readings) for t, d in full]
    offset = session.combined(several, "the controller's offset")
    if offset is None:
        _never_through(session)
        return
    session.estimates["offset"] = offset
    ball = session.facts.controller == BALL
    session.add(
        "controller-offset", "controller",
        "controller offset" if ball else "lost in controller, unpowered", "pressure difference", offset,
        _offset_healthy(session),
        {
            "low": "The controller takes off less than it should: set slack, or it lets air past.",
            "high": "The controller takes off more than it should: set high, or its ball sticks."
            if ball else "Air does not come through freely: something closes the way or lets it out.",
            "": "Pressure at first movement through the controller less that straight on the actuator.",
        },
    )  # fmt: skip


def _offset_healthy(session: Session) -> Healthy:
    facts = session.facts
    if facts.controller == BLEED:
        first = rigs.first_movement(facts.sound)
        return healthy_among(rigs.supply_for(facts.sound, first) - first, "sound cars of this kind")
    if facts.controller != BALL:
        return Healthy(-5e3, 5e3, "common practice, no source")
    if facts.through is not None and facts.opening is not None:
        middle = facts.through.value - facts.opening.value
        half = 2.0 * float(np.hypot(facts.through.sd, facts.opening.sd))
        return Healthy(max(middle - half, 0.0), middle + half, "as specified")
    return healthy_among(rigs.row(facts.sound, "offset"), "sound cars of this kind")


def _never_through(session: Session) -> None:
    """The arm moves with air straight on it and not through the controller: a lower limit."""
    direct = _direct(session, "first_movement", FIRST)
    for item in session.through(hot=False):
        top = session.pressure(item, "supply", item.reading.supply_up_to, 0.0)
        if item.reading.first_movement == "none" and top is not None and direct:
            estimate = direct[-1][1]
            session.add(
                "controller-offset", "controller", "lost through the controller",
                "pressure difference", at_least(top.draws - estimate.draws, (*estimate.readings, item.label)),
                _offset_healthy(session),
                "Straight on it the arm moves, through the controller it never did: nothing arrives, or it is let out.",
            )  # fmt: skip
            return


def _ratio(session: Session, pairs: Sequence[tuple[Estimate, Estimate]]) -> None:
    several = [
        Estimate(t.draws / np.maximum(d.draws, 1e3), d.readings + t.readings) for t, d in pairs if d.value > 1e4
    ]
    ratio = session.combined(several, "the controller's ratio")
    if ratio is None:
        _never_through(session)
        return
    session.estimates["ratio"] = ratio
    facts = session.facts
    if facts.through is not None and facts.opening is not None:
        middle = facts.through.value / facts.opening.value
        half = 2.0 * middle * float(np.hypot(facts.through.sd / facts.through.value, facts.opening.sd / facts.opening.value))
        healthy = Healthy(max(middle - half, 1.0), middle + half, "as specified")
    else:
        first = rigs.first_movement(facts.sound)
        healthy = healthy_among(rigs.supply_for(facts.sound, first) / first, "sound cars of this kind")
    session.add(
        "controller-ratio", "controller", "supply over line pressure", "ratio", ratio, healthy,
        {
            "low": "The bleed takes less off than it should: nearly shut or blocked.",
            "high": "The bleed takes more off than it should: too far open, or the line loses air as well.",
            "": "How many times the actuator's pressure must stand at the controller's inlet.",
        },
    )  # fmt: skip


def _transfer(session: Session, first: tuple[Estimate, Estimate], full: tuple[Estimate, Estimate]) -> None:
    """Change at the actuator over change at the inlet, between first movement and full travel."""
    over, under = full[1].draws - first[1].draws, full[0].draws - first[0].draws
    if np.mean(under[1:] > 0.0) < 0.99 or np.mean(over[1:] > 0.0) < 0.99:
        return
    ball = session.facts.controller != BLEED
    session.add(
        "transfer-slope", "controller", "line per supply pressure", "ratio",
        Estimate(over / np.maximum(under, 1.0), tuple(dict.fromkeys(full[1].readings + full[0].readings))),
        Healthy(0.75, 1.25, "one for one but for bleed and ball lift, estimate") if ball else None,
        {
            "low": "Each step at the inlet arrives only in part: a leak or a large bleed divides the pressure.",
            "high": "More arrives than was added: what the controller takes off shrinks as it opens.",
            "": "How much of each step at the inlet arrives at the actuator.",
        },
    )  # fmt: skip


def _arrives(session: Session) -> None:
    """Line pressure at a steady supply, setting as found, against sound cars with the same supply."""
    for item in session.of_test("controller-vent", hot=False):
        supply = session.pressure(item, "supply", item.reading.supply, 0.0)
        for j, row in enumerate(item.reading.rows or ()):
            line = session.pressure(item, f"row {j} line pressure", row.line_pressure, STEADY)
            if row.turns_in not in (None, "as found") or line is None or supply is None:
                continue
            expected = rigs.chamber_at(session.facts.sound, supply.value)
            # supply and line are read on gauges too
            healthy = healthy_among(expected, "sound cars with this supply", slack=5e3)
            session.add(
                "line-pressure-arrived", "controller", "line pressure at that supply", "gauge pressure", line,
                Healthy(max(healthy.low or 0.0, 0.0), healthy.high, healthy.why),
                {
                    "low": "Less arrives than a sound controller lets through: set high, sticking, or air leaves behind it.",
                    "high": "More arrives than a sound controller lets through: set slack, passing, or its bleed is shut.",
                    "": "Pressure at the actuator with the steady supply of this test.",
                },
            )  # fmt: skip


def _setting(turns: object) -> float | None:
    """Turns of an adjuster that was set for the reading; None where it stood as found or is a mark."""
    return float(turns) if isinstance(turns, (int, float)) and not isinstance(turns, bool) else None


def _adjuster(session: Session) -> None:
    """Pressure at first movement, or at the actuator, over turns of the adjuster."""
    points: list[tuple[float, Array, str]] = []
    for item in session.through(hot=False):
        turns = _setting(item.reading.turns_in)
        first = session.pressure(item, "first movement", item.reading.first_movement, FIRST)
        if turns is not None and first is not None:
            points.append((turns, first.draws, item.label))
    sign = 1.0
    if len({t for t, _, _ in points}) < 2:
        points, sign = _vent_points(session), -1.0
    if len({t for t, _, _ in points}) < 2:
        return
    turns_in = np.array([t for t, _, _ in points])
    away = turns_in - turns_in.mean()
    # least squares of a straight line, the same for every draw
    slope = sign * (away @ np.stack([p for _, p, _ in points])) / float(away @ away)
    healthy = Healthy(*_PER_TURN, "controllers differ, judgement") if session.facts.controller == BALL else None
    session.add(
        "adjuster-slope", "controller", "one turn of the adjuster", "pressure per turn",
        Estimate(slope, tuple(dict.fromkeys(label for _, _, label in points))), healthy,
        {
            "low": "The adjuster does little: its spring is slack, or the ball is not what holds the air back.",
            "high": "One turn does much: set it in small steps.",
            "": "Slope of the pressure over the turns of the adjuster.",
        },
    )  # fmt: skip


def _vent_points(session: Session) -> list[tuple[float, Array, str]]:
    """Line pressure over turns at one steady supply, where any pressure arrived."""
    for item in session.of_test("controller-vent", hot=False):
        points = []
        for j, row in enumerate(item.reading.rows or ()):
            turns = _setting(row.turns_in)
            line = session.pressure(item, f"row {j} line pressure", row.line_pressure, STEADY)
            if turns is not None and line is not None and line.value > 3.0 * session.gauges[item.gauge].noise(STEADY):
                points.append((turns, line.draws, item.label))
        if len({t for t, _, _ in points}) >= 2:
            return points
    return []


def _solenoid(session: Session, item: Item) -> None:
    r = item.reading
    if number(r.resistance) is not None:
        ohm = session.quantity(item, "resistance", r.resistance)
        assert ohm is not None
        session.add(
            "coil-resistance", "controller", "coil resistance", "resistance", Estimate(ohm, (item.label,)),
            Healthy(*_COIL, "common practice, no source"),
            {
                "low": "Turns of the coil are shorted.",
                "high": "The coil or its plug has a bad contact; without end it is broken.",
                "": "Resistance of the coil.",
            },
        )  # fmt: skip
    supply = session.pressure(item, "supply", r.supply, 0.0)
    if supply is None or supply.value < LEAST_PRESSURE:
        return
    for j, row in enumerate(r.rows or ()):
        line = session.pressure(item, f"row {j}", row.line_pressure, STEADY)
        if line is None or row.duty is None:
            continue
        duty = row.duty.value
        share = Estimate(line.draws / np.maximum(supply.draws, 1e3), (item.label,))
        expected = rigs.chamber_at(session.facts.sound, supply.value, duty=duty) / supply.value
        # between the ends the needle swings with the pulses and shows some mean of them
        slack = 0.06 + 0.12 * min(1.0, 4.0 * duty * (1.0 - duty))
        wide = healthy_among(expected, "sound cars of this kind", slack=slack)
        assert wide.low is not None and wide.high is not None
        healthy = Healthy(max(wide.low, 0.0) or None, wide.high, wide.why)
        shown = re.sub(r"\.?0+$", "", f"{100 * duty:.1f}")
        session.add(
            f"line-share-{shown or '0'}", "controller", f"line over supply at {shown or '0'} % duty",
            "share", share, healthy,
            {
                "low": "Less reaches the actuator at this duty than a sound valve lets through.",
                "high": "More reaches the actuator at this duty than a sound valve lets through.",
                "": "Line pressure over supply at this duty.",
            },
        )  # fmt: skip
