"""A pressure column in SI: which unit, gauge or absolute, by its place in the engine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from boostproof.recording.columns.channel_table import BY_NAME, MANIFOLD_SENSOR
from boostproof.recording.columns.pressure_reference import Engine, Judged, Role, judge
from boostproof.recording.columns.thinned import thin
from boostproof.recording.columns.two_units import pressure_unit, straight, straight_samples
from boostproof.recording.model import Channel, Column, FloatArray, Reference
from boostproof.units import Unit, get_unit

_NO_SCALE = -6.0  # fit below which numbers without a unit are no pressure in any
_AIR = (60e3, 108e3)  # Pa; air pressures at which cars are driven
_ROLES: dict[str, Role] = {
    MANIFOLD_SENSOR: "manifold",
    "compressor_outlet_pressure": "compressor",
    "turbine_inlet_pressure": "exhaust",
    "turbine_outlet_pressure": "downpipe",
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
    judged = _judge(thin(column.values), replace(taken, said=said), engine, channels)
    if taken.told and said is not None and judged.reference != said:
        judged = replace(judged, reference=said, reason=f"taken as {said}, as told")
    values = straight(column.values, judged.unit) * judged.unit.factor
    samples = column.samples
    if samples is not None:
        samples = straight_samples(samples, judged.unit).scaled(judged.unit.factor)
    if BY_NAME[name].name == MANIFOLD_SENSOR and name != "boost_check":
        name = "boost" if judged.reference == "gauge" else "manifold_pressure"
    settled = taken.told and said is not None
    sure = 1.0 if settled else taken.sure * judged.sure
    differs = not taken.told and taken.unit is not None and taken.unit.name != judged.unit.name
    return Channel(
        name,
        column.header,
        judged.unit.name,
        judged.reference,
        sure,
        f"{taken.why}; {judged.reason}",
        column.lost_cells,
        values,
        samples,
        taken.unit.name if differs and taken.unit is not None else "",
        () if settled else judged.others,
        judged.fit > _NO_SCALE or taken.unit is not None or taken.told,
    )


def _judge(
    values: FloatArray, taken: Taken, engine: Engine, channels: Mapping[str, Channel]
) -> Judged:
    """Unit and reference of a pressure by its place in the engine."""
    name, unit, said, concepts = taken.name, taken.unit, taken.said, taken.concepts
    usual: Reference | None = None
    if concepts & {"BOOST", "VACUUM"} and "MAP" not in concepts:
        usual = "gauge"
    elif concepts & {"MAP", "MANIFOLD"} and not concepts & {"EXHAUST"}:
        usual = "abs"
    if name == "barometer":
        return _judge_barometer(values, unit, taken.told)
    if name in ("fuel_pressure", "oil_pressure"):
        found = unit or get_unit("kPa" if np.nanmedian(values) > 25.0 else "bar", "pressure")
        return Judged(found, said or "gauge", 0.9, "gauge, as such pressures are given")
    if name == "boost_target":
        return _judge_target(values, taken, usual, engine, channels)
    role = _ROLES.get(BY_NAME[name].name, "other")
    both = {"BOOST", "VACUUM"} <= concepts
    manifold = None if role == "manifold" else channels.get("boost") or channels.get("manifold_pressure")
    beside = None if manifold is None else pressure_unit(manifold.unit)
    return judge(
        values, role, engine, unit=unit, said=said, usual=usual, told=taken.told, both=both, beside=beside
    )


def _judge_barometer(values: FloatArray, unit: Unit | None, told: bool) -> Judged:
    middle = float(np.nanmedian(values)) if np.isfinite(values).any() else 0.0
    if unit is not None and (told or _AIR[0] < middle * unit.factor < _AIR[1]):
        return Judged(unit, "abs", 1.0, "a barometer is always absolute")
    said = "no unit given" if unit is None else f"the header says {unit.name}"
    for name in ("kPa", "mbar", "psi", "inHg", "bar", "mmHg", "Pa"):
        option = get_unit(name, "pressure")
        if _AIR[0] < middle * option.factor < _AIR[1]:
            return Judged(option, "abs", 0.95, f"{said}, but {middle:.4g} can only be {name}")
    taken = unit or get_unit("kPa", "pressure")
    return Judged(taken, "abs", 0.2, fit=2.0 * _NO_SCALE, reason=f"{said}, and no unit makes {middle:.4g} an air pressure")


def _judge_target(
    values: FloatArray,
    taken: Taken,
    usual: Reference | None,
    engine: Engine,
    channels: Mapping[str, Channel],
) -> Judged:
    """A target is read like the manifold sensor beside it, and has to lie within its reach."""
    unit, said = taken.unit, taken.said
    manifold = channels.get("boost") or channels.get("manifold_pressure")
    if unit is not None and not taken.told and manifold is not None and manifold.said_unit == unit.name:
        unit = pressure_unit(manifold.unit)  # the same wrong unit as at the sensor beside it
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
            score += 3.0 * (manifold is not None and manifold.reference == reference)
            score += 1.0 * (unit is None and manifold is not None and manifold.unit == option.name)
            score -= 6.0 * (gauge < -5e3)
            scores.append((score, option, reference))
    best = max(scores, key=lambda item: item[0])
    sure = 1.0 / float(sum(np.exp(score - best[0]) for score, _, _ in scores))
    word = "gauge" if best[2] == "gauge" else "absolute"
    reason = f"marked {word}" if said == best[2] else f"{word}, as that lies near the boost that was reached"
    return Judged(best[1], best[2], sure, reason)


