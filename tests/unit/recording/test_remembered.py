"""Answers about columns: the key of a set of headers, the round trip, and which word goes first."""

from __future__ import annotations

import hashlib
import json
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.unit.recording.styles import drive

from boostproof.errors import InputError
from boostproof.recording.columns.chosen import parse_choice
from boostproof.recording.columns.remembered import WHY, Remembered, header_key
from boostproof.recording.model import Column, ColumnChoice, Table
from boostproof.recording.recognise import recognise

D = drive()
HEADERS = st.lists(st.tuples(st.text(max_size=12), st.sampled_from(["", "psi", "kPa", "rpm"])), max_size=8)
ANSWERS = st.dictionaries(
    st.sampled_from(["boost", "manifold_pressure", "throttle", "pedal", "time", "engine_speed"]),
    st.builds(
        ColumnChoice,
        st.text(min_size=1, max_size=20),
        st.sampled_from([None, "psi", "kPa", "%"]),
        st.sampled_from([None, "gauge", "abs"]),
    ),
    max_size=4,
)


def _table() -> Table:
    columns = {"Time": "time_s", "RPM": "rpm", "TPS": "throttle_pct", "Boost": "boost_kpa", "Pressure 2": "map_kpa"}
    every = tuple(Column(head, "", D[key]) for head, key in columns.items())
    return Table("log.csv", "csv", len(D["rpm"]), every)


@given(HEADERS, st.randoms(use_true_random=False))
def test_the_order_of_the_columns_does_not_count(headers: list[tuple[str, str]], random: Random) -> None:
    shuffled = list(headers)
    random.shuffle(shuffled)
    assert header_key(shuffled) == header_key(headers)


@given(HEADERS)
def test_case_and_blanks_do_not_count_but_every_header_and_unit_does(headers: list[tuple[str, str]]) -> None:
    loud = [(f"  {header.upper()} ", unit.upper()) for header, unit in headers if header.upper().lower() == header]
    plain = [(header, unit) for header, unit in headers if header.upper().lower() == header]
    assert header_key(loud) == header_key(plain)
    assert header_key([*headers, ("one more", "")]) != header_key(headers)
    assert header_key([*headers, ("Boost", "psi")]) != header_key([*headers, ("Boost", "kPa")])


def test_the_key_stays_the_same_for_ever() -> None:
    """Files are named by it: SHA-256 of the sorted lines "header<TAB>unit", worked out by hand."""
    expected = hashlib.sha256(b"boost\tpsi\nrpm\t").hexdigest()[:16]
    assert header_key([("RPM", ""), ("Boost", "psi")]) == expected


@given(ANSWERS, st.lists(st.text(max_size=10), max_size=5))
def test_answers_come_back_through_json(answers: dict[str, ColumnChoice], headers: list[str]) -> None:
    kept = Remembered(answers, tuple(headers))
    back = Remembered.from_dict(json.loads(json.dumps(kept.as_dict())))
    assert dict(back.answers) == answers and back.headers == kept.headers
    assert {choice.why for choice in back.answers.values()} <= {WHY}


@pytest.mark.parametrize(
    "damaged",
    [
        None, [], {}, {"format": 2, "channels": {}}, {"format": 1}, {"format": 1, "channels": []},
        {"format": 1, "channels": {"bosst": {"column": "x"}}}, {"format": 1, "channels": {"boost": {}}},
        {"format": 1, "channels": {"boost": {"column": "x", "reference": "up"}}},
        {"format": 1, "channels": {"boost": {"column": "x", "unit": 3}}},
        {"format": 1, "channels": {"manifold sensor": {"column": "x"}}},
    ],
)  # fmt: skip
def test_anything_else_is_refused(damaged: object) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        Remembered.from_dict(damaged)


def test_a_later_answer_takes_the_place_of_the_earlier() -> None:
    first = Remembered({}).with_answers({"boost": ColumnChoice("A"), "pedal": ColumnChoice("P")}, ["A", "P"])
    second = first.with_answers({"manifold_pressure": ColumnChoice("B")}, ["A", "B", "P"])
    assert {n: c.column for n, c in second.answers.items()} == {"pedal": "P", "manifold_pressure": "B"}
    third = second.with_answers({"throttle": ColumnChoice("P")}, ["A", "B", "P"])
    assert {n: c.column for n, c in third.answers.items()} == {"throttle": "P", "manifold_pressure": "B"}


def test_pulls_toml_goes_before_memory_and_memory_before_recognition() -> None:
    recognised = recognise(_table()).channels
    assert recognised["boost"].column == "Boost"
    memory = {"manifold_pressure": ColumnChoice("Pressure 2", "kPa", "abs", WHY)}
    remembered = recognise(_table(), remembered=memory)
    assert remembered.channels["manifold_pressure"].column == "Pressure 2"
    assert remembered.channels["manifold_pressure"].why.startswith(WHY)
    assert remembered.channels["manifold_pressure"].sure == 1.0
    (finding,) = [f for f in remembered.findings if f.kind == "remembered-columns"]
    assert "Pressure 2, kPa, abs" in finding.says and "pulls.toml" in finding.do
    told = recognise(_table(), {"boost": ColumnChoice("Boost", "kPa", "gauge")}, remembered=memory)
    assert told.channels["boost"].column == "Boost" and told.channels["boost"].why.startswith("named in pulls.toml")
    assert "remembered-columns" not in {finding.kind for finding in told.findings}


def test_a_remembered_column_that_is_not_there_is_no_error() -> None:
    recording = recognise(_table(), remembered={"boost": ColumnChoice("Gone", "kPa", "gauge", WHY)})
    assert recording.channels["boost"].column == "Boost"


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("boost=Pressure 2, psi, gauge", ("boost", "Pressure 2", "psi", "gauge")),
        ("boost = Pressure 2", ("boost", "Pressure 2", None, None)),
        ("manifold_pressure=MAP, abs", ("manifold_pressure", "MAP", None, "abs")),
        ("throttle=Pos, plate, %", ("throttle", "Pos, plate", "%", None)),
        ("time=t=0", ("time", "t=0", None, None)),
        ("boost=psi", ("boost", "psi", None, None)),
    ],
)
def test_a_column_as_typed(typed: str, expected: tuple[str, str, str | None, str | None]) -> None:
    name, choice = parse_choice(typed)
    assert (name, choice.column, choice.unit, choice.reference) == expected


@pytest.mark.parametrize("typed", ["", "boost", "boost=", "=Pressure 2", "boost= , "])
def test_what_names_no_column_is_said(typed: str) -> None:
    with pytest.raises(InputError, match="does not name a column"):
        parse_choice(typed)
