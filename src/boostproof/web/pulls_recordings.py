"""Recordings on the Pulls page: how each was read, what is asked about its columns, and how the car stood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

from boostproof.jobs.recordings import Looked, answerable
from boostproof.web.channels import channel_name
from boostproof.web.words import t
from boostproof.workflows.recordings_seen import Asked, Choice, ColumnMatch, FileSeen, Noticed

if TYPE_CHECKING:
    from boostproof.recording.setup import RecordingSetup


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


def file_shown(one: Looked, seen: FileSeen | None, setup: RecordingSetup | None) -> FileShown:
    """A recording.

    Parameters
    ----------
    one : the file, what came of reading it, and work on it in hand
    seen : as read, None where it could not be or was not yet
    setup : what pulls.toml says of it
    """
    state = "failed" if one.error is not None else "read" if one.fresh else "waiting" if seen is None else "again"
    columns = () if seen is None else tuple(_column(column) for column in seen.columns)
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


def _column(column: ColumnMatch) -> ColumnShown:
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


def question_shown(file: FileSeen, asked: Asked, files: int) -> QuestionShown:
    """A question about a recording, which is named where the job holds several ``files``."""
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
