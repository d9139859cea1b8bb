"""Plan the full-load pulls of a case: the card, the ladder, the stops, and what stands against them."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from boostproof.findings import Finding
from boostproof.workflows.plan_candidates import candidates, candidates_after_repair
from boostproof.workflows.plan_driven import driven_pulls, since_repair, what_was_driven

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec
    from boostproof.casefolder import Case
    from boostproof.diagnosis.evidence.drive import Driven as Recorded
    from boostproof.pullplan.card import Item, Refusal, StopLine
    from boostproof.pullplan.ladder import Halt
    from boostproof.pullplan.outlook import Driven
    from boostproof.pullplan.rungs import Rung
    from boostproof.pullplan.terms import Terms
    from boostproof.repair.model import Chosen
    from boostproof.workflows.open_case import Progress

_RPM = np.pi / 30.0
_CAUTIONS = ("pull", "cut", "least-first", "mixture", "never-shut", "co", "heat-line")


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
    recorded, opened, findings = what_was_driven(found, without, seed, fresh, say)
    since, noticed = since_repair(folder, found, chosen, neither) if repaired or repairs or after else (None, [])
    findings += noticed
    recorded = [*recorded, *([] if since is None else since.recorded)]
    terms, noticed = terms_of(folder.car, recorded)
    findings += noticed
    say("driving candidate cars up the ladder", 0.9)
    if since is None:
        pulls = driven_pulls(recorded)
        ensemble, more = candidates(folder, terms, recorded, opened, pulls, seed)
    else:
        pulls = [replace(pull, counted=False) for pull in driven_pulls(since.recorded)]
        ensemble, more = candidates_after_repair(folder, terms, recorded, opened, since, seed)
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
    from boostproof.diagnosis.evidence.setup import prior_of
    from boostproof.pullplan.terms import RAMP, Terms

    target, told = prior_of(car, [item.recording for item in recorded]).target, car.limits.stop
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


def _chosen(folder: Case, repairs: Sequence[str]) -> Sequence[Chosen]:
    from boostproof.workflows.forecast import asked_of, fitted_of

    return asked_of(fitted_of(folder.path), repairs).repairs if repairs else ()


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
