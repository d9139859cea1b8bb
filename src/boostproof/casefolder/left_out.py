"""A case without some of its recordings, pulls and readings: what was made after a repair says nothing of the car as found.

Pure: names in, names out; `boostproof.casefolder.left_out_texts` takes them out of the files that people write.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import Any

from boostproof.bench.readings import READING_TYPES
from boostproof.errors import InputError
from boostproof.findings import LEFT_OUT, LEFT_OUT_TRIED, Finding
from boostproof.recording.pull_numbers import ALL, NONE, PullNumbers, pull_numbers

_READING = re.compile(r"([a-z][a-z-]*)#(\d+)")
_PULLS = re.compile(r"(.+?)#([\d\s,-]+)")


@dataclass(frozen=True)
class LeftOut:
    """What is left out of a case.

    Attributes
    ----------
    recordings : paths in the case
    readings : names as of `reading_names`
    pulls : of recordings that stay, by path
    between : those of the pulls that lie between the two sides of a repair and were named on neither
    tried : those of the recordings that nobody named, but that car.toml tells of as after a part was tried
    """

    recordings: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()
    pulls: tuple[tuple[str, PullNumbers], ...] = ()
    tried: tuple[str, ...] = ()
    between: tuple[tuple[str, PullNumbers], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.recordings or self.readings or self.pulls)

    @property
    def names(self) -> tuple[str, ...]:
        """All of it as `left_out_of` takes it."""
        return (*self.recordings, *(f"{path}#{numbers}" for path, numbers in self.pulls), *self.readings)

    def pulls_of(self, path: str) -> PullNumbers:
        """Pulls of a recording that are left out: all of one that is left out as a whole."""
        return ALL if path in self.recordings else dict(self.pulls).get(path, NONE)

    def between_of(self, path: str) -> PullNumbers:
        """Pulls of a recording that nobody knows to be of before the repair or of after it."""
        return dict(self.between).get(path, NONE)

    @property
    def since(self) -> LeftOut:
        """What of it was made after the repair."""
        pulls = ((path, numbers - self.between_of(path)) for path, numbers in self.pulls)
        return replace(self, pulls=tuple((path, numbers) for path, numbers in pulls if numbers), between=())


NOTHING = LeftOut()
_TAKE_IN = 'To count it again, take it out of "after" under [[history.tried]], or write result = "no change" there.'


def parted(name: str) -> tuple[str, PullNumbers]:
    """A recording and which of its pulls a name means: all of them where it names none.

    Examples
    --------
    >>> file, numbers = parted("log.csv#3-5")
    >>> file, str(numbers), parted("log.csv")[1].every
    ('log.csv', '3-5', True)
    """
    match = _PULLS.fullmatch(name.strip())
    numbers = None if match is None else pull_numbers(match[2])
    return (name.strip(), ALL) if match is None or numbers is None else (match[1], numbers)


def made_after(before: Sequence[str], after: Sequence[str]) -> LeftOut:
    """What was made after a repair, by the pulls that were named on its two sides.

    A recording with none from before it was made after it. In one that holds pulls of both sides the repair lies before
    the first one from after it: that one and those that follow are left out, but for those named before it. So are those
    between it and the last one named before it: nobody said on which side of the repair they are.

    Parameters
    ----------
    before, after : recordings, or some of their pulls as FILE#NUMBERS

    Examples
    --------
    >>> found = made_after(["old.csv#1", "both.csv#1"], ["both.csv#3", "new.csv#1", "new.csv#2"])
    >>> found.names, found.since.names
    (('new.csv', 'both.csv#2-'), ('new.csv', 'both.csv#3-'))
    """
    sides: tuple[dict[str, PullNumbers], dict[str, PullNumbers]] = ({}, {})
    for side, names in zip(sides, (before, after), strict=True):
        for file, numbers in map(parted, names):
            side[file] = side.get(file, NONE) | numbers
    first, then = sides
    pulls = {
        file: numbers.onward() - (NONE if first[file].every and not numbers.every else first[file])
        for file, numbers in then.items() if file in first
    }  # fmt: skip
    between = {file: between_sides(first[file], then[file]) for file in pulls}
    return LeftOut(
        tuple(file for file in then if file not in first),
        pulls=tuple((file, numbers | between[file]) for file, numbers in pulls.items() if numbers),
        between=tuple((file, between[file]) for file, numbers in pulls.items() if numbers and between[file]),
    )


def between_sides(before: PullNumbers, after: PullNumbers) -> PullNumbers:
    """Pulls of a recording between the first one from after a repair and the last one named before it.

    Examples
    --------
    >>> str(between_sides(PullNumbers(((1, 2),)), PullNumbers(((5, 6),))))
    '3-4'
    """
    start = after.spans[0][0]
    earlier = [min(last, start - 1) for first, last in before.spans if first < start]
    return PullNumbers(((int(max(earlier)) + 1, start - 1),)) if earlier and max(earlier) < start - 1 else NONE


def reading_names(tests: Sequence[str]) -> tuple[str, ...]:
    """Each reading by its test and which of that test it is.

    Parameters
    ----------
    tests : ids, in the order done

    Examples
    --------
    >>> reading_names(["free-travel", "seat-leak", "free-travel"])
    ('free-travel#1', 'seat-leak#1', 'free-travel#2')
    """
    seen: dict[str, int] = {}
    out = []
    for test in tests:
        seen[test] = seen.get(test, 0) + 1
        out.append(f"{test}#{seen[test]}")
    return tuple(out)


def names_in(rows: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """The same of rows as they are written."""
    return reading_names([str(row.get("test", "")) for row in rows])


def told_of(left_out: LeftOut) -> list[Finding]:
    """What says which recordings and readings are left out; nothing where none is. Pulls are told of where their recording
    is read."""
    named = [path for path in left_out.recordings if path not in left_out.tried]
    counts = [
        f"{len(some)} {kind}{'' if len(some) == 1 else 's'}"
        for some, kind in ((named, "recording"), (left_out.readings, "reading")) if some
    ]  # fmt: skip
    out = []
    if counts:
        verb = "is" if len(named) + len(left_out.readings) == 1 else "are"
        says = f"{' and '.join(counts)} made after the repair {verb} left out of the ranking."
        out.append(Finding(LEFT_OUT, ", ".join([*map(_name, named), *left_out.readings]), says, ""))
    if left_out.tried:
        it = "it was" if len(left_out.tried) == 1 else "they were"
        says = f"Left out of the ranking: car.toml says that {it} recorded after something was tried that changed the car."
        out.append(Finding(LEFT_OUT_TRIED, ", ".join(map(_name, left_out.tried)), says, _TAKE_IN))
    return out


def left_out_of(names: Sequence[str], recordings: Sequence[str], readings: Sequence[str]) -> LeftOut:
    """What names mean: recordings by their path in the case or by their name alone, their pulls as in ``log.csv#3``,
    ``log.csv#3-5`` or ``log.csv#3-`` (from the third on), readings as in ``seat-leak#2``.

    Parameters
    ----------
    names : as a person gives them
    recordings, readings : that the case holds, by path and as of `reading_names`

    Raises
    ------
    InputError
        If the case holds no such thing.
    """
    files: list[str] = []
    pulls: dict[str, PullNumbers] = {}
    tests: list[str] = []
    for name in names:
        plain = name.strip().replace("\\", "/").removeprefix("./")
        match = _READING.fullmatch(plain)
        if match is not None and match[1] in READING_TYPES:
            if plain not in readings:
                raise _nothing(name, "reading", readings)
            tests.append(plain)
            continue
        whole = _found(plain, recordings)
        file, numbers = (plain, ALL) if whole is not None else parted(plain)
        path = whole or _found(file, recordings)
        if path is None:
            raise _nothing(name, "recording", list(map(_name, recordings)))
        if numbers.every:
            files.append(path)
        else:
            pulls[path] = pulls.get(path, NONE) | numbers
    return LeftOut(
        tuple(dict.fromkeys(files)), tuple(dict.fromkeys(tests)),
        tuple((path, numbers) for path, numbers in sorted(pulls.items()) if path not in files),
    )  # fmt: skip


def _name(path: str) -> str:
    return PurePosixPath(path).name


def _found(name: str, recordings: Sequence[str]) -> str | None:
    return next((r for r in recordings if name in (r, _name(r), PurePosixPath(r).stem)), None)


def _nothing(name: str, kind: str, there: Sequence[str]) -> InputError:
    return InputError(
        f'The case holds no {kind} "{name}".', kind=f"no-{kind}", where=name,
        do=f"{kind.capitalize()}s of this case: {', '.join(there) or 'none'}.",
    )  # fmt: skip
