"""car.toml as a sheet of answers: every value as a person typed it, changed in place, and put right together
where two people changed it at once.

Names are dotted keys (``"engine.redline"``, ``"history.changed.0.what"``). A value is what a form sends: one text,
or several for a choice of several; flags are "yes" and "no", lists of texts are lines of one text.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from boostproof.car.spec import CarSpec
from boostproof.casefolder.checks import check_car
from boostproof.casefolder.edit import edit, key_path, value_at
from boostproof.casefolder.scope import refuse_out_of_scope
from boostproof.casefolder.tables import UNKNOWN, TableReader, plain
from boostproof.casefolder.toml_file import parse_toml
from boostproof.errors import InputError, UnsupportedCarError
from boostproof.keys import Key, keys_of
from boostproof.units import accepted_units
from boostproof.workflows.bench_form import NO, YES, field_file

Said = tuple[str, ...]
SECTIONS = tuple(keys_of(CarSpec))

# What a bare number means where the question itself names the unit. A pressure is never guessed.
_BARE_UNITS = {
    "engine.displacement": "L", "engine.redline": "rpm", "pull_place.ramp": "rpm/s", "controller.frequency": "Hz",
    "wastegate.opening_angle": "deg", "engine.ethanol": "%", "weather.humidity": "%",
}  # fmt: skip
_NOT_MM = ("signal_line.length", "weather.altitude", "pull_place.roller_diameter")
_OFFERED = {"pressure": ("psi", "bar", "kPa")}
_HAS_NUMBER = re.compile(r"[0-9]")


@dataclass(frozen=True)
class Problem:
    """What is wrong with one answer: what was expected and the nearest right one; texts that would do instead."""

    says: str
    do: str
    offers: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """car.toml as it stands.

    Attributes
    ----------
    text : the file
    data : as read
    values : every answer by name
    problems : what cannot be read, by name of the answer ("" for the file as a whole)
    missing : names that no verdict can do without
    car : the car as far as it is told; parts that must be told may be None in it
    """

    text: str
    data: Mapping[str, Any]
    values: Mapping[str, Said]
    problems: Mapping[str, Problem]
    missing: tuple[str, ...]
    car: CarSpec


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


@lru_cache(maxsize=1024)
def key_at(name: str) -> Key:
    """The key of an answer.

    Raises
    ------
    InputError
        If car.toml has no such key.
    """
    spec: type[Any] | None = CarSpec
    key: Key | None = None
    for part in key_path(name):
        if isinstance(part, int):
            continue
        if spec is None or part not in keys_of(spec):
            raise InputError(f'There is no answer "{name}".', kind="unknown-key", where="car")
        key = keys_of(spec)[part][1]
        spec = key.of
    if key is None:
        raise InputError(f'There is no answer "{name}".', kind="unknown-key", where="car")
    return key


@lru_cache(maxsize=32)
def read_sheet(raw: bytes) -> Sheet:
    """The sheet of a car.toml, whatever state it is in. The last ones are kept: do not change them.

    Raises
    ------
    InputError
        If it is no text or no TOML: with the line.
    """
    data = parse_toml(raw, "car.toml", instead="").data if raw.strip() else {}
    text = raw.decode("utf-8")
    car, problems, missing = _checked(data)
    return Sheet(text, data, values_of(data), problems, missing, car)


def _checked(data: Mapping[str, Any]) -> tuple[CarSpec, dict[str, Problem], tuple[str, ...]]:
    sections: dict[str, Any] = {name: {} for name, (_, key) in keys_of(CarSpec).items() if key.kind == "table"}
    whole = {"format": 1, **sections, **data}
    reader = TableReader(replace(field_file(), data=whole))
    problems: dict[str, Problem] = {}
    missing: list[str] = []
    try:
        refuse_out_of_scope(reader.file)
    except UnsupportedCarError as refused:
        problems[refused.where] = Problem(refused.says, refused.do)
    car: CarSpec = reader.read(CarSpec, whole)
    for _, error in reader.problems:
        if error.kind == "missing":
            missing += _missing_names(error, whole)
        else:
            problems.setdefault(error.where, _problem(error))
    if not problems:
        before = len(reader.problems)
        check_car(car, reader)
        problems |= {error.where: _problem(error) for _, error in reader.problems[before:]}
    return car, problems, tuple(missing)


def _missing_names(error: InputError, data: Mapping[str, Any]) -> list[str]:
    """Names that are missing: an empty answer stands at itself, one that is not there at its table."""
    table = value_at(data, error.where) if error.where else data
    if not isinstance(table, dict):
        return [error.where]
    names = [f"{error.where}.{name}" for name, (_, key) in keys_of(_spec_at(error.where)).items() if key.must]
    return [name for name in names if value_at(data, name) is None and f" {name.rpartition('.')[2]}." in error.says]


def _spec_at(name: str) -> type[Any]:
    of = key_at(name).of
    assert of is not None, name
    return of


def _problem(error: InputError) -> Problem:
    """What is wrong, for a place beside the answer: the name of the key is left out."""
    name = error.where.rpartition(".")[2]
    says = error.says.partition(f"{name}: ")[2] if f"{name}: " in error.says else error.says
    return Problem(says[:1].upper() + says[1:], error.do)


def values_of(data: Mapping[str, Any]) -> dict[str, Said]:
    """Every answer of a file as a form has it; what the file has beyond is left out."""
    found: dict[str, Said] = {}

    def put(spec: type[Any], table: Mapping[str, Any], path: str) -> None:
        for name, (_, key) in keys_of(spec).items():
            value = table.get(name)
            here = f"{path}.{name}".lstrip(".")
            if value is None:
                continue
            if key.of is not None and isinstance(value, dict):
                put(key.of, value, f"{here}.0" if key.kind == "rows" else here)
            elif key.of is not None and isinstance(value, list):
                for i, row in enumerate(value):
                    if isinstance(row, dict):
                        put(key.of, row, f"{here}.{i}")
            else:
                found[here] = _said(key, value)

    put(CarSpec, data, "")
    return found


def _said(key: Key, value: Any) -> Said:
    if key.kind == "texts":
        return ("\n".join(str(one) for one in (value if isinstance(value, list) else [value])),)
    if isinstance(value, bool):
        return (YES if value else NO,)
    if isinstance(value, list):
        return tuple(str(one) for one in value)
    return (str(value),) if str(value).strip() else ()


def tidied(said: Sequence[str]) -> Said:
    """What a form sent, without blanks around it and without empty parts."""
    cleaned = (text.replace("\r\n", "\n").strip() for text in said)
    return tuple(text for text in cleaned if text)


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


_ROWS = ("history.changed", "history.tried", "limits.target")


def rows_in(values: Mapping[str, Said], table: str) -> int:
    """How many rows a list of tables has in the answers."""
    numbers = [int(match[1]) for name in values if (match := re.match(rf"{re.escape(table)}\.(\d+)\.", name))]
    return max(numbers, default=-1) + 1


def _row_of(name: str) -> tuple[str, int, str] | None:
    """List, number and key of an answer in a row."""
    match = re.fullmatch(r"(.+)\.(\d+)\.(\w+)", name)
    return (match[1], int(match[2]), match[3]) if match else None


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
    return edit(text, edits, SECTIONS)


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


def toml_value(name: str, said: Sequence[str]) -> Any:
    """What was said, as car.toml has it; what cannot be understood stays text, for the reader to answer."""
    key = key_at(name)
    text = said[-1] if said else ""
    match key.kind:
        case "flag":
            return {YES: True, NO: False}.get(text.casefold(), text)
        case "integer" | "number" | "turns":
            return _number(text)
        case "texts":
            return [line.strip() for line in text.split("\n") if line.strip()]
        case "choices" | "paths":
            return list(said)
        case "quantity":
            return with_unit(name, text)
        case _:
            return text


def with_unit(name: str, text: str) -> str:
    """A quantity with the unit that the question names, where none was typed."""
    unit = bare_unit(name)
    if not unit or not _HAS_NUMBER.search(text) or not isinstance(_one(name, text), Problem):
        return text
    return text if isinstance(_one(name, f"{text} {unit}"), Problem) else f"{text} {unit}"


def bare_unit(name: str) -> str:
    """Unit of a number that is typed without one, "" where it must be said."""
    name = ".".join(str(part) for part in key_path(name) if isinstance(part, str))
    if name in _BARE_UNITS or name == "limits.target.rpm":
        return _BARE_UNITS.get(name, "rpm")
    key = key_at(name)
    return "mm" if key.dimension == "length" and name not in _NOT_MM else ""


def _number(text: str) -> Any:
    plain_text = text.replace(",", ".").strip()
    if re.fullmatch(r"\d{1,9}", plain_text):
        return int(plain_text)
    return float(plain_text) if re.fullmatch(r"\d{0,9}\.\d{1,9}", plain_text) else text


def understood(name: str, said: Sequence[str]) -> Any:
    """How an answer is understood by itself.

    Parameters
    ----------
    name : of the answer
    said : as typed

    Returns
    -------
    object
        What the car's table would hold (a `Quantity`, a number, a word, True ...); None for nothing said or
        "not known"; a `Problem` where it cannot be understood.

    Raises
    ------
    InputError
        If there is no such answer.
    """
    key, said = key_at(name), tidied(said)
    if not said or (plain(said[-1]) in UNKNOWN and not key.words):
        return None
    value = toml_value(name, said)
    if key.kind in ("integer", "number") and not isinstance(value, int | float):
        return Problem(f'"{value}" is not a plain number.', f"Write for example {key.example}.")
    for begins, sentence in key.refused:
        if ("true" if value is True else plain(str(value))).startswith(begins):
            return Problem(sentence, "")
    found = _one(name, value)
    if isinstance(found, Problem) and key.kind == "quantity":
        return replace(found, offers=_offers(name, key, str(value)))
    return found


def _one(name: str, value: Any) -> Any:
    """One value as the table that it stands in holds it, or what is wrong with it."""
    *table, own = key_path(name)
    spec = _spec_at(".".join(part for part in table if isinstance(part, str))) if table else CarSpec
    reader = TableReader(field_file())
    found = reader.read(spec, {own: value}, tuple(table))
    for _, error in reader.problems:
        if error.kind != "missing":
            return _problem(error)
    return getattr(found, keys_of(spec)[str(own)][0])


def _offers(name: str, key: Key, value: str) -> tuple[str, ...]:
    """The same number with the units that make sense of it, where it was typed without one."""
    if not re.search(r"\d\s*$", value):
        return ()
    units = _OFFERED.get(key.dimension, accepted_units(key.dimension)[:3])
    offers = (f"{value.strip()} {unit}" for unit in units)
    return tuple(text for text in offers if not isinstance(_one(name, text), Problem))


@dataclass(frozen=True)
class Worth:
    """What knowing an answer would save: minutes of repair, by the test that would tell it or from its papers.

    Attributes
    ----------
    name : of the answer
    test : the test that measures it, "" where none does: then it stands in papers or on the part
    minutes : that the test takes, 0 where there is none
    minutes_saved : what it would save in all, 0 where the verdict does not say
    """

    name: str
    test: str = ""
    minutes: float = 0.0
    minutes_saved: float = 0.0


# what a verdict calls missing -> the answer, and the bench test that measures it
_MISSING = {"car: gate port": ("wastegate.port", "port-measure"), "car: boost wanted": ("limits.target", "")}


def worth_knowing(verdict: Mapping[str, Any]) -> dict[str, Worth]:
    """What each answer is worth that a verdict had to do without.

    Parameters
    ----------
    verdict : the answer of a diagnosis, see :meth:`boostproof.workflows.verdict.Verdict.as_json`

    Returns
    -------
    dict
        By name of the answer; what the verdict itself calls missing, and the figures that it values, with the minutes
        that it gives; what saves most first.
    """
    tests = {test["id"]: test for test in verdict.get("next_tests") or ()}
    found: dict[str, Worth] = {}
    for said in verdict.get("missing") or ():
        name, test = _MISSING.get(said, ("", ""))
        if not name:
            continue
        open_test = tests.get(test)
        saved = max(float(open_test["minutes_saved"]), 0.0) if open_test else 0.0
        found[name] = Worth(name, test if open_test else "", float(open_test["minutes"]) if open_test else 0.0, saved)
    for one in verdict.get("unknowns") or ():
        found.setdefault(one["name"], Worth(one["name"], minutes_saved=float(one["minutes_saved"])))
    return dict(sorted(found.items(), key=lambda item: -item[1].minutes_saved))
