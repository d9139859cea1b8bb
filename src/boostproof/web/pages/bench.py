"""Bench: every test with its cautions and procedure, its reading, and what the reading means at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from boostproof.case_names import READINGS
from boostproof.errors import BoostproofError, InputError
from boostproof.jobs.after_repair import after_repair, mended_at
from boostproof.report.words import title_of_test
from boostproof.web.bench_readings import (
    index_of,
    keep_reading,
    meant,
    procedure_of,
    read_of,
    rows_in_text,
    takes,
    typed_of,
)
from boostproof.web.errors import status_of
from boostproof.web.kept_parts import keeps, kept_part, named
from boostproof.web.once import Once
from boostproof.web.page import (
    Notice,
    Page,
    answer,
    carried_out,
    frame,
    json_answer,
    see_other,
    shows,
    store_of,
    units_of,
    work_of,
)
from boostproof.web.reading_form import (
    ReadingForm,
    Word,
    expected,
    gauge_unit,
    in_words,
    one,
    reading_form,
    sent_values,
)
from boostproof.web.said import pressure_unit
from boostproof.web.shown import minutes
from boostproof.web.words import t
from boostproof.workflows.bench_form import PRESSURE_UNITS, rows_in
from boostproof.workflows.bench_sheet import (
    BenchSheet,
    Done,
    Figure,
    ProcedurePage,
    bench_sheet,
)

if TYPE_CHECKING:

    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

router = APIRouter()
Values = Annotated[dict[str, list[str]], Depends(sent_values)]
_DRAWING_FOR = "private, max-age=86400"
keeps(BenchSheet)
_GAUGE = ("name", "smallest_mark", "class", "range", "reads_at_zero", "checked_against")


@dataclass(frozen=True)
class TestLine:
    """A test in the list: its id, title, what is said beside it, where it is, and whether it is the one in view."""

    id: str
    title: str
    says: str
    address: str
    here: bool


@dataclass(frozen=True)
class ReadingShown:
    """A reading that was taken, with what it means."""

    index: int
    title: str
    not_done: str
    written: tuple[tuple[str, str], ...]
    figures: tuple[Figure, ...]
    questions: tuple[str, ...]


@dataclass(frozen=True)
class GaugeShown:
    """The gauge in hand: its unit, the units to choose from, what is known of it as written, and what is wrong with it."""

    unit: str
    units: tuple[str, ...]
    fields: tuple[tuple[str, str], ...]
    expect: str
    wrong: str = ""


@dataclass(frozen=True, kw_only=True)
class BenchPage(Page):
    """The bench of a job.

    Attributes
    ----------
    again, worth, possible, done, not_here : the list of tests; again are those done before the repair and not since
    test : the one in view, None where all is done
    takes : its usual time, in words
    form : of its reading, None where it is only looked at
    reading : the reading in view, None for a test without
    gauge : in hand
    """

    again: tuple[TestLine, ...]
    worth: tuple[TestLine, ...]
    possible: tuple[TestLine, ...]
    done: tuple[TestLine, ...]
    not_here: tuple[TestLine, ...]
    test: ProcedurePage | None
    takes: str
    form: ReadingForm | None
    reading: ReadingShown | None
    gauge: GaugeShown


def bench_page(
    store: Store,
    work: Work,
    job_id: int,
    query: Mapping[str, str],
    *,
    typed: Mapping[str, Sequence[str]] | None = None,
    wrong: Mapping[str, str] | None = None,
    more: int = 0,
    gauge: tuple[Mapping[str, str], str] | None = None,
) -> BenchPage:
    """The bench of a job, with the test that ``query`` names (``test``, ``of``, or ``reading`` for one taken) in view.

    Parameters
    ----------
    typed, wrong, more : a form that was not taken, what is wrong with it, and rows to add to it
    gauge : what was typed of the gauge and not taken, and why
    """
    units = pressure_unit(units_of(store))
    held = _held(store, job_id, units)
    notices = held.notices + ((Notice("kept", t(f"bench.{query['said']}")),) if query.get("said") in _SAID else ())
    index = index_of(query.get("reading", ""), len(held.rows))
    test = _in_view(held.sheet, query.get("test", ""), held.rows, index)
    row = None if index is None else held.rows[index]
    of = query.get("of", "") or ("" if row is None else str(row.get("of", "")))
    form = None
    if test:
        form = reading_form(
            store, job_id, test, of=of, row=row, index=index, typed=typed, wrong=wrong, more=more,
            repeats=_repeats(held.rows),
        )  # fmt: skip
    return BenchPage(
        **frame(store, work, job_id, "bench", notices),
        again=tuple(_line(job_id, name, takes(name, units), test, index) for name in held.sheet.again),
        worth=tuple(
            _line(job_id, w.test, t("bench.saves", minutes=minutes(w.minutes_saved)), test, index) for w in held.sheet.worth
        ),
        possible=tuple(_line(job_id, name, takes(name, units), test, index) for name in held.sheet.possible),
        done=tuple(_done_line(job_id, d, index) for d in held.sheet.done),
        not_here=tuple(_line(job_id, n.test, _why(n.why, n.what), test, index) for n in held.sheet.not_here),
        test=procedure_of(test, units) if test else None,
        takes=takes(test, units) if test else "",
        form=form,
        reading=None if index is None else _reading(held.sheet, index),
        gauge=_gauge(store, job_id, held.gauge if gauge is None else gauge[0], "" if gauge is None else gauge[1]),
    )


@router.get("/jobs/{job_id}/bench", **shows(BenchPage))
def show(request: Request, job_id: int) -> Response:
    """The bench of a job; ``?test=port-measure`` shows one test, ``?reading=0`` one reading that was taken."""
    page = bench_page(store_of(request), work_of(request), job_id, request.query_params)
    return answer(request, page, "bench.html")


@router.post("/jobs/{job_id}/bench", status_code=303)
def keep(request: Request, job_id: int, once: Once, values: Values) -> Response:
    """Keep a reading: ``test`` and its fields by their keys (``leak.start``, ``rows.0.port``), ``unit`` of bare pressures,
    ``index`` to correct one, ``not_done`` where it could not be done, ``more`` for one more row without keeping."""
    store, query = store_of(request), {"test": one(values, "test"), "of": one(values, "of"), "reading": one(values, "index")}

    def again(wrong: Mapping[str, str], status: int, more: int = 0) -> Response:
        page = bench_page(store, work_of(request), job_id, query, typed=values, wrong=wrong, more=more)
        return answer(request, page, "bench.html", status=status)

    if one(values, "more"):
        return again({}, 200, more=max(1, int(one(values, "more")) + 1 - rows_in(values)))
    said = "not_done_kept" if one(values, "not_done") else "changed"
    try:
        address, wrong = keep_reading(
            store, job_id, values, once, lambda index: f"/jobs/{job_id}/bench?reading={index}&said={said}"
        )
    except InputError as error:
        if error.kind == "changed-elsewhere":
            fresh = {**values, "expect": [expected(store, job_id)]}
            page = bench_page(
                store, work_of(request), job_id, query, typed=fresh, wrong={"test": t("bench.form.changed")}
            )
            return answer(request, page, "bench.html", status=409)
        raise
    if wrong:
        return again(wrong, 422)
    return see_other(address)


@router.post("/jobs/{job_id}/bench/meaning")
def meaning(request: Request, job_id: int, values: Values) -> Response:
    """What a reading means before it is kept, as JSON: figures, doubts by field, what cannot be read by field."""
    store = store_of(request)
    typed = typed_of(values, store)
    if typed.reading is None or len(typed.row) < 2:
        return json_answer({"format": 1, "figures": [], "questions": {}, "remarks": [], "wrong": typed.problems})
    index = index_of(one(values, "index"), 10_000)
    found = meant(store, job_id, typed, index)
    return json_answer(
        {
            "format": 1,
            "figures": [vars(f) for f in found.figures],
            "questions": found.questions,
            "remarks": list(found.remarks),
            "wrong": {},
        }
    )


@router.post("/jobs/{job_id}/bench/remove", status_code=303)
def remove(request: Request, job_id: int, once: Once, values: Values) -> Response:
    """Take the reading ``index`` out; the version before stays among the files of the job."""
    from boostproof.casefolder.readings_edit import readings_in, remove_reading

    store = store_of(request)

    def without() -> str:
        text = store.text(job_id, READINGS)
        index = index_of(one(values, "index"), len(readings_in(text)))
        text = remove_reading(text, -1 if index is None else index)
        store.write(job_id, READINGS, text, expect=one(values, "expect"))
        return f"/jobs/{job_id}/bench?said=removed"

    return carried_out(request, once, without)


@router.post("/jobs/{job_id}/bench/gauge", status_code=303)
def set_gauge(request: Request, job_id: int, values: Values) -> Response:
    """Choose the ``unit`` of the gauge in hand, and say what is known of it (``smallest_mark``, ``class`` ...)."""
    from boostproof.casefolder.readings_edit import set_gauge as written

    store = store_of(request)
    unit = one(values, "unit")
    if unit in PRESSURE_UNITS:
        store.settings.set("gauge_unit", unit)
    test = one(values, "test")
    if one(values, "details"):
        typed = {name: one(values, name).strip() for name in _GAUGE}
        given = {name: _with_unit(name, said, gauge_unit(store)) for name, said in typed.items() if said}
        text = store.text(job_id, READINGS)
        try:
            new = written(text, given) if given or text else ""
            if new:
                _readable(new)
                store.write(job_id, READINGS, new, expect=one(values, "expect") if "expect" in values else None)
        except InputError as error:
            told = (typed, f"{error.says} {error.do}".strip())
            page = bench_page(store, work_of(request), job_id, {"test": test}, gauge=told)
            return answer(request, page, "bench.html", status=status_of(error))
    return see_other(f"/jobs/{job_id}/bench?said=gauge_kept" + (f"&test={test}" if test.replace("-", "").isalpha() else ""))


# -- what the page is made of ------------------------------------------------------------------------

_SAID = ("changed", "not_done_kept", "removed", "gauge_kept")


@dataclass(frozen=True)
class _Held:
    """What a job holds of the bench."""

    sheet: BenchSheet
    rows: tuple[dict[str, Any], ...]
    gauge: Mapping[str, Any]
    notices: tuple[Notice, ...]


def _held(store: Store, job_id: int, units: str) -> _Held:
    text = store.text(job_id, READINGS)
    rows = rows_in_text(text)
    gauge = _gauge_in(text)
    try:
        sheet = _sheet(store, job_id, rows, units)
        notices: tuple[Notice, ...] = ()
    except BoostproofError as error:
        sheet = bench_sheet(None, rows, _verdict(store, job_id), repaired=bool(mended_at(store, job_id)), units=units)
        told = "" if error.kind == "missing" else f"{error.says} {error.do}".strip()
        notices = (Notice("car", t("bench.car_first"), told or t("bench.car_first_do")),)
    notices += tuple(Notice("doubt", says) for says in sheet.findings)
    return _Held(sheet, rows, gauge if isinstance(gauge, dict) else {}, notices)


@lru_cache(maxsize=64)
def _gauge_in(text: str) -> Any:
    from boostproof.casefolder.toml_file import toml_of

    return toml_of(text).get("gauge", {})


def _sheet(store: Store, job_id: int, rows: Sequence[dict[str, Any]], units: str) -> BenchSheet:
    """The tests of a job and what its readings mean.

    Raises
    ------
    BoostproofError
        If the car cannot be read yet.
    """
    later, repaired = after_repair(store, job_id).readings, bool(mended_at(store, job_id))
    kept, content = store.answers.latest(job_id, "diagnose", current=False), store.content(job_id)

    def made() -> BenchSheet:
        context, found, since = read_of(store.folder(job_id), content, later)
        return bench_sheet(
            context, rows, None if kept is None else kept.answer, found, repaired=repaired, later=later,
            meant_later=since, units=units,
        )  # fmt: skip

    sheet = kept_part(store, BenchSheet, f"{content} {later} {repaired} {named(kept)} {units}", made)
    return replace(sheet, done=tuple(replace(done, row=rows[done.index]) for done in sheet.done))  # dates, as written


def make_ready(store: Store, job_id: int) -> None:
    """Make what the page rests on.

    Raises
    ------
    BoostproofError
        If the car or its readings cannot be read yet.
    """
    _sheet(store, job_id, rows_in_text(store.text(job_id, READINGS)), pressure_unit(units_of(store)))


def _verdict(store: Store, job_id: int) -> dict[str, Any] | None:
    kept = store.answers.latest(job_id, "diagnose", current=False)
    return None if kept is None else kept.answer


def _in_view(sheet: BenchSheet, asked: str, rows: Sequence[Mapping[str, Any]], index: int | None) -> str:
    from boostproof.bench.tests import BY_ID

    if index is not None:
        found = str(rows[index].get("test", ""))
        return found if found in BY_ID else ""
    if asked:
        if asked not in BY_ID:
            raise InputError(
                t("frame.errors.missing"), kind="not-found", where=asked, do=t("frame.errors.missing_do")
            )
        return asked
    if sheet.again:
        return sheet.again[0]
    if sheet.worth:
        return sheet.worth[0].test
    return sheet.possible[0] if sheet.possible else ""


def _line(job_id: int, test: str, says: str, here: str, index: int | None) -> TestLine:
    from boostproof.bench.tests import BY_ID

    address = f"/jobs/{job_id}/bench?test={test}#test"
    return TestLine(test, BY_ID[test].title, says, address, test == here and index is None)


def _done_line(job_id: int, done: Done, index: int | None) -> TestLine:
    says = t("bench.after_repair") if done.after else ""
    if done.not_done:
        says = f"{t('bench.label.not_done')}: {done.not_done}"
    address = f"/jobs/{job_id}/bench?reading={done.index}#test"
    return TestLine(done.test, title_of_test(done.test), says, address, index == done.index)


def _why(why: str, what: str) -> str:
    return t(f"bench.why.{why}", what=t(f"bench.need.{what}") if why == "need" else what)


def _repeats(rows: Sequence[Mapping[str, Any]]) -> tuple[Word, ...]:
    from boostproof.bench.tests import BY_ID
    from boostproof.bench.tests.repeats import REPEATED_HOT

    done = [str(row.get("test")) for row in rows if "not_done" not in row]
    return tuple(Word(name, BY_ID[name].title) for name in REPEATED_HOT if name in done)


def _reading(sheet: BenchSheet, index: int) -> ReadingShown:
    done = sheet.done[index]
    return ReadingShown(index, title_of_test(done.test), done.not_done, in_words(done.row), done.figures, done.questions)


def _gauge(store: Store, job_id: int, gauge: Mapping[str, Any], wrong: str) -> GaugeShown:
    fields = tuple((name, str(gauge.get(name, ""))) for name in _GAUGE)
    return GaugeShown(gauge_unit(store), PRESSURE_UNITS, fields, expected(store, job_id), wrong)


def _with_unit(name: str, said: str, unit: str) -> str:
    """A bare number with the unit that its field is in."""
    bare = said.replace(".", "").replace(",", "").isdigit()
    if not bare or name in ("name", "checked_against"):
        return said
    return f"{said} %" if name == "class" else f"{said} {unit}"


def _readable(text: str) -> None:
    """Raise what is wrong with a gauge before it is kept."""
    from boostproof.casefolder.files import read_readings
    from boostproof.casefolder.toml_file import parse_toml

    read_readings(parse_toml(text.encode(), READINGS, instead=""))[1].finish()
