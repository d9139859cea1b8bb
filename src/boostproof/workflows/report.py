"""The report of a job that a customer can read: from a case folder to one document, and that into a file."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.errors import InputError

if TYPE_CHECKING:
    from boostproof.casefolder import Case
    from boostproof.casefolder.left_out import LeftOut
    from boostproof.report.document.results import Recorded
    from boostproof.workflows.bench import Bench
    from boostproof.workflows.forecast import RepairForecast
    from boostproof.workflows.open_case import Progress
    from boostproof.workflows.prove import Proved
    from boostproof.workflows.report_answers import ReportAnswer
    from boostproof.workflows.verdict import Verdict

FORMS = (".pdf", ".html", ".json")
_UNDRIVEN = ("no-recording", "no-pull")  # without them there is no verdict, and the report says so


@dataclass(frozen=True)
class Report:
    """A report.

    Attributes
    ----------
    document : as in docs/schemas/report-answer.schema.json
    """

    document: ReportAnswer = field(repr=False)

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof report --json``."""
        return dict(self.document)

    def html(self) -> str:
        """The document as one page of its own."""
        from boostproof.report.document.html import page

        return page(self.document)

    def pdf(self) -> bytes:
        """The document as PDF."""
        from boostproof.report.document.pdf import pdf

        return pdf(self.document)


def report(
    case: str | Path,
    *,
    repairs: Sequence[str] = (),
    before: Sequence[str] = (),
    after: Sequence[str] = (),
    readings_after: str | Path | None = None,
    repeated: Sequence[str] = (),
    without: Sequence[str] = (),
    customer: bool = False,
    units: str = "psi",
    done: Sequence[str] = (),
    shop: str = "",
    by: str = "",
    dated: str = "",
    hour: float | None = None,
    parts: Mapping[str, tuple[float, float]] | None = None,
    seed: int = 1,
    progress: Progress | None = None,
) -> Report:
    """Put together what a case says: complaint, measurements, verdict, forecast, proof, and what is open.

    What was not done is said to be so: without a full-load pull there is no verdict, without repairs no forecast,
    and without pulls before and after no proof.

    Parameters
    ----------
    case : folder
    repairs : to forecast, as `boostproof.workflows.forecast.forecast` takes them
    before, after : recordings or single pulls of each side, as `boostproof.workflows.prove.prove` takes them; both
        or neither
    readings_after : bench readings after the repair, in the form of readings.toml
    repeated : or those of readings.toml that were taken after it, as ``seat-leak#2``
    without : further recordings, pulls and readings that were made after a repair; verdict and forecast are of the car as
        found, so that these and what is named after the repair are left out of them
    customer : leave out what only the shop needs
    units : of pressures: "psi", "bar" or "kPa"
    done : what was done on the car, in words
    shop, by, dated : who hands it over, who did the work, and when
    hour, parts : what the shop takes for an hour and for parts, for the forecast, as it takes them
    seed : of all random numbers
    progress : called with what is being done and the share done

    Raises
    ------
    InputError
        If the case cannot be read, a repair or recording is not there, or one side of the proof is missing.
    """
    from boostproof.casefolder import read_case
    from boostproof.report.document.compose import compose
    from boostproof.report.document.results import Results, Told
    from boostproof.workflows.open_case import read_as_found

    say = progress or (lambda text, share: None)
    _both_or_neither(before, after)
    folder = read_case(Path(case))
    named = _made_after(folder, before, after)
    later = (*named.names, *repeated, *without)
    found = read_as_found(case, without=later)
    since = replace(found.left_out, between=named.between).since
    verdict, why_not = _verdict(folder, later, seed, lambda text, share: say(text, 0.7 * share))
    predicted = _forecast(folder, repairs, later, hour, parts, seed, lambda text, share: say(text, 0.7 + 0.15 * share))
    say("measuring the pulls", 0.87)
    results = Results(
        car=folder.car, readings=found.readings.reading, recorded=_recorded(folder, since),
        verdict=verdict, bench=_bench(found, seed), forecast=predicted,
        proof=_proof(folder, before, after, readings_after, repeated, predicted, seed),
        why_not=why_not, findings=folder.findings, case=folder.content_hash, seed=seed,
    )  # fmt: skip
    say("writing the report", 0.95)
    return Report(compose(results, Told(customer, units, tuple(done), shop, by, dated)))


def write_report(document: ReportAnswer, file: str | Path) -> Path:
    """Write a document into a .pdf, .html or .json file.

    Raises
    ------
    InputError
        If the name ends in none of these, or the file cannot be written.
    """
    path = checked_name(file)
    try:
        path.write_bytes(in_form(document, path.suffix.casefold()))
    except OSError as error:
        raise InputError(
            f"{path.name} cannot be written ({error.strerror or 'no access'}).", kind="cannot-write", where=str(path),
            do="Name a folder that is there and that you may write to.",
        ) from None  # fmt: skip
    return path


def checked_name(file: str | Path) -> Path:
    """The file to write, refused before anything is computed if its name says no form.

    Raises
    ------
    InputError
        If the name ends otherwise.
    """
    path = Path(file)
    if path.suffix.casefold() not in FORMS:
        raise InputError(
            f'"{path.name}" is no name of a report.', kind="report-name", where=str(path),
            do="Let it end in .pdf, .html or .json.",
        )  # fmt: skip
    return path


def in_form(document: ReportAnswer, form: str) -> bytes:
    """The document as the bytes of one of `FORMS`."""
    if form == ".pdf":
        return Report(document).pdf()
    if form == ".html":
        return Report(document).html().encode()
    return (json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode()


def _both_or_neither(before: Sequence[str], after: Sequence[str]) -> None:
    if bool(before) != bool(after):
        missing = "--after" if before else "--before"
        raise InputError(
            "A proof needs pulls before the repair and pulls after it.", kind="one-side", where=missing,
            do=f"Name the others with {missing}, or leave both out.",
        )  # fmt: skip


def _made_after(folder: Case, before: Sequence[str], after: Sequence[str]) -> LeftOut:
    from boostproof.casefolder.left_out import made_after
    from boostproof.workflows.compare import place_of

    return made_after(*([place_of(folder, name) for name in side] for side in (before, after)))


def _verdict(folder: Case, later: Sequence[str], seed: int, say: Progress) -> tuple[Verdict | None, str]:
    from boostproof.workflows.diagnose import diagnose

    try:
        return diagnose(folder.path, without=later, seed=seed, progress=say), ""
    except InputError as error:
        if error.kind not in _UNDRIVEN:
            raise
        return None, error.says


def _forecast(
    folder: Case, repairs: Sequence[str], later: Sequence[str], hour: float | None,
    parts: Mapping[str, tuple[float, float]] | None, seed: int, say: Progress,
) -> RepairForecast | None:  # fmt: skip
    from boostproof.workflows.forecast import forecast

    if not repairs:
        return None
    return forecast(folder.path, repairs, without=later, hour=hour, parts=parts, seed=seed, progress=say)


def _recorded(folder: Case, later: LeftOut) -> tuple[Recorded, ...]:
    from boostproof.report.document.results import Recorded
    from boostproof.workflows.inspect import inspect
    from boostproof.workflows.inspect_figure import boost_lines

    found = [(path, inspect(path, case=folder.path)) for path in folder.recordings]
    return tuple(
        Recorded(
            one.recording.file, [pull.as_json() for pull in one.pulls], boost_lines(one),
            later.pulls_of(path.relative_to(folder.path).as_posix()),
        )
        for path, one in found
    )  # fmt: skip


def _bench(folder: Case, seed: int) -> Bench | None:
    from boostproof.workflows.bench import bench_of

    return bench_of(folder, seed=seed) if folder.readings.reading else None


def _proof(
    folder: Case,
    before: Sequence[str],
    after: Sequence[str],
    readings_after: str | Path | None,
    repeated: Sequence[str],
    predicted: RepairForecast | None,
    seed: int,
) -> Proved | None:
    import tempfile

    from boostproof.workflows.prove import prove

    if not before:
        return None
    with tempfile.TemporaryDirectory() as place:
        file = None
        if predicted is not None:  # the curve after is held against what was said before
            file = Path(place) / "forecast.json"
            file.write_text(json.dumps(predicted.as_json()), encoding="utf-8")
        return prove(
            folder.path, before, after, forecast=file, readings_after=readings_after, repeated=repeated, seed=seed
        )
