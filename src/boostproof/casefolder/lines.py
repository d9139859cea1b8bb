"""Where in a TOML text each key stands, so that a mistake can be pointed at and a value edited in place."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass

KeyPath = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SKIP = re.compile(r"(?:[ \t\r\n]|#[^\n]*)+")
_BLANK = re.compile(r"[ \t]*")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'',
    re.DOTALL,
)
_PLAIN = re.compile(r"[^,\]}\n#]*")


def line_index(text: str) -> dict[KeyPath, int]:
    """Line of every table, key and list element of a TOML text.

    Parameters
    ----------
    text : TOML that has already been read without an error

    Returns
    -------
    dict
        Path of keys and list positions -> line, counted from 1. ``("reading", 0, "vent", "held")``.

    Examples
    --------
    >>> index = line_index('[a]\\nb = [\\n  {c = 1},\\n]\\n')
    >>> index["a",], index["a", "b"], index["a", "b", 0, "c"]
    (1, 2, 3)
    """
    try:
        return _Scanner(text).scan()
    except RecursionError:
        return {}


@dataclass(frozen=True)
class Heading:
    """One ``[table]`` or ``[[row]]``: its path (with the number of the row) and where its brackets stand."""

    path: KeyPath
    start: int
    end: int


@dataclass(frozen=True)
class Pair:
    """One ``key = value`` on lines of its own.

    Attributes
    ----------
    table : path of the heading it stands under
    path : full path; longer than the table's by more than one where the key has dots
    start, end : from the first sign of the key to behind the value
    """

    table: KeyPath
    path: KeyPath
    start: int
    end: int


@dataclass(frozen=True)
class Places:
    """Where everything of a text stands.

    Attributes
    ----------
    headings, pairs : in the order of the text
    values : path of every value, those inside lists and braces too -> its start and end
    starts : path of every value inside braces -> where its key starts
    """

    headings: tuple[Heading, ...]
    pairs: tuple[Pair, ...]
    values: dict[KeyPath, tuple[int, int]]
    starts: dict[KeyPath, int]


def places(text: str) -> Places:
    """Where the headings, pairs and values of a TOML text stand.

    Parameters
    ----------
    text : TOML that has already been read without an error; line ends may be of either kind

    Examples
    --------
    >>> text = "[a]\\nb = { c = 1 }  # remark\\n"
    >>> start, end = places(text).values["a", "b", "c"]
    >>> text[start:end]
    '1'
    """
    scanner = _Scanner(text)
    scanner.scan()
    return Places(tuple(scanner.headings), tuple(scanner.pairs), scanner.values, scanner.inside)


class _Scanner:
    """One pass over a text that is known to be well formed."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.starts = [0, *(match.end() for match in re.finditer("\n", text))]
        self.lines: dict[KeyPath, int] = {}
        self.last_row: dict[KeyPath, int] = {}
        self.headings: list[Heading] = []
        self.pairs: list[Pair] = []
        self.values: dict[KeyPath, tuple[int, int]] = {}
        self.inside: dict[KeyPath, int] = {}

    def scan(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        while True:
            self._skip()
            if self.at >= len(self.text):
                return self.lines
            if self.text[self.at] == "[":
                table = self._header()
            else:
                start = self.at
                path = self._pair(table)
                self.pairs.append(Pair(table, path, start, self.values[path][1]))

    def _header(self) -> KeyPath:
        line, start = self._line(), self.at
        is_row = self.text.startswith("[[", self.at)
        self.at += 2 if is_row else 1
        names = self._dotted()
        self.at += 2 if is_row else 1
        path = self._resolve(names[:-1], line)
        if not is_row:
            path = self._resolve((names[-1],), line, path)
        else:
            path = (*path, names[-1])
            self.lines.setdefault(path, line)
            self.last_row[path] = self.last_row.get(path, -1) + 1
            path = (*path, self.last_row[path])
        self.lines.setdefault(path, line)
        self.headings.append(Heading(path, start, self.at))
        return path

    def _resolve(self, names: tuple[str, ...], line: int, path: KeyPath = ()) -> KeyPath:
        """A header's path; a list of tables on the way means its latest row.

        A table that only a longer header names stands where that header does.
        """
        for name in names:
            path = (*path, name)
            self.lines.setdefault(path, line)
            if path in self.last_row:
                path = (*path, self.last_row[path])
        return path

    def _pair(self, table: KeyPath) -> KeyPath:
        line = self._line()
        path = table
        for name in self._dotted():
            path = (*path, name)
            self.lines.setdefault(path, line)
        self.at += 1  # the equals sign
        self._blank()
        self._value(path)
        return path

    def _value(self, path: KeyPath) -> None:
        self.lines.setdefault(path, self._line())
        start = self.at
        if self.text[self.at] == "[":
            self._list(path)
        elif self.text[self.at] == "{":
            self.at += 1
            self._skip()
            while self.text[self.at] != "}":
                key = self.at
                self.inside[self._pair(path)] = key
                self._skip_comma()
            self.at += 1
        else:
            match = _STRING.match(self.text, self.at) or _PLAIN.match(self.text, self.at)
            if match:
                self.at = match.end()
        self.values[path] = (start, start + len(self.text[start : self.at].rstrip()))

    def _list(self, path: KeyPath) -> None:
        self.at += 1
        self._skip()
        position = 0
        while self.text[self.at] != "]":
            self._value((*path, position))
            position += 1
            self._skip_comma()
        self.at += 1

    def _dotted(self) -> tuple[str, ...]:
        names: list[str] = []
        while True:
            self._blank()
            bare = _BARE.match(self.text, self.at)
            quoted = None if bare else _STRING.match(self.text, self.at)
            if bare:
                names.append(bare[0])
                self.at = bare.end()
            elif quoted:
                names.append(quoted[0][1:-1])
                self.at = quoted.end()
            self._blank()
            if not self.text.startswith(".", self.at):
                return tuple(names)
            self.at += 1

    def _skip_comma(self) -> None:
        self._skip()
        if self.text[self.at] == ",":
            self.at += 1
            self._skip()

    def _skip(self) -> None:
        match = _SKIP.match(self.text, self.at)
        if match:
            self.at = match.end()

    def _blank(self) -> None:
        match = _BLANK.match(self.text, self.at)
        if match:
            self.at = match.end()

    def _line(self) -> int:
        return bisect_right(self.starts, self.at)
