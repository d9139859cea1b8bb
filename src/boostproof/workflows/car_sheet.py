"""car.toml as a sheet of answers, whatever state it is in: every value as a person typed it, and what is wrong with it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from boostproof.car.spec import CarSpec
from boostproof.casefolder.checks import check_car
from boostproof.casefolder.edit import value_at
from boostproof.casefolder.scope import refuse_out_of_scope
from boostproof.casefolder.tables import TableReader
from boostproof.casefolder.toml_file import parse_toml
from boostproof.errors import InputError, UnsupportedCarError
from boostproof.keys import Key, keys_of
from boostproof.workflows.bench_form import NO, YES, field_file
from boostproof.workflows.car_answer import Problem, Said, problem_of, spec_at


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
            problems.setdefault(error.where, problem_of(error))
    if not problems:
        before = len(reader.problems)
        check_car(car, reader)
        problems |= {error.where: problem_of(error) for _, error in reader.problems[before:]}
    return car, problems, tuple(missing)


def _missing_names(error: InputError, data: Mapping[str, Any]) -> list[str]:
    """Names that are missing: an empty answer stands at itself, one that is not there at its table."""
    table = value_at(data, error.where) if error.where else data
    if not isinstance(table, dict):
        return [error.where]
    names = [f"{error.where}.{name}" for name, (_, key) in keys_of(spec_at(error.where)).items() if key.must]
    return [name for name in names if value_at(data, name) is None and f" {name.rpartition('.')[2]}." in error.says]


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


def rows_in(values: Mapping[str, Said], table: str) -> int:
    """How many rows a list of tables has in the answers."""
    numbers = [int(match[1]) for name in values if (match := re.match(rf"{re.escape(table)}\.(\d+)\.", name))]
    return max(numbers, default=-1) + 1
