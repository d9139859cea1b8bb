"""The engine around it: exhaust back-pressure, compression, fuel pressure."""

from __future__ import annotations

import numpy as np

from boostproof.bench.meaning.chance import Array
from boostproof.bench.meaning.model import Healthy, healthy_among
from boostproof.bench.meaning.session import Estimate, Item, Session, number
from boostproof.physics.gate_inverse import gate_area_for_target

# after the turbine, standing without load: service manuals, makers withheld [Pa]
_NO_LOAD = ((105.0, 8.6e3), (210.0, 20.7e3))
_EVEN = 0.15  # spread of compression over the highest (common practice, no source)
_CARS = 400
_NO_TARGET = 9.0e4  # Pa gauge, where nobody said what was wanted


def read_engine(session: Session) -> None:
    """Enter back-pressure, compression and fuel pressure."""
    for item in session.of_test("exhaust-back-pressure"):
        _back_pressure(session, item)
    for item in session.of_test("compression"):
        _compression(session, item)
    for item in session.of_test("plugs-and-fuel"):
        _fuel(session, item)


def _back_pressure(session: Session, item: Item) -> None:
    r = item.reading
    says = {
        "high": "The exhaust holds back more than it should: a blocked catalyst, a crushed pipe, a small "
        "bore; or the pull ran above its target.",
        "low": "The exhaust holds back less than is usual: a freer one than this kind has, or less gas comes.",
        "": "Pressure after the turbine.",
    }
    for j, row in enumerate(r.rows or ()):
        pressure = session.quantity(item, f"row {j}", row.pressure)
        if pressure is None or row.rpm is None:
            continue
        standing = bool(r.no_load or row.no_load)
        rpm = round(row.rpm.value * 30.0 / np.pi)
        # the model's spread stands for exhausts of this kind; a gauge that swings is in the reading's own doubt
        healthy = _standing(row.rpm.value) if standing else _on_a_pull(session, row.rpm.value)
        how = ", standing" if standing else ""
        session.add(
            f"back-pressure-{rpm}{'-standing' if standing else ''}", "engine",
            f"back-pressure at {rpm:,} rpm{how}", "gauge pressure", Estimate(pressure, (item.label,)),
            healthy, says,
        )  # fmt: skip


def _standing(speed: float) -> Healthy:
    speeds, limits = zip(*_NO_LOAD, strict=True)
    return Healthy(0.0, float(np.interp(speed, speeds, limits)), "service manuals")


def _on_a_pull(session: Session, speed: float) -> Healthy:
    facts = session.facts
    target = _NO_TARGET if facts.target is None else facts.target
    found = gate_area_for_target(facts.sound[:, :_CARS], [speed], target, ambient_pressure=facts.air)
    return healthy_among(found.outlet_pressure[0] - facts.air, "cars of this size on their target")


def _compression(session: Session, item: Item) -> None:
    rows = [
        (row.cylinder, p)
        for j, row in enumerate(item.reading.rows or ())
        if (p := session.quantity(item, f"cylinder {j}", row.pressure)) is not None
    ]
    if len(rows) < 2:
        return
    # one gauge: its zero and most of its scale are the same for every cylinder, the reading's own doubt is not
    values = np.stack([p for _, p in rows])
    spread = _corrected_range(values)
    weakest = rows[int(np.argmin(values[:, 0]))][0]
    named = "" if weakest is None else f" Cylinder {weakest} is the lowest."
    session.add(
        "compression-spread", "engine", "compression, spread", "share",
        Estimate(spread, (item.label,)), Healthy(None, _EVEN, "common practice, no source"),
        {"high": f"The cylinders differ too much.{named}", "": f"How far the lowest cylinder lies below the highest.{named}"},
    )  # fmt: skip


def _corrected_range(values: Array) -> Array:
    """Share by which the lowest lies below the highest of (cylinders, draws), the same two in every draw."""
    low, high = int(np.argmin(values[:, 0])), int(np.argmax(values[:, 0]))
    return np.asarray(1.0 - values[low] / values[high])


def _fuel(session: Session, item: Item) -> None:
    rows = sorted(
        (row.rpm.value, j, row.fuel_pressure)
        for j, row in enumerate(item.reading.rows or ())
        if row.rpm is not None and number(row.fuel_pressure) is not None
    )
    if len(rows) < 2:
        return
    first, last = (session.pressure(item, f"fuel {j}", q, 5e3) for _, j, q in (rows[0], rows[-1]))
    assert first is not None and last is not None
    session.add(
        "fuel-pressure-change", "engine", "fuel pressure change", "pressure difference",
        Estimate(last.draws - first.draws, (item.label,)),
        Healthy(-2e4, None, "it should not sag on a pull, common practice"),
        {"low": "Fuel pressure sags on the pull: pump, filter or regulator.", "": "Change of fuel pressure over the pull."},
    )  # fmt: skip
