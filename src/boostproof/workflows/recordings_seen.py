"""Recordings as they were read, with columns, questions and pulls: typed values of kept answers. No file is read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from boostproof.recording.setup import RecordingSetup

Array = NDArray[np.float64]
Certainty = Literal["told", "sure", "likely", "guess"]

_SURE, _LIKELY = 0.85, 0.6  # certainty of a column match; from _LIKELY down a question is asked about it
_TOLD = ("named in pulls.toml", "as answered before")


@dataclass(frozen=True)
class Noticed:
    """A finding, and what it is about: a channel, the number of a pull, or (neither) the whole file."""

    kind: str
    says: str
    do: str
    channel: str = ""
    pull: int | None = None


@dataclass(frozen=True)
class Choice:
    """A column named for a channel, as one tap writes it.

    Attributes
    ----------
    label : in words, where a question put it so; else empty
    channel : our name
    column : its header
    unit, reference : None where the file says them
    taken : it was read so without an answer
    """

    channel: str
    column: str
    unit: str | None = None
    reference: str | None = None
    label: str = ""
    taken: bool = False


@dataclass(frozen=True)
class Asked:
    """A question about the columns, and its answers."""

    about: str
    asks: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class ColumnMatch:
    """One channel and the column that it was read from.

    Attributes
    ----------
    channel, column, unit, reference : as read
    certainty : how sure the match is; "told" where a person named it
    why : one sentence
    lost_cells : cells that hold no number
    others : other ways to read it, for one tap
    noticed : what was found about it
    """

    channel: str
    column: str
    unit: str
    reference: str | None
    certainty: Certainty
    why: str
    lost_cells: int
    others: tuple[Choice, ...] = ()
    noticed: tuple[Noticed, ...] = ()


@dataclass(frozen=True)
class Figure:
    """A measured figure with its standard deviation, in the unit of its name."""

    name: str
    value: float
    sd: float


@dataclass(frozen=True)
class PullSeen:
    """One pull.

    Attributes
    ----------
    file : of its recording, as in the case
    number : as `inspect` counts within its recording
    place : among the full-load pulls of the job, from 1; 0 at part load
    gear : told or logged, None where neither
    controller, gate : as pulls.toml says, empty where it says nothing
    from_s, to_s : seconds of the recording
    rpm_from, rpm_to : rpm
    ended : as in the pull object
    figures : what it shows, by name; those that it cannot show are left out
    noticed : what was found about it
    rpm, boost, sd : boost over engine speed every 25 rpm [rpm, kPa gauge, kPa], empty where none can be drawn
    """

    file: str
    number: int
    place: int
    full_load: bool
    gear: int | None
    controller: str
    gate: str
    from_s: float
    to_s: float
    rpm_from: float
    rpm_to: float
    ended: str
    figures: dict[str, Figure]
    noticed: tuple[Noticed, ...] = ()
    rpm: Array = field(default_factory=lambda: np.zeros(0), repr=False)
    boost: Array = field(default_factory=lambda: np.zeros(0), repr=False)
    sd: Array = field(default_factory=lambda: np.zeros(0), repr=False)

    @property
    def key(self) -> str:
        """As `compare` names it: FILE#NUMBER."""
        return f"{self.file}#{self.number}"


@dataclass(frozen=True)
class FileSeen:
    """One recording as it was read.

    Attributes
    ----------
    path : in the case
    kind, rows, rate_hz : as in the answer of inspect
    from_s, to_s : its first and last second
    time_known : the file tells time
    columns : channels
    unused : headers of columns that are no channel
    asked : what a person should say
    noticed : about the whole file
    pulls : in order of time
    case_trouble : says and do of why it was looked at without the car, None otherwise
    """

    path: str
    kind: str
    rows: int
    rate_hz: float | None
    from_s: float
    to_s: float
    time_known: bool
    columns: tuple[ColumnMatch, ...]
    unused: tuple[str, ...]
    asked: tuple[Asked, ...]
    noticed: tuple[Noticed, ...]
    pulls: tuple[PullSeen, ...]
    case_trouble: dict[str, str] | None = None


def file_seen(path: str, answer: Mapping[str, Any], setup: RecordingSetup | None, first_place: int = 1) -> FileSeen:
    """A kept answer of `boostproof.workflows.recording_look.look` as typed values.

    Parameters
    ----------
    path : of the recording
    answer : kept
    setup : what pulls.toml says of the recording
    first_place : of its first full-load pull among those of the job
    """
    channels, pulls = answer["channels"], answer["pulls"]
    about = [_noticed(finding, channels, pulls) for finding in answer["findings"]]
    asked = tuple(
        Asked(q["about"], q["asks"], tuple(_choice(o, q["guess"] == i) for i, o in enumerate(q["options"])))
        for q in answer["questions"]
    )
    columns = tuple(_column(channel, answer["readings"].get(channel["name"], []), asked, about) for channel in channels)
    seen, place = [], first_place
    for number, (pull, line) in enumerate(zip(pulls, answer["lines"], strict=True), 1):
        here = tuple(n for n in about if n.pull == number)
        seen.append(_pull(path, number, place if pull["full_load"] else 0, pull, line or {}, setup, here))
        place += bool(pull["full_load"])
    used = {channel["column"] for channel in channels}
    first, last = answer["span_s"]
    return FileSeen(
        path, answer["file"]["kind"], answer["file"]["rows"], answer["file"]["rate_hz"], first, last,
        answer["time_known"], columns, tuple(h for h in answer["headers"] if h not in used), asked,
        tuple(n for n in about if not n.channel and n.pull is None), tuple(seen),
        answer.get("case_trouble"),
    )  # fmt: skip


def _noticed(finding: Mapping[str, str], channels: Sequence[Any], pulls: Sequence[Any]) -> Noticed:
    """A finding with what it is about, as its place says it."""
    where = finding["where"]
    plain = Noticed(finding["kind"], finding["says"], finding["do"])
    for number, pull in enumerate(pulls, 1):
        if where.endswith(f", {pull['from_s']:.1f} to {pull['to_s']:.1f} s"):
            return replace(plain, pull=number)
    for channel in channels:
        if where.endswith(f": column {channel['column']}"):
            return replace(plain, channel=channel["name"])
    return plain


def _choice(option: Mapping[str, Any], taken: bool = False) -> Choice:
    return Choice(
        option["channel"], option["column"], option["unit"], option["reference"], option.get("label", ""), taken
    )


def _column(
    channel: Mapping[str, Any],
    readings: Sequence[Mapping[str, Any]],
    asked: Sequence[Asked],
    about: Sequence[Noticed],
) -> ColumnMatch:
    name, column = channel["name"], channel["column"]
    others = [Choice(name if name not in ("boost", "manifold_pressure") else _manifold(r["reference"]),
                     column, r["unit"], r["reference"]) for r in readings]  # fmt: skip
    others += [c for q in asked for c in q.choices if c.column == column and c.channel != name and not c.taken]
    rival = {"throttle": "pedal", "pedal": "throttle"}.get(name)
    if rival is not None:
        others.append(Choice(rival, column, channel["unit"] or None))
    told = channel["why"].startswith(_TOLD)
    level: Certainty = "sure" if channel["sure"] >= _SURE else "likely" if channel["sure"] >= _LIKELY else "guess"
    found: dict[tuple[str, str | None, str | None], Choice] = {}
    for other in others:
        found.setdefault((other.channel, other.unit, other.reference), replace(other, label=""))
    found.pop((name, channel["unit"], channel["reference"]), None)
    return ColumnMatch(
        name, column, channel["unit"], channel["reference"], "told" if told else level, channel["why"],
        channel["lost_cells"], tuple(found.values()), tuple(n for n in about if n.channel == name),
    )  # fmt: skip


def _manifold(reference: str | None) -> str:
    return "manifold_pressure" if reference == "abs" else "boost"


def _pull(
    path: str,
    number: int,
    place: int,
    pull: Mapping[str, Any],
    line: Mapping[str, Any],
    setup: RecordingSetup | None,
    noticed: tuple[Noticed, ...],
) -> PullSeen:
    stood = None if setup is None else setup.set_up
    gear = setup.gear if setup is not None and setup.gear is not None else line.get("gear")
    return PullSeen(
        path, number, place, pull["full_load"], gear, (stood and stood.controller) or "", (stood and stood.gate) or "",
        pull["from_s"], pull["to_s"], pull["rpm_from"], pull["rpm_to"], pull["ended"],
        {n: Figure(n, m["value"], m["sd"]) for n, m in pull["metrics"].items() if m is not None},
        noticed, _array(line.get("rpm")), _array(line.get("boost_kpa_gauge")), _array(line.get("sd_kpa")),
    )  # fmt: skip


def _array(values: Sequence[float | None] | None) -> Array:
    return np.array([np.nan if v is None else v for v in values or ()], float)
