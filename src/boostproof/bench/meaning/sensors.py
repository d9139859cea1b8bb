"""The manifold sensor: its error with the engine off, its scale, and how the two hang together."""

from __future__ import annotations

import numpy as np

from boostproof.bench.meaning.facts import STANDARD_AIR
from boostproof.bench.meaning.model import Healthy
from boostproof.bench.meaning.session import Array, Estimate, Item, Session, number

REPEAT = 0.3e3  # Pa, a live-data screen that flickers in its last digit (judgement)
UNKNOWN_AIR = 1.5e3  # Pa, of a barometer that nobody read: a usual day near sea level (judgement)
SOUND_ZERO, SOUND_SCALE = 2.0e3, 0.02  # common practice, no source
APPLIED = 0.3e3  # Pa, a hand pump held at a mark
_LEAST_SPAN = 2e4  # Pa between two applied pressures, below which no scale can be told


def read_sensors(session: Session) -> None:
    """Enter what every sensor-check says."""
    for item in session.of_test("sensor-check"):
        _read(session, item)


def _read(session: Session, item: Item) -> None:
    true, shown = _pairs(session, item)
    if not true:
        return
    span = np.ptp([t[0] for t in true])
    if span < _LEAST_SPAN:
        error = np.mean([s - t for s, t in zip(shown, true, strict=True)], axis=0)
        _zero(session, item, error)
        return
    gain, offset = straight_line(np.stack(true), np.stack(shown))
    if gain[0] <= 0.2:
        session.refuse(item, "What the sensor shows does not rise with the pressure put on it, so no scale is taken.")
        return
    air = true[int(np.argmin([t[0] for t in true]))]
    if air[0] < _air(session)[0] + 5e3:
        _zero(session, item, offset + (gain - 1.0) * air)
    before = sum(m.id.startswith("sensor-scale") for m in session.meanings)
    tail = "" if before == 0 else f"--{before + 1}"  # as the session will call them
    together = float(np.corrcoef(gain[1:], offset[1:])[0, 1])
    session.add(
        "sensor-scale", "sensor", "sensor scale", "ratio", Estimate(gain, (item.label,)),
        Healthy(1.0 - SOUND_SCALE, 1.0 + SOUND_SCALE, "common practice, no source"),
        {
            "low": "The sensor shows less of a rise than there is: boost is higher than it says.",
            "high": "The sensor shows more of a rise than there is: boost is lower than it says.",
            "": "Pressure shown per pressure put on.",
        },
        (("sensor-offset" + tail, together),),
    )  # fmt: skip
    session.add(
        "sensor-offset", "sensor", "sensor offset at zero absolute", "pressure difference",
        Estimate(offset, (item.label,)), None,
        "Shown pressure is scale times absolute pressure plus this; the two are found together and belong together.",
        (("sensor-scale" + tail, together),),
    )  # fmt: skip


def _zero(session: Session, item: Item, error: Array) -> None:
    session.add(
        "sensor-error-at-rest", "sensor", "sensor less barometer at rest",
        "pressure difference", Estimate(error, (item.label,)),
        Healthy(-SOUND_ZERO, SOUND_ZERO, "common practice, no source"),
        {
            "low": "With the engine off the sensor shows less than the barometer.",
            "high": "With the engine off the sensor shows more than the barometer.",
            "": "What the sensor shows with the engine off, less the barometer.",
        },
    )  # fmt: skip


def _air(session: Session) -> Array:
    known = session.known("barometer")
    return STANDARD_AIR - 0.5e3 + UNKNOWN_AIR * session.chance.normal("air") if known is None else known


def _pairs(session: Session, item: Item) -> tuple[list[Array], list[Array]]:
    """Absolute pressure on the sensor and what it showed, each row as draws; rows at its end of range left out."""
    rows = [r for r in (item.reading.rows or ()) if number(r.applied) is not None and number(r.reads) is not None]
    around = next((r.barometer for r in rows if r.barometer is not None), None)
    day = _air(session) if around is None else session.chance.of(around, f"{item.label} barometer")
    limit = session.facts.sensor_range
    true, shown = [], []
    for j, row in enumerate(rows):
        local = day if row.barometer in (None, around) else session.chance.of(row.barometer, f"{item.label} air {j}")
        if row.applied.value < 1e3 and row.applied.form == "exact":
            applied = np.zeros(session.chance.trials + 1)  # open to the air: no gauge is needed for that
        else:
            read = session.pressure(item, f"applied {j}", row.applied, APPLIED)
            assert read is not None
            applied = read.draws
        sd = REPEAT if row.reads.form == "exact" else row.reads.sd
        reads = row.reads.value - sd * session.chance.normal(f"{item.label} reads {j}")
        if row.reads.reference == "gauge":
            reads = reads + local
        if limit is not None and reads[0] > limit.value - 1e3:
            continue
        true.append(applied + local)
        shown.append(reads)
    return true, shown


def straight_line(x: Array, y: Array) -> tuple[Array, Array]:
    """Slope and intercept of y over x by least squares, for every draw.

    Parameters
    ----------
    x, y : (rows, draws), at least two rows

    >>> slope, intercept = straight_line(np.array([[0.0], [1.0], [2.0]]), np.array([[1.0], [3.0], [5.0]]))
    >>> slope.tolist(), intercept.tolist()
    ([2.0], [1.0])
    """
    middle, level = x.mean(axis=0), y.mean(axis=0)
    away = x - middle
    slope = np.sum(away * (y - level), axis=0) / np.sum(away * away, axis=0)
    return slope, level - slope * middle
