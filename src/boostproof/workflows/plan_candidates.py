"""Candidate cars that a plan of pulls drives up its ladder: of the prior, of the diagnosis, and after a repair."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from boostproof.bench.response import Schedule
    from boostproof.car.spec import CarSpec
    from boostproof.casefolder import Case
    from boostproof.diagnosis.evidence.blocks import Block
    from boostproof.diagnosis.evidence.drive import Driven as Recorded
    from boostproof.findings import Finding
    from boostproof.pullplan.ensemble import Ensemble
    from boostproof.pullplan.outlook import Driven
    from boostproof.pullplan.terms import Terms
    from boostproof.workflows.open_case import OpenCase
    from boostproof.workflows.plan_driven import SinceRepair

_COLD = 288.15  # K, where the air of the day is not written: cold air makes more boost


def candidates(
    folder: Case, terms: Terms, recorded: Sequence[Recorded], opened: OpenCase | None, pulls: Sequence[Driven], seed: int
) -> tuple[Ensemble, list[Finding]]:
    """Candidates for the ladder: of the prior before any pull; else of the diagnosis, beside those of the prior as
    far as the car is like none of them."""
    from boostproof.diagnosis.evidence.setup import car_blocks
    from boostproof.pullplan.outlook import refit

    prior, findings = _undriven(folder, folder.readings.reading, terms, recorded, car_blocks(folder.car), seed)
    if opened is None:
        return prior, findings
    anew = refit(prior, [replace(p, counted=False) for p in pulls])
    return _of_diagnosis(opened, terms, _ramp(folder, terms, recorded), seed).joined(anew, _unlike(opened)), []


def candidates_after_repair(
    folder: Case, terms: Terms, recorded: Sequence[Recorded], opened: OpenCase | None, since: SinceRepair, seed: int
) -> tuple[Ensemble, list[Finding]]:
    """Candidates after a repair: those of the diagnosis mended, beside cars of the prior of which nothing is known but
    what was read since; only these where it is not known what was done."""
    from boostproof.diagnosis.inference.particles import particles_from
    from boostproof.diagnosis.reasons.explain import probabilities
    from boostproof.pullplan.ensemble import simulate
    from boostproof.repair.mend import mended
    from boostproof.repair.subjects import subjects_from

    prior, findings = _undriven(folder, since.readings, terms, recorded, (), seed)
    if opened is None or not since.repairs:
        return prior, findings
    kind = folder.car.controller.kind
    cars = subjects_from(particles_from(opened.posterior, seed=seed), probabilities(opened.posterior))
    own = simulate(
        mended(cars, since.repairs, kind, seed=seed), cars.weight, cars.answer,
        [{cause.id: 1.0 for cause in some} for some in cars.answers], terms, _ramp(folder, terms, recorded),
        controller=kind != "none",
    )  # fmt: skip
    return own.joined(prior, _unlike(opened)), findings


def _undriven(
    folder: Case, readings: Sequence[Any], terms: Terms, recorded: Sequence[Recorded], facts: Sequence[Block], seed: int
) -> tuple[Ensemble, list[Finding]]:
    """Cars of the prior that agree with bench readings and with facts that car.toml tells."""
    from boostproof.bench.contradictions import question
    from boostproof.diagnosis.evidence.setup import causes_of, context_of, prior_of, responses_of
    from boostproof.pullplan.before import ensemble_before

    car, gauge = folder.car, folder.readings.gauge
    context = context_of(car, terms.target)
    usable, findings = question(readings, gauge, context)
    ambient, temperature = _air(folder, recorded)
    ensemble = ensemble_before(
        prior_of(car, [item.recording for item in recorded]), causes_of(car), terms, loop=_has_loop(car),
        ambient=ambient, temperature=temperature, facts=facts, responses=responses_of(usable, gauge, context), seed=seed,
    )  # fmt: skip
    return ensemble, list(findings)


def _ramp(folder: Case, terms: Terms, recorded: Sequence[Recorded]) -> Schedule:
    from boostproof.pullplan.ramp import ladder_ramp

    return ladder_ramp(terms, *_air(folder, recorded), loop=_has_loop(folder.car))


def _has_loop(car: CarSpec) -> bool:
    return car.controller.kind.startswith("solenoid") and car.controller.closed_loop is not False


def _unlike(opened: OpenCase) -> float:
    """Weight of the cars of the prior beside those of the diagnosis."""
    return min(max(opened.posterior.other, 0.02), 0.5)


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
