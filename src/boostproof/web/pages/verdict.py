"""Verdict: the causes in order with their reasons, the test to do next, and its reading, which moves the ranking at once."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from boostproof.case_names import READINGS, is_recording
from boostproof.errors import BoostproofError, InputError
from boostproof.findings import LEFT_OUT_TRIED
from boostproof.jobs import Task
from boostproof.jobs.after_repair import after_repair, as_found, mended_at
from boostproof.report.curves import Band, Level, Line, Picture, picture
from boostproof.report.text import SAFETY
from boostproof.web.bench_readings import keep_reading, procedure_of, rows_in_text, takes, typed_of
from boostproof.web.kept_parts import keeps, kept_part, named
from boostproof.web.once import Once
from boostproof.web.open_cases import OpenCases, open_cases_of
from boostproof.web.page import (
    Page,
    answer,
    frame,
    json_answer,
    see_other,
    shows,
    store_of,
    units_of,
    work_of,
)
from boostproof.web.reading_form import ReadingForm, expected, one, reading_form, sent_values
from boostproof.web.said import neither_side, pressure_unit
from boostproof.web.scene_part import held_scene, scene_of
from boostproof.web.words import t
from boostproof.workflows.bench_form import read_row
from boostproof.workflows.bench_sheet import ProcedurePage
from boostproof.workflows.first_look import FirstRanking
from boostproof.workflows.verdict_kept import from_kept
from boostproof.workflows.verdict_view import (
    ORDER,
    Plot,
    Ranked,
    VerdictView,
    added_rows,
    ranking_of,
    verdict_view,
    with_provisional,
)

if TYPE_CHECKING:
    from boostproof.jobs import KeptAnswer
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work
    from boostproof.workflows.verdict import NextTest, Verdict

router = APIRouter()
Values = Annotated[dict[str, list[str]], Depends(sent_values)]
DIAGNOSE = "diagnose"
_LOOKS = ("first", "second", "third")
_WITHOUT = {"without_history": True}


@dataclass(frozen=True)
class FirstLookShown:
    """The provisional ranking from the highest pull alone, or from ``all_pulls``; ``order_only``: only its order can be
    trusted."""

    ranking: tuple[Ranked, ...]
    order_only: bool
    all_pulls: bool


@dataclass(frozen=True, kw_only=True)
class VerdictPage(Page):
    """The verdict of a job.

    Attributes
    ----------
    state : "no log", "ready", "running", "failed" or "found"
    view : what is found, None before
    provisional : the ranking is one by re-weighting: "" or "kept" (the full answer is on its way) or "stale"
    stale : something else was changed since
    only_log : no reading was taken yet
    task : the work that runs or failed
    first_look : what that work knows already, None before
    without_history : what was said of the car is left out
    left_out : what was made after the repair and is therefore left out, in sentences
    tried : the same of recordings from after something was tried, as the car's sheet says
    mended : the repair is done, so that no further test can tell of the car as found
    picture : measured boost over what the leading causes predict
    test, form, takes : the test to do next
    scene : the moving picture (`boostproof.web.scene_part.SceneHeld`), None before there is a verdict
    instant : whether a reading moves the ranking at once: "open", "opening" or "closed"
    safety : what goes before all
    """

    state: str
    view: VerdictView | None
    provisional: str
    stale: bool
    only_log: bool
    task: Task | None
    first_look: FirstLookShown | None
    without_history: bool
    left_out: tuple[str, ...]
    tried: tuple[str, ...]
    mended: bool
    picture: Picture | None
    test: ProcedurePage | None
    form: ReadingForm | None
    takes: str
    scene: Any  # SceneHeld; its drawing is markup, which has no schema
    instant: str
    safety: str = SAFETY


def verdict_page(
    store: Store,
    work: Work,
    job_id: int,
    query: Mapping[str, str],
    *,
    cases: OpenCases,
    typed: Mapping[str, Sequence[str]] | None = None,
    wrong: Mapping[str, str] | None = None,
) -> VerdictPage:
    """The verdict of a job; ``history=without`` leaves out what was said.

    Parameters
    ----------
    cases : open cases, to which this job's is added
    typed, wrong : a form that was not taken, and what is wrong with it
    """
    choices = _choices(query)
    files = as_found(store, job_id).files
    content = store.content(job_id, DIAGNOSE)
    kept = store.answers.latest(job_id, DIAGNOSE, choices) or store.answers.latest(job_id, DIAGNOSE, choices, current=False)
    current = kept is not None and kept.content == content
    task = None if current else _task(work, job_id, choices, content)
    head = frame(store, work, job_id, "verdict")
    log = any(is_recording(f.path) for f in files)
    only_log = all(f.path != READINGS for f in files)
    bare: dict[str, Any] = {
        "without_history": bool(choices), "left_out": _left_out(store, job_id), "only_log": only_log, "task": task,
        "first_look": _first_look(task), "mended": bool(mended_at(store, job_id)),
    }  # fmt: skip
    if kept is None:
        state = "no log" if not log else "ready"
        if task is not None and task.state != "done":
            state = "failed" if task.over else "running"
        return VerdictPage(
            **head, **bare, tried=(), state=state, view=None, provisional="", stale=False, picture=None, test=None, form=None,
            takes="", scene=None, instant="closed",
        )  # fmt: skip
    units = pressure_unit(units_of(store))
    found = _found(store, kept, units)
    view = found.view
    instant = _ask(store, job_id, kept, cases)
    moved = None if current else _since(store, job_id, kept, cases)
    if not current:  # what was done or refused since is not proposed again
        verdict = _verdict(store, kept)
        view = verdict_view(replace(verdict, next_tests=_still_open(store, job_id, verdict)), pressure=units)
    if moved is not None:  # what is said of groups and pairs waits for the full answer
        first = verdict_view(moved, pressure=units)
        view = replace(view, headline=first.headline, ranking=first.ranking, alike=(), involved=(),
                       none_leads=first.none_leads, sound_leads=first.sound_leads)  # fmt: skip
    provisional = "" if moved is None else "kept" if task is not None and not task.over else "stale"
    test = None if bare["mended"] else view.next
    return VerdictPage(
        **head, **bare, tried=found.tried, state="found", view=view, provisional=provisional,
        stale=not current and moved is None, picture=found.picture,
        test=None if test is None else procedure_of(test.id, units),
        form=None if test is None else reading_form(store, job_id, test.id, typed=typed, wrong=wrong),
        takes="" if test is None else takes(test.id, units), scene=held_scene(store, work, job_id, units=head["units"]),
        instant=instant,
    )  # fmt: skip


@keeps
@dataclass(frozen=True)
class _Found:
    """What takes long to make of an answer."""

    view: VerdictView
    picture: Picture | None
    tried: tuple[str, ...]


def _found(store: Store, kept: KeptAnswer, units: str) -> _Found:
    def made() -> _Found:
        verdict = _verdict(store, kept)
        view = verdict_view(verdict, pressure=units)
        drawn = boost_picture(view.plot) if view.plot.lines or view.plot.bands else None
        return _Found(view, drawn, _tried(verdict))

    return kept_part(store, _Found, f"{named(kept)} in {units}", made)


def make_ready(store: Store, job_id: int) -> None:
    """Make what the page of the latest verdict rests on."""
    units = units_of(store)
    kept = store.answers.latest(job_id, DIAGNOSE, {}, current=False)
    if kept is not None:
        _found(store, kept, pressure_unit(units))
    scene_of(store, job_id, units)


def boost_picture(plot: Plot) -> Picture:
    """Measured boost over the bands of the leading causes, as shapes."""
    named = [t("verdict.band" if b.shown else "verdict.band_plain", title=b.title, shown=b.shown) for b in plot.bands]
    others = [line for line in plot.lines if not line.leads]
    lines = [Line(f"o{i}", "found", t("verdict.measured_other"), w.y, w.x) for i, w in enumerate(others)]
    lines += [Line("m", "measured", t("verdict.measured"), w.y, w.x) for w in plot.lines if w.leads]
    drawn = picture(
        "boost", (0.0, 1.0), says=t("verdict.picture_says"), x_says=t("verdict.picture_x"),
        y_says=t("verdict.picture_y", unit=plot.unit),
        bands=[
            Band(b.id, look, name, b.low, b.middle, b.high, b.x)
            for b, look, name in zip(plot.bands, _LOOKS, named, strict=False)
        ],
        lines=lines,
        levels=[] if plot.wanted is None else [Level("wanted", "wanted", t("verdict.wanted"), plot.wanted)],
        size=(700.0, 380.0),
    )  # fmt: skip
    behind = [line for line in drawn.lines if line.look == "found"]
    if len(behind) < 2:
        return drawn
    together = replace(behind[0], path="".join(line.path for line in behind))  # one line of the legend
    return replace(drawn, lines=(together, *(line for line in drawn.lines if line.look != "found")))


@router.get("/jobs/{job_id}/verdict", **shows(VerdictPage))
def show(request: Request, job_id: int) -> Response:
    """The verdict of a job: ranking, reasons, the test to do next; ``?history=without`` leaves out what was said."""
    page = verdict_page(
        store_of(request), work_of(request), job_id, request.query_params, cases=open_cases_of(request)
    )
    return answer(request, page, "verdict.html")


@router.post("/jobs/{job_id}/verdict", status_code=303)
def keep(request: Request, job_id: int, once: Once, values: Values) -> Response:
    """Keep the reading of a test and rank again: ``test`` and its fields, as on the bench page."""
    store, work = store_of(request), work_of(request)

    def again(wrong: Mapping[str, str], status: int, typed: Mapping[str, Sequence[str]] = values) -> Response:
        page = verdict_page(
            store, work, job_id, request.query_params, cases=open_cases_of(request), typed=typed, wrong=wrong
        )
        return answer(request, page, "verdict.html", status=status)

    choices = _choices(request.query_params)
    try:
        address, wrong = keep_reading(store, job_id, values, once, lambda index: _address(job_id, choices))
    except InputError as error:
        if error.kind == "changed-elsewhere":
            fresh = {**values, "expect": [expected(store, job_id)]}
            return again({"test": t("bench.form.changed")}, 409, fresh)
        raise
    if wrong:
        return again(wrong, 422)
    work.start(job_id, DIAGNOSE, choices)
    return see_other(address)


@router.post("/jobs/{job_id}/verdict/rank", status_code=303)
def rank(request: Request, job_id: int, values: Values) -> Response:
    """Rank the causes, or rank them again; ``history=without`` leaves out what was said."""
    store = store_of(request)
    choices = _choices({"history": one(values, "history")})
    if store.answers.latest(job_id, DIAGNOSE, choices) is None:
        work_of(request).start(job_id, DIAGNOSE, choices)
    return see_other(_address(job_id, choices))


@router.post("/jobs/{job_id}/verdict/try")
def try_reading(request: Request, job_id: int, values: Values) -> Response:
    """The ranking at once with a reading as typed, as JSON; nothing is kept. ``state`` is "moved", "as before" (nothing
    can be read yet), "opening" or "closed" (the ranking waits for the full answer)."""
    store, cases = store_of(request), open_cases_of(request)
    kept = store.answers.latest(job_id, DIAGNOSE, _choices(request.query_params), current=False)
    if kept is None:
        return json_answer({"format": 1, "state": "closed", "ranking": []})
    typed = typed_of(values, store)
    added = _added(store, job_id, kept)
    opened = cases.get(kept.content, kept.choices)
    verdict = _verdict(store, kept)
    if opened is None or added is None:
        state = _ask(store, job_id, kept, cases)
        return json_answer({"format": 1, "state": state if state != "open" else "closed", "ranking": []})
    readings = [*added, *([typed.reading] if typed.reading is not None and len(typed.row) > 1 else [])]
    if not readings:
        return json_answer({"format": 1, "state": "as before", "ranking": _said(ranking_of(verdict))})
    moved = with_provisional(verdict, opened.provisional(*readings))
    state = "moved" if len(readings) > len(added) else "as before"
    return json_answer({"format": 1, "state": state, "ranking": _said(ranking_of(moved))})


# -- what stands behind ------------------------------------------------------------------------------


def _verdict(store: Store, kept: KeptAnswer) -> Verdict:
    return store.memory.lasting(f"verdict of {kept.id}", lambda: from_kept(kept.answer))


def _left_out(store: Store, job_id: int) -> tuple[str, ...]:
    found = after_repair(store, job_id)
    counts = {"recordings": len(found.recordings), "readings": len(found.readings)}
    return (
        *(t(f"verdict.left_out.{kind}", n=n) for kind, n in counts.items() if n),
        *(
            t("verdict.left_out.pulls", file=PurePosixPath(path).name, pulls=numbers.in_words())
            for path, numbers in found.since.pulls
        ),
        *neither_side(found),
    )


def _tried(verdict: Verdict) -> tuple[str, ...]:
    return tuple(t("verdict.left_out.tried", files=f.where) for f in verdict.findings if f.kind == LEFT_OUT_TRIED)


def _choices(query: Mapping[str, str]) -> dict[str, Any]:
    return dict(_WITHOUT) if query.get("history") == "without" else {}


def _address(job_id: int, choices: Mapping[str, Any]) -> str:
    return f"/jobs/{job_id}/verdict" + ("?history=without" if choices else "")


def _task(work: Work, job_id: int, choices: Mapping[str, Any], content: str) -> Task | None:
    """The latest work on these files."""
    found = [task for task in work.tasks(job_id) if task.kind == DIAGNOSE and task.choices == choices]
    return next((task for task in found if task.content == content), None)


def _first_look(task: Task | None) -> FirstLookShown | None:
    if task is None or task.so_far is None:
        return None
    found = FirstRanking.from_json(task.so_far)
    return FirstLookShown(found.ranking, found.trust == ORDER, found.all_pulls)


def _ask(store: Store, job_id: int, kept: KeptAnswer, cases: OpenCases) -> str:
    """Have the case of an answer opened beside the requests."""
    return cases.ask(lambda: store.folder(job_id, kept.content), kept.content, kept.choices)


def _since(store: Store, job_id: int, kept: KeptAnswer, cases: OpenCases) -> Verdict | None:
    """The verdict with the readings that came since it was worked out; None where that cannot be had at once."""
    added = _added(store, job_id, kept)
    opened = cases.get(kept.content, kept.choices)
    if not added or opened is None:
        return None
    return with_provisional(_verdict(store, kept), opened.provisional(*added))


def _added(store: Store, job_id: int, kept: KeptAnswer) -> list[Any] | None:
    """Readings that came since an answer; None where anything else was changed."""
    from boostproof.casefolder.readings_edit import readings_in
    from boostproof.jobs.plain import content_of

    found = as_found(store, job_id)
    files = found.files
    if kept.content == content_of(files):
        return []
    try:
        before = store.folder(job_id, kept.content) / READINGS
    except BoostproofError:
        return None
    old = before.read_bytes() if before.exists() else b""
    digest = hashlib.sha256(old).hexdigest()
    now = next((f for f in files if f.path == READINGS), None)
    if now is None:
        return None
    as_before = [f for f in files if f.path != READINGS]
    as_before += [replace(now, sha256=digest, size=len(old))] if old else []
    if content_of(as_before) != kept.content:
        return None
    rows = added_rows(readings_in(old.decode("utf-8-sig")), readings_in(found.text(store, job_id, READINGS)))
    if rows is None:
        return None
    read = [read_row(row)[0] for row in rows if "not_done" not in row]
    return None if any(reading is None for reading in read) else read


def _still_open(store: Store, job_id: int, verdict: Verdict) -> tuple[NextTest, ...]:
    taken = {str(row.get("test")) for row in rows_in_text(store.text(job_id, READINGS))}
    return tuple(test for test in verdict.next_tests if test.id not in taken)


def _said(ranking: Sequence[Ranked]) -> list[dict[str, Any]]:
    return [{**vars(r), "strength_says": t(f"verdict.strength.{r.strength}") if r.strength else ""} for r in ranking]
