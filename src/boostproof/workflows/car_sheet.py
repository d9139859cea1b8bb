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
from typing import Any

from boostproof.car.spec import CarSpec
from boostproof.casefolder.checks import check_car
from boostproof.casefolder.edit import edit, key_path, value_at
from boostproof.casefolder.lines import KeyPath
from boostproof.casefolder.scope import refuse_out_of_scope
from boostproof.casefolder.tables import UNKNOWN, TableReader, plain
from boostproof.casefolder.toml_file import parse_toml
from boostproof.errors import InputError, UnsupportedCarError
from boostproof.keys import Key, keys_of
from boostproof.quantity import Quantity
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
_NO_NUMBER = re.compile(r"^[^0-9]*$")


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


def read_sheet(raw: bytes) -> Sheet:
    """The sheet of a car.toml, whatever state it is in.

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
    sections = {name: {} for name, (_, key) in keys_of(CarSpec).items() if key.kind == "table"}
    whole = {"format": 1, **sections, **data}
    reader = TableReader(replace(field_file(), data=whole))
    problems: dict[str, Problem] = {}
    missing: list[str] = []
    try:
        refuse_out_of_scope(reader.file)
    except UnsupportedCarError as error:
        problems[error.where] = Problem(error.says, error.do)
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
    now = values_of(data)
    after = {name: said for name, said in {**now, **changes}.items() if said}
    if any(name.startswith("limits.target.") for name in changes) and isinstance(value_at(data, "limits.target"), str):
        after.pop("limits.target", None)
    edits: dict[str, Any] = {}
    gone: list[str] = []
    for table in _ROWS:
        gone += [
            f"{table}.{row}"
            for row in range(rows_in(now, table))
            if not any(name.startswith(f"{table}.{row}.") for name in after)
        ]
    if changes.get("limits.target"):
        gone = [name for name in gone if not name.startswith("limits.target.")]
        edits["limits.target"] = toml_value("limits.target", changes["limits.target"])
    if "format" not in data:
        edits["format"] = 1
    rows: dict[str, list[int]] = {}
    for name, said in changes.items():
        row = _row_of(name)
        if name in edits or (row and f"{row[0]}.{row[1]}" in gone):
            continue
        if row and row[1] >= rows_in(now, row[0]):
            if said and row[1] not in rows.setdefault(row[0], []):
                rows[row[0]].append(row[1])
            continue
        edits[name] = toml_value(name, said) if said else None
    for table, numbers in rows.items():
        edits |= _new_rows(table, sorted(numbers), changes, rows_in(now, table), data)
    for table in _ROWS:
        if not rows.get(table) and (there := rows_in(now, table)):
            of_table = [name for name in gone if name.startswith(f"{table}.")]
            if len(of_table) == there:
                gone = [*(name for name in gone if name not in of_table)]
                edits[table] = None
    for name in sorted(gone, key=lambda one: int(one.rpartition(".")[2]), reverse=True):
        edits[name] = None
    return edit(text, edits, SECTIONS)


def _new_rows(
    table: str, numbers: Sequence[int], changes: Mapping[str, Said], there: int, data: Mapping[str, Any]
) -> dict[str, Any]:
    """New rows of a list, without gaps after those that are there."""
    made = []
    for number in numbers:
        start = f"{table}.{number}."
        made.append(
            {name[len(start) :]: toml_value(name, said) for name, said in changes.items() if name.startswith(start) and said}
        )
    if not isinstance(value_at(data, table), list) and table == "limits.target":
        return {table: made}
    return {f"{table}.{there + i}": row for i, row in enumerate(made)}


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
    if not unit or _NO_NUMBER.match(text) or plain(text) in key_at(name).words:
        return text
    return text if _read(name, text) is not None else f"{text} {unit}" if _read(name, f"{text} {unit}") else text


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


def _read(name: str, text: str) -> Quantity | None:
    found = understood(name, (text,))
    return found if isinstance(found, Quantity) else None


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
    path = key_path(name)
    spec = _spec_at(".".join(str(part) for part in path[:-1] if isinstance(part, str))) if len(path) > 1 else CarSpec
    value = toml_value(name, said) if key.kind != "quantity" else said[-1]
    return _one(name, spec, path, key, value)


def _one(name: str, spec: type[Any], path: KeyPath, key: Key, value: Any) -> Any:
    own = str(path[-1])
    if key.kind in ("integer", "number") and not isinstance(value, int | float):
        return Problem(f'"{value}" is not a plain number.', f"Write for example {key.example}.")
    if key.refused and isinstance(value, str | bool):
        words = ("true",) if value is True else (plain(str(value)),)
        for begins, sentence in key.refused:
            if any(word.startswith(begins) for word in words):
                return Problem(sentence, "")
    reader = TableReader(field_file())
    table = reader.read(spec, {own: value}, path[:-1])
    wrong = [error for _, error in reader.problems if error.kind != "missing" and error.where.startswith(name)]
    if not wrong:
        return getattr(table, keys_of(spec)[own][0])
    problem = _problem(wrong[0])
    if key.kind == "quantity" and isinstance(value, str):
        unit = bare_unit(name)
        if unit and not value.endswith(unit):
            again = _one(name, spec, path, key, f"{value} {unit}")
            if not isinstance(again, Problem):
                return again
        problem = replace(problem, offers=_offers(name, spec, path, key, value))
    return problem


def _offers(name: str, spec: type[Any], path: KeyPath, key: Key, value: str) -> tuple[str, ...]:
    """The same number with a unit that makes sense of it."""
    if _NO_NUMBER.match(value) or not re.search(r"\d\s*$", value):
        return ()
    units = _OFFERED.get(key.dimension, accepted_units(key.dimension)[:3])
    reader = TableReader(field_file())
    found = []
    for unit in units:
        reader.problems.clear()
        reader.read(spec, {str(path[-1]): f"{value} {unit}"}, path[:-1])
        if not any(error.where.startswith(name) and error.kind != "missing" for _, error in reader.problems):
            found.append(f"{value} {unit}")
    return tuple(found)


@dataclass(frozen=True)
class Worth:
    """What knowing an answer would save: minutes of repair by the test that would tell it.

    Attributes
    ----------
    name : of the answer
    test : the test that measures it, "" where none does
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
        By name of the answer; only what the verdict itself calls missing, with the minutes that it gives.
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
    return found
