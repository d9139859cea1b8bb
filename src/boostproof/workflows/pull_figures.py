"""What makes the pulls of one recording comparable: the day, the repeats, the air, the inertia."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from boostproof.errors import InputError
from boostproof.findings import Finding

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec
    from boostproof.casefolder import Case
    from boostproof.casefolder.maps import CompressorMap
    from boostproof.keys import Weather
    from boostproof.physics.compressor_table import CompressorTable
    from boostproof.quantity import Quantity
    from boostproof.recording.model import Metric, Pull
    from boostproof.recording.pulls.air_flow import OperatingLine
    from boostproof.recording.pulls.inertia_dyno import InertiaRun
    from boostproof.recording.pulls.scatter import Repeats
    from boostproof.recording.pulls.weather import StandardPull
    from boostproof.recording.setup import RecordingSetup

_RAMPS_ALIKE = 1.25  # pulls of one gear rise alike; from gear to gear the ramp changes by more than this


@dataclass(frozen=True)
class PullFigures:
    """Beside the metrics of one pull; None where the recording and the case do not tell enough.

    Attributes
    ----------
    standard : weather factors, and boost at the standard barometer
    operating_line : where the compressor works (with a case: it needs the displacement)
    inertia : power and torque from the inertia in the case
    """

    standard: StandardPull | None = None
    operating_line: OperatingLine | None = None
    inertia: InertiaRun | None = None

    def air_json(self) -> dict[str, Any] | None:
        """One entry of ``air`` in ``inspect --json``; null where there is nothing."""
        if self.operating_line is None and self.inertia is None:
            return None
        return {
            "operating_line": None if self.operating_line is None else self.operating_line.as_json(),
            "inertia_dyno": None if self.inertia is None else self.inertia.as_json(),
        }


@dataclass(frozen=True)
class Figures:
    """Of one recording: one entry for each pull in their order, what its repeats say (None without), and the map
    that the operating lines were placed on (None without)."""

    pulls: tuple[PullFigures, ...] = ()
    repeats: Repeats | None = None
    findings: tuple[Finding, ...] = ()
    compressor: CompressorTable | None = None

    def as_json(self) -> dict[str, Any]:
        """``weather``, ``repeats`` and ``air`` of ``inspect --json``."""
        return {
            "weather": [None if p.standard is None else p.standard.as_json() for p in self.pulls],
            "repeats": None if self.repeats is None else self.repeats.as_json(),
            "air": [p.air_json() for p in self.pulls],
        }


def figures_of(
    pulls: Sequence[Pull], folder: Case | None = None, setup: RecordingSetup | None = None
) -> Figures:
    """Everything of one recording that makes its pulls comparable.

    Parameters
    ----------
    pulls : of one recording, in order; those at part load get no figures
    folder, setup : the case and what pulls.toml says of the recording, where there is one

    Raises
    ------
    InputError
        If the case points to a map that cannot be read.
    """
    car = None if folder is None else folder.car
    temperature, humidity = told_air(setup, car)
    known = None if folder is None else _maps(folder)
    table = None if known is None else known.table
    each = [_of_pull(pull, car, temperature, humidity, table) if pull.full_load else PullFigures() for pull in pulls]
    findings = [] if known is None else list(known.findings)
    on_map: list[Finding] = []
    for pull, figures in zip(pulls, each, strict=True):
        line = figures.operating_line
        if figures.standard is not None and figures.standard.power:
            findings += figures.standard.findings
        if line is not None and line.on_map is not None:
            on_map += line.on_map.findings(f"{pull.recording.file}, {pull.from_s:.1f} to {pull.to_s:.1f} s")
    findings += _said_once(on_map)
    return Figures(tuple(each), repeats_among(pulls), tuple(findings), table)


def _said_once(findings: Sequence[Finding]) -> list[Finding]:
    """The first of each kind, and how many further pulls show the same."""
    said: dict[str, list[Finding]] = {}
    for finding in findings:
        said.setdefault(finding.kind, []).append(finding)
    once = []
    for first, *others in said.values():
        more = f" So it is in {len(others)} more pull{'s' if len(others) > 1 else ''}." if others else ""
        once.append(replace(first, says=first.says + more))
    return once


def _maps(folder: Case) -> CompressorMap | None:
    """The compressor's map; a turbine's is looked through, so that its mistakes are told."""
    turbo = folder.car.turbo
    if turbo.compressor_map is None and turbo.turbine_map is None:
        return None
    from boostproof.casefolder.maps import read_compressor_map, read_turbine_map

    if turbo.turbine_map is not None:
        read_turbine_map(folder.path, turbo.turbine_map)
    return None if turbo.compressor_map is None else read_compressor_map(folder.path, turbo.compressor_map)


def repeats_among(pulls: Sequence[Pull]) -> Repeats | None:
    """What the repeats among pulls say: full-load pulls that rise alike; None where fewer than two do."""
    from boostproof.recording.pulls.scatter import repeats

    same = alike([pull for pull in pulls if any(metric is not None for metric in pull.metrics.values())])
    if len(same) < 2:
        return None
    try:
        return repeats(same)
    except InputError:  # too little in common, or no boost: nothing to say
        return None


def alike(pulls: Sequence[Pull]) -> list[Pull]:
    """Full-load pulls that rise alike, as in one gear: the most that there are, in order."""
    full = [pull for pull in pulls if pull.full_load]
    groups = [[p for p in full if 1.0 / _RAMPS_ALIKE < _ramp(p) / _ramp(one) < _RAMPS_ALIKE] for one in full]
    return max(groups, key=len, default=[])


def controlled_by(car: CarSpec | None) -> Literal["gauge", "absolute"] | None:
    """What the boost control holds: springs and fixed duties a gauge pressure; a closed loop may hold either."""
    if car is None:
        return None
    mechanical = car.controller.kind in ("none", "ball and spring", "bleed valve")
    return "gauge" if mechanical or car.controller.closed_loop is False else None


def _of_pull(
    pull: Pull,
    car: CarSpec | None,
    temperature: Metric | None,
    humidity: Metric | None,
    table: CompressorTable | None,
) -> PullFigures:
    from boostproof.recording.pulls.weather import air_of, standard_pull

    air = air_of(pull, temperature=temperature, humidity=humidity)
    known = air.temperature is not None or air.pressure_source != "standard atmosphere"
    return PullFigures(
        standard_pull(pull, air, controlled=controlled_by(car)) if known else None,
        None if car is None else _operating_line(pull, car, temperature, table),
        None if car is None else _inertia(pull, car),
    )


def _operating_line(
    pull: Pull, car: CarSpec, temperature: Metric | None, table: CompressorTable | None
) -> OperatingLine | None:
    from boostproof.recording.pulls.air_flow import operating_line

    displacement = _metric(car.engine.displacement)
    assert displacement is not None  # a must of car.toml
    try:
        return operating_line(
            pull, displacement=displacement, count=car.turbo.count or 1, ambient_temperature=temperature,
            table=table,
        )  # fmt: skip
    except InputError:  # no boost in the log, or too little of the pull
        return None


def _inertia(pull: Pull, car: CarSpec) -> InertiaRun | None:
    from boostproof.recording.pulls.inertia_dyno import inertia_dyno

    place = car.pull_place
    if place.equivalent_mass is None and (place.roller_inertia is None or place.roller_diameter is None):
        return None
    try:
        return inertia_dyno(
            pull,
            roller_inertia=_metric(place.roller_inertia),
            roller_diameter=_metric(place.roller_diameter),
            equivalent_mass=_metric(place.equivalent_mass),
        )
    except InputError:  # no road speed in the log
        return None


def told_air(setup: RecordingSetup | None, car: CarSpec | None) -> tuple[Metric | None, Metric | None]:
    """Temperature and humidity as written: of that recording, else of the car's file."""
    places: list[Weather | None] = [None if setup is None else setup.weather, None if car is None else car.weather]
    temperature = next((w.temperature for w in places if w is not None and w.temperature is not None), None)
    humidity = next((w.humidity for w in places if w is not None and w.humidity is not None), None)
    return _metric(temperature), _metric(humidity)


def _metric(quantity: Quantity | None) -> Metric | None:
    from boostproof.recording.model import Metric

    return None if quantity is None else Metric(float(quantity.value), float(quantity.sd))


def _ramp(pull: Pull) -> float:
    return max((pull.rpm_to - pull.rpm_from) / max(pull.to_s - pull.from_s, 1e-9), 1e-9)
