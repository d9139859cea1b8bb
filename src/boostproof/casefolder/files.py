"""car.toml, readings.toml and pulls.toml, each from its file to its dataclass."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from boostproof.bench.readings import HOT_TYPES, READING_TYPES, Reading, ReadingsFile, reading_type
from boostproof.car.spec import CarSpec
from boostproof.casefolder.scope import refuse_out_of_scope
from boostproof.casefolder.tables import TableReader, nearest, plain, shown
from boostproof.casefolder.toml_file import TomlFile
from boostproof.keys import keys_of
from boostproof.recording.setup import PullsFile


@dataclass(frozen=True)
class CarFile:
    """car.toml and the reader that read it; nothing is raised before `TableReader.finish`."""

    car: CarSpec
    reader: TableReader


def read_car(file: TomlFile) -> CarFile:
    """car.toml.

    Raises
    ------
    UnsupportedCarError
        If the car is out of scope. Other mistakes are kept in the reader.
    """
    refuse_out_of_scope(file)
    reader = TableReader(file, elsewhere=_car_section_of)
    return CarFile(reader.read(CarSpec, file.data), reader)


def read_readings(file: TomlFile) -> tuple[ReadingsFile, TableReader]:
    """readings.toml and its reader, which keeps the mistakes."""
    reader = TableReader(file, elsewhere=_tests_with)
    heading = {name: value for name, value in file.data.items() if name != "reading"}
    head: ReadingsFile = reader.read(ReadingsFile, heading)
    written = file.data.get("reading", [])
    rows = [written] if isinstance(written, dict) else written
    if not isinstance(rows, list):
        reader.problem(
            ("reading",),
            f"reading is a list of tables, not {shown(rows)}.",
            'Write [[reading]] and under it test = "actuator-sweep" and what was read.',
        )
        rows = []
    return replace(head, reading=tuple(_reading(reader, row, i) for i, row in enumerate(rows))), reader


def read_pulls(file: TomlFile) -> tuple[PullsFile, TableReader]:
    """pulls.toml and its reader, which keeps the mistakes."""
    reader = TableReader(file)
    return reader.read(PullsFile, file.data), reader


def reading_label(index: int, test: str) -> str:
    """What to call a reading in a sentence: its place in the file and its test."""
    return f"Reading {index + 1} ({test})"


def _reading(reader: TableReader, row: Any, index: int) -> Reading:
    path = ("reading", index)
    test = row.get("test") if isinstance(row, dict) else None
    if not isinstance(row, dict) or not isinstance(test, str) or not test.strip():
        return _generic(reader, row, index)
    known = _test_id(test, list(READING_TYPES))
    if known is None:
        do = f"{_test_hint(test)}Known tests: {', '.join(READING_TYPES)}."
        reader.problem((*path, "test"), f'There is no test "{test}".', do, kind="unknown-test")
        return Reading(test=test)
    of = row.get("of") if known == "hot-repeat" else None
    repeated = _test_id(of, list(HOT_TYPES)) if isinstance(of, str) else None
    spec = reading_type(known, repeated)
    tidy = {**row, "test": known} | ({"of": repeated} if repeated else {})
    found: Reading = reader.read(spec, tidy, path, label=reading_label(index, known))
    return found


def _generic(reader: TableReader, row: Any, index: int) -> Reading:
    """A row that is no table, or whose test is missing: only that is said."""
    if isinstance(row, dict):
        row = {"test": row["test"]} if "test" in row else {}
    found: Reading = reader.read(Reading, row, ("reading", index), label=f"Reading {index + 1}")
    return found


def _test_id(written: str, ids: list[str]) -> str | None:
    for test in ids:
        if plain(test) == plain(written):
            return test
    return None


def _test_hint(test: str) -> str:
    if plain(test) == "leak down":
        return 'A leak-down is part of an actuator-sweep: test = "actuator-sweep", then [reading.leak]. '
    return nearest(test, READING_TYPES)


def _car_section_of(name: str) -> str:
    """The section of car.toml that a key belongs to."""
    sections = [
        section
        for section, (_, key) in keys_of(CarSpec).items()
        if key.of is not None and name != "as" and name in keys_of(key.of)
    ]
    return f"{name} belongs in {' or '.join(f'[{section}]' for section in sections)}. " if sections else ""


def _tests_with(name: str) -> str:
    """The tests that know a key."""
    tests = [test for test, spec in READING_TYPES.items() if name in keys_of(spec)]
    if not tests or len(tests) == len(READING_TYPES):
        return ""
    return f"{name} is a key of {', '.join(tests)}. "
