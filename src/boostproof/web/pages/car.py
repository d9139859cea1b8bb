"""The Car page: what is known of the car, asked little first, each answer understood at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Request
from markupsafe import Markup
from pydantic import PlainSerializer, PlainValidator
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from boostproof.case_names import CAR
from boostproof.errors import BoostproofError, InputError
from boostproof.web import car_form, shown
from boostproof.web.car_answers import Asker, PartOfCar, Typed, label_of
from boostproof.web.car_save import Refused, save_answers, save_file, seen_and_raw
from boostproof.web.kept_parts import keeps, kept_part
from boostproof.web.page import (
    Notice,
    Page,
    answer,
    frame,
    json_answer,
    see_other,
    shows,
    store_of,
    units_of,
    wants_json,
    work_of,
)
from boostproof.web.stations import address_of
from boostproof.web.understood import Understood, answer_understood, wrong
from boostproof.web.words import t
from boostproof.workflows.car_sheet import Sheet, read_sheet
from boostproof.workflows.car_worth import worth_knowing

if TYPE_CHECKING:
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

router = APIRouter()

_DRAWN_FROM = ("engine.cylinders", "wastegate.kind", "controller.kind")
_SUSPECTED = 0.5  # from this share on the verdict's first cause is marked in the drawing


@dataclass(frozen=True)
class WorthKnowing:
    """An unknown with what knowing it would save, from the last verdict."""

    name: str
    says: str
    how: str
    address: str


@keeps
@dataclass(frozen=True)
class SystemDrawing:
    """The boost system as told: SVG, numbers and names of its parts, and what it shows in sentences."""

    svg: Annotated[str, PlainValidator(Markup), PlainSerializer(str)]  # its texts are escaped where it is made
    legend: tuple[tuple[int, str], ...]
    says: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class CarPage(Page):
    """What is known of the car.

    Attributes
    ----------
    seen : hash of the file that the page was made of, sent back when it is saved
    saved : it has just been saved
    first, parts : the answers
    wrong : what stands in the way of saving, by name of the answer
    conflict : someone else saved meanwhile, and both differ somewhere
    needed : labels of what a verdict still needs
    worth : unknowns with the minutes that they cost
    drawing : the boost system as told, None where nothing can be drawn yet
    file, file_wrong : the text of car.toml, and why it cannot be read
    """

    seen: str
    saved: bool
    first: PartOfCar
    parts: tuple[PartOfCar, ...]
    wrong: Mapping[str, str]
    conflict: bool
    needed: tuple[str, ...]
    worth: tuple[WorthKnowing, ...]
    drawing: SystemDrawing | None
    file: str
    file_wrong: str = ""


def car_page(
    store: Store, work: Work, job_id: int, query: Mapping[str, str], typed: Typed | None = None
) -> CarPage:
    """The Car page.

    Parameters
    ----------
    query : ``saved`` after saving
    typed : answers that were refused, to be kept as typed with what is wrong
    """
    typed = typed or Typed()
    units = units_of(store)
    seen, raw = seen_and_raw(store, job_id)
    file_wrong = typed.file_wrong
    try:
        sheet = read_sheet(raw)
    except InputError as error:
        sheet = read_sheet(b"")
        file_wrong = file_wrong or t("car.whole_file", says=f"{error.says} {error.do} ({error.where})")
    kept = store.answers.latest(job_id, "diagnose", current=False)
    verdict = {} if kept is None else kept.answer
    worth = _worth(job_id, sheet, verdict)
    asker = Asker(sheet, typed, units, {one.name: one.says for one in worth})
    first = asker.part(car_form.FIRST, open_too=True)
    parts = tuple(asker.part(part) for part in car_form.PARTS)
    return CarPage(
        **frame(store, work, job_id, "car", _notices(sheet, asker, file_wrong)),
        seen=seen,
        saved=bool(query.get("saved")),
        first=first,
        parts=parts,
        wrong=asker.wrong,
        conflict=bool(typed.conflicts),
        needed=tuple(label_of(name) for name in sheet.missing),
        worth=worth,
        drawing=_drawing(store, sheet, _suspected(verdict)),
        file=raw.decode("utf-8", "replace") if typed.file is None else typed.file,
        file_wrong=file_wrong,
    )


def _notices(sheet: Sheet, asker: Asker, file_wrong: str) -> tuple[Notice, ...]:
    found = []
    if file_wrong:
        found.append(Notice("file", file_wrong, t("car.whole_file_do")))
    for name, problem in sheet.problems.items():
        if name not in asker.asked:
            found.append(Notice("in-file", t("car.in_file", name=name or CAR, says=problem.says), problem.do))
    return tuple(found)


def _worth(job_id: int, sheet: Sheet, verdict: Mapping[str, Any]) -> tuple[WorthKnowing, ...]:
    found = []
    for name, one in worth_knowing(verdict).items():
        if sheet.values.get(name):
            continue
        what = t(f"car.worth_name.{name}")
        minutes = shown.minutes(one.minutes_saved)
        if one.minutes_saved >= 1.0 and not one.test:
            found.append(WorthKnowing(name, t("car.worth", what=what, minutes=minutes), t("car.worth_read"), ""))
        elif one.minutes_saved >= 1.0:
            how = t("car.worth_how", minutes=shown.minutes(one.minutes))
            says = t("car.worth", what=what, minutes=minutes)
            found.append(WorthKnowing(name, says, how, f"{address_of(job_id, 'bench')}?test={one.test}"))
        else:
            found.append(WorthKnowing(name, t("car.worth_unsaid", what=what), "", ""))
    return tuple(found)


def _suspected(verdict: Mapping[str, Any]) -> tuple[str, ...]:
    """Parts of the verdict's first cause, where it is likely enough to be marked."""
    leader = max(verdict.get("causes") or (), key=lambda one: float(one["probability"]), default=None)
    return tuple(leader["parts"]) if leader is not None and leader["probability"] >= _SUSPECTED else ()


def make_ready(store: Store, job_id: int) -> None:
    """Make what the page rests on.

    Raises
    ------
    InputError
        If the car cannot be read yet.
    """
    kept = store.answers.latest(job_id, "diagnose", current=False)
    _drawing(store, read_sheet(seen_and_raw(store, job_id)[1]), _suspected({} if kept is None else kept.answer))


def _drawing(store: Store, sheet: Sheet, causes: tuple[str, ...]) -> SystemDrawing | None:
    """The boost system once cylinders, gate and boost controller are told, with what the verdict suspects."""
    from boostproof.report.system_drawing import draw_car

    if any(name in sheet.missing or name in sheet.problems for name in _DRAWN_FROM):
        return None

    def made() -> SystemDrawing:
        drawn = draw_car(sheet.car, causes=causes)
        return SystemDrawing(drawn.svg, drawn.legend, drawn.says)

    return kept_part(store, SystemDrawing, f"{causes} in {sheet.text}", made)


# -- addresses -------------------------------------------------------------------------------------


@router.get("/jobs/{job_id}/car", **shows(CarPage))
def show(request: Request, job_id: int, saved: str = "") -> Response:
    """What is known of the car."""
    page = car_page(store_of(request), work_of(request), job_id, {"saved": saved})
    return answer(request, page, "car.html")


@router.get("/jobs/{job_id}/car/understood", response_model=Understood)
def understood(request: Request, job_id: int, name: str, said: str = "") -> Response:
    """How one answer would be understood, as it is typed: nothing is saved."""
    found = answer_understood(name, (said,), units_of(store_of(request)))
    return json_answer({"format": 1, **found.__dict__})


@router.post("/jobs/{job_id}/car", status_code=303)
async def save(request: Request, job_id: int) -> Response:
    """Save answers, each under its dotted name; ``_seen`` is the hash of the file that they change."""
    form = await request.form()
    sent = {name: [text for text in form.getlist(name) if isinstance(text, str)] for name in form}
    return await run_in_threadpool(_save, request, job_id, sent)


def _save(request: Request, job_id: int, sent: Mapping[str, list[str]]) -> Response:
    store = store_of(request)
    try:
        save_answers(store, job_id, sent)
    except Refused as refused:
        said = Typed(refused.values, {name: wrong(name, p) for name, p in refused.problems.items()}, refused.conflicts)
        status = 422 if refused.problems else 409
        if wants_json(request):
            return _refused_json(refused, status)
        page = car_page(store, work_of(request), job_id, {}, said)
        return answer(request, page, "car.html", status=status)
    return see_other(f"{address_of(job_id, 'car')}?saved=1")


def _refused_json(refused: Refused, status: int) -> Response:
    """For programs: the usual error object, and every answer that is in the way."""
    wrongs = {name: {"says": p.says, "do": p.do, "offers": list(p.offers)} for name, p in refused.problems.items()}
    conflicts = [
        {"name": one.name, "before": list(one.before), "theirs": list(one.theirs), "mine": list(one.mine)}
        for one in refused.conflicts
    ]
    kind = "wrong-value" if wrongs else "changed-elsewhere"
    says = t("car.wrong_heading") if wrongs else t("car.conflict_heading")
    error = {"kind": kind, "where": CAR, "says": says, "do": "" if wrongs else t("car.conflict_do")}
    return json_answer({"format": 1, "error": error, "wrong": wrongs, "conflicts": conflicts}, status)


@router.post("/jobs/{job_id}/car/file", status_code=303)
def save_text(
    request: Request, job_id: int, file: Annotated[str, Form()], seen: Annotated[str, Form(alias="_seen")] = ""
) -> Response:
    """Save car.toml as a whole."""
    store = store_of(request)
    try:
        save_file(store, job_id, file, seen)
    except BoostproofError as error:
        says = t("car.file_changed") if error.kind == "changed-elsewhere" else f"{error.says} {error.do}".strip()
        typed = Typed(file=None if error.kind == "changed-elsewhere" else file, file_wrong=says)
        page = car_page(store, work_of(request), job_id, {}, typed)
        return answer(request, page, "car.html", status=409 if error.kind == "changed-elsewhere" else 422)
    return see_other(f"{address_of(job_id, 'car')}?saved=1")
