"""Hold pulls of one set-up against those of another: did what was done change boost?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.casefolder.left_out import parted
from boostproof.errors import InputError
from boostproof.recording.pull_numbers import ALL, PullNumbers
from boostproof.workflows.pull_figures import alike

if TYPE_CHECKING:
    from boostproof.casefolder import Case
    from boostproof.findings import Finding
    from boostproof.recording.model import Pull
    from boostproof.recording.pulls.comparison import Comparison


@dataclass(frozen=True)
class Side:
    """One set-up: what it is called, and its pulls as FILE#NUMBER."""

    name: str
    pulls: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """``before`` and ``after`` of the answer."""
        return {"name": self.name, "pulls": list(self.pulls)}


@dataclass(frozen=True)
class Compared:
    """Two set-ups and what their pulls say.

    Attributes
    ----------
    before, after : what was compared
    comparison : difference, band and verdict
    findings : what makes the two hard to compare
    """

    before: Side
    after: Side
    comparison: Comparison
    findings: tuple[Finding, ...]

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof compare --json``."""
        return {
            "format": 1,
            "before": self.before.as_json(),
            "after": self.after.as_json(),
            **self.comparison.as_json(),
            "findings": [finding.as_dict() for finding in self.findings],
            "written": [],
        }


def compare(
    case: str | Path, before: Sequence[str], after: Sequence[str], *, same_sensor: bool | None = None
) -> Compared:
    """Compare pulls of a case.

    Parameters
    ----------
    case : the folder
    before, after : recordings of each set-up, as file names of the case ("log.csv", "recordings/log.csv"), each
        with all its full-load pulls that rise alike, or with the numbers of some ("log.csv#2", "log.csv#3-5", "log.csv#3-"
        from the third on; counted as ``inspect`` counts)
    same_sensor : one sensor and logger recorded both; None for: as pulls.toml says what recorded them

    Raises
    ------
    InputError
        If a recording or pull is not there, or the pulls have too little in common.
    """
    from boostproof.casefolder import read_case
    from boostproof.recording.pulls.comparison import compare as compare_pulls

    folder = read_case(case, with_readings=False)
    recordings: dict[Path, tuple[Pull, ...]] = {}
    sides = [side_of(folder, named, recordings) for named in (before, after)]
    if same_sensor is None:
        same_sensor = one_source(folder, [*before, *after])
    names = tuple(side.name for side, _ in sides)
    comparison = compare_pulls(
        sides[0][1], sides[1][1], same_sensor=same_sensor, names=(names[0], names[1])
    )
    return Compared(sides[0][0], sides[1][0], comparison, comparison.findings)


def write_figure(result: Compared, file: str | Path, *, units: str = "psi") -> Path:
    """Draw a comparison into an SVG, PNG or PDF file.

    Raises
    ------
    InputError
        If the name ends in none of these, or cannot be written.
    """
    from boostproof.report.comparison_figure import SIZE, draw_comparison
    from boostproof.report.picture import save_picture

    names = (result.before.name, result.after.name)
    return save_picture(
        lambda figure: draw_comparison(result.comparison, figure, names=names, units=units), file, SIZE
    )


def side_of(
    folder: Case,
    named: Sequence[str],
    recordings: dict[Path, tuple[Pull, ...]],
    mine: Callable[[Path], PullNumbers] = lambda path: ALL,
) -> tuple[Side, list[Pull]]:
    """The pulls that one side names; a pull named twice counts once.

    Parameters
    ----------
    folder, named : the case, and names
    recordings : pulls of those read so far, to which these are added
    mine : of a recording that is named as a whole, the pulls that may be of this side
    """
    chosen: dict[str, Pull] = {}
    for name in named:
        path, numbers = _named(folder, name)
        if path not in recordings:
            recordings[path] = _pulls(folder, path)
        every = recordings[path]
        whole = numbers.every
        check_numbers(numbers, len(every), path)
        wanted = mine(path) if whole else numbers
        some = [pull for n, pull in enumerate(every, 1) if n in wanted]
        single = not whole and all(first == last for first, last in numbers.spans)
        kept = some if single else alike(some)
        if not kept:
            part = path.name if whole else f"{path.name}, {numbers.in_words()},"
            raise InputError(
                f"{part} holds no full-load pull.", kind="no-pull", where=str(path),
                do="See what it holds with 'boostproof inspect'.",
            )  # fmt: skip
        chosen |= {f"{path.name}#{every.index(pull) + 1}": pull for pull in kept}
    if not chosen:
        raise InputError(
            "Both sides of a comparison need a recording.", kind="no-recording", where=str(folder.path),
            do="Name one with --before and one with --after.",
        )  # fmt: skip
    return Side(" and ".join(dict.fromkeys(_shown(folder, name) for name in named)), tuple(chosen)), list(chosen.values())


def _named(folder: Case, name: str) -> tuple[Path, PullNumbers]:
    """The recording and the pulls that a person means."""
    file, numbers = parted(name)
    return _path(folder, file), numbers


def _shown(folder: Case, name: str) -> str:
    """Its name without the ending, where no other recording has the same."""
    path, numbers = _named(folder, name)
    alone = sum(other.stem == path.stem for other in folder.recordings) == 1
    return (path.stem if alone else path.name) + ("" if numbers.every else f", {numbers.in_words()}")


def place_of(folder: Case, name: str) -> str:
    """The same name with the path in the case of the recording that it means.

    Raises
    ------
    InputError
        If the case holds no such recording.
    """
    path, numbers = _named(folder, name)
    place = path.relative_to(folder.path).as_posix() if path.is_relative_to(folder.path) else path.name
    return place if numbers.every else f"{place}#{numbers}"


def _path(folder: Case, file: str) -> Path:
    """The recording that a person means: by its path in the case, or by its name alone."""
    plain = file.replace("\\", "/").removeprefix("./")
    for path in folder.recordings:
        inside = path.relative_to(folder.path).as_posix() if path.is_relative_to(folder.path) else path.name
        if plain in (inside, path.name, path.stem):
            return path
    known = ", ".join(path.name for path in folder.recordings) or "none"
    raise InputError(
        f'The case holds no recording "{file}".', kind="no-recording", where=str(folder.path),
        do=f"Recordings of this case: {known}.",
    )  # fmt: skip


def _pulls(folder: Case, path: Path) -> tuple[Pull, ...]:
    from boostproof.recording import find_pulls
    from boostproof.recording.told import told_excluded
    from boostproof.workflows.column_memory import ColumnMemory
    from boostproof.workflows.reading import read_whole
    from boostproof.workflows.told import told_about

    told = told_about(folder, path)
    recording = read_whole(path, told, folder, remembered=ColumnMemory().of)
    return find_pulls(recording, part_load=True, redline=told.redline, excluded=told_excluded(told.setup))


def check_numbers(numbers: PullNumbers, count: int, path: Path) -> None:
    """Refuse numbers that a recording of so many pulls does not reach.

    Raises
    ------
    InputError
        With how many it holds.
    """
    wrong = None if numbers.every else numbers.first_beyond(count)
    if wrong is not None:
        held = "no pull" if not count else "one pull" if count == 1 else f"{count} pulls"
        raise InputError(
            f"{path.name} has no pull {wrong}; it holds {held}.", kind="no-pull", where=str(path),
            do="'boostproof inspect' numbers them.",
        )  # fmt: skip


def one_source(folder: Case, named: Sequence[str]) -> bool:
    """Whether pulls.toml says of no two of them that different things recorded them."""
    from boostproof.workflows.told import told_about

    setups = [told_about(folder, _named(folder, name)[0]).setup for name in named]
    sources = {setup.source for setup in setups if setup is not None and setup.source is not None}
    return len(sources) <= 1
