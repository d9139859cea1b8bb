"""A case without some of its recordings and readings: what was made after a repair says nothing of the car as found.

Pure: names and texts in, names and texts out.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from boostproof.bench.readings import READING_TYPES
from boostproof.casefolder.lines import places
from boostproof.errors import InputError
from boostproof.findings import Finding

_READING = re.compile(r"([a-z][a-z-]*)#(\d+)")


@dataclass(frozen=True)
class LeftOut:
    """What is left out of a case.

    Attributes
    ----------
    recordings : paths in the case
    readings : names as of `reading_names`
    """

    recordings: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.recordings or self.readings)


NOTHING = LeftOut()


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


def recordings_after(before: Sequence[str], after: Sequence[str]) -> tuple[str, ...]:
    """Recordings of which pulls are named after a repair and none before it.

    Parameters
    ----------
    before, after : recordings, or single pulls as FILE#NUMBER

    Examples
    --------
    >>> recordings_after(["old.csv#1", "both.csv#1"], ["both.csv#2", "new.csv#1", "new.csv#2"])
    ('new.csv',)
    """
    first = {_file(name) for name in before}
    return tuple(name for name in dict.fromkeys(map(_file, after)) if name not in first)


def told_of(left_out: LeftOut) -> list[Finding]:
    """One finding that says what is left out; none where nothing is."""
    if not left_out:
        return []
    counts = [
        f"{len(some)} {kind}{'' if len(some) == 1 else 's'}"
        for some, kind in ((left_out.recordings, "recording"), (left_out.readings, "reading")) if some
    ]  # fmt: skip
    one = len(left_out.recordings) + len(left_out.readings) == 1
    names = [PurePosixPath(path).name for path in left_out.recordings] + list(left_out.readings)
    says = f"{' and '.join(counts)} made after the repair {'is' if one else 'are'} left out of the ranking."
    return [Finding("left-out", ", ".join(names), says, "")]


def left_out_of(names: Sequence[str], recordings: Sequence[str], readings: Sequence[str]) -> LeftOut:
    """What names mean: recordings by their path in the case or by their name alone, readings as in ``seat-leak#2``.

    Parameters
    ----------
    names : as a person gives them
    recordings, readings : that the case holds, by path and as of `reading_names`

    Raises
    ------
    InputError
        If the case holds no such thing, or a name means one pull of a recording.
    """
    files: list[str] = []
    tests: list[str] = []
    for name in names:
        plain = name.strip().replace("\\", "/").removeprefix("./")
        match = _READING.fullmatch(plain)
        if match is not None and match[1] in READING_TYPES:
            if plain not in readings:
                raise _nothing(name, "reading", readings)
            tests.append(plain)
            continue
        found = next((r for r in recordings if plain in (r, PurePosixPath(r).name, PurePosixPath(r).stem)), None)
        if found is None:
            raise _nothing(name, "recording", [PurePosixPath(r).name for r in recordings])
        files.append(found)
    return LeftOut(tuple(dict.fromkeys(files)), tuple(dict.fromkeys(tests)))


def pulls_without(text: str, left_out: LeftOut) -> str:
    """pulls.toml without what it says of the recordings that are left out."""
    rows = _rows(text, "recording")
    return _without_rows(text, "recording", [i for i, row in enumerate(rows) if row.get("file") in left_out.recordings])


def readings_without(text: str, left_out: LeftOut) -> str:
    """readings.toml without the readings that are left out, and without pulls whose recording is."""
    rows = _rows(text, "reading")
    names = names_in(rows)
    return _without_rows(text, "reading", [
        i for i, row in enumerate(rows)
        if names[i] in left_out.readings or row.get("recording") in left_out.recordings
    ])  # fmt: skip


def car_without(text: str, left_out: LeftOut) -> str:
    """car.toml without the recordings that are left out where it tells of what was tried."""
    out = text
    data = tomllib.loads(_plain(text))
    for pair in reversed(places(text).pairs):
        if pair.path[:2] != ("history", "tried"):
            continue
        value: Any = data
        for key in pair.path:
            value = value[key]
        named = {value} if isinstance(value, str) else set(value) if isinstance(value, list) else set()
        if pair.path[-1] in ("before", "after") and named & set(left_out.recordings):
            end = out.find("\n", pair.end)
            out = out[: pair.start] + ("" if end < 0 else out[end + 1 :])
    return out


def empty(text: str) -> bool:
    """Whether a readings.toml or pulls.toml says nothing."""
    return not set(tomllib.loads(_plain(text))) - {"format"}


def _file(name: str) -> str:
    return re.sub(r"#\d+$", "", name.strip())


def _rows(text: str, table: str) -> list[dict[str, Any]]:
    found = tomllib.loads(_plain(text)).get(table, [])
    return [row if isinstance(row, dict) else {} for row in found] if isinstance(found, list) else []


def _without_rows(text: str, table: str, which: Collection[int]) -> str:
    """The text without some rows of a list of tables; all else stays byte for byte."""
    if not which:
        return text
    headings = places(text).headings
    blocks = []
    for place, heading in enumerate(headings):
        if len(heading.path) == 2 and heading.path[0] == table and heading.path[1] in which:
            after = (h.start for h in headings[place:] if h.path[:2] != heading.path)
            blocks.append((heading.start, next(after, len(text))))
    if len(blocks) != len(which):
        return _without_inline_rows(text, table, which)
    for start, end in reversed(blocks):
        kept = text[:start]
        if end >= len(text):  # the line that was left free before it goes with the last
            kept = re.sub(r"(?<=\n)\r?\n\Z", "", kept)
        text = kept + text[end:]
    return text


def _without_inline_rows(text: str, table: str, which: Collection[int]) -> str:
    import tomlkit

    document = tomlkit.parse(text)
    listed: Any = document[table]
    for place in sorted(which, reverse=True):
        del listed[place]
    return document.as_string()


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").removeprefix("\ufeff")


def _nothing(name: str, kind: str, there: Sequence[str]) -> InputError:
    if kind == "recording" and re.search(r"#\d+$", name):
        return InputError(
            f'"{name}" means one pull; a recording is left out as a whole.', kind="no-recording", where=name,
            do="Name the recording without the number.",
        )  # fmt: skip
    return InputError(
        f'The case holds no {kind} "{name}".', kind=f"no-{kind}", where=name,
        do=f"{kind.capitalize()}s of this case: {', '.join(there) or 'none'}.",
    )  # fmt: skip
