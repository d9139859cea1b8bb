"""Diagnose a case folder: from its files to the ranked causes and the next test."""

from __future__ import annotations

import platform
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from boostproof.findings import Finding
from boostproof.version import __version__
from boostproof.workflows.driven import read_driven
from boostproof.workflows.verdict import (
    Band,
    Curve,
    EvidenceShare,
    Fit,
    LookAlikes,
    NextTest,
    RankedCause,
    SeverityShare,
    Verdict,
)

if TYPE_CHECKING:
    from boostproof.bench.tests import CarContext
    from boostproof.casefolder import Case
    from boostproof.diagnosis.audit import Audit
    from boostproof.diagnosis.drive import Driven
    from boostproof.diagnosis.next_test import Choice
    from boostproof.diagnosis.particles import Particles
    from boostproof.diagnosis.posterior import Posterior

Progress = Callable[[str, float], None]

_TRUSTED, _ROUGH = 30.0, 10.0  # effective sample sizes of the print policy
_CONFIRMING = 3.0  # nats that a cause's own test must speak against a sound part


def diagnose(
    case: str | Path,
    *,
    without_readings: bool = False,
    seed: int = 1,
    healthy_prior: float | None = None,
    fresh: bool = False,
    progress: Progress | None = None,
) -> Verdict:
    """Rank the causes for a case folder and value the tests still open.

    Parameters
    ----------
    case : folder with car.toml, recordings and perhaps readings.toml and pulls.toml
    without_readings : judge by the recordings and the car alone
    seed : of all random numbers; the same seed gives the same answer
    healthy_prior : chance that nothing is wrong, before the evidence; None for the usual one
    fresh : compute again even where the result of the same inputs is kept
    progress : called with what is being done and the share done (0 to 1)

    Returns
    -------
    Verdict

    Raises
    ------
    InputError
        If the case cannot be read, or no recording holds a full-load pull.
    """
    from boostproof.bench.contradictions import question
    from boostproof.casefolder import read_case
    from boostproof.diagnosis.posterior import HEALTHY_PRIOR, from_arrays, infer, to_arrays
    from boostproof.diagnosis.setup import build, context_of
    from boostproof.workflows import store

    started = time.perf_counter()
    say = progress or (lambda text, share: None)
    say("reading the case", 0.0)
    folder = read_case(Path(case), with_readings=not without_readings)
    driven, findings = read_driven(folder)
    readings = folder.readings.reading if folder.readings is not None else ()
    gauge = folder.readings.gauge if folder.readings is not None else None
    usable, questioned = question(readings, gauge, context_of(folder.car, 0.0))
    findings = without_repetition(findings, questioned) + questioned
    simulator, causes, context = build(folder.car, driven, usable, gauge)
    kind = folder.car.controller.kind
    prior = HEALTHY_PRIOR if healthy_prior is None else healthy_prior
    key = store.key_of(folder.content_hash, without_readings, seed, prior, _columns(driven))
    kept = None if fresh else store.recall(key)
    if kept is not None:
        posterior = from_arrays(kept, simulator, causes, kind, healthy_prior=prior)
    else:
        posterior = infer(simulator, causes, kind, seed=seed, healthy_prior=prior, progress=say)
        store.keep(key, to_arrays(posterior))
    say("choosing the next test", 0.96)
    return _verdict(folder, driven, findings, posterior, context, readings, seed, started)


def without_repetition(findings: list[Finding], questioned: list[Finding]) -> list[Finding]:
    """Findings of reading the files less the doubts about a reading that were now answered by leaving it out."""
    answered = {f.where.partition(", ")[2].casefold() for f in questioned if f.kind == "impossible-reading"}
    return [
        f
        for f in findings
        if f.kind != "questioned-reading" or f.says.partition(":")[0].casefold() not in answered
    ]


def _columns(driven: Sequence[Driven]) -> tuple[tuple[str, ...], ...]:
    """What each column was taken for, and each set-up: what lies outside the files that were read decides them too."""
    columns = tuple(
        (item.recording.file, c.name, c.column, c.unit, c.reference or "")
        for item in driven
        for c in item.recording.channels.values()
    )
    changed = [item for item in driven if not item.configuration.as_found]
    return columns + tuple((item.recording.file, repr(item.configuration)) for item in changed)


def _verdict(
    folder: Case,
    driven: Sequence[Driven],
    findings: list[Finding],
    posterior: Posterior,
    context: CarContext,
    readings: Any,
    seed: int,
    started: float,
) -> Verdict:
    from boostproof.bench.tests import BY_ID, CATALOGUE
    from boostproof.diagnosis.audit import ALLOWED, audit
    from boostproof.diagnosis.explain import block_means, look_alikes
    from boostproof.diagnosis.next_test import value_tests
    from boostproof.diagnosis.particles import particles_from
    from boostproof.diagnosis.simulator import car_kernel

    particles = particles_from(posterior, seed=seed)
    done = {r.test for r in readings}
    open_tests = tuple(
        t for t in CATALOGUE if t.id not in done and t.fits(context) and context.possible(t.need)
    )
    stop = folder.car.limits.stop
    in_order = [r.test for r in readings if r.not_done is None]
    choice = value_tests(
        posterior, particles, open_tests, context, seed=seed,
        stop=stop.value if stop is not None else None, done=in_order,
    )  # fmt: skip
    findings += _not_offered(choice)
    means = block_means(posterior)
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
    groups = tuple(LookAlikes(ids, p, choice.splitting(ids)) for ids, p in look_alikes(posterior))
    ranked = sorted(posterior.cause_probability.items(), key=lambda item: (-item[1], item[0]))
    return Verdict(
        car=folder.car.car.name,
        target=posterior.simulator.prior.target,
        causes=tuple(_cause(posterior, cause_id, p, means) for cause_id, p in ranked),
        healthy=posterior.healthy,
        none_of_these=posterior.other,
        involved=dict(sorted(posterior.cause_probability.items(), key=lambda item: -item[1])),
        look_alikes=groups,
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
        used=_used(posterior),
        missing=_missing(folder, driven, posterior, open_tests),
        curves=_curves(driven),
        bands=_bands(posterior, particles),
        seed=seed,
        versions=_versions(),
        seconds=round(time.perf_counter() - started, 3),
    )


def _cause(posterior: Posterior, cause_id: str, probability: float, means: dict[int, Any]) -> RankedCause:
    from boostproof.diagnosis.causes import BY_ID
    from boostproof.diagnosis.explain import reasons, severity

    cause = BY_ID[cause_id]
    found = reasons(posterior, cause_id, means)
    moved = severity(posterior, cause_id)
    return RankedCause(
        id=cause.id,
        parts=(cause.id,),
        title=cause.title,
        looks_like=cause.looks_like,
        repair=cause.repair,
        probability=probability,
        confirmed=_confirmed(posterior, cause_id, cause.direct_test, means),
        direct_test=cause.direct_test,
        severity=()
        if moved is None
        else (SeverityShare(moved.parameter, moved.value, moved.sd, moved.unit, moved.sound),),
        evidence=tuple(
            EvidenceShare(r.source, r.nats, r.strength, _says(r.source, r.strength)) for r in found
        ),
    )


_SOURCES = {"log": "the log, held against what this car must do when sound"}


def source_in_words(source: str) -> str:
    """A source of evidence as a person would call it."""
    return _SOURCES.get(source, source.removeprefix("car: ").replace("-", " "))


def _says(source: str, strength: str) -> str:
    words = source_in_words(source)
    if strength == "none":
        return f"{words} says nothing either way"
    if strength.endswith("against"):
        return f"{words} speaks {_adverb(strength.split()[0])} against it"
    return f"{words} speaks {_adverb(strength)} for it"


def _adverb(strength: str) -> str:
    return {"strong": "strongly", "clear": "clearly", "slight": "slightly"}[strength]


def _confirmed(posterior: Posterior, cause_id: str, test: str, means: dict[int, Any]) -> bool:
    """The part's own test was done and read as no sound part would."""
    blocks = posterior.simulator.evidence.blocks
    rows = [k for k, b in enumerate(blocks) if b.source == test]
    if not rows:
        return False
    own = [i for i, h in enumerate(posterior.hypotheses) if any(c.id == cause_id for c in h.causes)]
    best = max(own, key=lambda i: posterior.log_evidence[i])
    return float(means[best][rows].sum() - means[0][rows].sum()) > _CONFIRMING


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
    from scipy.special import gammaincc

    from boostproof.diagnosis.posterior import hypothesis_probability

    p = hypothesis_probability(posterior)
    sizes = [posterior.sizes.get(i, 0.0) for i in range(len(p)) if p[i] > 0.05]
    least = min(sizes) if sizes else 0.0
    leader = int(np.argmax(p))
    mode = posterior.modes[leader][0]
    blocks = posterior.simulator.evidence.blocks
    square = sum(2.0 * (b.constant - float(x)) for b, x in zip(blocks, mode.by_block, strict=True))
    size = sum(b.size for b in blocks)
    misfit = float(gammaincc(0.5 * size, 0.5 * max(square, 0.0)))
    trust = "ok" if least >= _TRUSTED else "about" if least >= _ROUGH else "order only"
    return Fit(trust, round(least, 1), misfit, checked.cars, checked.largest)


def _sizes(posterior: Posterior) -> dict[str, float]:
    return {
        cause.id: round(posterior.sizes.get(i, 0.0), 1)
        for i, h in enumerate(posterior.hypotheses)
        for cause in h.causes
        if posterior.cause_probability[cause.id] > 0.01 and i in posterior.sizes
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


def _curves(driven: Sequence[Driven]) -> tuple[Curve, ...]:
    from boostproof.diagnosis.pull_evidence import logger_zero

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
    from boostproof.diagnosis.posterior import hypothesis_probability
    from boostproof.diagnosis.pull_evidence import CHANNELS
    from boostproof.physics.system import OUTPUT_INDEX

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
        doubt = np.sqrt((error.curve_share * middle) ** 2 + error.curve**2 + error.offset**2)
        spread = 0.5 * np.diff(np.percentile(boost[:, chosen], [5, 95], axis=1), axis=0)[0]
        half = np.hypot(spread, 1.645 * doubt)
        best = max(h.causes, key=lambda c: posterior.cause_probability[c.id]) if h.causes else None
        out.append(
            Band(
                best.id if best else "healthy",
                best.title if best else "Sound",
                float(p[i]),
                rpm,
                middle - half,
                middle,
                middle + half,
            )
        )
    return tuple(out)


def _versions() -> dict[str, str]:
    import scipy

    return {
        "boostproof": __version__,
        "python": platform.python_version(),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "prior": "1",
    }
