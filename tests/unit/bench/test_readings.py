"""Readings have the names that the bench tests use, know nothing by default, and explain themselves."""

from __future__ import annotations

import ast
import dataclasses
import inspect
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostproof.bench.readings import (
    HOT_TYPES,
    LOUDNESS,
    NO_READINGS,
    PLACES,
    READING_TYPES,
    REPEATABLE,
    ControllerVent,
    Gauge,
    Leak,
    Reading,
    ReadingsFile,
    Sweep,
    Vent,
    VentRow,
    reading_type,
)
from boostproof.bench.response import Response
from boostproof.bench.tests import BY_ID, CATALOGUE, BenchTest, CarContext, gauge_of
from boostproof.bench.tests.controllers import LOUDNESS as LOUDNESS_IN_NUMBERS
from boostproof.car.spec import CarSpec
from boostproof.keys import Key, keys_of, walk
from boostproof.quantity import Quantity, parse_quantity
from boostproof.recording.setup import PullsFile

ROWS: list[tuple[str, Key]] = [
    (f"{name}: {'.'.join(path)}", key)
    for name, spec in {"car": CarSpec, "pulls": PullsFile, "readings": ReadingsFile, **READING_TYPES}.items()
    for path, key in walk(spec)
]


def read(key: Key, text: str) -> Quantity:
    return parse_quantity(
        text, dimension=key.dimension, usual_sd=key.usual, gauge_default=key.reference,
        reference_fixed=key.reference_fixed,
    )  # fmt: skip


def pressure(text: str) -> Quantity:
    return parse_quantity(text, dimension="pressure", usual_sd=2e3)


CONTEXT = CarContext("solenoid 3-port", False, 1.0e5, 712.0)


def test_every_bench_test_has_its_reading() -> None:
    assert {test.id for test in CATALOGUE} <= READING_TYPES.keys()


def attributes_read(test: BenchTest) -> set[str]:
    """Names that a bench test's own source takes from the reading ``r``."""
    module = inspect.getmodule(test.respond)
    assert module is not None
    names: set[str] = set()
    seen: set[str] = set()
    waiting = [test.respond.__name__]
    body = ast.parse(inspect.getsource(module)).body
    functions = {item.name: item for item in body if isinstance(item, ast.FunctionDef)}
    while waiting:
        name = waiting.pop()
        if name in seen or name not in functions:
            continue
        seen.add(name)
        for node in ast.walk(functions[name]):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "r":
                names.add(node.attr)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                handed_on = any(isinstance(a, ast.Name) and a.id == "r" for a in node.args)
                waiting += [node.func.id] if handed_on else []
    return names


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda test: test.id)
def test_what_a_bench_test_reads_is_a_key(test: BenchTest) -> None:
    fields = {item.name for item in dataclasses.fields(READING_TYPES[test.id])}
    read_by_test = attributes_read(test)
    assert read_by_test, "the test reads nothing"
    assert read_by_test <= fields


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda test: test.id)
def test_a_reading_that_says_nothing_gives_no_hard_evidence(test: BenchTest) -> None:
    response = test.respond(READING_TYPES[test.id](test=test.id), gauge_of(None), CONTEXT)
    assert isinstance(response, Response)
    assert all(observation.kind != "equal" for observation in response.observations)


@pytest.mark.parametrize("spec", [*READING_TYPES.values(), *HOT_TYPES.values(), Gauge, Vent, Leak, VentRow])
def test_nothing_is_known_by_default(spec: type[Any]) -> None:
    made: Any = spec(test="x") if issubclass(spec, Reading) else spec()
    for _, (name, key) in keys_of(spec).items():
        if name != "test":
            assert getattr(made, name) == (() if key.kind == "rows" else None)
    with pytest.raises(dataclasses.FrozenInstanceError):
        made.note = "changed"


def test_a_reading_needs_its_test() -> None:
    with pytest.raises(TypeError, match="test"):
        Sweep()


def test_an_empty_file_holds_no_readings() -> None:
    assert NO_READINGS.reading == () and NO_READINGS.gauge is None


def test_keys_that_are_words_of_python_lose_their_underscore() -> None:
    assert keys_of(Gauge)["class"][0] == "class_"


# -- hot-repeat --------------------------------------------------------------------------------------


@pytest.mark.parametrize("test", REPEATABLE)
def test_hot_repeat_has_the_keys_of_the_test_and_of(test: str) -> None:
    spec = reading_type("hot-repeat", test)
    assert set(keys_of(spec)) == set(keys_of(READING_TYPES[test])) | {"of"}
    assert issubclass(spec, READING_TYPES[test])
    assert keys_of(spec)["of"][1].choices == REPEATABLE


def test_hot_repeat_of_nothing_named_has_the_common_keys() -> None:
    assert set(keys_of(reading_type("hot-repeat"))) == set(keys_of(Reading)) | {"of"}
    assert reading_type("actuator-sweep", "ignored") is Sweep


@pytest.mark.parametrize(
    ("test", "of"), [("no-such-test", None), ("hot-repeat", "hot-repeat"), ("hot-repeat", "x")]
)
def test_an_unknown_test_is_an_error(test: str, of: str | None) -> None:
    with pytest.raises(KeyError):
        reading_type(test, of)


def test_a_hot_repeat_answers_as_its_test_does() -> None:
    said: dict[str, Any] = {"first_movement": pressure("7.5 psi"), "supply_up_to": pressure("25 psi")}
    cold = BY_ID["actuator-sweep"].respond(Sweep(test="actuator-sweep", **said), gauge_of(None), CONTEXT)
    spec: Any = reading_type("hot-repeat", "actuator-sweep")
    hot = BY_ID["actuator-sweep"].respond(
        spec(test="hot-repeat", of="actuator-sweep", **said), gauge_of(None), CONTEXT
    )
    assert cold.observations == hot.observations != ()


# -- readings at work --------------------------------------------------------------------------------


def test_none_up_to_a_supply_is_evidence() -> None:
    reading = Sweep(test="controller-sweep", supply_up_to=pressure("25 psi"), first_movement="none")
    response = BY_ID["controller-sweep"].respond(reading, gauge_of(None), CONTEXT)
    opening = [item for item in response.observations if item.feature == "opening"]
    assert len(opening) == 1


def test_places_heard_may_be_one_or_several() -> None:
    for places in (("hose",), ("hose", "actuator")):
        reading = ControllerVent(test="controller-vent", heard_at=places)
        response = BY_ID["controller-vent"].respond(reading, gauge_of(None), CONTEXT)
        assert {item.feature for item in response.observations} == {"at line"} | (
            {"at actuator"} if "actuator" in places else set()
        )


def test_loudness_has_one_set_of_words() -> None:
    # formats: none, faint, clear, strong = under 0.5, 2.5, 8 and above 8 L/min
    assert tuple(LOUDNESS_IN_NUMBERS) == LOUDNESS
    assert [LOUDNESS_IN_NUMBERS[word][1] for word in LOUDNESS[:3]] == [0.5, 2.5, 8.0]
    assert len(set(PLACES)) == len(PLACES) == 19


def test_the_class_of_a_gauge_is_a_flat_error() -> None:
    # JCGM 100:2008, 4.3.7: half-width over the square root of three; class 1.6 of 4 bar is 6.4 kPa.
    spec = Gauge(
        class_=parse_quantity("1.6 %", dimension="fraction"),
        range=pressure("4 bar"),
        smallest_mark=pressure("0.1 bar"),
    )
    assert gauge_of(spec).zero == pytest.approx(6.4e3 / 3.0**0.5)
    assert gauge_of(spec).mark == pytest.approx(1e4)


# -- the rows themselves -----------------------------------------------------------------------------


@pytest.mark.parametrize(("where", "key"), ROWS, ids=[where for where, _ in ROWS])
def test_every_row_explains_itself_and_its_example_can_be_read(where: str, key: Key) -> None:
    assert key.doc and not key.doc.endswith(".")
    if key.kind in ("table", "rows", "mapping", "format"):
        return
    shown = json.loads(key.example)
    if key.kind == "quantity":
        found = read(key, shown)
        assert found.sd > 0.0
        assert key.usual is not None and key.usual.source
        assert found.value > 0.0 or not key.positive
    elif key.kind in ("number", "integer"):
        assert key.minimum is not None and key.maximum is not None
        assert key.minimum <= shown <= key.maximum
    elif key.kind in ("choice", "choices") and not key.open:
        assert set([shown] if isinstance(shown, str) else shown) <= set(key.choices)


@given(st.sampled_from([key for _, key in ROWS if key.kind == "quantity" and key.words]), st.data())
def test_words_in_place_of_a_value_are_no_quantity(key: Key, data: st.DataObject) -> None:
    with pytest.raises(ValueError, match="cannot be read"):
        read(key, data.draw(st.sampled_from(key.words)))
