"""From tables as read to the dataclasses that describe them, or to what is wrong with them.

Nothing here knows a section or a key: all of it is in the :class:`boostproof.keys.Key` of each field.
Mistakes are collected, so that the first one in the file is answered and the others are counted.
"""

from __future__ import annotations

import datetime
import difflib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from boostproof.casefolder.lines import KeyPath
from boostproof.casefolder.toml_file import TomlFile
from boostproof.errors import InputError
from boostproof.keys import Key, keys_of
from boostproof.quantity import Quantity, parse_quantity
from boostproof.recording.pull_numbers import NONE, PullNumbers, pull_numbers
from boostproof.sources.tolerances import KeyTolerance
from boostproof.units import from_si

STANDARD_ATMOSPHERE = 101_325.0  # Pa, ISO 2533 at sea level
UNKNOWN = {"unknown", "not known", "?", "n/a"}
_NEVER_BELOW_ZERO = {"length", "time", "volume", "volume_flow", "rotational_speed", "fraction", "frequency"}


def plain(text: str) -> str:
    """The form in which words are compared: case, hyphens, underscores and spaces do not count."""
    return re.sub(r"[\s_-]+", " ", text.casefold()).strip()


def nearest(word: str, options: Iterable[str]) -> str:
    """``Did you mean "…"? ``, or nothing where no option is near."""
    by_plain = {plain(option): option for option in options}
    close = difflib.get_close_matches(plain(word), by_plain, n=1, cutoff=0.6)
    return f'Did you mean "{by_plain[close[0]]}"? ' if close else ""


def shown(value: object) -> str:
    """A value as it would stand in the file."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, list):
        return "a list"
    if isinstance(value, dict):
        return "a table"
    return str(value)


class _WrongError(Exception):
    """A value that cannot be taken; says and do are completed with the key and its line."""

    def __init__(self, says: str, do: str) -> None:
        super().__init__(says)
        self.says = says
        self.do = do


@dataclass
class TableReader:
    """Reads the tables of one file and remembers what is wrong and which files are named.

    Attributes
    ----------
    file : the file
    problems : (line, error), in the order found
    files : every file that is named: path of keys, label, file as written
    elsewhere : answers where a key belongs that its table does not know
    """

    file: TomlFile
    elsewhere: Callable[[str], str] = lambda name: ""
    problems: list[tuple[int, InputError]] = field(default_factory=list)
    files: list[tuple[KeyPath, str, str]] = field(default_factory=list)

    def finish(self) -> None:
        """Raise the first mistake in the file, if there is one.

        Raises
        ------
        InputError
            Naming file and line; further mistakes are counted with their lines.
        """
        if not self.problems:
            return
        # a key spelt wrongly is also a key that is missing: the line that is there is answered first
        ordered = sorted(self.problems, key=lambda item: (item[1].kind == "missing", item[0]))
        first = ordered[0][1]
        lines = sorted({line for line, _ in ordered[1:]})
        if lines:
            where = f"line{'s' if len(lines) > 1 else ''} {', '.join(str(line) for line in lines[:6])}"
            first.do = f"{first.do} More to mend in this file: {where}.".strip()
        raise first

    def problem(self, path: KeyPath, says: str, do: str, *, kind: str = "wrong-value") -> None:
        """Note one mistake."""
        error = InputError(says, kind=kind, where=self.file.where(path), do=do)
        self.problems.append((self.file.line(path), error))

    def read(
        self,
        spec: type[Any],
        data: object,
        path: KeyPath = (),
        *,
        label: str | None = None,
    ) -> Any:
        """Read one table.

        Parameters
        ----------
        spec : its specification class
        data : the table as read
        path : where it stands
        label : what to call the table in a sentence

        Returns
        -------
        An instance of ``spec``; after a mistake some must keys may be None, and `finish` raises.
        """
        name = label if label is not None else _label(path)
        if not isinstance(data, dict):
            says = f"{name or 'The file'} is a table of keys, not {shown(data)}."
            self.problem(path, says, _table_form(spec))
            data = {}
        keys = keys_of(spec)
        self._unknown_keys(data, list(keys), path, name)
        values: dict[str, Any] = {}
        for key_name, (field_name, key) in keys.items():
            here = (*path, key_name)
            if key_name in data:
                found = self._value(key, data[key_name], here, f"{name} {key_name}".strip())
                if found is not None:
                    values[field_name] = found
            elif key.must:
                self._missing(key_name, key, path, name)
            if key.must:
                values.setdefault(field_name, None)
        return spec(**values)

    def _unknown_keys(self, data: dict[str, Any], known: list[str], path: KeyPath, name: str) -> None:
        for key_name, value in data.items():
            if key_name in known:
                continue
            place = name or "The file"
            what = "section" if not path and isinstance(value, dict | list) else "key"
            hint = self.elsewhere(key_name) or nearest(key_name, known)
            do = f"{hint}Known {'sections and keys' if not path else 'keys'}: {', '.join(known)}."
            self.problem((*path, key_name), f'{place} has no {what} "{key_name}".', do, kind="unknown-key")

    def _missing(self, key_name: str, key: Key, path: KeyPath, name: str) -> None:
        if key.kind == "table":
            do = _table_form(key.of, key_name)
            self.problem(path, f"The section [{key_name}] is missing.", do, kind="missing")
        elif key.kind == "format":
            says = 'The line "format = 1" is missing.'
            self.problem(path, says, "Write it as the first line of the file.", kind="missing")
        else:
            accepted = f" Accepted: {', '.join(key.choices)}." if key.choices else ""
            do = f"Add {key_name} = {key.example} ({key.doc}).{accepted}"
            self.problem(path, f"{name or 'The file'} lacks {key_name}.", do, kind="missing")

    def _value(self, key: Key, value: object, path: KeyPath, label: str) -> Any:
        if isinstance(value, str) and not value.strip():
            if key.must:
                accepted = f" Accepted: {', '.join(key.choices)}." if key.choices else ""
                do = f"Fill it in, for example {key.example}.{accepted}"
                self.problem(path, f"{label} is not filled in.", do, kind="missing")
            return None
        if not key.must and _says_unknown(key, value):
            return None
        try:
            return _READERS[key.kind](self, key, value, path, label)
        except _WrongError as wrong:
            self.problem(path, f"{label}: {wrong.says}", wrong.do)
        return None

    def _quantity(self, key: Key, value: object, path: KeyPath, label: str) -> Any:
        if isinstance(value, list) and key.of is not None:
            return self._rows(key, value, path, label)
        if key.flag_too and isinstance(value, bool):
            return value
        if isinstance(value, str):
            for word in key.words:
                if plain(value) == word:
                    return word
        also = f' Accepted too: {", ".join(shown(word) for word in key.words)}.' if key.words else ""
        try:
            found = parse_quantity(
                value,
                dimension=key.dimension,
                usual_sd=key.usual,
                gauge_default=key.reference,
                reference_fixed=key.reference_fixed,
            )
        except InputError as error:
            raise _WrongError(error.says, error.do + also) from None
        low = found.low if found.form == "range" else found.value
        if key.span and found.form == "range":
            found = _upper_end(found, key)
            low = found.value
        if key.positive and low <= 0.0:
            raise _WrongError(f'"{value}" must be above zero.', "Leave the key out if it is not known.")
        if low < 0.0 and not key.signed and key.dimension in _NEVER_BELOW_ZERO:
            raise _WrongError(f'"{value}" must not be below zero.', "Check the sign.")
        if key.dimension == "fraction" and found.value > 1.0:
            raise _WrongError(f'"{value}" is more than 100 %.', "Check the number.")
        _check_possible(key, found)
        return found

    def _number(self, key: Key, value: object, path: KeyPath, label: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            do = f"Write it without quotes and unit, for example {key.example}."
            raise _WrongError(f"{shown(value)} is not a plain number.", do)
        low, high = key.minimum, key.maximum
        if not ((low is None or value >= low) and (high is None or value <= high)):
            raise _WrongError(f"{value} is not between {low:g} and {high:g}.", f"It is {key.doc}.")
        return float(value)

    def _integer(self, key: Key, value: object, path: KeyPath, label: str) -> int:
        number = self._number(key, value, path, label)
        if number != int(number):
            raise _WrongError(f"{value} is not a whole number.", f"Write for example {key.example}.")
        return int(number)

    def _flag(self, key: Key, value: object, path: KeyPath, label: str) -> bool:
        if not isinstance(value, bool):
            do = "Write true or false, without quotes."
            raise _WrongError(f"{shown(value)} is neither true nor false.", do)
        return value

    def _choice(self, key: Key, value: object, path: KeyPath, label: str) -> str:
        if isinstance(value, str):
            for option in key.choices:
                if plain(value) == plain(option):
                    return option
            if key.open:
                return value.strip()
        accepted = f"Accepted: {', '.join(key.choices)}."
        if not isinstance(value, str):
            raise _WrongError(f"{shown(value)} is not one of its words.", accepted)
        raise _WrongError(f'"{value}" is not known here.', nearest(value, key.choices) + accepted)

    def _choices(self, key: Key, value: object, path: KeyPath, label: str) -> tuple[str, ...]:
        return tuple(self._choice(key, item, path, label) for item in _one_or_more(value))

    def _text(self, key: Key, value: object, path: KeyPath, label: str) -> str:
        if isinstance(value, str):
            return value.strip()
        if isinstance(value, datetime.date | datetime.time):
            return value.isoformat()
        if isinstance(value, int | float) and not isinstance(value, bool):
            return str(value)
        raise _WrongError(f"{shown(value)} is not text.", f"Write text in quotes, for example {key.example}.")

    def _texts(self, key: Key, value: object, path: KeyPath, label: str) -> tuple[str, ...]:
        return tuple(self._text(key, item, path, label) for item in _one_or_more(value))

    def _turns(self, key: Key, value: object, path: KeyPath, label: str) -> float | str:
        if isinstance(value, str):
            known = {plain(word): word for word in key.words}
            return known.get(plain(value), value.strip())
        return self._number(key, value, path, label)

    def _seconds(self, key: Key, value: object, path: KeyPath, label: str) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool):
            return float(value)
        try:
            return parse_quantity(value, dimension="time").value
        except InputError as error:
            do = f"Write seconds as a plain number, for example {key.example}."
            raise _WrongError(error.says, do) from None

    def _path(self, key: Key, value: object, path: KeyPath, label: str) -> str:
        name = self._text(key, value, path, label).replace("\\", "/")
        while name.startswith("./"):
            name = name[2:]
        if name.startswith("/") or re.match(r"[A-Za-z]:", name) or ".." in name.split("/"):
            do = f"Copy it into the folder and write for example {key.example}."
            raise _WrongError(f'"{value}" lies outside the case folder.', do)
        self.files.append((path, label, name))
        return name

    def _paths(self, key: Key, value: object, path: KeyPath, label: str) -> tuple[str, ...]:
        return tuple(self._path(key, item, path, label) for item in _one_or_more(value))

    def _pulls(self, key: Key, value: object, path: KeyPath, label: str) -> PullNumbers:
        found = NONE
        for item in _one_or_more(value):
            plain_number = isinstance(item, int) and not isinstance(item, bool)
            numbers = pull_numbers(item) if plain_number or isinstance(item, str) else None
            if numbers is None:
                do = f'Write 3 for the third, "3-5" for several, or "3-" from the third on; for example {key.example}.'
                raise _WrongError(f"{shown(item)} is no number of a pull.", do)
            found |= numbers
        return found

    def _table(self, key: Key, value: object, path: KeyPath, label: str) -> Any:
        return self.read(_of(key), value, path)

    def _rows(self, key: Key, value: object, path: KeyPath, label: str) -> tuple[Any, ...]:
        if isinstance(value, dict):  # one row under a single bracket
            return (self.read(_of(key), value, path),)
        if not isinstance(value, list):
            raise _WrongError(f"{shown(value)} is no list of tables.", f"Write {_row_form(_of(key))}.")
        return tuple(self.read(_of(key), item, (*path, i)) for i, item in enumerate(value))

    def _format(self, key: Key, value: object, path: KeyPath, label: str) -> int:
        if value != 1 or isinstance(value, bool):
            raise _WrongError(f"this version reads format 1, not {shown(value)}.", "Write format = 1.")
        return 1

    def _mapping(self, key: Key, value: object, path: KeyPath, label: str) -> dict[str, Any]:
        if not isinstance(value, dict):
            raise _WrongError(f"{shown(value)} is not a table of names.", f"Names: {', '.join(key.choices)}.")
        found: dict[str, Any] = {}
        for name, item in value.items():
            if name not in key.choices:
                do = f"{nearest(name, key.choices)}Known: {', '.join(key.choices)}."
                self.problem((*path, name), f'{label} has no name "{name}".', do, kind="unknown-key")
                continue
            table = {next(iter(keys_of(_of(key)))): item} if isinstance(item, str) else item
            found[name] = self.read(_of(key), table, (*path, name))
        return found


_READERS: dict[str, Callable[[TableReader, Key, object, KeyPath, str], Any]] = {
    "quantity": TableReader._quantity,
    "number": TableReader._number,
    "integer": TableReader._integer,
    "flag": TableReader._flag,
    "choice": TableReader._choice,
    "choices": TableReader._choices,
    "text": TableReader._text,
    "texts": TableReader._texts,
    "turns": TableReader._turns,
    "seconds": TableReader._seconds,
    "path": TableReader._path,
    "paths": TableReader._paths,
    "pulls": TableReader._pulls,
    "table": TableReader._table,
    "rows": TableReader._rows,
    "format": TableReader._format,
    "mapping": TableReader._mapping,
}


def _says_unknown(key: Key, value: object) -> bool:
    if not isinstance(value, str) or key.kind in {"text", "texts", "path", "paths"}:
        return False
    word = plain(value)
    return word in UNKNOWN and word not in {plain(option) for option in (*key.choices, *key.words)}


def _upper_end(found: Quantity, key: Key) -> Quantity:
    sd = key.usual.sd(found.high) if key.usual is not None else found.sd
    top = found.high
    return replace(found, value=top, sd=sd, low=top - 2.0 * sd, high=top + 2.0 * sd, form="exact")


def _check_possible(key: Key, found: Quantity) -> None:
    """A value that no car has is a slip of the unit or of the decimal point."""
    if not isinstance(key.usual, KeyTolerance):
        return
    ends = (found.low, found.high) if found.form == "range" else (found.value, found.value)
    # limits count from where the key does; the standard atmosphere is near enough to see a slip
    shift = STANDARD_ATMOSPHERE * ((found.reference == "abs") - (key.reference == "abs"))
    low, high = key.usual.low + shift, key.usual.high + shift
    if ends[0] < low or ends[1] > high:
        limits = " to ".join(f"{from_si(end, found.unit):.4g}" for end in (low, high))
        says = f'"{found.text}" is not possible here ({limits} {found.unit.name} is).'
        raise _WrongError(says, "Check the unit and the decimal point.")


def _one_or_more(value: object) -> list[Any]:
    return value if isinstance(value, list) else [value]


def _of(key: Key) -> type[Any]:
    if key.of is None:
        raise TypeError("a table key without a class")
    return key.of


def _label(path: KeyPath) -> str:
    """What to call a table in a sentence: [history.changed] 2."""
    names = [str(part) for part in path if isinstance(part, str)]
    places = [part for part in path if isinstance(part, int)]
    if not names:
        return ""
    return f"[{'.'.join(names)}]" + (f" {places[-1] + 1}" if places else "")


def _table_form(spec: type[Any] | None, name: str = "section") -> str:
    if spec is None:
        return ""
    keys = keys_of(spec)
    named = [key_name for key_name, (_, key) in keys.items() if key.must] or list(keys)[:2]
    inside = ", ".join(f"{key_name} = {keys[key_name][1].example}" for key_name in named)
    return f"Write [{name}] and under it its keys: {inside}."


def _row_form(spec: type[Any]) -> str:
    inside = ", ".join(f"{name} = {key.example}" for name, (_, key) in list(keys_of(spec).items())[:2])
    return f"[{{ {inside} }}]"
