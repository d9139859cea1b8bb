"""The signal line: how fast the arm follows, what stays trapped, what the hose lets through."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from boostproof.bench.meaning.emptying import area_of_flow, hole_of
from boostproof.bench.meaning.leaks import line_leak_alone
from boostproof.bench.meaning.model import Healthy, healthy_among
from boostproof.bench.meaning.session import Array, Estimate, Item, Session, at_least, at_most, number
from boostproof.bench.meaning.springs import FIRST
from boostproof.physics import rigs

AT_ONCE = 0.3  # s, below which nobody sees a delay (judgement)
HAND = 0.15  # s, of a hand and an eye (judgement)
FILL_SPEED = 150.0  # m/s: a chamber fills to 80 % in volume over (150 m/s x area), as `physics.rigs`
FOLLOWED = 0.95  # share of the travel at which the arm counts as there
SOUND_HOSE = (0.8, 1.2)  # against a new one; below half it is kinked or blocked (common practice, no source)
SLACK = 5.0e3  # Pa above the opening pressure, what a gauge and a rule can mistake it for


def read_line(session: Session) -> None:
    """Enter what sweeps say of the line, and the flow of the hose."""
    _drop(session)
    for item in (*session.through(), *session.of_test("line-sweep")):
        _follows(session, item)
        _trapped(session, item)
    line_leak_alone(session)
    for item in session.of_test("hose-flow"):
        _hose(session, item)


def _drop(session: Session) -> None:
    """First movement with air at the far end of the line, less that straight on the actuator."""
    direct = [
        (i, e) for i in session.of_test("actuator-sweep", hot=False)
        if (e := session.pressure(i, "first movement", i.reading.first_movement, FIRST)) is not None
    ]  # fmt: skip
    for item in session.of_test("line-sweep", hot=False):
        first = session.pressure(item, "first movement", item.reading.first_movement, FIRST)
        top = session.pressure(item, "supply", item.reading.supply_up_to, 0.0)
        if not direct:
            return
        one, straight = direct[-1]
        readings = (one.label, item.label)
        if first is not None:
            lost = Estimate(first.draws - straight.draws, readings)
        elif item.reading.first_movement == "none" and top is not None:
            lost = at_least(top.draws - straight.draws, readings)
        else:
            continue
        session.add(
            "line-pressure-lost", "line", "pressure lost in the line", "pressure difference", lost,
            Healthy(-5e3, 5e3, "a sound line loses nothing at rest"),
            {
                "high": "Less arrives at the actuator than is put on at the other end: the line leaks or is blocked.",
                "low": "It moves at less pressure through the line than straight: one of the two was read wrong.",
                "": "First movement with air at the far end of the line, less that straight on the actuator.",
            },
        )  # fmt: skip


def _follows(session: Session, item: Item) -> None:
    r = item.reading
    seconds = number(r.follows)
    if r.follows == "none":
        estimate = at_least(np.full(session.chance.trials + 1, 5.0), (item.label,))
    elif seconds is None:
        return
    else:
        hand = np.hypot(HAND, 0.1 * seconds) if r.follows.form == "exact" else r.follows.sd
        time = seconds + hand * session.chance.normal(f"{item.label} follows")
        # how much of the supply must be there for the arm to arrive: between three quarters and nearly all
        part = session.chance.flat(f"{item.label} part", 0.75, 0.95)
        tau = np.maximum(time, 0.0) / np.log(1.0 / (1.0 - part))
        if seconds < AT_ONCE:
            most = (max(seconds, AT_ONCE) + 1.645 * hand) / float(np.log(1.0 / (1.0 - part[0])))
            estimate = Estimate(np.full_like(tau, most), (item.label,), "at most")
        else:
            estimate = Estimate(tau, (item.label,))
    fill = rigs.filling_time(session.facts.sound) / np.log(5.0)
    healthy = Healthy(None, max(float(np.percentile(fill, 97.5)), AT_ONCE), "sound cars of this kind")
    session.add(
        "line-time-constant", "line", "line time constant", "time", estimate, healthy,
        {
            "high": "The arm follows late: the line is pinched, blocked in part, or feeds too large a volume.",
            "": "Time in which line and chamber take up 63 % of a step.",
        },
    )  # fmt: skip
    if not estimate.limit:
        _passage(session, estimate)


def _passage(session: Session, tau: Estimate) -> None:
    eighty = np.maximum(tau.draws, 1e-3) * np.log(5.0)
    area = session.sound("chamber_volume") / (FILL_SPEED * eighty)
    session.add(
        "line-passage", "line", "free passage of the line", "length",
        Estimate(hole_of(area, session.hole_flow()), tau.readings),
        healthy_holes(rigs.inlet_area(session.facts.sound)),
        {
            "low": "Only a narrow way is left between take-off and chamber.",
            "": "Hole that would fill the chamber as slowly.",
        },
    )  # fmt: skip


def healthy_holes(areas: Array) -> Healthy:
    """Range of sound cars, areas taken as holes."""
    return healthy_among(hole_of(areas), "sound cars of this kind")


def _trapped(session: Session, item: Item) -> None:
    """Travel left after the air was taken away, as the pressure that holds the arm there on the way home."""
    vent, opening = item.reading.vent, session.estimates.get("opening")
    if vent is None or opening is None or opening.limit:
        return
    slope = session.estimates.get("slope")
    rate = session.sound("spring_rate") if slope is None else slope.draws
    rub = session.estimates.get("hysteresis")
    back = 2.0 * session.sound("friction") if rub is None else np.maximum(rub.draws, 0.0)
    ways = [(s, getattr(vent, f"after_{s}_s")) for s in (1, 5, 30)]
    read = [(s, q) for s, q in ways if number(q) is not None]
    for (s, earlier), (_, later) in pairwise(read):
        if later.value > earlier.value + 1.5e-3:
            session.refuse(item, f"The arm is further out later than it was after {s} s, so what is trapped is not computed.")
            return
    for s, quantity in read:
        left = session.quantity(item, f"vent {s}", quantity)
        assert left is not None
        pressure = np.maximum(opening.draws - back + rate * left, 0.0)
        readings = tuple(dict.fromkeys((*opening.readings, item.label)))
        home = quantity.value < 0.5e-3
        estimate = at_most(pressure, readings) if home else Estimate(pressure, readings)
        session.add(
            f"trapped-after-{s}", "line", f"pressure left after {s} s", "gauge pressure", estimate,
            # home is all that can be seen: below the pressure at which the arm moves nothing shows
            Healthy(0.0, opening.value + SLACK, "the arm goes home within a second"),
            {
                "high": "Air is trapped behind the actuator: the bleed or the way back is blocked.",
                "": "The arm is home, so no more than this is left." if home
                else "Pressure that still holds the arm after the air was taken away.",
            },
        )  # fmt: skip
        if home:
            return


def _hose(session: Session, item: Item) -> None:
    r = item.reading
    supply = session.pressure(item, "supply", r.supply, 1.0e3)
    flow = session.quantity(item, "flow", r.flow)
    new = session.quantity(item, "flow new", r.flow_new_hose)
    readings = (item.label,)
    if flow is not None and supply is not None and supply.value > 5e3:
        area = area_of_flow(np.maximum(flow, 0.0), np.maximum(supply.draws, 1e3), session.facts.air)
        estimate = Estimate(hole_of(area, session.hole_flow()), readings)
        if np.mean(flow[1:] > 0.0) < 0.95:
            estimate = at_most(estimate.draws, readings)
        session.add(
            "hose-hole", "line", "free passage of the hose", "length", estimate,
            healthy_holes(rigs.row(session.facts.sound, "hose_area")) if new is None else None,
            {"low": "The hose passes little: kinked, blocked, or a restrictor sits in it.",
             "": "Sharp-edged hole that passes as much as the hose to its open end."},
        )  # fmt: skip
    if flow is not None and new is not None and np.percentile(new[1:], 5.0) > 0.0:
        session.add(
            "hose-share", "line", "hose against a new one", "share",
            Estimate(flow / new, readings), Healthy(*SOUND_HOSE, "common practice, no source"),
            {
                "low": "The hose passes clearly less than a new one: kinked, blocked or soaked.",
                "high": "It passes more than the new one: the two are not alike.",
                "": "Share of what a new hose of the same size passes.",
            },
        )  # fmt: skip
