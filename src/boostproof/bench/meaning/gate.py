"""The gate itself: how far it swings, what its port passes, and whether that is what this engine needs."""

from __future__ import annotations

import numpy as np

from boostproof.bench.meaning.model import Healthy, healthy_among
from boostproof.bench.meaning.session import Array, Estimate, Item, Session, number
from boostproof.bench.meaning.springs import travel_healthy
from boostproof.physics import rigs
from boostproof.physics.gate_inverse import gate_area_for_target
from boostproof.physics.wastegate import CURTAIN_FLOW

CLEAN = (0.70, 0.05)  # discharge coefficient of an open port and its sd: 0.65-0.85 (valve data, Heywood ch. 6)
POOR = (0.48, 0.05)  # with a step or a gasket in the way, 0.4-0.5 where poor (estimate)
RESERVE = 1.2  # area there over area needed (common practice, no source)
ENOUGH_LIFT = 0.25  # lift over port diameter from which the port, not the lift, limits
_SPEEDS = (0.7, 0.8, 0.9, 1.0)  # of redline, where the need is looked for
_CARS = 400
_WIDE_ANGLE = np.deg2rad(35.0)  # common practice, no source


def read_gate(session: Session) -> None:
    """Enter what free travel, port and seat say."""
    for item in session.of_test("free-travel"):
        _free_travel(session, item)
    for item in session.of_test("port-measure"):
        _port(session, item)
    for item in session.of_test("seat-leak"):
        _seat(session, item)


def _free_travel(session: Session, item: Item) -> None:
    r = item.reading
    swing = session.quantity(item, "swing", r.swing)
    readings = (item.label,)
    if swing is not None:
        asked = travel_healthy(session)
        least = None if asked.low is None else asked.low
        session.add(
            "free-travel", "gate", "free travel at the rod", "length", Estimate(swing, readings),
            Healthy(least, None, f"at least the full travel, {asked.why}"),
            {
                "low": "The gate cannot swing as far as the actuator would take it: something stands in its way.",
                "": "How far the gate swings by hand with the rod off.",
            },
            floor=0.0,
        )  # fmt: skip
        travel = session.estimates.get("travel")
        if travel is not None and not travel.limit:
            session.add(
                "travel-in-reserve", "gate", "travel in reserve", "length",
                Estimate(swing - travel.draws, (*travel.readings, *readings)),
                Healthy(0.0, None, "the gate should not meet its stop first"),
                {
                    "low": "The gate moves less by hand than on air: one of the two was read wrong.",
                    "": "What the gate could swing beyond the actuator's full travel.",
                },
            )  # fmt: skip
    angle = session.quantity(item, "angle", r.angle)
    lever = session.known("lever")
    if angle is None and swing is not None and lever is not None and not session.facts.external:
        angle = 2.0 * np.arcsin(np.clip(0.5 * swing / lever, 0.0, 1.0))
    if angle is not None:
        session.estimates["free angle"] = Estimate(angle, readings)
        session.add(
            "free-angle", "gate", "free angle of the gate", "angle", Estimate(angle, readings),
            Healthy(float(_WIDE_ANGLE), None, "common practice, no source"),
            {
                "low": "A flapper that turns so little is held back by its lift, not its port.",
                "": "Angle of the lever from stop to stop.",
            },
            floor=0.0,
        )  # fmt: skip


def flow_area(port: Array, discharge: Array, lift: Array | None) -> Array:
    """Effective area of an open gate: the port, with the curtain under the valve where the lift is known. [m2]

    ``1/A^2 = 1/(Cd pi d L)^2 + 1/(Cd pi d^2/4)^2``.
    """
    whole = discharge * 0.25 * np.pi * port**2
    if lift is None:
        return np.asarray(whole)
    curtain = CURTAIN_FLOW * np.pi * port * np.maximum(lift, 1e-6)
    return np.asarray(whole * curtain / np.hypot(whole, curtain))


def _port(session: Session, item: Item) -> None:
    r = item.reading
    port = session.quantity(item, "port", r.port)
    if port is None:
        return
    readings: tuple[str, ...] = (item.label,)
    sound = session.facts.sound
    says_port = {
        "low": "The port is smaller than is usual for this engine and boost.",
        "high": "The port is larger than is usual for this engine and boost.",
        "": "Bore of the port.",
    }
    usual = healthy_among(rigs.row(sound, "port_diameter"), "engines of this size")
    session.add("port-diameter", "gate", "port diameter", "length", Estimate(port, readings), usual, says_port)
    lift = session.quantity(item, "lift", r.lift)
    radius, angle = session.known("flapper"), session.estimates.get("free angle")
    if lift is None and radius is not None and angle is not None and not session.facts.external:
        # the disc lifts by the sine of the angle that the lever is free to turn
        lift = radius * np.sin(np.clip(angle.draws, 0.0, 0.5 * np.pi))
        readings = (*angle.readings, *readings)
    middle, sd = POOR if r.entry in ("step", "gasket over edge") else CLEAN
    discharge = middle + sd * session.chance.normal(f"{item.label} discharge")
    area = session.facts.gates * flow_area(port, discharge, lift)
    need = area_needed(session)
    healthy = None
    if need is not None:
        healthy = Healthy(float(RESERVE * np.median(need)), None, "what this engine needs for its target, and a fifth")
    session.add(
        "gate-flow-area", "gate", "flow area of the open gate", "area", Estimate(area, readings), healthy,
        {
            "low": "The gate passes less than this engine needs let past at its target: boost will creep.",
            "": "Discharge coefficient times the port, with the curtain under the valve where the lift is known.",
        },
    )  # fmt: skip
    if need is not None:
        session.add(
            "gate-share-taken", "gate", "share that the target takes", "share",
            Estimate(session.chance.among(need) / area, readings),
            Healthy(None, 1.0, "it cannot take more than all of it"),
            {
                "high": "Even wide open the gate does not pass enough: a larger port, or a higher target.",
                "": "Area that holds the target up to redline, over the area there.",
            },
        )  # fmt: skip
    if lift is not None:
        session.add(
            "lift-over-port", "gate", "lift over port diameter", "ratio", Estimate(lift / port, readings),
            Healthy(ENOUGH_LIFT, None, "curtain as large as the port"),
            {"low": "The lift limits the flow, not the port.", "": "From a quarter on the port alone limits the flow."},
        )  # fmt: skip


def area_needed(session: Session) -> Array | None:
    """Largest gate area that sound cars of this kind need for the target, all gates together. (cars,) [m2]

    None where the target is not known.
    """
    facts = session.facts
    if facts.target is None:
        return None
    speeds = facts.redline * np.array(_SPEEDS)
    found = gate_area_for_target(facts.sound[:, :_CARS], speeds, facts.target, ambient_pressure=facts.air)
    return np.asarray(found.area.max(axis=0))


def _seat(session: Session, item: Item) -> None:
    gap = session.quantity(item, "gap", item.reading.gap)
    if gap is None or number(item.reading.gap) is None:
        return
    port = session.sound("port_diameter")
    session.add(
        "seat-leak-area", "gate", "leak area of the shut gate", "area",
        Estimate(CURTAIN_FLOW * np.pi * port * np.maximum(gap, 0.0), (item.label,)),
        Healthy(0.0, 3e-6, "a sound seat shows no light, judgement"),
        {"high": "Exhaust gas passes the shut gate: boost comes late.", "": "Gap all round the seat as flow area."},
    )  # fmt: skip
