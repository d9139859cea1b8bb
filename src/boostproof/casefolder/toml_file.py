"""One TOML file: read, or answered with file, line and plain words."""

from __future__ import annotations

import difflib
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from boostproof.casefolder.lines import KeyPath, line_index
from boostproof.errors import InputError

LARGEST = 4_000_000


@dataclass(frozen=True)
class TomlFile:
    """A file's content and where it stands.

    Attributes
    ----------
    name : file name, for people
    data : as read
    lines : path of keys -> line
    raw : the bytes, for the content hash
    """

    name: str
    data: dict[str, Any]
    lines: dict[KeyPath, int]
    raw: bytes

    def line(self, path: KeyPath) -> int:
        """Line of a key, or of the nearest table above it."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.lines:
                return self.lines[path[:length]]
        return 1

    def where(self, path: KeyPath) -> str:
        """File and line, for an error or a finding."""
        return f"{self.name}, line {self.line(path)}"


def read_toml(path: Path, *, instead: str) -> TomlFile:
    """Read a TOML file.

    Parameters
    ----------
    path : the file
    instead : what to do when it is empty, one sentence

    Raises
    ------
    InputError
        If it cannot be opened, is not UTF-8 text, is empty, or is not TOML: with the line.
    """
    name = path.name
    try:
        raw = path.read_bytes()
    except IsADirectoryError:
        raise InputError(
            f"{name} is a folder, not a file.", kind="not-a-file", where=str(path), do=instead
        ) from None
    except OSError as error:
        raise InputError(
            f"{name} cannot be read ({error.strerror or 'no access'}).",
            kind="cannot-read",
            where=str(path),
            do="Check that the file is there and that you may read it.",
        ) from None
    return parse_toml(raw, name, instead=instead)


def parse_toml(raw: bytes, name: str, *, instead: str) -> TomlFile:
    """Read a TOML file of which the bytes are at hand.

    Parameters
    ----------
    raw : its bytes
    name : what to call it
    instead : what to do when it is empty, one sentence

    Raises
    ------
    InputError
        If it is not UTF-8 text, is empty, or is not TOML: with the line.
    """
    text = _decode(raw, name)
    if not text.strip():
        raise InputError(f"{name} is empty.", kind="empty-file", where=name, do=instead)
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError) as error:
        raise _syntax_error(str(error), text, name) from None
    except RecursionError:
        raise InputError(
            f"{name} has lists or tables inside each other too many times.",
            kind="not-toml",
            where=name,
            do="Keep to the form that boostproof new writes.",
        ) from None
    return TomlFile(name, data, line_index(text), raw)


def toml_of(text: str) -> dict[str, Any]:
    """What a text says; a byte order mark is no part of it.

    Raises
    ------
    tomllib.TOMLDecodeError
        If it is no TOML.
    """
    return tomllib.loads(text.removeprefix("\ufeff"))


def toml_table(text: str) -> dict[str, Any] | None:
    """The same; None where it is no TOML: whoever reads the case says what is wrong with it."""
    try:
        return toml_of(text)
    except tomllib.TOMLDecodeError:
        return None


def toml_rows(text: str, name: str) -> list[dict[str, Any]]:
    """Rows of a list of tables, in order; none where the text is no TOML or holds no such list. What is no row keeps its
    place, so that the numbers of the others are right."""
    found = (toml_table(text) or {}).get(name, [])
    return [row if isinstance(row, dict) else {} for row in found] if isinstance(found, list) else []


def _decode(raw: bytes, name: str) -> str:
    if len(raw) > LARGEST:
        raise InputError(
            f"{name} has {len(raw) / 1e6:.0f} MB; a file written by hand is far smaller.",
            kind="too-large",
            where=name,
            do="Check that a recording was not saved under this name.",
        )
    if b"\0" in raw:
        wide = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
        raise InputError(
            f"{name} is {'UTF-16 text' if wide else 'not a text file'}.",
            kind="not-text",
            where=name,
            do="Save it as plain text in UTF-8.",
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError(
            f"{name} is not UTF-8 text: a sign on this line cannot be read.",
            kind="not-text",
            where=f"{name}, line {line}",
            do='Save the file as UTF-8; "+/-" and "C" can be written without special signs.',
        ) from None
    return text.replace("\r\n", "\n").replace("\r", "\n")


# What the parser says -> what a person can do with it.
_PLAIN_WORDS = (
    (r"Cannot overwrite a value", "this key stands twice", "Keep one of the two."),
    (r"Cannot declare|Cannot redefine|Cannot mutate|Cannot append", "this section or key stands twice",
     "Put all keys of a section under one heading; a list of tables has two brackets: [[reading]]."),
    (r"Duplicate inline table key", "a key stands twice inside { }", "Keep one of the two."),
    (r"Expected '=' after a key", "an equals sign is missing after the key",
     'Write key = "value", or put # before a remark.'),
    (r"Invalid initial character for a key", "a key or a [section] is expected here",
     "A key is written with letters, digits and _, then an equals sign."),
    (r"Unclosed array", "a list is not closed, or a comma is missing in it", "Close it with ]."),
    (r"Unclosed inline table",
     "{ is not closed on the same line, or a comma is missing in it", "Close it with }."),
    (r"Unterminated string|Illegal character '\\n'|Expected \"'\"", "a text is not closed on its line",
     'Close it with ".'),
    (r"Unescaped '\\\\'|Invalid hex|Unescaped", "a backslash in a text has no meaning here",
     "Write paths with / instead, as in recordings/log.csv."),
    (r"Expected '\]", "a section heading is not closed",
     "Write [section], or [[section]] for one of a list."),
)  # fmt: skip


def _syntax_error(message: str, text: str, name: str) -> InputError:
    place = re.search(r"line (\d+), column (\d+)", message)
    rows = text.split("\n")
    number = int(place[1]) if place else len(rows)
    if place is None and "end of document" in message:
        while number > 1 and not rows[number - 1].strip():
            number -= 1
    written = rows[number - 1] if number <= len(rows) else ""
    says, do = "this line cannot be read", "Check quotes, brackets and commas."
    for pattern, words, advice in _PLAIN_WORDS:
        if re.search(pattern, message):
            says, do = words, advice
            break
    else:
        says, do = _unquoted(written) or (says, do)
    if "twice" in says:
        do = _misspelt_heading(rows[:number]) + do
    shown = written.strip()
    quote = f" ({shown[:80]})" if shown else ""
    return InputError(
        f"{name} cannot be read: {says}{quote}.", kind="not-toml", where=f"{name}, line {number}", do=do
    )


_HEADING = re.compile(r"\s*\[{1,2}\s*([\w-]+)")


def _misspelt_heading(rows: list[str]) -> str:
    """A heading spelt wrongly starts nothing new, so that what follows it stands twice."""
    names = [(number, match[1]) for number, row in enumerate(rows, 1) if (match := _HEADING.match(row))]
    if not names:
        return ""
    number, name = names[-1]
    if _HEADING.match(rows[-1]):
        number, name = names[-2] if len(names) > 1 else names[-1]
    others = {other for _, other in names} - {name}
    near = difflib.get_close_matches(name, others, n=1, cutoff=0.8)
    return f"Is [{name}] on line {number} meant as [{near[0]}]? " if near else ""


def _unquoted(line: str) -> tuple[str, str] | None:
    """The usual slips of the hand: no quotes, typographic quotes, a decimal comma in a plain number."""
    if re.search("[\u201c\u201d\u201e\u2018\u2019]", line):
        return "typographic quotes do not work here", 'Use straight quotes: "22 psi".'
    pair = re.match(r"\s*([\w.-]+)\s*=\s*(.*?)\s*(?:#.*)?$", line)
    if not pair:
        return None
    key, value = pair[1], pair[2]
    if not value:
        return "nothing stands after the equals sign", "Fill the value in, or put # before the line."
    if re.fullmatch(r"[+-]?\d+,\d+", value):
        return "a plain number has a decimal point", f"Write {key} = {value.replace(',', '.')}."
    if value.casefold() in {"true", "false", "yes", "no"}:
        return "yes and no are written true and false", f"Write {key} = true or {key} = false."
    if value[0] not in "\"'[{":
        return "text and quantities stand in quotes", f'Write {key} = "{value}".'
    return None
