"""A case with its result held open: read, inferred or recalled, and ready to be asked again."""

from __future__ import annotations

import platform
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from boostproof.findings import LEFT_OUT, LEFT_OUT_TRIED, Finding
from boostproof.version import __version__
from boostproof.workflows.driven import read_driven

if TYPE_CHECKING:
    from boostproof.bench.response import Response
    from boostproof.bench.tests import BenchTest, CarContext
    from boostproof.casefolder import Case
    from boostproof.diagnosis.choice.next_test import Choice
    from boostproof.diagnosis.evidence.drive import Driven
    from boostproof.diagnosis.history.evidence import HistoryEvidence
    from boostproof.diagnosis.inference.first_look import FirstLook
    from boostproof.diagnosis.inference.particles import Particles
    from boostproof.diagnosis.inference.posterior import Posterior
    from boostproof.diagnosis.reasons.provisional import Provisional

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class OpenCase:
    """A case and what the evidence leaves of it.

    Attributes
    ----------
    folder : the case as read
    driven : recordings with what of them counts
    findings : what was noticed while reading
    posterior : the result
    context : what the tests must know of the car
    readings : all that stand in readings.toml, in order
    usable : those that the result rests on
    gauge : of readings.toml, None where not described
    inputs : hash of all that was read, and the choices made
    history : what was said of the car
    """

    folder: Case
    driven: Sequence[Driven] = field(repr=False)
    findings: tuple[Finding, ...]
    posterior: Posterior = field(repr=False)
    context: CarContext
    readings: Sequence[Any]
    usable: Sequence[Any]
    gauge: Any
    inputs: dict[str, Any]
    history: HistoryEvidence = field(repr=False)

    def responses(self, more: Sequence[Any] = ()) -> dict[str, list[Response]]:
        """What was read, by test, with further readings."""
        from boostproof.diagnosis.evidence.setup import responses_of

        found = responses_of([*self.usable, *more], self.gauge, self.context)
        return {some[0].test: some for some in found}

    def open_tests(self) -> tuple[BenchTest, ...]:
        """Tests not done yet that the car and the shop allow."""
        from boostproof.bench.tests import CATALOGUE

        done = {r.test for r in self.readings}
        return tuple(
            t for t in CATALOGUE if t.id not in done and t.fits(self.context) and self.context.possible(t.need)
        )

    def next_tests(self, particles: Particles, *, seed: int) -> Choice:
        """The open tests, valued.

        Parameters
        ----------
        particles : of the posterior
        seed : of all that is drawn
        """
        from boostproof.diagnosis.choice.next_test import value_tests

        stop = self.folder.car.limits.stop
        return value_tests(
            self.posterior, particles, self.open_tests(), self.context, seed=seed,
            stop=None if stop is None else stop.value, done=[r.test for r in self.readings if r.not_done is None],
        )  # fmt: skip

    def provisional(self, *readings: Any, without: Sequence[str] = ()) -> Provisional:
        """The ranking at once, by re-weighting, with more readings or without some tests.

        Rough and marked so (`Provisional.trust`); `diagnose` gives the full answer.

        Parameters
        ----------
        readings : one more or several, as rows of readings.toml are read
        without : ids of tests to leave out

        Raises
        ------
        ValueError
            If a test to leave out was not done.
        """
        from boostproof.diagnosis.reasons.provisional import provisional

        before, after = self.responses(), self.responses(readings)
        changed = [test for test, some in after.items() if len(some) != len(before.get(test, []))]
        added = [r for test in changed for r in after[test]]
        again = [test for test in changed if test in before and test not in without]
        return provisional(self.posterior, added, [*without, *again])


def open_case(
    case: str | Path,
    *,
    without_readings: bool = False,
    without_history: bool = False,
    without: Sequence[str] = (),
    seed: int = 1,
    healthy_prior: float | None = None,
    fresh: bool = False,
    progress: Progress | None = None,
    first_look: Callable[[FirstLook], None] | None = None,
) -> OpenCase:
    """Read a case folder and infer what may be wrong; parameters and errors as of `diagnose`."""
    from boostproof.bench.contradictions import question
    from boostproof.casefolder.left_out import told_of
    from boostproof.diagnosis.evidence.setup import build, context_of
    from boostproof.diagnosis.history.evidence import history_evidence
    from boostproof.diagnosis.inference.kept import from_arrays, to_arrays
    from boostproof.diagnosis.inference.posterior import infer
    from boostproof.diagnosis.inference.weighing import HEALTHY_PRIOR
    from boostproof.workflows import store

    say = progress or (lambda text, share: None)
    say("reading the case", 0.0)
    folder = read_as_found(case, with_readings=not without_readings, without=without)
    driven, findings = read_driven(folder)
    findings = told_of(folder.left_out) + findings
    readings = folder.readings.reading if folder.readings is not None else ()
    gauge = folder.readings.gauge if folder.readings is not None else None
    usable, questioned = question(readings, gauge, context_of(folder.car, 0.0))
    findings = without_repetition(findings, questioned) + questioned
    simulator, causes, context = build(folder.car, driven, usable, gauge)
    history = history_evidence(None if without_history else folder.car.history, causes)
    findings += history.findings
    findings.sort(key=lambda f: f.kind not in (LEFT_OUT, LEFT_OUT_TRIED))  # what does not count is told first
    kind = folder.car.controller.kind
    prior = HEALTHY_PRIOR if healthy_prior is None else healthy_prior
    inputs = {
        "case": folder.content_hash, "without_readings": without_readings, "without_history": without_history,
        "healthy_prior": prior,
    }  # fmt: skip
    key = store.key_of(folder.content_hash, without_readings, without_history, seed, prior, _columns(driven))
    kept = None if fresh else store.recall(key)
    if kept is not None:
        posterior = from_arrays(kept, simulator, causes, kind, healthy_prior=prior, said=history.log_odds)
    else:
        posterior = infer(
            simulator, causes, kind, seed=seed, healthy_prior=prior, said=history.log_odds, progress=say,
            first_look=first_look,
        )  # fmt: skip
        store.keep(key, to_arrays(posterior), {**inputs, "seed": seed, "versions": versions()})
    return OpenCase(folder, driven, tuple(findings), posterior, context, readings, usable, gauge, inputs, history)


def read_as_found(case: str | Path, *, with_readings: bool = True, without: Sequence[str] = ()) -> Case:
    """A case without what was made after a repair: what is named, and recordings that car.toml names as after a part was
    tried that changed the car. Where nothing else is left these stay.

    Parameters
    ----------
    case : folder
    with_readings, without : as of `boostproof.casefolder.read_case`
    """
    from boostproof.casefolder import read_case

    folder = read_case(Path(case), with_readings=with_readings, without=without)
    tried = () if folder.car.history is None else folder.car.history.tried
    changed = {name for row in tried if row.result not in (None, "no change") for name in row.after or ()}
    there = {path.relative_to(folder.path).as_posix() for path in folder.recordings}
    if not changed & there or not there - changed:
        return folder
    found = read_case(Path(case), with_readings=with_readings, without=[*without, *sorted(changed & there)])
    return replace(found, left_out=replace(found.left_out, tried=tuple(sorted(changed & there))))


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


def versions() -> dict[str, str]:
    """Of all that a result depends on."""
    import scipy

    return {
        "boostproof": __version__,
        "python": platform.python_version(),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "prior": "1",
    }
