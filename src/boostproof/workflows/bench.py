"""What the bench readings of a case mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError
from boostproof.findings import Finding

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from boostproof.bench.meaning import CarFacts, Meaning
    from boostproof.car.spec import CarSpec
    from boostproof.casefolder import Case
    from boostproof.quantity import Quantity

    Array: TypeAlias = NDArray[np.float64]

_CARS = 8000  # drawn; of these the ones count that can hold the target
_ENOUGH = 400
# bench opening through a sound controller above the boost that the car then holds: 15-40 kPa as a rule, since the
# exhaust helps to push the gate open; with room on both sides [Pa]
_ABOVE_TARGET = (-5e3, 60e3)


@dataclass(frozen=True)
class SweepCurve:
    """One sweep as it was read, for drawing; None where it was not seen. [Pa gauge], travel [m]"""

    name: str
    first: float
    full: float
    travel: float
    home: float | None
    direct: bool
    doubt: float  # two standard deviations of one of its pressures [Pa]


@dataclass(frozen=True)
class SweepBand:
    """Pressure over travel of sound actuators of this kind: ends of nine in ten. [m], [Pa gauge]"""

    travel: Array = field(repr=False)
    low: Array = field(repr=False)
    high: Array = field(repr=False)


@dataclass(frozen=True)
class Bench:
    """The figures behind a case's readings.

    Attributes
    ----------
    car : its name
    meanings : by part of the car
    findings : doubtful readings
    sweeps, band : what the figure draws
    seed : of the draws
    """

    car: str
    meanings: tuple[Meaning, ...]
    findings: tuple[Finding, ...]
    sweeps: tuple[SweepCurve, ...]
    band: SweepBand
    seed: int = 1

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof bench --json``."""
        return {
            "format": 1,
            "seed": self.seed,
            "car": self.car,
            "meanings": [_entry(m) for m in self.meanings],
            "findings": [f.as_dict() for f in self.findings],
            "written": [],
        }


def bench(case: str | Path, *, without: Sequence[str] = (), seed: int = 1) -> Bench:
    """Read the bench readings of a case as figures of the car.

    Parameters
    ----------
    case : folder with car.toml and readings.toml
    without : readings taken after a repair, as ``seat-leak#2``
    seed : of the draws of errors; the same seed gives the same answer

    Raises
    ------
    InputError
        If the case cannot be read or holds no reading.
    """
    from boostproof.casefolder import read_case

    return bench_of(read_case(Path(case), without=without), seed=seed)


def bench_of(folder: Case, *, seed: int = 1) -> Bench:
    """As `bench`, of a case that was read already.

    Raises
    ------
    InputError
        If it holds no reading.
    """
    from boostproof.bench.meaning import read_meanings

    readings = folder.readings.reading
    if not readings:
        raise InputError(
            "The case holds no bench readings.",
            kind="no-readings", where=str(folder.path / "readings.toml"),
            do="Write a [[reading]] for each test that was done; docs/formats.md lists them.",
        )  # fmt: skip
    facts = facts_of(folder.car, seed)
    kept, doubted = _questioned(folder)
    meanings, questioned = read_meanings(kept, folder.readings.gauge, facts, seed=seed)
    findings = (*folder.findings, *doubted, *questioned)
    if not meanings:
        says = "None of these readings gives a figure; they are words and looks."
        findings += (Finding("no-figures", "readings.toml", says),)
    sweeps = _sweeps(readings, folder.readings.gauge)
    return Bench(folder.car.car.name, meanings, _without_repeats(findings), sweeps, _band(facts), seed)


def facts_of(car: CarSpec, seed: int = 1) -> CarFacts:
    """What is known of a car, as its meanings need it; sizes as found are no measure of what should be."""
    from boostproof.bench.meaning.facts import CarFacts
    from boostproof.car.prior import build_prior
    from boostproof.car.spec import is_found

    prior = build_prior(car)
    z = np.random.default_rng(seed).standard_normal((prior.size, _CARS))

    def meant(part: Any, key: str) -> Quantity | None:
        value = None if part is None else getattr(part, key)
        return value if value is not None and not isinstance(value, str) and not is_found(part, key) else None

    def size(part: Any, key: str) -> Quantity | None:
        value = None if part is None else getattr(part, key)
        return None if isinstance(value, str) else value

    return CarFacts(
        controller=car.controller.kind,
        external=car.wastegate.kind == "external poppet",
        redline=car.engine.redline.value,
        target=prior.target,
        sound=_able(prior.sound(z), car, prior.target),
        opening=meant(car.actuator, "opening_pressure"),
        full_pressure=meant(car.actuator, "full_travel_pressure"),
        through=meant(car.controller, "opening_pressure"),
        travel=meant(car.wastegate, "full_travel"),
        diaphragm=size(car.actuator, "diaphragm"),
        lever=size(car.wastegate, "lever_radius"),
        flapper=size(car.wastegate, "flapper_radius"),
        bleed_hole=meant(car.controller, "bleed_hole"),
        gates=car.wastegate.count or 1,
        barometer=size(car.weather, "barometer"),
        sensor_range=size(car.sensors, "manifold_range"),
    )


def _able(par: Array, car: CarSpec, target: float | None) -> Array:
    """Of drawn cars those that hold their target, where neither a loop nor a spec settles that; all if hardly any."""
    from boostproof.physics import rigs

    told = car.controller.opening_pressure is not None or car.controller.kind.startswith("solenoid")
    if target is None or told:
        return par
    above = rigs.supply_for(par, rigs.first_movement(par)) - target
    kept = par[:, (above > _ABOVE_TARGET[0]) & (above < _ABOVE_TARGET[1])]
    return kept if kept.shape[1] >= _ENOUGH else par


def write_figure(result: Bench, file: str | Path, *, units: str = "psi") -> Path:
    """Draw the sweeps into an SVG, PNG or PDF file.

    Raises
    ------
    InputError
        If the name ends in none of these, the file cannot be written, or no sweep holds first movement, full travel
        and travel.
    """
    from boostproof.report.bench_figure import SIZE, draw_sweeps
    from boostproof.report.picture import save_picture

    def draw(figure: Figure) -> None:
        if not result.sweeps:
            raise InputError(
                "No sweep holds first movement, full travel and travel, so there is nothing to draw.",
                kind="no-sweep", where="readings.toml", do="Read all three in an actuator-sweep.",
            )  # fmt: skip
        draw_sweeps(result, figure, units=units)

    return save_picture(draw, file, SIZE)


def _entry(m: Meaning) -> dict[str, Any]:
    from boostproof.bench.meaning import KINDS

    unit, factor = KINDS[m.kind]

    def shown(value: float | None) -> float | None:
        return None if value is None else float(value * factor)

    healthy = None
    if m.healthy is not None:
        healthy = {"low": shown(m.healthy.low), "high": shown(m.healthy.high), "why": m.healthy.why}
    return {
        "id": m.id,
        "group": m.group,
        "name": m.name,
        "value": shown(m.value),
        "sd": shown(m.sd),
        "unit": unit,
        "low": shown(m.low),
        "high": shown(m.high),
        "limit": m.limit or None,
        "healthy": healthy,
        "verdict": m.verdict,
        "says": m.says,
        "readings": list(m.readings),
        "correlated": dict(m.correlated),
    }


def _questioned(folder: Case) -> tuple[Sequence[Any], list[Finding]]:
    """Readings without what cannot have been so, and what was left out or disagrees."""
    from boostproof.bench.contradictions import question
    from boostproof.car.prior import STANDARD_TARGET, target_of
    from boostproof.diagnosis.evidence.setup import context_of

    target = target_of(folder.car)
    context = context_of(folder.car, STANDARD_TARGET if target is None else target)
    return question(folder.readings.reading, folder.readings.gauge, context)


def _without_repeats(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    return tuple(dict.fromkeys(findings))


def _sweeps(readings: Sequence[Any], gauge: Any) -> tuple[SweepCurve, ...]:
    from boostproof.bench.meaning.session import Instrument
    from boostproof.bench.meaning.springs import FULL
    from boostproof.bench.tests.model import number

    out = []
    for reading in readings:
        test = reading.of if reading.test == "hot-repeat" else reading.test
        if test not in ("actuator-sweep", "controller-sweep", "line-sweep") or reading.not_done is not None:
            continue
        first, full, travel = (number(getattr(reading, k)) for k in ("first_movement", "full_travel", "travel"))
        if first is None or full is None or travel is None or full < first or travel < 1e-3:
            continue
        where = {"actuator-sweep": "straight on the actuator", "controller-sweep": "through the controller"}
        name = where.get(test, "through the line")
        if reading.test == "hot-repeat" or reading.state == "hot":
            name += ", hot"
        if isinstance(reading.turns_in, (int, float)):
            name += f", {reading.turns_in:g} turns in"
        hand = Instrument.of(reading.gauge or gauge)
        doubt = 2.0 * float(np.hypot(hand.noise(FULL), hand.zero))
        home = number(reading.last_return)
        out.append(SweepCurve(name, first, full, travel, home, test == "actuator-sweep", doubt))
    return tuple(out)


def _band(facts: CarFacts) -> SweepBand:
    from boostproof.physics import rigs

    par = facts.sound
    travel = np.linspace(0.0, float(np.median(rigs.full_travel(par))), 30)
    start = rigs.row(par, "opening_pressure") + rigs.row(par, "friction")
    pressure = start + travel[:, None] * rigs.row(par, "spring_rate")
    low, high = np.percentile(pressure, [5.0, 95.0], axis=1)
    return SweepBand(travel, low, high)
