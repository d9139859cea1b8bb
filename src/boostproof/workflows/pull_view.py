"""What is shown of a job's recordings: files, columns with how sure they are, pulls with figures and curves.

`look` reads one recording and gives a plain answer that can be kept; the rest makes typed values of kept answers,
reading no file.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError

if TYPE_CHECKING:
    from boostproof.recording.model import Channel, Pull, Recording
    from boostproof.recording.setup import RecordingSetup
    from boostproof.workflows.inspect import Inspection

Array = NDArray[np.float64]
Certainty = Literal["told", "sure", "likely", "guess"]
Progress = Callable[[str, float], None]

FORMAT = 2  # of the kept answer; another number makes every recording be looked at again
_SURE, _LIKELY = 0.85, 0.6  # certainty of a column match; from _LIKELY down a question is asked about it
_TOLD = ("named in pulls.toml", "as answered before")
_FOUND = 0.01  # share from which another way to read a pressure is offered


def look(
    folder: Path,
    path: str,
    *,
    keep: Callable[[Recording], object] = lambda recording: None,
    progress: Progress = lambda says, share: None,
) -> dict[str, Any]:
    """Read one recording of a case and measure its pulls.

    Parameters
    ----------
    folder : of the case
    path : of the recording in it
    keep : given the recording as soon as it is read, so that nobody has to read it again
    progress : called with what begins now and how much is done, 0 to 1

    Returns
    -------
    dict
        The answer of ``boostproof inspect --json``, with ``headers`` (of all columns), ``span_s`` (first and last
        second), ``time_known``, ``readings`` (other ways to read a pressure, by channel) and ``lines`` (for each
        pull None, or its boost over engine speed with its sd, and its gear where that was logged), and
        ``case_trouble`` (why the rest of the case could not be read, and the log was looked at alone; else None).

    Raises
    ------
    InputError
        As `boostproof.workflows.inspect.inspect`.
    """
    from boostproof.casefolder import read_case
    from boostproof.workflows.inspect import inspect
    from boostproof.workflows.told import told_alone

    case: Path | None = folder
    trouble = told = None
    try:
        read_case(folder, with_readings=False)
    except InputError as error:  # a log can be looked at while a line of car.toml is still wrong
        case, trouble = None, error.as_dict()
        told = told_alone(folder, folder / path)
    found = inspect(folder / path, case=case, told=told, read=keep, progress=progress)
    progress("drawing", 0.95)
    recording = found.recording
    ends = (float(recording.time[0]), float(recording.time[-1])) if recording.rows else (0.0, 0.0)
    return {
        **found.as_json(),
        "format": FORMAT,
        "headers": list(found.headers),
        "span_s": list(ends),
        "time_known": recording.time_known,
        "readings": {name: _readings(c) for name, c in recording.channels.items() if c.others or c.said_unit},
        "lines": _lines(found),
        "case_trouble": trouble,
    }


def headers_of(file: Path) -> tuple[str, ...]:
    """Headers of the columns of a file that could not be used; empty where it has none."""
    from boostproof.recording.readers.apart import read_untrusted

    try:
        return tuple(column.header for column in read_untrusted(file).columns)
    except Exception:  # whatever was wrong with it was said already
        return ()


def _readings(channel: Channel) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = [{"unit": o.unit, "reference": o.reference} for o in channel.others if o.share >= _FOUND]
    if channel.said_unit:
        found.insert(0, {"unit": channel.said_unit, "reference": channel.reference})
    return found


def _lines(found: Inspection) -> list[dict[str, Any] | None]:
    from boostproof.workflows.inspect_figure import boost_lines
    from boostproof.workflows.over_speed import speeds

    drawn = {line.number: line for line in boost_lines(found)}
    out: list[dict[str, Any] | None] = []
    for number, pull in enumerate(found.pulls, 1):
        line = drawn.get(number)
        if line is None:
            out.append(None if not pull.full_load else {"gear": _gear(pull)})
            continue
        grid = speeds([(float(line.rpm[0]), float(line.rpm[-1]))])
        boost, sd = (np.interp(grid, line.rpm, v, np.nan, np.nan) for v in (line.boost, line.sd))
        out.append(
            {"gear": _gear(pull), "rpm": grid.tolist(), "boost_kpa_gauge": _rounded(boost), "sd_kpa": _rounded(sd)}
        )
    return out


def _rounded(values: Array) -> list[float | None]:
    return [round(float(v), 2) if np.isfinite(v) else None for v in values]


def _gear(pull: Pull) -> int | None:
    values = pull.recording.values("gear")
    rows = None if values is None else values[pull.start : pull.stop]
    if rows is None or not np.isfinite(rows).any():
        return None
    gear = round(float(np.nanmedian(rows)))
    return gear if 1 <= gear <= 10 else None


# -- typed values of a kept answer --------------------------------------------------------------------


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
    """A kept answer of `look` as typed values.

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


# -- curves -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class TargetBand:
    """Boost wanted over engine speed, with its tolerance [rpm, kPa gauge]."""

    low: Array = field(repr=False)
    wanted: Array = field(repr=False)
    high: Array = field(repr=False)


def target_band(wanted: Any, rpm: Array, barometer: float) -> TargetBand | None:
    """The target of car.toml at engine speeds.

    Parameters
    ----------
    wanted : ``limits.target``, as one boost or in rows over engine speed
    rpm : engine speeds
    barometer : Pa abs, for a target written as absolute pressure

    Returns
    -------
    TargetBand or None
        Two standard deviations to either side; None where no target is written.
    """
    from boostproof.workflows.target_told import rows_of, wanted_at

    speed = rpm * np.pi / 30.0
    middle = wanted_at(wanted, speed, barometer)
    if middle is None:
        return None
    rows = rows_of(wanted)
    if rows:
        doubt = np.interp(speed, [at for at, _ in rows], [2.0 * boost.sd for _, boost in rows])
    else:
        doubt = np.full(len(rpm), 2.0 * wanted.sd)
    return TargetBand((middle - doubt) / 1e3, middle / 1e3, (middle + doubt) / 1e3)


def shared_speeds(pulls: Sequence[PullSeen]) -> Array:
    """Engine speeds every 25 rpm over all pulls that can be drawn [rpm]."""
    from boostproof.workflows.over_speed import speeds

    return speeds([(float(p.rpm[0]), float(p.rpm[-1])) for p in pulls if len(p.rpm)])


def on_shared(pull: PullSeen, values: Array, grid: Array) -> Array:
    """A curve of a pull on the engine speeds of all, NaN outside."""
    out = np.full(len(grid), np.nan)
    if len(pull.rpm) and len(grid):
        first = round((pull.rpm[0] - grid[0]) / (grid[1] - grid[0])) if len(grid) > 1 else 0
        out[first : first + len(values)] = values[: len(grid) - first]
    return out


def round_speeds(pulls: Sequence[PullSeen], step: float) -> Array:
    """Multiples of a step over all pulls that can be drawn [rpm]."""
    some = [pull for pull in pulls if len(pull.rpm)]
    first = step * np.ceil(min(pull.rpm[0] for pull in some) / step)
    return np.arange(first, max(pull.rpm[-1] for pull in some) + 1.0, step)


def boost_at(pull: PullSeen, rpm: float) -> tuple[float, float] | None:
    """Boost of a pull at an engine speed and its sd [kPa gauge]; None where it was not driven."""
    boost, sd = (float(np.interp(rpm, pull.rpm, v, np.nan, np.nan)) for v in (pull.boost, pull.sd))
    return (boost, sd) if np.isfinite(boost) else None


def numbered(pulls: Sequence[PullSeen], key: str) -> PullSeen:
    """A pull by FILE#NUMBER.

    Raises
    ------
    InputError
        If there is none.
    """
    for pull in pulls:
        if pull.key == key:
            return pull
    raise InputError(
        f"There is no pull {key}.", kind="no-pull", where=key, do="Choose one of the pulls that are listed."
    )
