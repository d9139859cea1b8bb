"""Proof: choose pulls before and after the repair, see them on one plot, the sentence and its reason; sign it off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from boostproof.case_names import READINGS
from boostproof.jobs import Task
from boostproof.jobs.after_repair import after_repair, mended_at
from boostproof.jobs.records import UNDER_WAY
from boostproof.jobs.repaired import came_from, go_on_repaired
from boostproof.report.curves import Picture
from boostproof.web import said as texts_of
from boostproof.web.bench_readings import rows_in_text
from boostproof.web.kept_parts import keeps, kept_part, named
from boostproof.web.once import Once
from boostproof.web.page import (
    Page,
    answer,
    carried_out,
    frame,
    in_hand,
    see_other,
    shows,
    store_of,
    units_of,
    work_of,
)
from boostproof.web.pages import proof_texts as texts
from boostproof.web.reading_form import in_words
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.records import KeptAnswer
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work
    from boostproof.workflows.recordings_seen import PullSeen

router = APIRouter()
KIND = "prove"
SIGNED = "signed"  # the job's setting: who signed which verdict off, in order
_ALIKE = 300.0  # rpm by which pulls that are compared may end apart
_TOLD = 3  # things that a reading says, in the list of readings
STATES = ("proved", "mended", "found", "left as is")  # that a proof may be signed off as


@dataclass(frozen=True)
class PullRow:
    """A pull that can be put on a side.

    Attributes
    ----------
    key : FILE#NUMBER
    name, file, says : in words
    came : when its recording came in (ISO 8601, UTC)
    side : "before", "after" or ""
    """

    key: str
    name: str
    file: str
    says: str
    came: str
    side: str


@dataclass(frozen=True)
class ReadingRow:
    """A reading on the bench that may have been taken after the repair.

    Attributes
    ----------
    key : as ``seat-leak#2``
    title : of its test
    says : what was read, in words
    after : it was taken after the repair
    """

    key: str
    title: str
    says: str
    after: bool


@dataclass(frozen=True)
class SignedShown:
    """A sign-off: who, when (ISO 8601, UTC), the verdict and the state it was signed with, and a note."""

    name: str
    at: str
    verdict: str
    state: str
    note: str


@keeps
@dataclass(frozen=True)
class ResultShown:
    """What came of the repair.

    Attributes
    ----------
    verdict : cured, better, no different, worse, cannot say
    head, says : the same in words, and the sentence with its figures
    reasons : what it rests on
    cautions : first of all
    next : what to do now, empty where nothing is left
    boost, difference : pictures
    heads, rows : ranges of engine speed
    forecast : whether the curve after lies as forecast; empty where there is no forecast
    second_fault : a second fault may be there: where it shows
    room : left after the repair
    missing : for a surer answer
    untested : what was not tested
    readings : of the bench, before and after
    power : sentence on peak power, empty where it was not logged
    findings : doubtful data, and what to do
    """

    verdict: str
    head: str
    says: str
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    next: str
    boost: Picture
    difference: Picture
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    forecast: str
    second_fault: tuple[str, ...]
    room: tuple[str, ...]
    missing: tuple[str, ...]
    untested: tuple[str, ...]
    readings: tuple[tuple[str, ...], ...]
    power: str
    findings: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class ProofPage(Page):
    """The proof; ``stage`` is "no pulls", "choose", "working" or "shown".

    Attributes
    ----------
    task : work in hand, or that failed
    stale : the comparison rests on files that were changed since
    pulls : to choose from, full load only
    readings : on the bench, to choose those taken after the repair
    neither : pulls that are left out of both sides, in sentences
    reading : recordings that are still being read
    other_sensor : another sensor or logger recorded the pulls after
    forecast : a forecast is kept that the pulls after can be held against: which repair
    result : of the latest comparison
    go_on : the car is not right yet, and may go on as a job of its own, unless it did (``went_on``)
    signed : sign-offs, the latest first
    typed, wrong : what was typed, and messages by field
    """

    stage: str
    task: Task | None
    stale: bool
    pulls: tuple[PullRow, ...]
    readings: tuple[ReadingRow, ...]
    neither: tuple[str, ...]
    reading: int
    other_sensor: bool
    forecast: str
    result: ResultShown | None
    go_on: bool
    signed: tuple[SignedShown, ...]
    states: tuple[str, ...]
    typed: Mapping[str, str]
    wrong: Mapping[str, str]


def proof_page(
    store: Store,
    work: Work,
    job_id: int,
    query: Mapping[str, str],
    *,
    typed: Mapping[str, str] | None = None,
    wrong: Mapping[str, str] | None = None,
    sides: Mapping[str, str] | None = None,
    repeated: Sequence[str] | None = None,
) -> ProofPage:
    """The proof of a job; ``sides`` and ``repeated`` are chosen pulls and readings in a form that was not taken."""
    units = units_of(store)
    kept = store.answers.latest(job_id, KIND, current=False)
    forecast = store.answers.latest(job_id, "forecast", current=False)
    pulls, reading = _pulls(store, work, job_id, kept, sides, units)
    task = in_hand(work, job_id, KIND)
    busy = task is not None and task.state in UNDER_WAY
    stage = "shown" if kept is not None else "working" if busy else "choose" if pulls or reading else "no pulls"
    return ProofPage(
        **frame(store, work, job_id, "proof"), stage=stage, task=task,
        stale=kept is not None and kept.content != store.content(job_id), pulls=pulls,
        readings=_readings(store, job_id, repeated), reading=reading,
        neither=texts_of.neither_side(after_repair(store, job_id)),
        other_sensor=kept is not None and kept.choices.get("same_sensor") is False,
        forecast="" if forecast is None else texts.repairs_of(forecast.answer),
        result=None if kept is None else _held_result(store, job_id, kept, units),
        go_on=kept is not None and kept.answer["verdict"] != "cured" and _drove(store, job_id),
        signed=tuple(SignedShown(**row) for row in reversed(store.settings.of_job(job_id).get(SIGNED) or [])),
        states=STATES, typed=dict(typed or {}), wrong=dict(wrong or {}),
    )  # fmt: skip


def _pulls(
    store: Store, work: Work, job_id: int, kept: KeptAnswer | None, sides: Mapping[str, str] | None, units: str
) -> tuple[tuple[PullRow, ...], int]:
    """Full-load pulls of a job with the side that each is on, and how many recordings are still being read."""
    from boostproof.web.pulls_held import files_seen, looked_at
    from boostproof.web.pulls_words import pull_name, short_line, span_words

    looked = looked_at(store, work, job_id)
    came = {one.file.path: one.file.changed for one in looked}
    seen = [pull for file in files_seen(store, job_id, looked) for pull in file.pulls if pull.full_load]
    chosen = sides if sides is not None else _supposed(store, job_id, seen) | _chosen(kept, seen)
    rows = tuple(
        PullRow(
            pull.key, pull_name(pull), pull.file.rpartition("/")[2], f"{span_words(pull)}. {short_line(pull, units)}",
            came.get(pull.file, ""), chosen.get(pull.key, ""),
        )
        for pull in seen
    )  # fmt: skip
    return rows, sum(one.task is not None for one in looked)


def _chosen(kept: KeptAnswer | None, seen: Sequence[PullSeen]) -> dict[str, str]:
    """The sides of the latest comparison."""
    if kept is None:
        return {}
    named = {key: side for side in ("before", "after") for key in kept.choices.get(side, [])}
    return {pull.key: named[pull.key] for pull in seen if pull.key in named}


def _supposed(store: Store, job_id: int, seen: Sequence[PullSeen]) -> dict[str, str]:
    """Pulls by what is known of their recordings; none where no repair was done, and none of a recording of which some
    were compared. Pulls that end well below the others are left out: only speeds that all reach can be compared."""
    if not mended_at(store, job_id) and not _drove(store, job_id):
        return {}
    kept = store.answers.latest(job_id, KIND, current=False)
    named = [] if kept is None else [str(n).rpartition("#")[0] for s in ("before", "after") for n in kept.choices.get(s, [])]
    later = after_repair(store, job_id)
    sides: dict[str, list[PullSeen]] = {"before": [], "after": []}
    for pull in seen:
        if pull.file not in named:
            sides["after" if pull.number in later.pulls_of(pull.file) else "before"].append(pull)
    least = min(max((p.rpm_to for p in some), default=0.0) for some in sides.values()) - _ALIKE
    return {pull.key: side for side, some in sides.items() for pull in some if pull.rpm_to > least}


def _drove(store: Store, job_id: int) -> bool:
    """Whether pulls were driven after the repair."""
    later = after_repair(store, job_id)
    return bool(later.recordings or later.pulls)


def _readings(store: Store, job_id: int, repeated: Sequence[str] | None) -> tuple[ReadingRow, ...]:
    """Readings that were done, with those that are of after the repair; none where the file cannot be read."""
    from boostproof.bench.tests import BY_ID
    from boostproof.casefolder.left_out import names_in
    from boostproof.errors import InputError

    try:
        rows = rows_in_text(store.text(job_id, READINGS))
    except InputError:
        return ()
    later = after_repair(store, job_id).readings if repeated is None else repeated
    units = units_of(store)
    return tuple(
        ReadingRow(name, BY_ID[row["test"]].title, _in_short(row, units), name in later)
        for name, row in zip(names_in(rows), rows, strict=True)
        if row.get("test") in BY_ID and "not_done" not in row
    )


def _in_short(row: Mapping[str, Any], units: str) -> str:
    """The first things that a reading says, in the shop's units; of rows those of the first."""
    told = [f"{label.removeprefix('1. ').lower()} {texts_of.typed_in_units(value, units)}" for label, value in in_words(row)]
    return ", ".join(told[:_TOLD]) + ("…" if len(told) > _TOLD else "")


def make_ready(store: Store, job_id: int) -> None:
    """Make what the page of the latest comparison rests on."""
    kept = store.answers.latest(job_id, KIND, current=False)
    if kept is not None:
        _held_result(store, job_id, kept, units_of(store))


def _held_result(store: Store, job_id: int, kept: KeptAnswer, units: str) -> ResultShown:
    verdict = store.answers.latest(job_id, "diagnose", current=False)
    of = f"{named(kept)} beside {store.content(job_id)} {named(verdict)} in {units}"
    return kept_part(store, ResultShown, of, lambda: _result(store, job_id, kept, units))


def _result(store: Store, job_id: int, kept: KeptAnswer, units: str) -> ResultShown:
    a = kept.answer
    said = texts.sentences(a, units)
    return ResultShown(
        a["verdict"], t(f"proof.verdict.{a['verdict'].replace(' ', '_')}"), said["says"], texts.reasons(a, units),
        tuple(said["cautions"]), said["next_step"], texts.boost_picture(a, units), texts.difference_picture(a, units),
        texts.heads(units), texts.rows(a, units), said["forecast_says"],
        tuple(t(f"proof.where.{name.replace(' ', '_')}") for name in a["second_fault"]), texts.room(a, units),
        tuple(a["missing"]), texts.untested(a, store, job_id, kept.choices, units), texts.readings(a, units),
        texts.power(a), tuple((texts_of.in_units(f["says"], units), f["do"]) for f in a["findings"]),
    )  # fmt: skip


# Addresses


@router.get("/jobs/{job_id}/proof", **shows(ProofPage))
def show(request: Request, job_id: int) -> Response:
    """Before and after of a job."""
    return answer(request, proof_page(store_of(request), work_of(request), job_id, request.query_params), "proof.html")


@router.post("/jobs/{job_id}/proof", status_code=303)
def compare(
    request: Request,
    job_id: int,
    before: Annotated[list[str] | None, Form()] = None,
    after: Annotated[list[str] | None, Form()] = None,
    other_sensor: Annotated[str, Form()] = "",
    repeated: Annotated[list[str] | None, Form()] = None,
    readings_after: Annotated[str, Form()] = "",
) -> Response:
    """Hold pulls after the repair against those before it, each as FILE#NUMBER; ``repeated`` names the readings that were
    taken after it, as ``seat-leak#2``: those not named were taken before."""
    store, work = store_of(request), work_of(request)
    earlier, later = before or [], after or []
    wrong = {name: t(f"proof.wrong.{name}") for name, some in (("before", earlier), ("after", later)) if not some}
    if set(earlier) & set(later):
        wrong["after"] = t("proof.wrong.both")
    if wrong:
        sides = dict.fromkeys(earlier, "before") | dict.fromkeys(later, "after")
        page = proof_page(store, work, job_id, {}, wrong=wrong, sides=sides, repeated=repeated or [])
        return answer(request, page, "proof.html", status=422)
    choices: dict[str, Any] = {"before": earlier, "after": later}
    if other_sensor:
        choices["same_sensor"] = False
    forecast = store.answers.latest(job_id, "forecast", current=False)
    if forecast is not None:
        choices["forecast"] = {"answer": forecast.id}
    if readings_after:
        choices["readings_after"] = readings_after
    elif there := [row.key for row in _readings(store, job_id, [])]:
        choices["repeated"] = [key for key in there if key in (repeated or [])]
    work.start(job_id, KIND, choices)
    return see_other(f"/jobs/{job_id}/proof")


@router.post("/jobs/{job_id}/proof/go-on", status_code=303)
def go_on(request: Request, job_id: int, once: Once) -> Response:
    """Open a further job for the car as it was repaired, with what was made after the repair; leads to its car."""
    store = store_of(request)

    def opened() -> str:
        first, repairs = job_id, 1
        while (earlier := came_from(store, first)) is not None:
            first, repairs = earlier.id, repairs + 1
        name = t("proof.go_on.name", n=repairs, name=store.job(first).name)
        further = go_on_repaired(store, job_id, name, t("proof.go_on.before"))
        store.log(further.id, t("proof.log.came_from", job=job_id))
        store.log(job_id, t("proof.log.went_on", job=further.id))
        return f"/jobs/{further.id}/car"

    return carried_out(request, once, opened)


@router.post("/jobs/{job_id}/proof/sign", status_code=303)
def sign(
    request: Request,
    job_id: int,
    once: Once,
    name: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
    state: Annotated[str, Form()] = "",
) -> Response:
    """Sign the comparison off: kept with name, note, date and verdict; the job is set to the state chosen."""
    store, work = store_of(request), work_of(request)
    kept = store.answers.latest(job_id, KIND, current=False)
    wrong = {}
    if kept is None:
        wrong["name"] = t("proof.wrong.nothing")
    elif not name.strip():
        wrong["name"] = t("proof.wrong.name")
    if state not in STATES:
        wrong["state"] = t("proof.wrong.state")
    if wrong or kept is None:
        page = proof_page(store, work, job_id, {}, typed={"name": name, "note": note, "state": state}, wrong=wrong)
        return answer(request, page, "proof.html", status=422)
    at = datetime.now(UTC).isoformat(timespec="seconds")
    row = {"name": name.strip(), "at": at, "verdict": kept.answer["verdict"], "state": state, "note": note.strip()}

    def keep() -> str:
        store.settings.of_job(job_id).change(SIGNED, lambda signed: [*(signed or []), row])
        words = "proof.log.signed_note" if row["note"] else "proof.log.signed"
        store.log(job_id, t(words, name=row["name"], verdict=row["verdict"], note=row["note"]))
        store.set_state(job_id, state)
        return f"/jobs/{job_id}/proof"

    return carried_out(request, once, keep)


