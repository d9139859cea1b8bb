"""Readings written as people write them, and a car of which little is known, for the tests of their meaning."""

from __future__ import annotations

from typing import Any

import numpy as np

from boostproof.bench.meaning import CarFacts, Meaning, read_meanings
from boostproof.bench.readings import Gauge, Leak, Vent, reading_type
from boostproof.findings import Finding
from boostproof.keys import keys_of
from boostproof.physics import layout
from boostproof.quantity import Quantity, parse_quantity

_TABLES = {"vent": Vent, "leak": Leak, "gauge": Gauge}
EXACT = {"smallest_mark": "0.01 kPa", "class_": "0.001 %", "range": "400 kPa"}


def quantity(text: str, dimension: str, **more: Any) -> Quantity:
    """A quantity as written."""
    return parse_quantity(text, dimension=dimension, **more)


def _value(cls: type, key: str, value: Any) -> Any:
    described = next(d for field, d in keys_of(cls).values() if field == key)
    if isinstance(value, dict):
        return build(_TABLES[key], **value)
    if described.kind == "rows":
        return tuple(build(described.of, **row) for row in value)
    if described.kind != "quantity" or value in described.words:
        return value
    return parse_quantity(
        value, dimension=described.dimension, usual_sd=described.usual, gauge_default=described.reference
    )


def build(cls: type, **keys: Any) -> Any:
    """One table of readings.toml from its keys."""
    return cls(**{key: _value(cls, key, value) for key, value in keys.items()})


def reading(test: str, **keys: Any) -> Any:
    """One ``[[reading]]``."""
    return build(reading_type(test, keys.get("of")), test=test, **keys)


def sound_cars(n: int = 500, seed: int = 3, **rows: float) -> np.ndarray:
    """Sound cars with a spread of what nobody knows; ``rows`` are held. (parameters, n)"""
    rng = np.random.default_rng(seed)
    par = np.array([[p.neutral] * n for p in layout.PARAMETERS])
    par[layout.INDEX["bleed_area"]] = 4.5e-7
    for name, sd in (("chamber_volume", 0.35), ("spring_rate", 0.28), ("friction", 0.5), ("bleed_area", 0.3)):
        par[layout.INDEX[name]] *= np.exp(sd * rng.standard_normal(n))
    for name, value in rows.items():
        par[layout.INDEX[name]] = value
    return par


def facts(**known: Any) -> CarFacts:
    """A car with a ball and spring of which only what is said is known."""
    base: dict[str, Any] = {"controller": "ball and spring", "external": False, "redline": 712.0, "target": 9.0e4}
    return CarFacts(**(base | {"sound": sound_cars()} | known))


def meanings_of(
    *readings: Any, gauge: Any = None, car: CarFacts | None = None, seed: int = 1
) -> tuple[dict[str, Meaning], tuple[Finding, ...]]:
    """Meanings by id, and findings."""
    spec = None if gauge is None else build(Gauge, **gauge)
    found, findings = read_meanings(readings, spec, facts() if car is None else car, seed=seed)
    assert len({m.id for m in found}) == len(found), "every figure has an id of its own"
    return {m.id: m for m in found}, findings
