"""What can be said of a test, and what was typed, as a row of readings.toml."""

from __future__ import annotations

import tomllib

import pytest

from boostproof.bench.procedures import fill, procedures
from boostproof.bench.readings import READING_TYPES
from boostproof.errors import InputError
from boostproof.keys import walk
from boostproof.workflows.bench_form import (
    about_fields,
    form_of,
    read_row,
    rows_in,
    typed_reading,
    values_of,
)


@pytest.mark.parametrize("test", READING_TYPES)
def test_every_key_of_a_reading_can_be_filled_in(test: str) -> None:
    shown = {f.name.replace(".0.", ".") for g in form_of(test, "psi") for f in g.fields} | {
        f.name for f in about_fields("psi")
    }
    keys = {
        ".".join(path) for path, key in walk(READING_TYPES[test]) if key.of is None and path[0] != "gauge"
    }
    assert shown == keys - {"test", "not_done", "of"}


@pytest.mark.parametrize("one", procedures(), ids=lambda p: p.id)
def test_the_example_of_every_procedure_survives_its_form(one: object) -> None:
    row = tomllib.loads(fill(one.reading))["reading"][0]  # type: ignore[attr-defined]
    back = typed_reading(row["test"], values_of(row), "psi", of=row.get("of"))
    assert back.problems == {}
    assert back.row == row


def test_bare_numbers_get_the_unit_of_the_instrument_in_hand() -> None:
    said = {"first_movement": ["7,5"], "full_travel": ["82 kPa"], "travel": ["11 or 12"], "follows": ["0"]}
    found = typed_reading("actuator-sweep", said, "bar")
    assert found.row == {
        "test": "actuator-sweep", "first_movement": "7,5 bar", "full_travel": "82 kPa", "travel": "11 or 12 mm",
        "follows": "0 s",
    }  # fmt: skip
    assert found.reading is not None and found.reading.full_travel.value == pytest.approx(82e3)  # type: ignore[attr-defined]


def test_a_sensor_reads_absolute_and_the_hand_gauge_does_not() -> None:
    row = typed_reading(
        "sensor-check",
        {"rows.0.applied": ["15"], "rows.0.reads": ["204"], "rows.0.barometer": ["100.6"]},
        "psi",
    ).row
    assert row["rows"] == [{"applied": "15 psi", "reads": "204 kPa abs", "barometer": "100.6 kPa"}]


def test_a_word_in_place_of_a_number_wins_over_nothing() -> None:
    row = typed_reading("actuator-sweep", {"first_movement": ["", "none"], "supply_up_to": ["25"]}, "psi").row
    assert row == {"test": "actuator-sweep", "supply_up_to": "25 psi", "first_movement": "none"}


def test_rows_that_were_left_empty_are_left_out() -> None:
    said = {
        "rows.0.cylinder": ["1"],
        "rows.0.pressure": ["11"],
        "rows.2.cylinder": ["3"],
        "rows.3.cylinder": [""],
    }
    assert rows_in(said) == 3
    assert typed_reading("compression", said, "bar").row["rows"] == [
        {"cylinder": 1, "pressure": "11 bar"},
        {"cylinder": 3},
    ]


def test_what_cannot_be_read_is_said_at_its_field() -> None:
    found = typed_reading(
        "actuator-sweep", {"leak.start": ["many"], "travel": ["-3"], "state": ["lukewarm"]}, "psi"
    )
    assert found.reading is None and set(found.problems) == {"leak.start", "travel", "state"}
    assert found.problems["travel"].startswith('"-3 mm" must not be below zero.')
    assert "leak" not in found.problems["leak.start"]


def test_a_hot_repeat_has_the_keys_of_its_test() -> None:
    found = typed_reading("hot-repeat", {"arm": ["binds"]}, "psi", of="free-travel")
    assert found.row == {"test": "hot-repeat", "of": "free-travel", "arm": "binds"} and not found.problems


def test_a_test_that_could_not_be_done() -> None:
    reading, problems = read_row({"test": "seat-leak", "not_done": "no tool"})
    assert problems == {} and reading is not None and reading.not_done == "no tool"


def test_an_unknown_test_is_refused() -> None:
    with pytest.raises(InputError, match="no test"):
        form_of("guessing", "psi")
