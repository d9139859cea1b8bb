"""Answers changed in a car.toml in place, and put right together where two people changed it at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from boostproof.car.spec import CarSpec
from boostproof.casefolder.edit import edit
from boostproof.keys import keys_of
from boostproof.workflows.car_answer import Said, tidied, toml_value
from boostproof.workflows.car_sheet import rows_in, values_of

_SECTIONS = tuple(keys_of(CarSpec))
_ROWS = ("history.changed", "history.tried", "limits.target")


@dataclass(frozen=True)
class Conflict:
    """One answer that two people changed: what was there, what the other saved, and what is typed here."""

    name: str
    before: Said
    theirs: Said
    mine: Said


@dataclass(frozen=True)
class Merged:
    """Changes that can be made, and those on which two people differ."""

    changes: Mapping[str, Said]
    conflicts: tuple[Conflict, ...] = ()


def merged(base: Mapping[str, Said], theirs: Mapping[str, Said], mine: Mapping[str, Sequence[str]]) -> Merged:
    """What a form changes, beside what was saved elsewhere since it was opened.

    Parameters
    ----------
    base, theirs : the answers when the form was opened, and now
    mine : what the form sent; a name that is not in it was not asked

    Returns
    -------
    Merged
        Rows that both added stand one after the other.
    """
    changes: dict[str, Said] = {}
    conflicts: list[Conflict] = []
    added = {name: rows_in(theirs, name) - rows_in(base, name) for name in _ROWS}
    for name, sent in mine.items():
        said, before = tidied(sent), base.get(name, ())
        if said == before:
            continue
        target, table = name, _row_of(name)
        if table and added[table[0]] > 0 and table[1] >= rows_in(base, table[0]):
            if not said:
                continue
            target = f"{table[0]}.{table[1] + added[table[0]]}.{table[2]}"
        now = theirs.get(target, ())
        if target == name and now not in (before, said):
            conflicts.append(Conflict(name, before, now, said))
        elif now != said:
            changes[target] = said
    return Merged(changes, tuple(conflicts))


def changed(text: str, changes: Mapping[str, Said]) -> str:
    """car.toml with answers changed; an empty answer is taken out, and a row of which nothing is left goes.

    Raises
    ------
    InputError, NotDoneError
        If the file is no TOML, or an answer cannot be written in place.
    """
    data = tomllib.loads(text.removeprefix("\ufeff"))
    edits: dict[str, Any] = {} if "format" in data else {"format": 1}
    edits |= {name: toml_value(name, said) if said else None for name, said in changes.items() if not _row_of(name)}
    for table in _ROWS:
        if not edits.get(table):
            edits |= _rows_changed(table, changes, data)
    return edit(text, edits, _SECTIONS)


def _rows_changed(table: str, changes: Mapping[str, Said], data: Mapping[str, Any]) -> dict[str, Any]:
    """Edits of one list of rows: those that are there, then new ones without gaps, then those that go."""
    now = {name: said for name, said in values_of(data).items() if name.startswith(f"{table}.")}
    touched = {name: said for name, said in changes.items() if name.startswith(f"{table}.")}
    after = {name: said for name, said in {**now, **touched}.items() if said}
    rows: dict[int, dict[str, Said]] = {}
    for name, said in after.items():
        number, _, key = name[len(table) + 1 :].partition(".")
        rows.setdefault(int(number), {})[key] = said
    there = rows_in(now, table)
    gone = [row for row in range(there) if row not in rows]
    new = [
        {key: toml_value(f"{table}.{row}.{key}", said) for key, said in rows[row].items()}
        for row in sorted(rows)
        if row >= there
    ]
    if not touched or not rows:
        return {table: None} if touched and there else {}
    edits: dict[str, Any] = {}
    for name, said in touched.items():
        row = int(name[len(table) + 1 :].partition(".")[0])
        if row < there and row in rows:
            edits[name] = toml_value(name, said) if said else None
    if not there and table == "limits.target":
        return {table: new}
    edits |= {f"{table}.{there + i}": made for i, made in enumerate(new)}
    return edits | {f"{table}.{row}": None for row in reversed(gone)}


def _row_of(name: str) -> tuple[str, int, str] | None:
    """List, number and key of an answer in a row."""
    match = re.fullmatch(r"(.+)\.(\d+)\.(\w+)", name)
    return (match[1], int(match[2]), match[3]) if match else None
