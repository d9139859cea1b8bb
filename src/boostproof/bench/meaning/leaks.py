"""What loses air: the actuator and its line with the supply shut, and the charge pipes under pressure."""

from __future__ import annotations

import numpy as np

from boostproof.bench.meaning.emptying import TEMPERATURE, area_of_fall, flow_per_area, hole_of, rate_at_start
from boostproof.bench.meaning.model import Group, Healthy
from boostproof.bench.meaning.session import Array, Estimate, Item, Session, at_least, at_most, powered
from boostproof.physics import rigs
from boostproof.physics.gas import AIR_GAS_CONSTANT

VENTING = ("ball and spring", "bleed valve")  # they let air out by design
STEADY = 1.0e3  # Pa, a person reading a steady needle
TEE = (1.0e-5, 6.0e-5)  # m3 of air in gauge, tee and hose (judgement)
LEAK_RATE = 10.0e3 / 60.0  # Pa/s: more counts as a leak; most sound ones lose less than a third of it (practice)
SOUND_ENGINE = 3.0e-7  # m2, what rings and valves of a sound engine let by (judgement)
# what the words mean, as effective area; judgement, the same as the ranking uses [m2]
_AT_LEAST = {"flows": 10.0**-5.5, "cannot reach": 10.0**-5.1}
_DROP_TIME = 30.0


def holding_volume(session: Session, item: Item) -> Array:
    """Air that a sweep or a decay empties: actuator chamber, hose, gauge and tee. [m3]"""
    return session.sound("chamber_volume") + session.chance.flat(f"{item.gauge} tee", *TEE)


def exponent(session: Session, item: Item, seconds: Array) -> Array:
    """Exponent of the emptying: near 1 over seconds, up to 1.4 where it is over at once (judgement). [1]"""
    return np.asarray(1.0 + 0.4 * np.exp(-np.maximum(seconds, 0.0) / 2.0) * session.chance.flat(f"{item.label} n", 0.0, 1.0))


def read_leaks(session: Session) -> None:
    """Enter the leaks of actuator, line and charge pipes."""
    for hot in (False, True):
        _leak_down(session, "actuator-sweep", hot, "actuator", "diaphragm-leak", "actuator leak")
    through = "line-sweep" if session.facts.controller in VENTING else "controller-sweep"
    for test in dict.fromkeys((through, "line-sweep")):
        _leak_down(session, test, False, "line", "line-leak", "line and actuator leak")
    for item in session.of_test("intake-pressurise"):
        _charge(session, item)


def leak_of(session: Session, item: Item) -> tuple[Estimate, Estimate, Array] | None:
    """Leak area [m2], rate at the start [Pa/s] and start pressure of one leak-down, from its better half.

    Of the readings after 10 and 60 s the one counts that says more: not yet empty, and fallen enough.
    """
    leak = item.reading.leak
    if leak is None:
        return None
    start = session.pressure(item, "leak start", leak.start, STEADY)
    if start is None or start.value < 2e4:
        return None
    volume = holding_volume(session, item)
    found: list[tuple[float, Estimate, Estimate]] = []
    for key, seconds in (("after_10_s", 10.0), ("after_60_s", 60.0)):
        end = session.pressure(item, key, getattr(leak, key), STEADY)
        if end is None:
            continue
        noise = session.gauges[item.gauge].noise(STEADY)
        if end.value > start.value + 4.0 * noise:
            session.refuse(item, "The pressure rose with the supply shut, so no leak is taken from it.")
            return None
        area = area_of_fall(start.draws, end.draws, seconds, volume, session.facts.air)
        rate = rate_at_start(start.draws, end.draws, seconds, session.facts.air)
        readings = (item.label,)
        if np.mean(start.draws[1:] > end.draws[1:]) < 0.95:
            # not seen to fall: the longer wait says more
            found.append((1e3 / seconds, at_most(area, readings), at_most(rate, readings)))
        elif np.mean(end.draws[1:] > 1e3) < 0.95:
            found.append((1e2 * seconds, at_least(area, readings), at_least(rate, readings)))
        else:
            found.append((float(rate[1:].std() / abs(rate[0])), Estimate(area, readings), Estimate(rate, readings)))
    if not found:
        return None
    # an estimate goes before a limit; "at least" before "at most", which then came from a slip
    order = {"": 0.0, "at least": 1e5, "at most": 2e5}
    _, best, rate_best = min(found, key=lambda f: f[0] + order[f[1].limit])
    return best, rate_best, start.draws


def _leak_down(session: Session, test: str, hot: bool, group: Group, id: str, name: str) -> None:
    leaks = [found for i in session.of_test(test, hot=hot) if not powered(i) and (found := leak_of(session, i)) is not None]
    if not leaks:
        return
    tail, word = ("-hot", ", hot") if hot else ("", "")
    rate = session.combined([r for _, r, _ in leaks], "the leak")
    area = session.combined([a for a, _, _ in leaks], "the leak area")
    assert rate is not None and area is not None
    healthy = Healthy(0.0, LEAK_RATE, "more counts as a leak, common practice")
    says = {
        "high": "It loses air faster than a sound one: a leaking diaphragm, hose or joint.",
        "": "How fast the pressure falls at first with the supply shut.",
    }
    session.add(
        f"{id}-rate{tail}", group, f"{name} rate{word}", "pressure rate", rate, healthy, says, floor=0.0
    )
    start = leaks[-1][2]
    # the same limit as an area, for the usual volume
    volume = float(np.median(session.sound("chamber_volume"))) + 0.5 * sum(TEE)
    most = LEAK_RATE * volume / (AIR_GAS_CONSTANT * TEMPERATURE * float(flow_per_area(start[0], session.facts.air)))
    limit = Healthy(0.0, most, healthy.why)
    session.add(
        f"{id}-area{tail}", group, f"{name} area{word}", "area", area, limit,
        {"high": "Air is lost through it all the time, and less of the signal arrives.",
         "": "Area through which the trapped air leaves."}, floor=0.0,
    )  # fmt: skip
    session.add(
        f"{id}-hole{tail}", group, f"{name} hole{word}", "length",
        Estimate(hole_of(area.draws, session.hole_flow()), area.readings, area.limit),
        Healthy(0.0, float(hole_of(most)), limit.why), "The same area as the sharp-edged hole that passes as much.",
    )  # fmt: skip
    if not hot:
        session.estimates[f"{id} area"] = area


def _charge(session: Session, item: Item) -> None:
    r = item.reading
    healthy = Healthy(0.0, SOUND_ENGINE, "rings and valves of a sound engine, judgement")
    says = {
        "high": "The charge pipes lose more than an engine's rings and valves do.",
        "": "Effective area through which the charge pipes lose air, rings and valves included.",
    }
    supply = session.pressure(item, "supply", r.supply, 1.0e3)
    drop = session.quantity(item, "drop in 30 s", r.drop_in_30_s)
    area: Estimate | None = None
    if supply is not None and drop is not None:
        if number_below(drop[0], -2.0 * float(drop[1:].std())):
            session.refuse(item, "The pressure is said to have risen with the supply shut, so no leak is taken from it.")
            return
        volume = session.sound("charge_volume")
        draws = area_of_fall(supply.draws, np.maximum(supply.draws - drop, 0.0), _DROP_TIME, volume, session.facts.air)
        seen = np.mean(drop[1:] > 0.0) >= 0.95
        area = Estimate(draws, (item.label,)) if seen else at_most(draws, (item.label,))
        if seen and np.mean(supply.draws[1:] - drop[1:] > 1e3) < 0.95:
            area = at_least(draws, (item.label,))
    elif r.held in _AT_LEAST:
        least = np.full(session.chance.trials + 1, _AT_LEAST[r.held])
        area = Estimate(least, (item.label,), "at least")
    if area is None:
        return
    session.add("charge-leak-area", "engine", "charge pipe leak area", "area", area, healthy, says, floor=0.0)
    session.add(
        "charge-leak-hole", "engine", "charge pipe leak hole", "length",
        Estimate(hole_of(area.draws, session.hole_flow()), area.readings, area.limit),
        Healthy(0.0, float(hole_of(SOUND_ENGINE)), healthy.why), "The same area as the sharp-edged hole that passes as much.",
    )  # fmt: skip


def number_below(value: float, limit: float) -> bool:
    """Whether a value lies below a limit that is below zero."""
    return bool(value < limit < 0.0)


def line_leak_alone(session: Session) -> None:
    """Leak of the line by itself: what the whole loses more than the actuator straight."""
    whole, own = session.estimates.get("line-leak area"), session.estimates.get("diaphragm-leak area")
    if whole is None or own is None or whole.limit == "at most":
        return
    less = own.draws if own.limit == "" else 0.5 * own.draws
    kept = Estimate(whole.draws - less, tuple(dict.fromkeys(own.readings + whole.readings)), whole.limit)
    if not kept.limit and np.mean(kept.draws[1:] > 0.0) < 0.95:
        kept = at_most(kept.draws, kept.readings)
    sound = float(np.percentile(rigs.row(session.facts.sound, "line_leak"), 97.5)) + 5e-9
    session.add(
        "line-leak-alone-area", "line", "line leak alone, area", "area", kept,
        Healthy(0.0, sound, "a sound line holds, judgement"),
        {"high": "The line between controller and actuator leaks.", "": "What is lost beside the actuator's own leak."},
        floor=0.0,
    )  # fmt: skip
