"""The typed Pulls page: everything that its template and its JSON show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

from boostproof.case_names import PULLS
from boostproof.errors import BoostproofError
from boostproof.jobs.after_repair import after_repair
from boostproof.jobs.recordings import AT_ONCE, Looked, Recordings, answerable
from boostproof.web import shown
from boostproof.web.channels import FIRST, GATE, LEAST_USED, channel_name, known_channels
from boostproof.web.page import Notice, Page, frame, units_of
from boostproof.web.pulls_held import files_seen, setups, wanted_boost
from boostproof.web.pulls_words import (
    FigureRow,
    compared_words,
    figure_rows,
    nth,
    pull_name,
    short_line,
    span_words,
)
from boostproof.web.words import t
from boostproof.workflows.pull_view import (
    Asked,
    Choice,
    ColumnMatch,
    FileSeen,
    Noticed,
    PullSeen,
    boost_at,
    round_speeds,
)

if TYPE_CHECKING:
    from boostproof.jobs import Task
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work
    from boostproof.recording.setup import RecordingSetup

_NUMBERS_STEP = 250.0  # rpm between the rows of the same in numbers
_MOST_FIGURES = 6  # pulls side by side


@dataclass(frozen=True)
class TapShown:
    """One answer that is written with one tap."""

    says: str
    channel: str
    column: str
    unit: str
    reference: str
    taken: bool = False


@dataclass(frozen=True)
class QuestionShown:
    """What a person is asked about a recording's columns."""

    path: str
    says: str
    where: str
    taps: tuple[TapShown, ...]


@dataclass(frozen=True)
class ColumnShown:
    """A column and the channel it was taken for, in words; ``certainty`` is told, sure, likely or guess."""

    channel: str
    name: str
    column: str
    read_as: str
    certainty: str
    why: str
    lost: str
    taps: tuple[TapShown, ...]
    noticed: tuple[Noticed, ...]


@dataclass(frozen=True)
class Stretch:
    """A stretch that is not used."""

    number: int
    says: str


@dataclass(frozen=True)
class SetUpShown:
    """How the car stood, as written; empty where nothing is."""

    controller: str
    gate: str
    gear: str
    duty: str
    turns_in: str
    source: str
    note: str


@dataclass(frozen=True)
class PullShown:
    """One pull. Engine speeds in rpm, times in s of its recording; ``number`` is its place there, ``after`` whether it was
    made after the repair."""

    key: str
    path: str
    number: int
    after: bool
    nth: str
    name: str
    span: str
    says: str
    ticked: bool
    drawn: bool
    from_s: float
    to_s: float
    rpm_from: float
    rpm_to: float
    noticed: tuple[Noticed, ...]


@dataclass(frozen=True)
class FileShown:
    """One recording: ``state`` is read, again (being read again), waiting or failed; ``repair`` which of its pulls were
    said to be from after a repair, as in pulls.toml."""

    path: str
    name: str
    state: str
    size: int
    says: str
    columns: tuple[ColumnShown, ...]
    unused: tuple[str, ...]
    unsure: int
    noticed: tuple[Noticed, ...]
    left_out: tuple[Stretch, ...]
    set_up: SetUpShown
    repair: str
    task: Any
    error: dict[str, str] | None
    headers: tuple[str, ...]
    without_car: bool
    answerable: bool = False


@dataclass(frozen=True)
class PanelShown:
    """A channel that can be drawn, and whether it is."""

    channel: str
    name: str
    drawn: bool


@dataclass(frozen=True)
class WholeShown:
    """The recording that is shown whole, and its channels."""

    path: str
    name: str
    panels: tuple[PanelShown, ...]


@dataclass(frozen=True)
class FiguresShown:
    """The figures of the ticked pulls side by side."""

    keys: tuple[str, ...]
    names: tuple[str, ...]
    rows: tuple[FigureRow, ...]


@dataclass(frozen=True)
class NumbersShown:
    """Boost of the ticked pulls in numbers, row by row of engine speed."""

    names: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True)
class ComparedShown:
    """Two pulls held against each other; ``says`` is empty until there is an answer."""

    before: str
    after: str
    says: str
    remark: str
    noticed: tuple[Noticed, ...]
    task: Any
    wrong: str


@dataclass(frozen=True, kw_only=True)
class PullsPage(Page):
    """Recordings of a job, how they were read, and their pulls; ``after`` are the paths of those made after the repair."""

    files: tuple[FileShown, ...]
    after: tuple[str, ...]
    aside: tuple[FileShown, ...]
    questions: tuple[QuestionShown, ...]
    pulls: tuple[PullShown, ...]
    part_load: int
    panels: tuple[PanelShown, ...]
    whole: WholeShown | None
    recordings: tuple[tuple[str, str], ...]
    figures: FiguresShown | None
    numbers: NumbersShown | None
    compared: ComparedShown
    has_target: bool
    busy: bool
    channels: tuple[tuple[str, str], ...]
    seen: str
    typed: Mapping[str, str]


def pulls_page(
    store: Store,
    work: Work,
    job_id: int,
    query: Mapping[str, str],
    notices: tuple[Notice, ...] = (),
    typed: Mapping[str, str] | None = None,
) -> PullsPage:
    """The Pulls page.

    Parameters
    ----------
    query : show, channels (both repeated), recording, before, after
    notices : said on top
    typed : a form that was not taken, with its path
    """
    recordings = Recordings(store, work)
    looked = recordings.all(job_id)
    units = units_of(store)
    seen = files_seen(store, job_id, looked)
    told = setups(store, job_id)
    drawn = [pull for file in seen for pull in file.pulls if pull.full_load]
    held = [query[name] for name in ("before", "after") if query.get(name)]
    ticked = _ticked(drawn, held or _every(query, "show"))
    chosen = [pull for pull in drawn if pull.key in ticked]
    by_path = {file.path: file for file in seen}
    after = after_repair(store, job_id)
    present = {file.path: file.sha256 for file in store.files(job_id)}
    return PullsPage(
        **frame(store, work, job_id, "pulls", notices),
        files=tuple(_file(one, by_path.get(one.file.path), told.get(one.file.path), units) for one in looked),
        after=after.recordings,
        aside=tuple(_file(one, None, None, units) for one in recordings.aside(job_id)),
        questions=tuple(_question(file, asked, len(looked)) for file in seen for asked in file.asked),
        pulls=tuple(
            _pull(pull, units, pull.key in ticked, pull.number in after.pulls_of(pull.file)) for pull in drawn
        ),
        part_load=sum(not pull.full_load for file in seen for pull in file.pulls),
        panels=_panels(seen, _every(query, "channels")),
        whole=_whole(seen, query.get("recording", "")),
        recordings=tuple((file.path, PurePosixPath(file.path).name) for file in seen),
        figures=_figures(chosen, units),
        numbers=_numbers(chosen, units),
        compared=_compared(store, work, job_id, drawn, query, units),
        has_target=wanted_boost(store, job_id)[0] is not None,
        busy=any(one.task is not None for one in looked),
        channels=known_channels(),
        seen=present.get(PULLS, ""),
        typed=dict(typed or {}),
    )


def _every(query: Mapping[str, str], name: str) -> list[str]:
    many = getattr(query, "getlist", None)
    return list(many(name)) if many is not None else [query[name]] if name in query else []


def _ticked(pulls: Sequence[PullSeen], asked: Sequence[str]) -> set[str]:
    """Pulls drawn thick: those asked for, else the one over most engine speeds."""
    found = {pull.key for pull in pulls if pull.key in asked}
    if found or not pulls:
        return found
    return {max(pulls, key=lambda pull: (len(pull.rpm) > 0, round(pull.rpm_to - pull.rpm_from, -2), -pull.place)).key}


def _file(one: Looked, seen: FileSeen | None, setup: RecordingSetup | None, units: str) -> FileShown:
    state = "failed" if one.error is not None else "read" if one.fresh else "waiting" if seen is None else "again"
    columns = () if seen is None else tuple(_column(column, units) for column in seen.columns)
    return FileShown(
        path=one.file.path,
        name=one.name,
        state=state,
        size=one.file.size,
        says="" if seen is None else _says(seen, columns),
        columns=columns,
        unused=() if seen is None else seen.unused,
        unsure=sum(column.certainty == "guess" for column in columns),
        noticed=() if seen is None else seen.noticed,
        left_out=_left_out(setup),
        set_up=_set_up(setup),
        repair="" if setup is None else str(setup.after_repair or ""),
        task=one.task,
        error=one.error,
        headers=one.headers,
        without_car=seen is not None and seen.case_trouble is not None,
        answerable=one.error is not None and answerable(one.error) and bool(one.headers),
    )


def _says(seen: FileSeen, columns: Sequence[ColumnShown]) -> str:
    pulls = sum(pull.full_load for pull in seen.pulls)
    unsure = sum(column.certainty == "guess" for column in columns)
    parts = [
        t("pulls.file.pulls", n=pulls),
        t("pulls.file.rows", n=seen.rows) if seen.rows == 1 else t("pulls.file.rows", n=f"{seen.rows:,}"),
        t("pulls.file.rate", rate=f"{seen.rate_hz:.3g}") if seen.rate_hz else t("pulls.file.no_time"),
        t("pulls.file.is_sure", n=len(columns) - unsure),
    ]
    return ", ".join(parts + ([t("pulls.file.is_unsure", n=unsure)] if unsure else []))


def _column(column: ColumnMatch, units: str) -> ColumnShown:
    read_as = " ".join(part for part in (column.unit, column.reference) if part) or t("pulls.file.plain")
    return ColumnShown(
        column.channel, channel_name(column.channel), column.column, read_as, column.certainty, column.why,
        t("pulls.file.lost", n=column.lost_cells) if column.lost_cells else "",
        tuple(_tap(choice, column.channel) for choice in column.others), column.noticed,
    )  # fmt: skip


def _tap(choice: Choice, channel: str = "") -> TapShown:
    """One answer; beside a column it says only what would be another channel or another reading."""
    read = " ".join(part for part in (choice.unit, choice.reference) if part) if choice.reference else ""
    other = channel_name(choice.channel) if choice.channel != channel else ""
    what = ", ".join(part for part in (other, read) if part)
    says = choice.label or t("pulls.file.or_rather", what=what)
    return TapShown(says, choice.channel, choice.column, choice.unit or "", choice.reference or "", choice.taken)


def _question(file: FileSeen, asked: Asked, files: int) -> QuestionShown:
    where = t("pulls.question.about_file", name=PurePosixPath(file.path).name) if files > 1 else ""
    return QuestionShown(file.path, asked.asks, where, tuple(_tap(choice) for choice in asked.choices))


def _left_out(setup: RecordingSetup | None) -> tuple[Stretch, ...]:
    found = []
    for number, item in enumerate(() if setup is None else setup.excluded or ()):
        ends = {"from_s": _second(item.from_, "0"), "to_s": _second(item.to, "…")}
        says = t("pulls.pull.left_out_why", **ends, why=item.why) if item.why else t("pulls.pull.left_out", **ends)
        found.append(Stretch(number, says))
    return tuple(found)


def _second(value: float | None, instead: str) -> str:
    return instead if value is None else f"{value:.1f}"


def _set_up(setup: RecordingSetup | None) -> SetUpShown:
    stood = None if setup is None else setup.set_up

    def text(value: object) -> str:
        return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)

    def told(of: object, name: str) -> str:
        return "" if of is None else text(getattr(of, name))

    return SetUpShown(
        told(stood, "controller"), told(stood, "gate"), told(setup, "gear"), told(stood, "duty"), told(stood, "turns_in"),
        told(setup, "source"), told(setup, "note"),
    )  # fmt: skip


def _pull(pull: PullSeen, units: str, ticked: bool, after: bool) -> PullShown:
    return PullShown(
        pull.key, pull.file, pull.number, after, nth(pull.place), pull_name(pull), span_words(pull),
        short_line(pull, units), ticked, bool(len(pull.rpm)), pull.from_s, pull.to_s, pull.rpm_from, pull.rpm_to,
        pull.noticed,
    )  # fmt: skip


def _panels(seen: Sequence[FileSeen], asked: Sequence[str]) -> tuple[PanelShown, ...]:
    """Channels over engine speed: boost first, the gate under it where it was logged, others on request."""
    held = list(dict.fromkeys(column.channel for file in seen for column in file.columns))
    names = [FIRST[0]] + [name for name in [GATE, *held] if name in held and name not in LEAST_USED | set(FIRST)]
    return tuple(
        PanelShown(name, channel_name(name), name in (FIRST[0], GATE) or name in asked) for name in dict.fromkeys(names)
    )


def _whole(seen: Sequence[FileSeen], asked: str) -> WholeShown | None:
    file = next((one for one in seen if one.path == asked), seen[0] if seen else None)
    if file is None:
        return None
    held = [column.channel for column in file.columns if column.channel != "time"]
    first = next((name for name in FIRST if name in held), None)
    order = [name for name in (first, "engine_speed") if name] + [n for n in held if n not in (first, "engine_speed")]
    panels = tuple(PanelShown(name, channel_name(name), name in (first, "engine_speed")) for name in order)
    return WholeShown(file.path, PurePosixPath(file.path).name, panels)


def _figures(chosen: Sequence[PullSeen], units: str) -> FiguresShown | None:
    some = chosen[:_MOST_FIGURES]
    rows = figure_rows(some, units)
    if not rows:
        return None
    return FiguresShown(tuple(p.key for p in some), tuple(pull_name(p) for p in some), rows)


def _numbers(chosen: Sequence[PullSeen], units: str) -> NumbersShown | None:
    some = [pull for pull in chosen if len(pull.rpm)][:_MOST_FIGURES]
    if not some:
        return None
    rows = tuple(
        (shown.rpm(float(at)), tuple(_boost(boost_at(pull, float(at)), units) for pull in some))
        for at in round_speeds(some, _NUMBERS_STEP)
    )
    return NumbersShown(tuple(pull_name(p) for p in some), rows)


def _boost(found: tuple[float, float] | None, units: str) -> str:
    return shown.NOTHING if found is None else shown.kpa(found[0], units, sd=found[1])


def _compared(
    store: Store, work: Work, job_id: int, pulls: Sequence[PullSeen], query: Mapping[str, str], units: str
) -> ComparedShown:
    by_key = {pull.key: pull for pull in pulls if len(pull.rpm)}
    before, after = query.get("before", ""), query.get("after", "")
    nothing = ComparedShown(before, after, "", "", (), None, "")
    if before not in by_key or after not in by_key:
        return nothing
    if before == after:
        return ComparedShown(before, after, "", "", (), None, t("pulls.compare.same"))
    choices = {"before": [before], "after": [after]}
    kept = store.answer(job_id, "compare", choices)
    if kept is None:
        sizes = {file.path: file.size for file in store.files(job_id)}
        if sum(sizes[path] for path in {by_key[before].file, by_key[after].file}) > AT_ONCE / 4:
            return _waits(before, after, work.start(job_id, "compare", choices))
        try:
            kept = _compare_now(store, job_id, choices)
        except BoostproofError as error:
            wrong = f"{error.says} {error.do}" if _case_is_whole(store, job_id) else t("pulls.compare.needs_car")
            return ComparedShown(before, after, "", "", (), None, wrong)
    names = (pull_name(by_key[before]), pull_name(by_key[after]))
    says, remark = compared_words(kept.answer, names, units)
    noticed = tuple(Noticed(f["kind"], f["says"], f["do"]) for f in kept.answer["findings"])
    return ComparedShown(before, after, says[:1].upper() + says[1:], remark, noticed, None, "")


def _waits(before: str, after: str, task: Task) -> ComparedShown:
    return ComparedShown(before, after, "", "", (), task, "")


def _case_is_whole(store: Store, job_id: int) -> bool:
    from boostproof.casefolder import read_case

    try:
        read_case(store.folder(job_id), with_readings=False)
    except BoostproofError:
        return False
    return True


def _compare_now(store: Store, job_id: int, choices: dict[str, list[str]]) -> Any:
    from boostproof.workflows.compare import compare

    answer = compare(store.folder(job_id), choices["before"], choices["after"]).as_json()
    return store.keep_answer(job_id, "compare", answer, choices, store.content(job_id))
