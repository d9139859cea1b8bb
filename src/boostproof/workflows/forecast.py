"""What a car will do after a repair: from a case folder and repairs in words to the forecast."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError
from boostproof.findings import Finding

if TYPE_CHECKING:
    from boostproof.diagnosis.causes import Fitted
    from boostproof.diagnosis.evidence.drive import Driven
    from boostproof.diagnosis.inference.particles import Particles
    from boostproof.repair.carried import ErrorsAt
    from boostproof.repair.forecast import Asked, Forecast, Problem
    from boostproof.repair.limits import Told
    from boostproof.repair.model import Chosen
    from boostproof.repair.money import FirstTest, Rates
    from boostproof.repair.ramp import Ramp
    from boostproof.repair.sizing import Sizing
    from boostproof.workflows.open_case import OpenCase, Progress
    from boostproof.workflows.verdict import Curve

Array = NDArray[np.float64]
_LOGGED = ("lambda", "exhaust_temperature_before_turbine", "injector_duty")


@dataclass(frozen=True)
class RepairForecast:
    """The forecast of a case.

    Attributes
    ----------
    car : its name
    repairs : as asked for
    rates : of the shop
    target : boost wanted [Pa gauge], None where it is not known and a usual one stands for it
    result : numbers of the forecast
    tolerance, confidence : asked for [Pa], [1]
    none_of_these : probability that no known cause fits
    curves : pulls that were driven as found
    findings : of the case and of the forecast
    seed, versions, inputs, seconds : how it was made
    """

    car: str
    repairs: tuple[Chosen, ...]
    rates: Rates
    target: float | None
    result: Forecast = field(repr=False)
    tolerance: float
    confidence: float
    none_of_these: float
    curves: tuple[Curve, ...] = field(repr=False)
    findings: tuple[Finding, ...]
    seed: int
    versions: dict[str, str]
    inputs: dict[str, Any]
    seconds: float

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof forecast --json``."""
        from boostproof.workflows.forecast_answers import as_json

        return as_json(self)


def forecast(
    case: str | Path,
    repairs: Sequence[str],
    *,
    tolerance: str | None = None,
    confidence: float | None = None,
    known: Sequence[str] = (),
    hour: float | None = None,
    parts: Mapping[str, tuple[float, float]] | None = None,
    without_readings: bool = False,
    without: Sequence[str] = (),
    seed: int = 1,
    progress: Progress | None = None,
) -> RepairForecast:
    """Repair the candidates of a case and drive them up to redline.

    Parameters
    ----------
    case : folder
    repairs : done together, such as "port 30 mm", "spring 12 psi", "controller 2 turns out", "line"
    tolerance : by which boost may pass the target, such as "1 psi"; the usual one where None
    confidence : with which a size is to hold the target, 0.5 to 0.999; 0.95 where None
    known : two settings of the controller with the boost they made, such as "2 turns 0.8 bar"
    hour : what the shop takes for an hour
    parts : price range by repair id, in place of the usual one
    without_readings : judge by the recordings and the car alone
    without : recordings, pulls and readings that were made after a repair, as of `diagnose`
    seed : of all random numbers
    progress : called with what is being done and the share done

    Raises
    ------
    InputError
        If the case cannot be read, or a repair, setting or tolerance cannot be.
    """
    from boostproof.workflows.open_case import open_case

    started = time.perf_counter()
    say = progress or (lambda text, share: None)
    asked = asked_of(
        fitted_of(case), repairs, tolerance=tolerance, confidence=confidence, known=known, hour=hour, parts=parts
    )
    opened = open_case(case, without_readings=without_readings, without=without, seed=seed, progress=say)
    say("repairing the candidates", 0.96)
    return forecast_of(opened, problem_of(opened, seed), asked, seed=seed, started=started)


def forecast_of(
    opened: OpenCase,
    problem: Problem,
    asked: Asked,
    *,
    seed: int,
    started: float | None = None,
    sizing: Sizing | None = None,
) -> RepairForecast:
    """The forecast of a case that is open, and of repairs that were read.

    Parameters
    ----------
    opened : the case
    problem : the same, as the forecast takes it (`problem_of`)
    asked : repairs and what is wanted of them
    seed : of all random numbers
    started : moment of `time.perf_counter` from which the seconds count; now where None
    sizing : of these repairs, where it was found already
    """
    from boostproof.repair.forecast import forecast as compute
    from boostproof.workflows.diagnose import curves_of
    from boostproof.workflows.open_case import versions

    started = time.perf_counter() if started is None else started
    result = compute(problem, asked, seed=seed, sizing=sizing)
    prior = opened.posterior.simulator.prior
    findings = (*opened.findings, *_without_target(prior.target), *result.findings)
    return RepairForecast(
        car=opened.folder.car.car.name, repairs=asked.repairs, rates=asked.rates, target=prior.target, result=result,
        tolerance=asked.tolerance, confidence=asked.confidence, none_of_these=opened.posterior.other,
        curves=curves_of(opened.driven), findings=findings, seed=seed, versions=versions(), inputs=opened.inputs,
        seconds=round(time.perf_counter() - started, 3),
    )  # fmt: skip


def problem_of(opened: OpenCase, seed: int) -> Problem:
    """An open case as the forecast takes it."""
    from boostproof.diagnosis.evidence.setup import temperature_of
    from boostproof.diagnosis.inference.particles import particles_from
    from boostproof.diagnosis.reasons.explain import probabilities
    from boostproof.repair.forecast import Problem
    from boostproof.repair.subjects import subjects_from

    posterior, car = opened.posterior, opened.folder.car
    particles = particles_from(posterior, seed=seed)
    ramp = ramp_of(opened)
    return Problem(
        cars=subjects_from(particles, probabilities(posterior)), ramp=ramp, errors_at=_errors_at(opened, ramp),
        controller=car.controller.kind, told=_told(opened, ramp), none_of_these=posterior.other,
        temperature=temperature_of(car, opened.driven[0]), first=_first_test(opened, particles, seed),
    )  # fmt: skip


def ramp_of(opened: OpenCase) -> Ramp:
    """The drive that a forecast is made on: up to redline at the target that the car is to hold."""
    from boostproof.diagnosis.evidence.setup import temperature_of
    from boostproof.physics.system import INPUTS
    from boostproof.repair.ramp import ramp_for

    car, simulator = opened.folder.car, opened.posterior.simulator
    rate = car.pull_place.ramp
    return ramp_for(
        car.engine.redline.value, float(simulator.sound_drive.inputs[0, INPUTS.index("target")]), simulator.ambient,
        temperature_of(car, opened.driven[0]),
        loop=car.controller.kind.startswith("solenoid") and car.controller.closed_loop is not False,
        driven=simulator.drive, rate=None if rate is None else rate.value,
    )  # fmt: skip


def fitted_of(case: str | Path) -> Fitted:
    """What the car has fitted, so that a repair it cannot have is refused before anything is computed."""
    from boostproof.casefolder import read_case
    from boostproof.diagnosis.causes import Fitted

    car = read_case(Path(case), with_readings=False).car
    controller = car.controller
    loop = controller.kind.startswith("solenoid") if controller.closed_loop is None else controller.closed_loop
    dual = car.actuator is not None and car.actuator.chambers == "dual"
    return Fitted(controller.kind, car.wastegate.kind == "external poppet", car.wastegate.count or 1, dual, loop)


def asked_of(
    fitted: Fitted,
    repairs: Sequence[str],
    *,
    tolerance: str | None = None,
    confidence: float | None = None,
    known: Sequence[str] = (),
    hour: float | None = None,
    parts: Mapping[str, tuple[float, float]] | None = None,
) -> Asked:
    """Repairs in words and what is wanted of them, read; parameters and errors as of `forecast`.

    Parameters
    ----------
    fitted : to the car, so that a repair it cannot have is refused
    repairs, tolerance, confidence, known, hour, parts : as of `forecast`
    """
    from boostproof.quantity import parse_quantity
    from boostproof.repair.catalogue import BY_ID
    from boostproof.repair.forecast import CONFIDENCE, TOLERANCE, Asked
    from boostproof.repair.money import Rates
    from boostproof.repair.setting import parse_known
    from boostproof.repair.words import parse_repairs

    chosen = parse_repairs(repairs, fitted)
    within = TOLERANCE
    if tolerance is not None:
        quantity = parse_quantity(tolerance, dimension="pressure", gauge_default="difference", where="--tolerance")
        within = quantity.value
        if not 5.0e2 <= within <= 1.0e5:
            raise InputError(
                f'A tolerance of "{tolerance}" is none to work with.', kind="tolerance", where="--tolerance",
                do="Write how far boost may pass the target, such as 1 psi.",
            )  # fmt: skip
    if known and (len(known) != 2 or fitted.controller not in ("ball and spring", "bleed valve")):
        raise InputError(
            "A setting is laid through two known ones, of a controller with an adjuster.", kind="setting",
            where="--known", do='Give --known twice, such as --known "2 turns 12 psi" --known "4 turns 15 psi".',
        )  # fmt: skip
    unknown = [name for name in parts or {} if name not in BY_ID]
    if unknown:
        raise InputError(
            f'No repair is called "{unknown[0]}".', kind="unknown-repair", where="--parts",
            do=f"Those asked for are {', '.join(c.repair.id for c in chosen)}.",
        )  # fmt: skip
    rates = Rates(Rates.hour if hour is None else hour, parts=dict(parts or {}))
    settings = tuple(parse_known(text) for text in known)
    return Asked(chosen, within, CONFIDENCE if confidence is None else confidence, rates, settings)


def _errors_at(opened: OpenCase, ramp: Ramp) -> ErrorsAt:
    """Joint errors of this case's log and of a pull along the ramp."""
    from boostproof.diagnosis.evidence.drive import by_configuration
    from boostproof.diagnosis.evidence.pulls import errors_to_come
    from boostproof.diagnosis.evidence.telling_pulls import telling

    recordings = [item.recording for item in telling(by_configuration(opened.driven))]
    return errors_to_come("boost", recordings, opened.posterior.simulator.drive, ramp.speeds)


def _told(opened: OpenCase, ramp: Ramp) -> Told:
    from boostproof.diagnosis.choice.pull_risk import stop_for
    from boostproof.repair.limits import Told

    car = opened.folder.car
    limits, sensors = car.limits, car.sensors
    stop = stop_for(None if limits.stop is None else limits.stop.value, ramp.target)
    hottest = limits.exhaust_temperature_before_turbine
    return Told(
        stop=(stop.boost, stop.told),
        sensor_range=None if sensors.manifold_range is None else sensors.manifold_range.value,
        lambda_leanest=limits.lambda_leanest,
        exhaust_limit=None if hottest is None else hottest.value,
        logged=_logged(opened.driven, ramp),
    )


def _logged(driven: Sequence[Driven], ramp: Ramp) -> dict[str, Array]:
    """Channels of the highest pull as found, at the ramp's speeds; NaN where it does not reach."""
    best: tuple[float, Any, Any] | None = None
    for item in driven:
        speed = item.recording.values("engine_speed")
        if not item.configuration.as_found or speed is None:
            continue
        for pull in item.pulls:
            top = float(np.nanmax(speed[pull.start : pull.stop]))
            if best is None or top > best[0]:
                best = (top, item.recording, slice(pull.start, pull.stop))
    if best is None:
        return {}
    _, recording, rows = best
    speed = recording.values("engine_speed")[rows]
    out = {}
    for name in _LOGGED:
        values = recording.values(name)
        if values is None:
            continue
        good = np.isfinite(values[rows]) & np.isfinite(speed)
        if good.sum() > 3:
            order = np.argsort(speed[good], kind="stable")
            out[name] = np.interp(
                ramp.speeds, speed[good][order], values[rows][good][order], left=np.nan, right=np.nan
            )
    return out


def _first_test(opened: OpenCase, particles: Particles, seed: int) -> FirstTest | None:
    """The best test still open, as the verdict would name it."""
    from boostproof.repair.money import FirstTest

    offered = opened.next_tests(particles, seed=seed).offered
    return FirstTest(offered[0].test, offered[0].minutes, offered[0].minutes_saved) if offered else None


def _without_target(target: float | None) -> list[Finding]:
    if target is not None:
        return []
    return [Finding(
        "no-target", "car.toml", "The boost wanted is not known: a usual one stands for it in every chance and size.",
        "Write limits.target.",
    )]  # fmt: skip


def write_figure(found: RepairForecast, file: str | Path, *, units: str = "psi") -> Path:
    """Draw the car as found and after the repair into a .svg, .png or .pdf file.

    Raises
    ------
    InputError
        If the name ends otherwise, or the file cannot be written.
    """
    from boostproof.report.forecast_figure import SIZE, draw_forecast
    from boostproof.report.picture import save_picture

    return save_picture(lambda figure: draw_forecast(found, figure, units=units), file, SIZE)
