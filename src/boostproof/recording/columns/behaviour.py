"""Columns without a telling name, known by how they behave in the engine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from boostproof.recording.columns.channel_table import MANIFOLD_SENSOR
from boostproof.recording.columns.headers import read_header
from boostproof.recording.columns.matching import Seen, only_pressure
from boostproof.recording.columns.pressure_reference import Engine, judge
from boostproof.recording.columns.pressures import Taken, read_pressure
from boostproof.recording.columns.thinned import thin
from boostproof.recording.model import Channel, FloatArray, Table


def manifold_by_behaviour(table: Table, engine: Engine, used: set[int]) -> Channel | None:
    """A pressure without a telling name that behaves like the manifold's: vacuum shut, boost wide open."""
    if engine.throttle is None:
        return None
    found: list[tuple[float, Channel]] = []
    wide, shut = engine.throttle > 0.9, engine.throttle < 0.2
    for index, column in enumerate(table.columns):
        reading = next((r for r in read_header(column.header, column.unit) if only_pressure(r)), None)
        if index in used or reading is None or not np.isfinite(column.values).any():
            continue
        if wide.sum() < 20 or shut.sum() < 20 or column.lost_cells > 0.3 * table.rows:
            continue
        taken = Taken(MANIFOLD_SENSOR, reading.unit, reading.reference, reading.concepts, 0.6, "", False)
        values = thin(column.values)
        judged = judge(values, "manifold", engine, unit=taken.unit, said=taken.said, usual=None)
        if judged.fit > -8.0 and np.nanmedian(values[wide]) > np.nanpercentile(
            values[shut], 90.0
        ):
            why = "no name, but vacuum with the throttle shut and boost with it wide open"
            found.append((judged.fit, read_pressure(column, replace(taken, why=why), engine, {})))
    return max(found, key=lambda item: item[0])[1] if found else None


def speed_by_behaviour(seen: tuple[Seen, ...], used: set[int]) -> int | None:
    """Number of the one column without a known name that runs like an engine, None where none or several do.

    It idles at some hundred, climbs to some thousand and goes up and down smoothly; where the road speed is
    logged, their ratio stands still in each gear.
    """
    found = [
        index
        for index, one in enumerate(seen)
        if index not in used
        and all(not reading.concepts and reading.unit is None for reading in one.readings[-1:])
        and _runs_like_an_engine(thin(one.column.values))
    ]
    return found[0] if len(found) == 1 else None


def _runs_like_an_engine(values: FloatArray) -> bool:
    values = values[np.isfinite(values)]
    if values.size < 50 or float(values.min()) < 0.0:
        return False
    top, running = float(np.percentile(values, 99.5)), values[values > 300.0]
    if not 2500.0 < top < 12_000.0 or running.size < 0.5 * values.size:
        return False
    climbs = float(np.percentile(running, 2.0)) < 0.6 * top
    smooth = float(np.median(np.abs(np.diff(running)))) < 0.03 * top
    turns = int(np.count_nonzero(np.diff(np.sign(np.diff(running))) != 0))
    return climbs and smooth and turns > 0
