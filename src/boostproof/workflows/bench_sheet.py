"""The bench work of a case: every test with its procedure, those worth doing first, and what readings mean at once."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from boostproof.bench.tests import BY_ID, CATALOGUE, BenchTest, CarContext
from boostproof.errors import InputError
from boostproof.report.bench_words import meaning_in_words

if TYPE_CHECKING:
    from boostproof.bench.readings import Reading
    from boostproof.casefolder import Case
    from boostproof.findings import Finding
    from boostproof.workflows.bench import Bench

_KEY_BESIDE = re.compile(r" \([a-z]+(?:_[a-z0-9]+)+\)")  # "(spring_side_port)": a form has that field
_KEY = re.compile(r"\b[a-z]+(?:_[a-z0-9]+)+\b")
WORTH = 3  # tests that are put forward at most


@dataclass(frozen=True)
class ProcedurePage:
    """A test as a page of a book of procedures, in the units of the shop.

    Attributes
    ----------
    id, number, title, purpose : as in the catalogue
    minutes : usual time, from and to
    cautions : kind and sentence, in the order in which they are shown, before everything else
    figure : name of the set-up drawing, empty for none
    figure_size : its width and height, to hold its place while it is fetched; noughts for none
    connect, parts_off, tools, steps, never : in order
    write, pointless, sound : sentences
    faults : what is seen, and the titles of the causes that show it
    pull : whether it is a pull with a recording
    """

    id: str
    number: int
    title: str
    purpose: str
    minutes: tuple[float, float]
    cautions: tuple[tuple[str, str], ...]
    figure: str
    figure_size: tuple[int, int]
    connect: tuple[str, ...]
    parts_off: tuple[str, ...]
    tools: tuple[str, ...]
    steps: tuple[str, ...]
    never: tuple[str, ...]
    write: str
    pointless: str
    sound: str
    faults: tuple[tuple[str, tuple[str, ...]], ...]
    pull: bool


@dataclass(frozen=True)
class Worth:
    """An open test that saves more time than it takes.

    Attributes
    ----------
    test : its id
    minutes, minutes_saved : what it takes and what it saves on average [min]
    """

    test: str
    minutes: float
    minutes_saved: float


@dataclass(frozen=True)
class NotHere:
    """A test that this car or this shop does not allow, or that must wait.

    Attributes
    ----------
    test : its id
    why : "controller", "no controller", "controller fitted", "need", "first" or "withheld"
    what : the controller fitted, or what the shop has not (a key of ``[pull_place]``)
    """

    test: str
    why: str
    what: str = ""


@dataclass(frozen=True)
class Figure:
    """One figure behind readings: name, measured, that of a sound car, what is said, and the verdict on it."""

    name: str
    measured: str
    sound: str
    says: str
    verdict: str


@dataclass(frozen=True)
class Done:
    """One reading that was taken.

    Attributes
    ----------
    index : its place in readings.toml, from 0
    test : its id
    not_done : why it could not be done, empty where it was
    row : as written
    figures : what it means
    questions : what of it is doubtful
    after : it was taken after the repair
    """

    index: int
    test: str
    not_done: str
    row: dict[str, Any] = field(repr=False)
    figures: tuple[Figure, ...] = ()
    questions: tuple[str, ...] = ()
    after: bool = False


@dataclass(frozen=True)
class BenchSheet:
    """Every test of the catalogue in one of four groups; after a repair those done before it in one more.

    Attributes
    ----------
    again : ids of tests that were done before the repair and not since
    worth : open tests worth doing next, best first
    possible : ids of the other open tests, in catalogue order
    done : readings in the order taken
    not_here : tests that cannot be done or must wait, with the reason
    findings : what disagrees between readings
    """

    worth: tuple[Worth, ...]
    possible: tuple[str, ...]
    done: tuple[Done, ...]
    not_here: tuple[NotHere, ...]
    findings: tuple[str, ...] = ()
    again: tuple[str, ...] = ()


@dataclass(frozen=True)
class Meant:
    """What a reading that is being typed means.

    Attributes
    ----------
    figures : what comes of it
    questions : by name of a field, what is doubtful there
    remarks : what is doubtful of the reading as a whole
    """

    figures: tuple[Figure, ...]
    questions: dict[str, str]
    remarks: tuple[str, ...]


def procedure_page(test_id: str, *, pressure: str = "psi", temperature: str = "C") -> ProcedurePage:
    """A test's procedure with its quantities in the units of the shop.

    Raises
    ------
    InputRangeError
        If there is no such test.
    """
    from boostproof.bench.procedures import fill, procedure
    from boostproof.bench.readings import READING_TYPES, RecordedPull
    from boostproof.diagnosis.causes import BY_ID as CAUSES
    from boostproof.report.setup_drawing import setup_size

    one = procedure(test_id)
    width, height = setup_size(one.figure) if one.figure else (0.0, 0.0)

    def put(text: str) -> str:
        return fill(_KEY_BESIDE.sub("", text), pressure=pressure, temperature=temperature)

    def each(texts: Sequence[str]) -> tuple[str, ...]:
        return tuple(put(text) for text in texts)

    return ProcedurePage(
        id=one.id, number=one.number, title=one.title, purpose=put(one.purpose), minutes=one.minutes,
        cautions=tuple((c.kind, put(c.says)) for c in one.cautions), figure=one.figure,
        figure_size=(round(100.0 * width), round(100.0 * height)), connect=each(one.connect),
        parts_off=each(one.parts_off), tools=each(one.tools), steps=each(one.steps), never=each(one.never),
        write=put(one.write), pointless=put(one.pointless), sound=put(one.sound),
        faults=tuple((put(f.shows), tuple(CAUSES[c].title for c in f.causes)) for f in one.faults),
        pull=issubclass(READING_TYPES[test_id], RecordedPull),
    )  # fmt: skip


def bench_sheet(
    context: CarContext | None,
    rows: Sequence[Mapping[str, Any]],
    answer: Mapping[str, Any] | None = None,
    meant: Bench | None = None,
    *,
    repaired: bool = False,
    later: Collection[str] = (),
    meant_later: Bench | None = None,
    units: str = "psi",
) -> BenchSheet:
    """Sort the tests by what they are to this case.

    Parameters
    ----------
    context : of the car, None where it cannot be read yet
    rows : the readings as written
    answer : of the diagnosis, None where there is none
    meant : what the readings mean, None where that is not known
    repaired : a repair was done, so that no test tells of the car as found any more
    later : readings that were taken after it, as ``seat-leak#2``
    meant_later : what these mean, beside each other; ``meant`` is then of the others
    units : of pressure
    """
    taken = {str(row.get("test")) for row in rows}
    done_tests = tuple(sorted({str(r.get("test")) for r in rows if "not_done" not in r}))
    here = None if context is None else replace(context, done=done_tests)
    held_back = _withheld(answer)
    not_here: list[NotHere] = []
    open_tests: list[str] = []
    for test in CATALOGUE:
        if test.id in taken:
            continue
        reason = None if here is None else _reason(test, here)
        if reason is None and test.id in held_back:
            reason = NotHere(test.id, "withheld")
        if reason is None:
            open_tests.append(test.id)
        else:
            not_here.append(reason)
    worth = () if repaired else _worth(answer, open_tests)
    first = {w.test for w in worth}
    places = places_of(rows, later)
    both = (meant, meant_later)
    return BenchSheet(
        worth=worth,
        possible=tuple(t for t in open_tests if t not in first),
        done=tuple(_done(i, row, places[i], both[places[i][0]], units) for i, row in enumerate(rows)),
        not_here=tuple(not_here),
        findings=tuple(_said(f) for one in both if one is not None for f in one.findings if f.kind == _BETWEEN),
        again=_again(rows, places) if repaired else (),
    )


def places_of(rows: Sequence[Mapping[str, Any]], later: Collection[str]) -> tuple[tuple[bool, int], ...]:
    """Of each reading, whether it was taken after the repair, and its place among those of its side.

    Parameters
    ----------
    rows : the readings as written
    later : those taken after the repair, as ``seat-leak#2``
    """
    from boostproof.casefolder.left_out import names_in

    sides = [name in later for name in names_in(rows)]
    return tuple((side, sides[:i].count(side)) for i, side in enumerate(sides))


def parted(folder: Case, later: Collection[str]) -> tuple[Case, Case]:
    """A case with its readings from before a repair, and with those from after it."""
    from boostproof.casefolder import read_case
    from boostproof.casefolder.left_out import reading_names

    if not later:
        return folder, replace(folder, readings=replace(folder.readings, reading=()), findings=())
    names = reading_names([reading.test for reading in folder.readings.reading])
    earlier = [name for name in names if name not in later]
    return read_case(folder.path, without=sorted(later)), read_case(folder.path, without=earlier)


def _again(rows: Sequence[Mapping[str, Any]], places: Sequence[tuple[bool, int]]) -> tuple[str, ...]:
    """Tests at rest that were done before the repair and not since, as in the catalogue."""
    from boostproof.bench.readings import READING_TYPES, RecordedPull

    done: tuple[set[str], set[str]] = (set(), set())
    for row, (after, _) in zip(rows, places, strict=True):
        if "not_done" not in row:
            done[after].add(str(row.get("test")))
    return tuple(
        test.id for test in CATALOGUE
        if test.id in done[0] - done[1] and test.id != "hot-repeat" and not issubclass(READING_TYPES[test.id], RecordedPull)
    )  # fmt: skip


def context_of_case(folder: Case) -> CarContext:
    """What the tests must know of the car of a case."""
    from boostproof.car.prior import STANDARD_TARGET, target_of
    from boostproof.diagnosis.evidence.setup import context_of

    target = target_of(folder.car)
    return context_of(folder.car, STANDARD_TARGET if target is None else target)


def meaning_of(folder: Case, reading: Reading, *, index: int | None = None, units: str = "psi") -> Meant:
    """What a reading means before it is kept, beside those that the case holds.

    Parameters
    ----------
    folder : the case as read
    reading : what was typed
    index : place of the reading that it takes, None where it is one more
    units : of pressure
    """
    from boostproof.casefolder.checks import question_readings
    from boostproof.workflows.bench import bench_of
    from boostproof.workflows.bench_form import field_file

    held = list(folder.readings.reading)
    at = len(held) if index is None else index
    held[at : at + 1] = [reading]
    with_it = replace(folder, readings=replace(folder.readings, reading=tuple(held)), findings=())
    found = bench_of(with_it)
    questions = {
        f.where.removeprefix(f"reading.{at}."): _KEY.sub(lambda m: m[0].replace("_", " "), _said(f).partition(": ")[2])
        for f in question_readings(with_it.readings, field_file())
        if f.where.startswith(f"reading.{at}.")
    }
    figures, doubts = _of_reading(found, at, units)
    remarks = () if questions else doubts
    return Meant(figures, {k: v[:1].upper() + v[1:] for k, v in questions.items()}, remarks)


_BETWEEN = "contradicting-readings"


def _reason(test: BenchTest, here: CarContext) -> NotHere | None:
    """Why a test is not possible here."""
    if not test.fits(here):
        if test.id == "hot-repeat":
            return NotHere(test.id, "first")
        if here.controller == "none":
            return NotHere(test.id, "no controller")
        if test.id == "line-sweep":
            return NotHere(test.id, "controller fitted", here.controller)
        return NotHere(test.id, "controller", here.controller)
    return None if here.possible(test.need) else NotHere(test.id, "need", test.need)


def _withheld(answer: Mapping[str, Any] | None) -> frozenset[str]:
    """Pulls that a diagnosis holds back, as its finding names them."""
    if answer is None:
        return frozenset()
    told = [f["says"] for f in answer.get("findings", ()) if f["kind"] == "pull-not-offered"]
    named = ",".join(says.rpartition(": ")[2].rstrip(".") for says in told)
    return frozenset(name.strip() for name in named.split(",") if name.strip() in BY_ID)


def _worth(answer: Mapping[str, Any] | None, open_tests: Sequence[str]) -> tuple[Worth, ...]:
    offered = () if answer is None else answer.get("next_tests", ())
    found = [
        Worth(t["id"], t["minutes"], t["minutes_saved"])
        for t in offered
        if t["minutes_saved"] > 0.0 and t["id"] in open_tests
    ]
    return tuple(found[:WORTH])


def _done(index: int, row: Mapping[str, Any], place: tuple[bool, int], meant: Bench | None, units: str) -> Done:
    figures, doubts = ((), ()) if meant is None else _of_reading(meant, place[1], units)
    return Done(index, str(row.get("test", "")), str(row.get("not_done", "")), dict(row), figures, doubts, place[0])


def _of_reading(found: Bench, index: int, units: str) -> tuple[tuple[Figure, ...], tuple[str, ...]]:
    """Figures and doubts that name one reading."""
    label = f"reading {index + 1} ("
    entries = [
        (m, entry)
        for m, entry in zip(found.meanings, found.as_json()["meanings"], strict=True)
        if any(name.startswith(label) for name in m.readings)
    ]
    figures = tuple(Figure(*meaning_in_words(entry, units), m.verdict) for m, entry in entries)
    doubts = tuple(_said(f) for f in found.findings if label in f.where.casefold() and f.kind != "no-figures")
    return figures, doubts


def _said(finding: Finding) -> str:
    return f"{finding.says} {finding.do}".strip()


def read_meaning(folder: Case) -> Bench | None:
    """What the readings of a case mean; None where it holds none."""
    from boostproof.workflows.bench import bench_of

    try:
        return bench_of(folder)
    except InputError:
        return None
