"""The rows that describe keys: whole, sourced, and consistent with themselves."""

from __future__ import annotations

import math
import tomllib
from typing import Any

import pytest

from boostproof.bench.readings import HOT_TYPES, READING_TYPES, ReadingsFile
from boostproof.car.spec import CarSpec
from boostproof.keys import Key, walk
from boostproof.quantity import parse_quantity
from boostproof.recording.setup import PullsFile
from boostproof.sources.tolerances import USUAL, KeyTolerance
from boostproof.units import DIMENSIONS

SPECS: list[type[Any]] = [CarSpec, ReadingsFile, PullsFile, *READING_TYPES.values(), *HOT_TYPES.values()]
KEYS = [(spec.__name__, path, key) for spec in SPECS for path, key in walk(spec)]


def test_every_quantity_has_a_dimension_and_a_sourced_usual_tolerance() -> None:
    for name, path, key in KEYS:
        if key.kind != "quantity":
            continue
        assert key.dimension in DIMENSIONS, (name, path)
        assert key.usual is not None, (name, path)
        assert key.usual.source, (name, path)
        assert key.usual.relative > 0.0 or key.usual.absolute > 0.0, (name, path)


def test_every_example_is_possible_and_every_limit_has_a_width() -> None:
    for name, usual in USUAL.items():
        assert math.isfinite(usual.low) and math.isfinite(usual.high), name
        assert usual.high > usual.low, name
    for name, path, key in KEYS:
        if key.kind != "quantity":
            continue
        assert isinstance(key.usual, KeyTolerance), (name, path)
        text = tomllib.loads(f"x = {key.example}")["x"]
        value = parse_quantity(text, dimension=key.dimension, gauge_default=key.reference).value
        assert key.usual.low <= value <= key.usual.high, (name, path, value)


def test_every_tolerance_is_used() -> None:
    used = {id(key.usual) for _, _, key in KEYS}
    assert [name for name, usual in USUAL.items() if id(usual) not in used] == []


def test_every_example_is_right() -> None:
    for name, path, key in KEYS:
        if key.kind in {"table", "rows", "mapping"}:
            continue
        value = tomllib.loads(f"x = {key.example}")["x"]
        if key.kind == "quantity":
            q = parse_quantity(value, dimension=key.dimension, gauge_default=key.reference)
            assert q.value > 0.0 or not key.positive, (name, path)
        elif key.kind == "choice":
            assert value in key.choices, (name, path)
        elif key.kind == "choices":
            assert set(value) <= set(key.choices), (name, path)


def test_every_key_has_its_sentence() -> None:
    for name, path, key in KEYS:
        assert key.doc, (name, path)
        assert not key.doc.endswith("."), (name, path)


@pytest.mark.parametrize("spec", SPECS, ids=lambda spec: spec.__name__)
def test_must_keys_have_no_default(spec: type[Any]) -> None:
    with pytest.raises(TypeError, match="required keyword-only"):
        spec()


def test_keys_are_described_by_rows_only() -> None:
    assert {type(key) for _, _, key in KEYS} == {Key}
