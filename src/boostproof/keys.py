"""One key of a file that people write, described once.

The specifications of car.toml, readings.toml and pulls.toml are frozen dataclasses; each field carries a
:class:`Key` in its metadata. Reading, the JSON Schemas, the commented template and the answers to
mistakes are all made from these rows, so that a key is written down in one place only.

A trailing underscore in a field name keeps clear of Python's own words and is no part of the key
(``as_`` is the key ``as``). A key that is left out is None: unknown, never a default.
"""

# The calls in the class bodies below are dataclass fields.
# ruff: noqa: RUF009

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Literal

from boostproof.quantity import Quantity, UsualTolerance
from boostproof.sources.tolerances import USUAL
from boostproof.units import Reference

# Words that more than one file uses.
TAKE_OFFS = ("compressor outlet", "cold pipe", "intake manifold")
PARTS = (
    "exhaust", "catalyst", "turbo", "gate", "spring", "controller", "setting", "hoses", "engine", "software",
    "target", "fuel", "intake", "cooler", "sensor", "pipes off for other work",
)  # fmt: skip
RESULTS = ("cured", "better", "no change", "worse", "new fault")

Kind = Literal[
    "quantity", "number", "integer", "flag", "choice", "choices", "text", "texts", "turns", "seconds", "path",
    "paths", "pulls", "table", "rows", "format", "mapping",
]  # fmt: skip


@dataclass(frozen=True)
class Key:
    """What may stand behind one key.

    Attributes
    ----------
    kind : which sort of value; "choices" and "paths" are one value or a list, "turns" a number or text,
        "seconds" a plain number or a time with its unit, "pulls" numbers of pulls, "mapping" free names to tables
    doc : one line for people
    must : the file cannot be used without it
    dimension, reference, reference_fixed : of a quantity, see :func:`boostproof.quantity.parse_quantity`
    choices : accepted words; with ``open`` other text is kept as written
    words : words that may stand in place of the value ("none", "as found")
    flag_too : true or false may stand in place of the value
    refused : beginnings of words that put the car out of scope, and the sentence that says so
    noted : accepted words that raise a finding, and its sentence
    minimum, maximum : limits of a plain number
    positive : a quantity must lie above zero
    signed : a length, time or share may lie below zero
    span : a range written for it means its upper end (the scale of a gauge: "0..4 bar")
    of : dataclass of the table, of each row, or of each value of a mapping
    usual : tolerance of a value written without one
    as_found : describes the car as it stands now, even where its table is as specified
    example : as it would be written, in TOML
    """

    kind: Kind
    doc: str
    must: bool = False
    dimension: str = ""
    reference: Reference = "gauge"
    reference_fixed: bool = False
    choices: tuple[str, ...] = ()
    open: bool = False
    words: tuple[str, ...] = ()
    flag_too: bool = False
    refused: tuple[tuple[str, str], ...] = ()
    noted: tuple[tuple[str, str], ...] = ()
    minimum: float | None = None
    maximum: float | None = None
    positive: bool = False
    signed: bool = False
    span: bool = False
    of: type[Any] | None = None
    usual: UsualTolerance | None = None
    as_found: bool = False
    example: str = ""


def key_field(key: Key, default: Any = None) -> Any:
    """A dataclass field that carries a key; a must key has no default."""
    metadata = {"key": key}
    if key.must:
        return field(metadata=metadata)
    if callable(default):
        return field(default_factory=default, metadata=metadata)
    return field(default=default, metadata=metadata)


def quantity(doc: str, dimension: str, usual: UsualTolerance, example: str, **more: Any) -> Any:
    """A quantity with its dimension and usual tolerance."""
    return key_field(Key("quantity", doc, dimension=dimension, usual=usual, example=f'"{example}"', **more))


def number(doc: str, example: str, **more: Any) -> Any:
    """A plain number."""
    return key_field(Key("number", doc, example=example, **more))


def integer(doc: str, example: str, **more: Any) -> Any:
    """A plain whole number."""
    return key_field(Key("integer", doc, example=example, **more))


def flag(doc: str, **more: Any) -> Any:
    """true or false."""
    return key_field(Key("flag", doc, example="true", **more))


def choice(doc: str, *choices: str, **more: Any) -> Any:
    """One of several words."""
    return key_field(Key("choice", doc, choices=choices, example=f'"{choices[0]}"', **more))


def choices(doc: str, *options: str, **more: Any) -> Any:
    """One or several of several words; read as a tuple."""
    return key_field(Key("choices", doc, choices=options, example=f'["{options[0]}"]', **more), default=None)


def text(doc: str, example: str, **more: Any) -> Any:
    """Free text."""
    return key_field(Key("text", doc, example=f'"{example}"', **more))


def texts(doc: str, example: str, **more: Any) -> Any:
    """Free texts, one or a list; read as a tuple."""
    return key_field(Key("texts", doc, example=f'["{example}"]', **more))


def turns(doc: str, *words: str, **more: Any) -> Any:
    """An adjuster setting: turns as a plain number, or clicks and marks as text."""
    return key_field(Key("turns", doc, words=words, minimum=0.0, maximum=200.0, example="2.5", **more))


def path(doc: str, example: str, **more: Any) -> Any:
    """A file, relative to the case folder."""
    return key_field(Key("path", doc, example=f'"{example}"', **more))


def paths(doc: str, example: str, **more: Any) -> Any:
    """Files, one or a list, relative to the case folder; read as a tuple."""
    return key_field(Key("paths", doc, example=f'["{example}"]', **more))


def pulls(doc: str, example: str, **more: Any) -> Any:
    """Numbers of pulls: 3, "3-5" or "3-" (from the third on), one or a list; read as PullNumbers."""
    return key_field(Key("pulls", doc, minimum=1.0, example=f'"{example}"', **more))


def seconds(doc: str, **more: Any) -> Any:
    """A time in seconds as a plain number (or with its unit); read as float."""
    return key_field(Key("seconds", doc, dimension="time", example="12.5", **more))


def section(doc: str, of: type[Any], *, must: bool = False) -> Any:
    """A table of its own; left out it is there with nothing known."""
    return key_field(Key("table", doc, of=of, must=must), default=of)


def table(doc: str, of: type[Any], **more: Any) -> Any:
    """A table that may be missing (None)."""
    return key_field(Key("table", doc, of=of, **more))


def rows(doc: str, of: type[Any], **more: Any) -> Any:
    """A list of tables; read as a tuple, empty when left out."""
    return key_field(Key("rows", doc, of=of, **more), default=tuple)


def mapping(doc: str, of: type[Any], choices: tuple[str, ...]) -> Any:
    """Names out of a list, each with a table; read as a dict, empty when left out."""
    return key_field(Key("mapping", doc, of=of, choices=choices), default=dict)


def format_key() -> Any:
    """The ``format = 1`` that heads every file."""
    return key_field(Key("format", "version of this kind of file", must=True, example="1"))


_KEYS: dict[type[Any], dict[str, tuple[str, Key]]] = {}


def keys_of(spec: type[Any]) -> dict[str, tuple[str, Key]]:
    """The keys of a specification class, in order.

    Returns
    -------
    dict
        Key as written -> (field name, key).
    """
    if spec not in _KEYS:
        _KEYS[spec] = {
            item.name.rstrip("_"): (item.name, item.metadata["key"])
            for item in dataclasses.fields(spec)
            if "key" in item.metadata
        }
    return _KEYS[spec]


def walk(spec: type[Any], path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Key]]:
    """All keys of a specification class and of the tables under it, with their paths."""
    for name, (_, key) in keys_of(spec).items():
        yield (*path, name), key
        if key.of is not None:
            yield from walk(key.of, (*path, name))


@dataclass(frozen=True, kw_only=True)
class Weather:
    """The air around: ``[weather]`` of car.toml and ``[recording.weather]`` of pulls.toml."""

    barometer: Quantity | None = quantity(
        "pressure of the air around, absolute, not reduced to sea level", "pressure",
        USUAL["weather.barometer"],
        "99.8 kPa", reference="abs", reference_fixed=True, positive=True,
    )  # fmt: skip
    temperature: Quantity | None = quantity(
        "of the air around", "temperature", USUAL["weather.temperature"], "24 C"
    )
    humidity: Quantity | None = quantity("relative", "fraction", USUAL["weather.humidity"], "60 %")
    altitude: Quantity | None = quantity(
        "above sea level", "length", USUAL["weather.altitude"], "350 m", signed=True
    )
