"""Plan the full-load pulls of a case: the card, the ladder, the stops, and what stands against them."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from boostproof.errors import InputError
from boostproof.findings import LEFT_OUT, LEFT_OUT_TRIED, Finding

if TYPE_CHECKING:
    from boostproof.bench.response import Schedule
    from boostproof.car.prior import Prior
    from boostproof.car.spec import CarSpec
    from boostproof.casefolder import Case
    from boostproof.casefolder.left_out import LeftOut
    from boostproof.diagnosis.evidence.drive import Driven as Recorded
    from boostproof.pullplan.card import Item, Refusal, StopLine
    from boostproof.pullplan.ensemble import Ensemble
    from boostproof.pullplan.ladder import Halt
    from boostproof.pullplan.outlook import Driven
    from boostproof.pullplan.rungs import Rung
    from boostproof.pullplan.terms import Terms
    from boostproof.repair.model import Chosen
    from boostproof.workflows.open_case import OpenCase, Progress

_RPM = np.pi / 30.0
_BIN = 200.0 * _RPM
_CAUTIONS = ("pull", "cut", "least-first", "mixture", "never-shut", "co", "heat-line")
_UNDRIVEN = ("no-recording", "no-pull")
_COLD = 288.15  # K, where the air of the day is not written: cold air makes more boost


@dataclass(frozen=True)
class Plan:
    """The pulls of a case from here on.

    Attributes
    ----------
    car : its name
    controller : kind of its controller
    cautions : sentences, first of all
    card : points of the go/no-go card
    refusals : what stands against pulls
    own_gauge : boost must be read on a gauge that is not the car's sensor
    sensor_doubt : chance that the car's sensor reads wrong
    terms : limit, driver, ramp
    gear : of the pulls, None where not written
    stop_lines : where a pull is stopped at once
    rungs : the next pull, and those foreseen after it
    halt : what ends the ladder; None where it goes on beyond what is foreseen
    driven : pulls that the plan rests on
    findings : doubtful data
    log : channels worth logging
    seed, seconds, inputs : of the computation
    """

    car: str
    controller: str
    cautions: tuple[str, ...]
    card: tuple[Item, ...]
    refusals: tuple[Refusal, ...]
    own_gauge: bool
    sensor_doubt: float
    terms: Terms
    gear: int | None
    stop_lines: tuple[StopLine, ...]
    rungs: tuple[Rung, ...]
    halt: Halt | None
    driven: tuple[Driven, ...]
    findings: tuple[Finding, ...]
    log: tuple[str, ...]
    seed: int = 1
    seconds: float = 0.0
    inputs: dict[str, Any] = field(default_factory=dict)

    @property
    def repaired(self) -> bool:
        """Whether it is of the car after a repair."""
        return bool(self.inputs.get("repaired"))

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof plan --json``."""
        from boostproof.workflows.plan_answers import plan_answer

        return plan_answer(self)


def plan(
    case: str | Path,
    *,
    closed_road: bool = False,
    mixture: bool = False,
    repaired: bool = False,
    repairs: Sequence[str] = (),
    after: Sequence[str] = (),
    neither: Sequence[str] = (),
    seed: int = 1,
    fresh: bool = False,
    progress: Progress | None = None,
) -> Plan:
    """Plan the pulls of a case folder.

    Without a pull in it the plan rests on what is known of the car and on bench readings; each pull that is put into
    the case narrows the next one. A repair makes another car of it: the ladder begins low again, and what was measured
    before counts only as far as the forecast of that repair rests on it.

    Parameters
    ----------
    case : folder with car.toml, and what there is of readings and recordings
    closed_road : pulls on a road: it is closed, and a second person reads
    mixture : a mixture reading is in sight although no recording holds it
    repaired : a repair was done, even where nothing of the next two is known
    repairs : that were done, as `boostproof.workflows.forecast.forecast` takes them
    after : recordings, pulls as ``log.csv#3-5`` and readings as ``seat-leak#2`` that were made after the repair
    neither : pulls of which nobody knows whether they were: they count on neither side
    seed : of all that is drawn
    fresh : compute again even where the diagnosis of the same inputs is kept
    progress : called with what is being done and the share done

    Raises
    ------
    InputError
        If the case, or a repair, cannot be read.
    """
    from boostproof.bench.procedures import caution
    from boostproof.casefolder import read_case
    from boostproof.pullplan.card import Around, card, log_list, own_gauge, refusals, stop_lines
    from boostproof.pullplan.ensemble import SENSOR
    from boostproof.pullplan.ladder import foresee
    from boostproof.pullplan.outlook import refit
    from boostproof.pullplan.terms import FOUND, LEAST

    started = time.perf_counter()
    say = progress or (lambda text, share: None)
    say("reading the case", 0.0)
    folder = read_case(Path(case))
    chosen = _chosen(folder, repairs)
    without = [*after, *neither]
    found = read_case(Path(case), without=without) if without else folder
    recorded, opened, findings = _what_was_driven(found, without, seed, fresh, say)
    since, noticed = _since_repair(folder, found, chosen, neither) if repaired or repairs or after else (None, [])
    findings += noticed
    recorded = [*recorded, *([] if since is None else since.recorded)]
    terms, noticed = terms_of(folder.car, recorded)
    findings += noticed
    say("driving candidate cars up the ladder", 0.9)
    if since is None:
        pulls = _driven(recorded)
        ensemble, more = _ensemble(folder, terms, recorded, opened, pulls, seed)
    else:
        pulls = [replace(pull, counted=False) for pull in _driven(since.recorded)]
        ensemble, more = _repaired_ensemble(folder, terms, recorded, opened, since, seed)
    findings += more + _passed(pulls, terms)
    place = folder.car.pull_place
    kind = place.kind
    logged = {name for item in recorded for name in item.recording.channels}
    around = Around(
        kind, closed_road, mixture or bool({"lambda", "air_fuel_ratio"} & logged),
        "exhaust_temperature_before_turbine" in logged, "exhaust_temperature_after_turbine" in logged,
        refit(ensemble, pulls).chances().get(SENSOR, 0.0),
    )  # fmt: skip
    against = refusals(around, ensemble.set_ups)
    rungs, halt = foresee(ensemble, pulls, terms)
    if any(r.every for r in against):
        rungs = []
    elif against:
        cut = next((k for k, r in enumerate(rungs) if r.set_up == FOUND and LEAST in ensemble.set_ups), len(rungs))
        rungs = rungs[:cut]
    limits = folder.car.limits
    hottest = limits.exhaust_temperature_before_turbine, limits.exhaust_temperature_after_turbine
    keys = (*_CAUTIONS, *(("road",) if kind in (None, "road") else ()))
    return Plan(
        car=folder.car.car.name,
        controller=folder.car.controller.kind,
        cautions=tuple(caution(key).says for key in keys),
        card=card(kind),
        refusals=against,
        own_gauge=own_gauge(around),
        sensor_doubt=around.sensor_doubt,
        terms=terms,
        gear=place.gear,
        stop_lines=stop_lines(
            around, terms.hard, terms.told, limits.lambda_leanest,
            *(None if hot is None else hot.value for hot in hottest),
        ),
        rungs=tuple(rungs),
        halt=halt,
        driven=tuple(pulls),
        findings=tuple(findings),
        log=log_list(folder.car.controller.kind, bool(place.second_pressure_sensor)),
        seed=seed,
        seconds=round(time.perf_counter() - started, 3),
        inputs={
            "case": folder.content_hash, "closed_road": closed_road, "mixture": mixture, "repaired": since is not None,
            "repairs": list(repairs), "after": list(after),
            **({"neither": list(neither)} if neither else {}),
        },
    )  # fmt: skip


def terms_of(car: CarSpec, recorded: Sequence[Recorded] = ()) -> tuple[Terms, list[Finding]]:
    """Limit, target, driver and ramp of a car, and what of them had to be supposed."""
    from boostproof.car.prior import STANDARD_TARGET
    from boostproof.diagnosis.choice.pull_risk import stop_for
    from boostproof.pullplan.terms import RAMP, Terms

    target, told = _prior(car, recorded).target, car.limits.stop
    wanted = STANDARD_TARGET if target is None else target
    stop = stop_for(None if told is None else told.value, wanted)
    findings = []
    if target is None:
        findings.append(
            Finding(
                "no-target", "car.toml", "The boost wanted is not known, and a usual one was taken.",
                "Write limits.target before the first pull.",
            )
        )  # fmt: skip
    if not stop.told:
        findings.append(
            Finding(
                "no-stop-boost", "car.toml", "No stop boost is written: a fifth above the boost wanted was taken, "
                "at least 20 kPa.", "Write limits.stop: what engine, fuel and sensor bear.",
            )
        )  # fmt: skip
    place = car.pull_place
    rate = RAMP[place.kind or "inertia dyno"] * _RPM if place.ramp is None else float(place.ramp.value)
    return Terms(stop.boost, stop.told, wanted, car.engine.redline.value, rate), findings


def _prior(car: CarSpec, recorded: Sequence[Recorded]) -> Prior:
    """Sound cars of this kind, by the target that the recordings hold where car.toml leaves it to them."""
    from boostproof.car.prior import build_prior
    from boostproof.diagnosis.evidence.drive import logged_target

    return build_prior(car, next((t for item in recorded if (t := logged_target(item.recording)) is not None), None))


@dataclass(frozen=True)
class _Since:
    """What is known of a car since its repair: what was done, recordings and readings."""

    repairs: Sequence[Chosen]
    recorded: Sequence[Recorded]
    readings: Sequence[Any]


def _chosen(folder: Case, repairs: Sequence[str]) -> Sequence[Chosen]:
    from boostproof.workflows.forecast import asked_of, fitted_of

    return asked_of(fitted_of(folder.path), repairs).repairs if repairs else ()


def _since_repair(
    folder: Case, found: Case, repairs: Sequence[Chosen], neither: Sequence[str]
) -> tuple[_Since, list[Finding]]:
    """What the case holds of the repaired car.

    Parameters
    ----------
    folder, found : the whole case, and without what was made after the repair
    repairs : that were done
    neither : names of pulls that count on neither side
    """
    from boostproof.casefolder.left_out import left_out_of, reading_names
    from boostproof.workflows.driven import read_driven

    says = "The plan is of the car after the repair: it begins low again, and what was measured before counts only through "
    findings = [
        Finding("after-repair", "recordings", f"{says}the forecast of the repair.", "")
        if repairs
        else Finding("after-repair", "recordings", f"{says}a forecast; no repair is named, so that there is none.",
                     "Say which repair was done.")
    ]  # fmt: skip
    names = reading_names([reading.test for reading in folder.readings.reading])
    kept = zip(names, folder.readings.reading, strict=True)
    readings = [reading for name, reading in kept if name in found.left_out.readings]
    there = [path.relative_to(folder.path).as_posix() for path in folder.recordings]
    later = _only_after(folder, replace(found.left_out, between=left_out_of(neither, there, ()).pulls))
    recorded: Sequence[Recorded] = ()
    if later.recordings:
        try:
            recorded, noticed = read_driven(later)
            findings += [f for f in noticed if f.kind != LEFT_OUT]
        except InputError as error:
            if error.kind not in _UNDRIVEN:
                raise
            findings.append(Finding(error.kind, error.where, error.says, error.do))
    return _Since(repairs, recorded, readings), findings


def _only_after(folder: Case, left_out: LeftOut) -> Case:
    """A case with nothing but the recordings and pulls that were left out of it because they are of after the repair."""
    from boostproof.recording.pull_numbers import ALL
    from boostproof.recording.setup import RecordingSetup

    since = left_out.since
    paths = {path: path.relative_to(folder.path).as_posix() for path in folder.recordings}
    setups = {item.file: item for item in folder.pulls.recording}
    rest = {
        file: replace(setups.get(file) or RecordingSetup(file=file), after_repair=ALL - since.pulls_of(file))
        for file in paths.values()
    }
    return replace(
        folder, recordings=tuple(path for path, file in paths.items() if since.pulls_of(file)), findings=(),
        pulls=replace(folder.pulls, recording=tuple(rest.values())),
    )  # fmt: skip


def _what_was_driven(
    folder: Case, after: Sequence[str], seed: int, fresh: bool, say: Progress
) -> tuple[Sequence[Recorded], OpenCase | None, list[Finding]]:
    """Recordings with the diagnosis of the case; nothing where no pull was driven yet."""
    from boostproof.workflows.open_case import open_case

    if not folder.recordings:
        return (), None, list(folder.findings)
    try:
        opened = open_case(folder.path, without=after, seed=seed, fresh=fresh, progress=say)
    except InputError as error:
        if error.kind not in _UNDRIVEN:
            raise
        return (), None, [*folder.findings, Finding(error.kind, error.where, error.says, error.do)]
    return opened.driven, opened, [f for f in opened.findings if f.kind not in (LEFT_OUT, LEFT_OUT_TRIED)]


def _ensemble(
    folder: Case, terms: Terms, recorded: Sequence[Recorded], opened: OpenCase | None, pulls: Sequence[Driven], seed: int
) -> tuple[Ensemble, list[Finding]]:
    """Candidates for the ladder: of the prior before any pull; else of the diagnosis, beside those of the prior as
    far as the car is like none of them."""
    from boostproof.bench.contradictions import question
    from boostproof.diagnosis.evidence.setup import car_blocks, causes_of, context_of, responses_of
    from boostproof.pullplan.before import ensemble_before
    from boostproof.pullplan.outlook import refit
    from boostproof.pullplan.ramp import ladder_ramp

    car, readings = folder.car, folder.readings
    loop = car.controller.kind.startswith("solenoid") and car.controller.closed_loop is not False
    context = context_of(car, terms.target)
    usable, findings = question(readings.reading, readings.gauge, context)
    ambient, temperature = _air(folder, recorded)
    prior = ensemble_before(
        _prior(car, recorded), causes_of(car), terms, loop=loop, ambient=ambient, temperature=temperature,
        facts=car_blocks(car), responses=responses_of(usable, readings.gauge, context), seed=seed,
    )  # fmt: skip
    if opened is None:
        return prior, list(findings)
    schedule = ladder_ramp(terms, ambient, temperature, loop=loop)
    own = _of_diagnosis(opened, terms, schedule, seed)
    anew = refit(prior, [replace(p, counted=False) for p in pulls])
    return own.joined(anew, min(max(opened.posterior.other, 0.02), 0.5)), []


def _repaired_ensemble(
    folder: Case, terms: Terms, recorded: Sequence[Recorded], opened: OpenCase | None, since: _Since, seed: int
) -> tuple[Ensemble, list[Finding]]:
    """Candidates after a repair: those of the diagnosis mended, beside cars of the prior of which nothing is known but
    what was read since; only these where it is not known what was done."""
    from boostproof.bench.contradictions import question
    from boostproof.diagnosis.evidence.setup import causes_of, context_of, responses_of
    from boostproof.diagnosis.inference.particles import particles_from
    from boostproof.diagnosis.reasons.explain import probabilities
    from boostproof.pullplan.before import ensemble_before
    from boostproof.pullplan.ensemble import simulate
    from boostproof.pullplan.ramp import ladder_ramp
    from boostproof.repair.mend import mended
    from boostproof.repair.subjects import subjects_from

    car, gauge = folder.car, folder.readings.gauge
    loop = car.controller.kind.startswith("solenoid") and car.controller.closed_loop is not False
    context = context_of(car, terms.target)
    usable, findings = question(since.readings, gauge, context)
    ambient, temperature = _air(folder, recorded)
    prior = ensemble_before(
        _prior(car, recorded), causes_of(car), terms, loop=loop, ambient=ambient, temperature=temperature,
        responses=responses_of(usable, gauge, context), seed=seed,
    )  # fmt: skip
    if opened is None or not since.repairs:
        return prior, list(findings)
    posterior = opened.posterior
    cars = subjects_from(particles_from(posterior, seed=seed), probabilities(posterior))
    own = simulate(
        mended(cars, since.repairs, car.controller.kind, seed=seed), cars.weight, cars.answer,
        [{cause.id: 1.0 for cause in some} for some in cars.answers], terms,
        ladder_ramp(terms, ambient, temperature, loop=loop), controller=car.controller.kind != "none",
    )  # fmt: skip
    return own.joined(prior, min(max(posterior.other, 0.02), 0.5)), list(findings)


def _air(folder: Case, recorded: Sequence[Recorded]) -> tuple[float, float]:
    """Pressure and temperature of the air around, as the pulls were driven, else as written. [Pa abs], [K]"""
    from boostproof.diagnosis.evidence.setup import temperature_of

    if recorded:
        return recorded[-1].recording.barometer.value, temperature_of(folder.car, recorded[-1])
    weather = folder.car.weather
    ambient = 101325.0 if weather.barometer is None else weather.barometer.value
    warm = _COLD if weather.temperature is None else weather.temperature.value
    return ambient, warm


def _of_diagnosis(opened: OpenCase, terms: Terms, schedule: Schedule, seed: int) -> Ensemble:
    from boostproof.diagnosis.inference.particles import particles_from
    from boostproof.pullplan.ensemble import simulate

    posterior = opened.posterior
    particles = particles_from(posterior, seed=seed)
    involved = posterior.cause_probability
    shares = []
    for h in particles.hypotheses:
        of: dict[str, float] = {}
        for part in h.parts:
            p = [max(involved.get(c.id, 0.0), 1e-9) for c in part.causes]
            of |= {c.id: x / sum(p) for c, x in zip(part.causes, p, strict=True)}
        shares.append(of)
    return simulate(
        particles.candidates.par, particles.weight, particles.hypothesis, shares, terms, schedule,
        controller=opened.folder.car.controller.kind != "none",
    )  # fmt: skip


def _driven(recorded: Sequence[Recorded]) -> list[Driven]:
    """Pulls of the case in a set-up of the ladder, which the diagnosis has counted already."""
    from boostproof.bench.set_ups import CONTROLLER_BYPASSED
    from boostproof.pullplan.outlook import Driven
    from boostproof.pullplan.terms import FOUND, LEAST

    out = []
    for item in recorded:
        as_least = item.configuration.changes[: len(CONTROLLER_BYPASSED)] == CONTROLLER_BYPASSED
        held = len(item.configuration.changes) > len(CONTROLLER_BYPASSED) + 1
        if not item.configuration.as_found and (not as_least or held):
            continue
        values = item.recording.values("engine_speed")
        assert values is not None  # pulls are found by it
        for pull in item.pulls:
            rows = slice(pull.start, pull.stop)
            speed, boost = _bins(np.asarray(values)[rows], np.asarray(item.recording.boost_gauge())[rows])
            if len(speed) > 1:
                set_up = FOUND if item.configuration.as_found else LEAST
                ceiling = float(np.nanmax(np.asarray(values)[rows]))
                out.append(Driven(set_up, speed, boost, ceiling, independent=False, counted=True))
    return out


def _bins(speed: Any, boost: Any) -> tuple[Any, Any]:
    """Means over bins of engine speed."""
    good = np.isfinite(speed) & np.isfinite(boost)
    speed, boost = speed[good], boost[good]
    if len(speed) < 4:
        return np.empty(0), np.empty(0)
    which = np.floor(speed / _BIN).astype(int)
    parts = [which == w for w in np.unique(which)]
    parts = [p for p in parts if np.count_nonzero(p) >= 2]
    return np.array([speed[p].mean() for p in parts]), np.array([boost[p].mean() for p in parts])


def _passed(pulls: Sequence[Driven], terms: Terms) -> list[Finding]:
    over = [p for p in pulls if p.boost.max() > terms.hard]
    if not over:
        return []
    return [
        Finding(
            "limit-passed", "recordings", "In a pull that was driven boost was above the limit that the plan keeps.",
            "Look at the engine before it is driven again, and mend what lets boost run away.",
        )
    ]  # fmt: skip
