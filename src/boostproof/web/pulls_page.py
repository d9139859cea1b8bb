"""The typed Pulls page: everything that its template and its JSON show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from boostproof.case_names import PULLS
from boostproof.jobs.after_repair import after_repair
from boostproof.jobs.recordings import Recordings
from boostproof.web import shown
from boostproof.web.channels import FIRST, GATE, LEAST_USED, channel_name, known_channels
from boostproof.web.page import Notice, Page, frame, units_of
from boostproof.web.pulls_compared import ComparedShown, compared
from boostproof.web.pulls_held import files_seen, has_target, looked_at, setups
from boostproof.web.pulls_recordings import FileShown, QuestionShown, file_shown, question_shown
from boostproof.web.pulls_words import FigureRow, figure_rows, nth, pull_name, short_line, span_words
from boostproof.web.words import t
from boostproof.workflows.pull_curves import boost_at, round_speeds
from boostproof.workflows.recordings_seen import FileSeen, Noticed, PullSeen

if TYPE_CHECKING:
    from boostproof.casefolder.left_out import LeftOut
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

_NUMBERS_STEP = 250.0  # rpm between the rows of the same in numbers
_MOST_FIGURES = 6  # pulls side by side
_MOST_LISTED = 6  # pulls in the list, if one more would not do


@dataclass(frozen=True)
class PullShown:
    """One pull. Engine speeds in rpm, times in s of its recording; ``number`` is its place there, ``after`` whether it was
    made after the repair, ``between`` whether it counts on neither side of it."""

    key: str
    path: str
    number: int
    after: bool
    between: bool
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

    @property
    def further(self) -> tuple[PullShown, ...]:
        """Pulls that stand behind the list, for who asks for them: where there are many, the last of those not ticked."""
        if len(self.pulls) <= _MOST_LISTED + 1:
            return ()
        room = max(0, _MOST_LISTED - sum(pull.ticked for pull in self.pulls))
        return tuple([pull for pull in self.pulls if not pull.ticked][room:])


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
    after = after_repair(store, job_id)
    looked = looked_at(store, work, job_id)
    units = units_of(store)
    seen = files_seen(store, job_id, looked)
    told = setups(store, job_id)
    drawn = [pull for file in seen for pull in file.pulls if pull.full_load]
    held = [query[name] for name in ("before", "after") if query.get(name)]
    ticked = _ticked(drawn, held or _every(query, "show"), after)
    chosen = [pull for pull in drawn if pull.key in ticked]
    by_path = {file.path: file for file in seen}
    present = {file.path: file.sha256 for file in store.files(job_id)}
    return PullsPage(
        **frame(store, work, job_id, "pulls", notices),
        files=tuple(file_shown(one, by_path.get(one.file.path), told.get(one.file.path)) for one in looked),
        after=after.recordings,
        aside=tuple(file_shown(one, None, None) for one in recordings.aside(job_id)),
        questions=tuple(question_shown(file, asked, len(looked)) for file in seen for asked in file.asked),
        pulls=tuple(
            _pull(pull, units, pull.key in ticked, after) for pull in drawn
        ),
        part_load=sum(not pull.full_load for file in seen for pull in file.pulls),
        panels=_panels(seen, _every(query, "channels")),
        whole=_whole(seen, query.get("recording", "")),
        recordings=tuple((file.path, PurePosixPath(file.path).name) for file in seen),
        figures=_figures(chosen, after, units),
        numbers=_numbers(chosen, after, units),
        compared=compared(store, work, job_id, drawn, query, units),
        has_target=has_target(store, job_id),
        busy=any(one.task is not None for one in looked),
        channels=known_channels(),
        seen=present.get(PULLS, ""),
        typed=dict(typed or {}),
    )


def _every(query: Mapping[str, str], name: str) -> list[str]:
    many = getattr(query, "getlist", None)
    return list(many(name)) if many is not None else [query[name]] if name in query else []


def _ticked(pulls: Sequence[PullSeen], asked: Sequence[str], left_out: LeftOut) -> set[str]:
    """Pulls drawn thick: those asked for, else the one over most engine speeds of either side of a repair."""
    found = {pull.key for pull in pulls if pull.key in asked}
    if found:
        return found
    sides: tuple[list[PullSeen], list[PullSeen]] = ([], [])
    for pull in pulls:
        sides[pull.number in left_out.pulls_of(pull.file)].append(pull)
    return {max(side, key=_reach).key for side in sides if side}


def _reach(pull: PullSeen) -> tuple[bool, float, int]:
    """By how many engine speeds it shows."""
    return len(pull.rpm) > 0, round(pull.rpm_to - pull.rpm_from, -2), -pull.place


def _pull(pull: PullSeen, units: str, ticked: bool, left_out: LeftOut) -> PullShown:
    between = pull.number in left_out.between_of(pull.file)
    after = pull.number in left_out.pulls_of(pull.file) and not between
    return PullShown(
        pull.key, pull.file, pull.number, after, between, nth(pull.place), pull_name(pull), span_words(pull),
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


def _figures(chosen: Sequence[PullSeen], left_out: LeftOut, units: str) -> FiguresShown | None:
    some = chosen[:_MOST_FIGURES]
    rows = figure_rows(some, units)
    if not rows:
        return None
    return FiguresShown(tuple(p.key for p in some), tuple(_sided(p, left_out) for p in some), rows)


def _sided(pull: PullSeen, left_out: LeftOut) -> str:
    """What a pull is called beside pulls of the other side of a repair."""
    after = pull.number in left_out.since.pulls_of(pull.file)
    return f"{pull_name(pull)}, {t('pulls.file.after_repair')}" if after else pull_name(pull)


def _numbers(chosen: Sequence[PullSeen], left_out: LeftOut, units: str) -> NumbersShown | None:
    some = [pull for pull in chosen if len(pull.rpm)][:_MOST_FIGURES]
    if not some:
        return None
    rows = tuple(
        (shown.rpm(float(at)), tuple(_boost(boost_at(pull, float(at)), units) for pull in some))
        for at in round_speeds(some, _NUMBERS_STEP)
    )
    return NumbersShown(tuple(_sided(p, left_out) for p in some), rows)


def _boost(found: tuple[float, float] | None, units: str) -> str:
    return shown.NOTHING if found is None else shown.kpa(found[0], units, sd=found[1])
