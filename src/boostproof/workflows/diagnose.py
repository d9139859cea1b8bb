"""Diagnose a case folder: from its files to the ranked causes and the next test."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from boostproof.findings import Finding
from boostproof.workflows.first_look import FirstRanking, first_ranking
from boostproof.workflows.open_case import OpenCase, open_case, versions
from boostproof.workflows.verdict import (
    Band,
    Curve,
    Fit,
    NextTest,
    Verdict,
)

if TYPE_CHECKING:
    from boostproof.casefolder import Case
    from boostproof.diagnosis.choice.next_test import Choice
    from boostproof.diagnosis.evidence.drive import Driven
    from boostproof.diagnosis.inference.audit import Audit
    from boostproof.diagnosis.inference.particles import Particles
    from boostproof.diagnosis.inference.posterior import Posterior

Progress = Callable[[str, float], None]


def diagnose(
    case: str | Path,
    *,
    without_readings: bool = False,
    without_history: bool = False,
    without: Sequence[str] = (),
    seed: int = 1,
    healthy_prior: float | None = None,
    fresh: bool = False,
    progress: Progress | None = None,
    first_look: Callable[[FirstRanking], None] | None = None,
) -> Verdict:
    """Rank the causes for a case folder and value the tests still open.

    Parameters
    ----------
    case : folder with car.toml, recordings and perhaps readings.toml and pulls.toml
    without_readings : judge by the recordings and the car alone
    without_history : leave out what was said of the car
    without : recordings, pulls as ``log.csv#3-5`` and readings as ``seat-leak#2`` that were made after a repair: they
        say nothing of the car as found
    seed : of all random numbers; the same seed gives the same answer
    healthy_prior : chance that nothing is wrong, before the evidence; None for the usual one
    fresh : compute again even where the result of the same inputs is kept
    progress : called with what is being done and the share done (0 to 1)
    first_look : called with a provisional ranking as soon as the highest pull is fitted, and again when all pulls are;
        not called where a result is kept

    Returns
    -------
    Verdict

    Raises
    ------
    InputError
        If the case cannot be read, or no recording holds a full-load pull.
    """
    started = time.perf_counter()
    say = progress or (lambda text, share: None)
    opened = open_case(
        case, without_readings=without_readings, without_history=without_history, without=without, seed=seed,
        healthy_prior=healthy_prior, fresh=fresh, progress=say,
        first_look=None if first_look is None else lambda look: first_look(first_ranking(look)),
    )  # fmt: skip
    say("choosing the next test", 0.96)
    return replace(_verdict(opened, seed, started), inputs=opened.inputs)


def _verdict(opened: OpenCase, seed: int, started: float) -> Verdict:
    from boostproof.bench.tests import BY_ID
    from boostproof.diagnosis.choice.next_test import known_from
    from boostproof.diagnosis.evidence.simulator import car_kernel
    from boostproof.diagnosis.inference.audit import ALLOWED, audit
    from boostproof.diagnosis.inference.particles import particles_from
    from boostproof.diagnosis.reasons.explain import involved
    from boostproof.diagnosis.reasons.shares import split
    from boostproof.workflows.explained import alike, ranked_causes, supposed_otherwise, would_change
    from boostproof.workflows.unknowns import unknowns

    folder, driven, posterior = opened.folder, opened.driven, opened.posterior
    findings = list(opened.findings)
    particles = particles_from(posterior, seed=seed)
    choice = opened.next_tests(particles, seed=seed)
    findings += _not_offered(choice)
    taken_apart = split(posterior)
    note = car_kernel().engine_note
    if note:
        findings.append(Finding("slow-engine", "this machine", note))
    checked = audit(particles, posterior.simulator.drive)
    if not checked.passed:
        findings.append(
            Finding(
                "steps-too-coarse",
                "the computation",
                f"{100 * checked.weight:.0f} % of the candidate cars change by more than {ALLOWED / 1e3:g} kPa "
                "when computed in finer steps: they stand on an edge, such as between spooling and not, or their "
                "boost loop swings. Read the probabilities as rough.",
            )
        )
    return Verdict(
        car=folder.car.car.name,
        target=posterior.simulator.prior.target,
        causes=ranked_causes(posterior, taken_apart, opened.responses(), opened.history),
        healthy=posterior.healthy,
        none_of_these=posterior.other,
        involved=involved(posterior),
        look_alikes=alike(posterior, choice),
        next_tests=tuple(
            NextTest(
                v.test,
                v.title,
                v.minutes,
                v.minutes_saved,
                v.information_bits,
                v.cost,
                v.expected,
                v.cautions,
                BY_ID[v.test].steps,
                v.risk,
                v.confirms,
            )
            for v in choice.offered
        ),
        pulls=tuple(p.as_json() for item in driven for p in item.pulls),
        findings=tuple(findings),
        fit=_fit(posterior, checked),
        sizes=_sizes(posterior),
        used=_used(posterior) + (("history",) if opened.history.lines else ()),
        missing=_missing(folder, driven, posterior, opened.open_tests()),
        curves=curves_of(driven),
        bands=_bands(posterior, particles),
        seed=seed,
        versions=versions(),
        would_change=would_change(choice),
        sensitivity=supposed_otherwise(posterior, taken_apart),
        seconds=round(time.perf_counter() - started, 3),
        unknowns=unknowns(folder.car, known_from(posterior, particles), seed=seed),
    )


def _not_offered(choice: Choice) -> list[Finding]:
    """Pulls that are held back, as one finding."""
    if not choice.withheld:
        return []
    limit = "the stop boost" if choice.withheld[0].stop.told else "a fifth above the boost wanted"
    pulls = ", ".join(w.test for w in choice.withheld)
    told = "" if choice.withheld[0].stop.told else " Where the engine may bear more, write the stop boost into car.toml."
    return [
        Finding(
            "pull-not-offered",
            "next tests",
            f"As things stand these pulls may pass {limit} and are not offered: {pulls}.",
            f"Measure at rest first, and mend what lets boost run away.{told}",
        )
    ]


def _fit(posterior: Posterior, checked: Audit) -> Fit:
    from boostproof.diagnosis.inference.none_of_these import chance_of_misfit
    from boostproof.diagnosis.inference.posterior import hypothesis_probability
    from boostproof.diagnosis.reasons.trust import MATTERS, trust_of

    p = hypothesis_probability(posterior)
    sizes = [posterior.sizes.get(i, 0.0) for i in range(len(p)) if p[i] > MATTERS]
    least = min(sizes) if sizes else 0.0
    leader = int(np.argmax(p))
    misfit = chance_of_misfit(posterior.simulator.evidence.blocks, posterior.modes[leader][0].by_block)
    return Fit(trust_of(least, posterior.half_difference), round(least, 1), misfit, checked.cars, checked.largest)


def _sizes(posterior: Posterior) -> dict[str, float]:
    from boostproof.diagnosis.reasons.explain import names_of, probabilities

    p = probabilities(posterior)
    return {
        answer: round(posterior.sizes[i], 1)
        for i, h in enumerate(posterior.hypotheses)
        for answer in names_of(h)
        if p.get(answer, 0.0) > 0.01 and i in posterior.sizes
    }


def _used(posterior: Posterior) -> tuple[str, ...]:
    facts = [f"car: {fact}" for fact in posterior.simulator.prior.facts]
    return tuple(dict.fromkeys([b.source for b in posterior.simulator.evidence.blocks] + facts))


def _missing(
    folder: Case, driven: Sequence[Driven], posterior: Posterior, open_tests: Any
) -> tuple[str, ...]:
    out = [f"test: {t.id}" for t in open_tests]
    if posterior.simulator.prior.target is None:
        out.append("car: boost wanted")
    if folder.car.wastegate.port is None:
        out.append("car: gate port")
    recordings = [item.recording for item in driven]
    for name in ("turbine_inlet_pressure", "line_pressure"):
        if all(name not in r.channels for r in recordings):
            out.append(f"log: {name}")
    return tuple(out)


def curves_of(driven: Sequence[Driven]) -> tuple[Curve, ...]:
    """Measured boost over engine speed of every pull of the car as found."""
    from boostproof.diagnosis.evidence.pulls import logger_zero

    out = []
    for recording, pulls, configuration, *_ in driven:
        if not configuration.as_found:  # the bands beside them are of the car as it stands
            continue
        speed = recording.values("engine_speed")
        shift = logger_zero(recording) if recording.manifold_channel().reference == "gauge" else 0.0
        boost = recording.boost_gauge() + shift
        for number, pull in enumerate(pulls, start=1):
            rows = slice(pull.start, pull.stop)
            assert speed is not None  # find_pulls needs it
            out.append(Curve(f"pull {number}", speed[rows] * 30.0 / np.pi, boost[rows]))
    return tuple(out)


def _bands(posterior: Posterior, particles: Particles) -> tuple[Band, ...]:
    """Predicted boost of the leading hypotheses on the highest pull, with the model's own doubt."""
    from boostproof.diagnosis.evidence.hypotheses import answer_id
    from boostproof.diagnosis.evidence.pulls import CHANNELS
    from boostproof.diagnosis.inference.posterior import hypothesis_probability
    from boostproof.diagnosis.reasons.explain import probabilities
    from boostproof.physics.system import OUTPUT_INDEX
    from boostproof.workflows.explained import together

    known = probabilities(posterior)
    p = hypothesis_probability(posterior)
    error = CHANNELS["boost"]
    rpm = particles.candidates.pull_speeds * 30.0 / np.pi
    boost = particles.candidates.pull_outputs[:, OUTPUT_INDEX["boost_measured"]]
    out = []
    for i in np.argsort(-p)[:3]:
        chosen = particles.hypothesis == i
        if p[i] < 0.02 or chosen.sum() < 8:
            continue
        h = posterior.hypotheses[i]
        middle = np.median(boost[:, chosen], axis=1)
        spread = 0.5 * np.diff(np.percentile(boost[:, chosen], [5, 95], axis=1), axis=0)[0]
        half = np.hypot(spread, 1.645 * error.doubt(middle))
        best = max(h.answers, key=lambda some: known.get(answer_id(some), 0.0), default=())
        out.append(
            Band(
                answer_id(best) if best else "healthy",
                together([c.title for c in best]) if best else "Sound",
                float(p[i]),
                rpm,
                middle - half,
                middle,
                middle + half,
            )
        )
    return tuple(out)
