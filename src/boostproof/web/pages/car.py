"""The Car page: what is known of the car, asked little first, each answer understood at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Request
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from boostproof.case_names import CAR
from boostproof.errors import BoostproofError, InputError
from boostproof.web import car_form, shown
from boostproof.web.car_save import Refused, save_answers, save_file, seen_and_raw
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
from boostproof.web.understood import Understood, answer_understood, said_of, wrong
from boostproof.web.words import keys, t
from boostproof.workflows.bench_form import NO, YES
from boostproof.workflows.car_sheet import Conflict, Said, Sheet, key_at, read_sheet, rows_in, worth_knowing

if TYPE_CHECKING:
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

router = APIRouter()

_DRAWN_FROM = ("engine.cylinders", "wastegate.kind", "controller.kind")
_SUSPECTED = 0.5  # from this share on the verdict's first cause is marked in the drawing


@dataclass(frozen=True)
class Option:
    """One word to choose: as kept, as read, and the name of its drawing where it has one."""

    value: str
    text: str
    chosen: bool
    picture: str = ""


@dataclass(frozen=True)
class Answer:
    """One answer on the page.

    Attributes
    ----------
    name : dotted key in car.toml
    form : "line" (understood as it is typed), "text", "lines", "options", "several", "opens" or "file"
    label, help : as shown
    said : as kept or typed, "" for nothing
    options : words to choose from, where it is a choice
    words : words that may stand in place of a quantity
    steps : of its stepper, "" for none; ``start`` where it begins
    understood : how it is understood, or what is wrong with it
    theirs : what someone else saved meanwhile, None where nobody did
    needed : a verdict needs it, and it is not told
    worth : what knowing it would save
    """

    name: str
    form: str
    label: str
    help: str
    said: str
    options: tuple[Option, ...] = ()
    words: tuple[str, ...] = ()
    steps: str = ""
    start: str = ""
    understood: Understood | None = None
    theirs: str | None = None
    needed: bool = False
    worth: str = ""


@dataclass(frozen=True)
class AnswerRow:
    """One row of a list; ``new`` for the empty one that adds a row."""

    legend: str
    answers: tuple[Answer, ...]
    new: bool


@dataclass(frozen=True)
class AnswerRows:
    """A list of rows: what changed, what was tried, boost wanted over engine speed."""

    name: str
    label: str
    help: str
    add: str
    rows: tuple[AnswerRow, ...]
    form: str = "rows"


@dataclass(frozen=True)
class PartOfCar:
    """One part of the system: its answers, one line of what is told, and whether it stands open."""

    name: str
    title: str
    says: str
    open: bool
    answers: tuple[Answer | AnswerRows, ...]


@dataclass(frozen=True)
class WorthKnowing:
    """An unknown with what knowing it would save, from the last verdict."""

    name: str
    says: str
    how: str
    address: str


@dataclass(frozen=True)
class SystemDrawing:
    """The boost system as told: SVG, numbers and names of its parts, and what it shows in sentences."""

    svg: str
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


@dataclass(frozen=True)
class _Typed:
    """What was typed and not saved."""

    values: Mapping[str, Said] = field(default_factory=dict)
    wrong: Mapping[str, Understood] = field(default_factory=dict)
    conflicts: tuple[Conflict, ...] = ()
    file: str | None = None
    file_wrong: str = ""


def car_page(
    store: Store, work: Work, job_id: int, query: Mapping[str, str], typed: _Typed | None = None
) -> CarPage:
    """The Car page.

    Parameters
    ----------
    query : ``saved`` after saving
    typed : answers that were refused, to be kept as typed with what is wrong
    """
    typed = typed or _Typed()
    units = units_of(store)
    seen, raw = seen_and_raw(store, job_id)
    file_wrong = typed.file_wrong
    try:
        sheet = read_sheet(raw)
    except InputError as error:
        sheet = read_sheet(b"")
        file_wrong = file_wrong or t("car.whole_file", says=f"{error.says} {error.do} ({error.where})")
    kept = store.answer(job_id, "diagnose", current=False)
    verdict = {} if kept is None else kept.answer
    worth = _worth(job_id, sheet, verdict)
    asker = _Asker(sheet, typed, units, {one.name: one.says for one in worth})
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
        drawing=_drawing(sheet.text.encode(), _suspected(verdict)),
        file=raw.decode("utf-8", "replace") if typed.file is None else typed.file,
        file_wrong=file_wrong,
    )


def _notices(sheet: Sheet, asker: _Asker, file_wrong: str) -> tuple[Notice, ...]:
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


@lru_cache(maxsize=16)
def _drawing(raw: bytes, causes: tuple[str, ...]) -> SystemDrawing | None:
    """The boost system once cylinders, gate and boost controller are told, with what the verdict suspects."""
    from boostproof.report.system_drawing import draw_car

    sheet = read_sheet(raw)
    if any(name in sheet.missing or name in sheet.problems for name in _DRAWN_FROM):
        return None
    made = draw_car(sheet.car, causes=causes)
    return SystemDrawing(Markup(made.svg), made.legend, made.says)  # its texts are escaped where it is made


def label_of(name: str) -> str:
    """What an answer is called on the page."""
    return t(f"car.label.{_words_of(name)}")


def _help_of(name: str) -> str:
    """What says more than the label, "" where nothing needs to."""
    key = f"car.help.{_words_of(name)}"
    return t(key) if key in _KEYS else ""


def _words_of(name: str) -> str:
    """The key of an answer's words: a list's rows have their own table, "as" means the same everywhere."""
    parts = name.split(".")
    if parts[-1] == "as":
        return "as"
    rows = [f"{one}_row" if after.isdecimal() else one for one, after in zip(parts, [*parts[1:], ""], strict=True)]
    return ".".join(part for part in rows if not part.isdecimal())


_KEYS = keys()


class _Asker:
    """Makes the answers of one page, and remembers which were asked and what is wrong with them."""

    def __init__(self, sheet: Sheet, typed: _Typed, units: str, worth: Mapping[str, str]) -> None:
        self.sheet = sheet
        self.values = {**sheet.values, **typed.values}
        self.typed = typed
        self.units = units
        self.worth = worth
        self.theirs = {one.name: one.theirs for one in typed.conflicts}
        self.asked: set[str] = set()
        self.wrong: dict[str, str] = {}

    def part(self, part: car_form.Part, *, open_too: bool = False) -> PartOfCar:
        before = len(self.wrong)
        answers = tuple(
            self.rows(name, car_form.ROWS[name]) if name in car_form.ROWS else self.answer(name) for name in part.answers
        )
        theirs = any(one.theirs is not None for one in _flat(answers))
        is_open = open_too or theirs or len(self.wrong) > before
        return PartOfCar(part.name, t(f"car.part.{part.name}.title"), self._says(answers), is_open, answers)

    def _says(self, answers: tuple[Answer | AnswerRows, ...]) -> str:
        told = [one for one in _flat(answers) if one.said]
        if not told:
            return t("car.nothing_told")
        some = [f"{one.label}: {_read(one)}" for one in told[:2]]
        more = len(told) - len(some)
        return " · ".join(some) + (f" · {t('car.and_more', n=more)}" if more else "")

    def rows(self, name: str, table: str) -> AnswerRows:
        kept = rows_in(self.values, table)
        words = table.replace(".", "_")
        rows = tuple(
            AnswerRow(
                t("car.row_legend", what=t(f"car.rows.{words}"), n=number + 1),
                tuple(self.answer(f"{table}.{number}.{inner}") for inner in car_form.answers_of(table)),
                number == kept,
            )
            for number in range(kept + 1)
        )
        label = label_of(f"{table}.0.title") if name != table else label_of(table)
        help_text = "" if name != table else _help_of(table)
        return AnswerRows(name, label, help_text, t(f"car.row_new_for.{words}"), rows)

    def answer(self, name: str) -> Answer:
        key = key_at(name)
        said = self.values.get(name, ())
        self.asked.add(name)
        form = _form_of(name)
        understood = self._understood(name, said)
        if understood is not None and not understood.ok:
            self.wrong[name] = f"{label_of(name)}: {understood.says}"
        theirs = self.theirs.get(name)
        example = key.example.strip('[]"')
        return Answer(
            name=name,
            form=form,
            label=label_of(name),
            help=_help(name, example if form in ("line", "text") and not said else ""),
            said="\n".join(said) if form != "options" else (said[-1] if said else ""),
            options=_options(name, said) if form in ("options", "several", "opens") else (),
            words=key.words,
            steps=car_form.steps_of(name) if form == "line" else "",
            start=example,
            understood=understood,
            theirs=None if theirs is None else _shown(name, theirs),
            needed=name in self.sheet.missing,
            worth=self.worth.get(name, ""),
        )

    def _understood(self, name: str, said: Said) -> Understood | None:
        if name in self.typed.wrong:
            return self.typed.wrong[name]
        if name in self.sheet.problems and name not in self.typed.values:
            return wrong(name, self.sheet.problems[name])
        return answer_understood(name, said, self.units) if said and key_at(name).kind != "text" else None


def _flat(answers: tuple[Answer | AnswerRows, ...]) -> list[Answer]:
    found: list[Answer] = []
    for one in answers:
        found += [one] if isinstance(one, Answer) else [inner for row in one.rows for inner in row.answers]
    return found


def _read(one: Answer) -> str:
    """An answer in a line of text."""
    chosen = ", ".join(option.text for option in one.options if option.chosen and option.value)
    return chosen or one.said.replace("\n", ", ")


def _shown(name: str, said: Said) -> str:
    return ", ".join(said_of(one) for one in said) or t("car.nothing")


def _form_of(name: str) -> str:
    if car_form.without_row(name) in car_form.OPENS:
        return "opens"
    if name in car_form.LONG:
        return "lines"
    return {
        "quantity": "line", "number": "line", "integer": "line", "turns": "line", "flag": "options", "choice": "options",
        "choices": "several", "texts": "lines", "path": "file", "paths": "file",
    }.get(key_at(name).kind, "text") if not key_at(name).open else "text"  # fmt: skip


def _options(name: str, said: Said) -> tuple[Option, ...]:
    key = key_at(name)
    words = (YES, NO) if key.kind == "flag" else key.choices
    drawn = car_form.without_row(name) in car_form.DRAWN
    options = tuple(
        Option(word, said_of(word), word in said, word.replace(" ", "-") if drawn else "") for word in words
    )
    if key.must or key.kind == "choices":
        return options
    nothing = t("car.not_said") if name.endswith(".as") else t("car.not_known")
    return (*options, Option("", nothing, not any(option.chosen for option in options)))


def _help(name: str, example: str) -> str:
    such = t("car.such_as", example=example) if example else ""
    return ", ".join(part for part in (_help_of(name), such) if part)


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
        said = _Typed(refused.values, {name: wrong(name, p) for name, p in refused.problems.items()}, refused.conflicts)
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
        typed = _Typed(file=None if error.kind == "changed-elsewhere" else file, file_wrong=says)
        page = car_page(store, work_of(request), job_id, {}, typed)
        return answer(request, page, "car.html", status=409 if error.kind == "changed-elsewhere" else 422)
    return see_other(f"{address_of(job_id, 'car')}?saved=1")
