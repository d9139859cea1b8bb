"""A pressure column in SI: which unit, gauge or absolute, by its place in the engine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from boostproof.recording.columns.channel_table import BY_NAME, MANIFOLD_SENSOR
from boostproof.recording.columns.pressure_reference import Engine, Judged, Role, judge
from boostproof.recording.model import Channel, Column, FloatArray, Reference
from boostproof.units import Unit, get_unit

_ROLES: dict[str, Role] = {
    MANIFOLD_SENSOR: "manifold",
    "compressor_outlet_pressure": "compressor",
    "turbine_inlet_pressure": "exhaust",
    "turbine_outlet_pressure": "exhaust",
    "line_pressure": "line",
    "upper_line_pressure": "line",
}


@dataclass(frozen=True)
class Taken:
    """A column taken for a channel, before its numbers are judged.

    Attributes
    ----------
    name : our channel name
    unit, said : unit and reference that the file or a person names, None where neither does
    concepts : what the header's words stand for
    sure : certainty of the name
    why : reason for the name
    told : named in pulls.toml
    """

    name: str
    unit: Unit | None
    said: Reference | None
    concepts: frozenset[str]
    sure: float
    why: str
    told: bool


def read_pressure(column: Column, taken: Taken, engine: Engine, channels: Mapping[str, Channel]) -> Channel:
    """Bring a pressure column into Pa.

    Parameters
    ----------
    column : as it stands in the file
    taken : what it was taken for
    engine : what the engine was doing, for judging gauge or absolute
    channels : channels read so far; a target is judged beside the manifold sensor
    """
    name, said = taken.name, taken.said
    if name in ("boost", "manifold_pressure") and taken.told and said is None:
        said = "gauge" if name == "boost" else "abs"
    judged = _judge(column.values, name, taken.unit, said, taken.concepts, engine, channels)
    if taken.told and said is not None and judged.reference != said:
        judged = replace(judged, reference=said, reason=f"taken as {said}, as told")
    values = column.values * judged.unit.factor
    if BY_NAME[name].name == MANIFOLD_SENSOR and name != "boost_check":
        name = "boost" if judged.reference == "gauge" else "manifold_pressure"
    sure = 1.0 if taken.told and said is not None else taken.sure * judged.sure
    return Channel(
        name,
        column.header,
        judged.unit.name,
        judged.reference,
        sure,
        f"{taken.why}; {judged.reason}",
        column.lost_cells,
        values,
        None if column.samples is None else column.samples.scaled(judged.unit.factor),
    )


def _judge(
    values: FloatArray,
    name: str,
    unit: Unit | None,
    said: Reference | None,
    concepts: frozenset[str],
    engine: Engine,
    channels: Mapping[str, Channel],
) -> Judged:
    """Unit and reference of a pressure by its place in the engine."""
    usual: Reference | None = None
    if concepts & {"BOOST", "VACUUM"} and "MAP" not in concepts:
        usual = "gauge"
    elif concepts & {"MAP", "MANIFOLD"} and not concepts & {"EXHAUST"}:
        usual = "abs"
    if name == "barometer":
        return _judge_barometer(values, unit)
    if name in ("fuel_pressure", "oil_pressure"):
        taken = unit or get_unit("kPa" if np.nanmedian(values) > 25.0 else "bar", "pressure")
        return Judged(taken, said or "gauge", 0.9, "gauge, as such pressures are given")
    if name == "boost_target":
        return _judge_target(values, unit, said, usual, engine, channels)
    role = _ROLES.get(BY_NAME[name].name, "other")
    return judge(values, role, engine, unit=unit, said=said, usual=usual)


def _judge_barometer(values: FloatArray, unit: Unit | None) -> Judged:
    middle = float(np.nanmedian(values))
    if unit is not None:
        return Judged(unit, "abs", 1.0, "a barometer is always absolute")
    for name in ("kPa", "mbar", "psi", "inHg", "bar", "mmHg", "Pa"):
        option = get_unit(name, "pressure")
        if 60e3 < middle * option.factor < 108e3:
            return Judged(option, "abs", 0.95, f"no unit given, but {middle:.4g} can only be {name}")
    return Judged(get_unit("kPa", "pressure"), "abs", 0.2, "no unit given, and none fits an air pressure")


def _judge_target(
    values: FloatArray,
    unit: Unit | None,
    said: Reference | None,
    usual: Reference | None,
    engine: Engine,
    channels: Mapping[str, Channel],
) -> Judged:
    """A target is read like the manifold sensor beside it, and has to lie within its reach."""
    manifold = channels.get("boost") or channels.get("manifold_pressure")
    around = 98e3 if engine.barometer is None else engine.barometer
    top = 100e3
    if manifold is not None and np.isfinite(manifold.values).any():
        top = float(np.nanpercentile(manifold.values, 99.0)) - (
            around if manifold.reference == "abs" else 0.0
        )
    level = float(np.nanpercentile(values, 95.0)) if np.isfinite(values).any() else 0.0
    names = [unit] if unit else [get_unit(name, "pressure") for name in ("kPa", "psi", "bar", "mbar")]
    scores: list[tuple[float, Unit, Reference]] = []
    for option in names:
        for reference in ("gauge", "abs"):
            gauge = level * option.factor - (around if reference == "abs" else 0.0)
            score = (
                6.0 * (said == reference) + 1.5 * (usual == reference) - abs(gauge - max(top, 20e3)) / 25e3
            )
            score += 1.0 * (manifold is not None and manifold.reference == reference)
            score += 1.0 * (unit is None and manifold is not None and manifold.unit == option.name)
            score -= 6.0 * (gauge < -5e3)
            scores.append((score, option, reference))
    best = max(scores, key=lambda item: item[0])
    sure = 1.0 / float(sum(np.exp(score - best[0]) for score, _, _ in scores))
    word = "gauge" if best[2] == "gauge" else "absolute"
    reason = f"marked {word}" if said == best[2] else f"{word}, as that lies near the boost that was reached"
    return Judged(best[1], best[2], sure, reason)


