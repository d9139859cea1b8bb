"""The form of a reading, made from the keys of its test: what can be said, in which unit, and what was typed as a row.

What a person typed stays as typed; a bare number gets the unit of the instrument in hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from boostproof.bench.readings import READING_TYPES, Reading, reading_type
from boostproof.casefolder.lines import KeyPath
from boostproof.casefolder.tables import TableReader
from boostproof.casefolder.toml_file import TomlFile
from boostproof.errors import InputError
from boostproof.keys import Key, keys_of
from boostproof.quantity import parse_quantity

PRESSURE_UNITS = ("psi", "bar", "kPa")
YES, NO = "yes", "no"
ABOUT = ("when", "by", "note")  # of every reading, for people
_NOT_ASKED = ("test", "gauge", "not_done", "of")
# one tap of a stepper, about what a person can tell on the instrument
_STEPS = {
    "psi": 0.5, "bar": 0.02, "kPa": 2.0, "kPa abs": 1.0, "mm": 0.5, "s": 0.5, "L/min": 0.5, "%": 5.0, "deg": 1.0,
    "ohm": 0.5, "L": 0.5, "rpm": 250.0,
}  # fmt: skip
_FINE = {"gap": 0.05, "port": 0.1, "lift": 0.1, "barometer": 0.1, "reads": 0.5}
_UNITS = {
    "length": "mm", "time": "s", "volume_flow": "L/min", "fraction": "%", "angle": "deg", "resistance": "ohm",
    "volume": "L", "rotational_speed": "rpm",
}  # fmt: skip
_HIGH = ("fuel_pressure",)  # pressures of some bar, on gauges of their own


@dataclass(frozen=True)
class FormField:
    """One thing that can be read.

    Attributes
    ----------
    name : path of keys with dots: "leak.after_10_s", "rows.0.port"
    key : the last of them
    kind : "quantity", "choice", "choices", "flag", "text", "texts", "integer", "turns" or "path"
    doc : one line for people
    options : words to choose from; ``open``: other words are kept as well
    words : words in place of a value ("none": looked for and not seen)
    unit : of a bare number, "" where there is none
    step : of one tap on a stepper, in that unit
    """

    name: str
    key: str
    kind: str
    doc: str
    options: tuple[str, ...] = ()
    open: bool = False
    words: tuple[str, ...] = ()
    unit: str = ""
    step: float = 0.0


@dataclass(frozen=True)
class FormGroup:
    """Fields that belong together: those of the reading itself (name ""), of one of its tables, or of its rows."""

    name: str
    doc: str
    fields: tuple[FormField, ...]
    rows: bool = False


@dataclass(frozen=True)
class Typed:
    """What a form said.

    Attributes
    ----------
    row : as it goes into readings.toml
    reading : as the tests take it, None where something cannot be read
    problems : by name of the field, what is wrong and what to do
    """

    row: dict[str, Any]
    reading: Reading | None
    problems: dict[str, str] = field(default_factory=dict)


def spec_of(test: str, of: str | None = None) -> type[Reading]:
    """The keys of a test.

    Raises
    ------
    InputError
        If there is no such test.
    """
    try:
        return reading_type(test, of or None)
    except KeyError:
        raise InputError(
            f'There is no test "{of if test in READING_TYPES else test}".', kind="unknown-test", where="bench",
            do="Choose one of the tests on this page.",
        ) from None  # fmt: skip


def form_of(test: str, gauge_unit: str, *, of: str | None = None, rows: int = 1) -> tuple[FormGroup, ...]:
    """What can be said of one test: its own keys first, then its tables and rows; not what all readings have for people.

    Parameters
    ----------
    test, of : the test, and the repeated one of a hot repeat
    gauge_unit : unit of the gauge in hand
    rows : rows to show of what is read more than once
    """
    own: list[FormField] = []
    others: list[FormGroup] = []
    for name, (_, key) in keys_of(spec_of(test, of)).items():
        if name in _NOT_ASKED or name in ABOUT:
            continue
        if key.kind == "table" and key.of is not None:
            inside = tuple(_field(f"{name}.{k}", k, one, gauge_unit) for k, (_, one) in keys_of(key.of).items())
            others.append(FormGroup(name, key.doc, inside))
        elif key.kind == "rows" and key.of is not None:
            inside = tuple(
                _field(f"{name}.{i}.{k}", k, one, gauge_unit)
                for i in range(rows)
                for k, (_, one) in keys_of(key.of).items()
            )
            others.append(FormGroup(name, key.doc, inside, rows=True))
        else:
            own.append(_field(name, name, key, gauge_unit))
    # what is common to all readings (heard, loudness, warm) comes after what the test is about
    common = keys_of(Reading)
    own.sort(key=lambda one: one.name in common)
    return (FormGroup("", "", tuple(own)), *others)


def about_fields(gauge_unit: str) -> tuple[FormField, ...]:
    """What every reading may have for people."""
    return tuple(_field(name, name, keys_of(Reading)[name][1], gauge_unit) for name in ABOUT)


def reasons_not_done() -> tuple[str, ...]:
    """Why a test could not be done."""
    return keys_of(Reading)["not_done"][1].choices


def unit_of(name: str, key: Key, gauge_unit: str) -> str:
    """Unit of a bare number behind a key."""
    if key.dimension != "pressure":
        return _UNITS.get(key.dimension, "")
    if name == "reads":
        return "kPa abs"
    if name == "barometer":
        return "kPa"
    if name in _HIGH and gauge_unit == "kPa":
        return "bar"
    return gauge_unit


def typed_reading(
    test: str, values: Mapping[str, Sequence[str]], gauge_unit: str, *, of: str | None = None
) -> Typed:
    """What was typed, as a row of readings.toml.

    Parameters
    ----------
    test, of : the test, and the repeated one of a hot repeat
    values : by name of the field, what the form sent (several for a choice of several)
    gauge_unit : unit of the gauge in hand when it was typed
    """
    spec = spec_of(test, of)
    row: dict[str, Any] = {"test": test}
    if of:
        row["of"] = of
    for name, (_, key) in keys_of(spec).items():
        if name in ("test", "of", "gauge"):
            continue
        found = _collected(name, key, values, gauge_unit)
        if found is not None:
            row[name] = found
    reading, problems = read_row(row)
    return Typed(row, reading, problems)


def read_row(row: Mapping[str, Any]) -> tuple[Reading | None, dict[str, str]]:
    """One row of readings.toml as the tests take it, and what cannot be read, by name of the field."""
    test, of = str(row.get("test", "")), row.get("of")
    reader = TableReader(_Form("readings.toml", {}, {}, b""))
    found = reader.read(spec_of(test, of if isinstance(of, str) else None), dict(row))
    problems: dict[str, str] = {}
    for _, error in reader.problems:
        says = error.says
        name = error.where.rpartition(".")[2]
        if f"{name}: " in says:  # the field stands beside it
            says = says.partition(f"{name}: ")[2]
        problems.setdefault(error.where, f"{says[:1].upper()}{says[1:]} {error.do}".strip())
    return (found if not problems else None), problems


def values_of(row: Mapping[str, Any], gauge_unit: str = "") -> dict[str, list[str]]:
    """A row of readings.toml as values of its form."""
    out: dict[str, list[str]] = {}

    def put(path: str, value: Any) -> None:
        if isinstance(value, Mapping):
            for name, one in value.items():
                put(f"{path}.{name}" if path else str(name), one)
        elif isinstance(value, list) and any(isinstance(one, Mapping) for one in value):
            for i, one in enumerate(value):
                put(f"{path}.{i}", one)
        elif isinstance(value, list):
            out[path] = [str(one) for one in value]
        elif isinstance(value, bool):
            out[path] = [YES if value else NO]
        else:
            out[path] = [str(value)]

    put("", {k: v for k, v in row.items() if k not in ("test", "gauge")})
    return out


def rows_in(values: Mapping[str, Sequence[str]]) -> int:
    """How many rows were typed; those behind the last filled one do not count."""
    filled = [int(name.split(".")[1]) for name, said in values.items() if name.startswith("rows.") and any(said)]
    return max(filled, default=-1) + 1


class _Form(TomlFile):
    """A form in place of a file: what is wrong stands at a field, not on a line."""

    def where(self, path: KeyPath) -> str:
        """Name of the field."""
        return ".".join(str(part) for part in path)


def field_file() -> TomlFile:
    """A file whose places are names of fields, for the checks that ask a file where something stands."""
    return _Form("readings.toml", {}, {}, b"")


def _field(name: str, key_name: str, key: Key, gauge_unit: str) -> FormField:
    unit = unit_of(key_name, key, gauge_unit) if key.kind == "quantity" else ""
    words = key.words + ((YES, NO) if key.flag_too else ())
    step = _FINE.get(key_name, _STEPS.get(unit, 1.0)) if key.kind == "quantity" else _plain_step(key)
    return FormField(name, key_name, key.kind, key.doc, key.choices, key.open, words, unit, step)


def _plain_step(key: Key) -> float:
    return {"integer": 1.0, "turns": 0.5, "number": 1.0}.get(key.kind, 0.0)


def _collected(name: str, key: Key, values: Mapping[str, Sequence[str]], gauge_unit: str) -> Any:
    """What was said of a key, None for nothing."""
    if key.kind == "table" and key.of is not None:
        inside = {
            k: said
            for k, (_, one) in keys_of(key.of).items()
            if (said := _collected(f"{name}.{k}", one, values, gauge_unit)) is not None
        }
        return inside or None
    if key.kind == "rows" and key.of is not None:
        rows = [
            {
                k: said
                for k, (_, one) in keys_of(key.of).items()
                if (said := _collected(f"{name}.{i}.{k}", one, values, gauge_unit)) is not None
            }
            for i in range(rows_in(values))
        ]
        return [row for row in rows if row] or None
    said = [text.strip() for text in values.get(name, ()) if text.strip()]
    if not said:
        return None
    return _value(key, name.rpartition(".")[2], said, gauge_unit)


def _value(key: Key, name: str, said: Sequence[str], gauge_unit: str) -> Any:
    if key.kind == "quantity":
        return _quantity(key, said[-1], unit_of(name, key, gauge_unit))
    if key.kind == "flag":
        return {YES: True, NO: False}.get(said[-1], said[-1])
    if key.kind in ("integer", "number", "turns"):
        return _number(said[-1])
    if key.kind == "choices":
        return list(said) if len(said) > 1 else said[0]
    if key.kind == "texts":
        return [part.strip() for text in said for part in text.replace("\n", ",").split(",") if part.strip()]
    return said[-1]


def _quantity(key: Key, said: str, unit: str) -> Any:
    if said.casefold() in key.words:
        return said.casefold()
    if key.flag_too and said in (YES, NO):
        return said == YES
    return said if not unit or not _readable(f"{said} {unit}", key) or _readable(said, key) else f"{said} {unit}"


def _readable(text: str, key: Key) -> bool:
    try:
        parse_quantity(
            text, dimension=key.dimension, usual_sd=key.usual, gauge_default=key.reference,
            reference_fixed=key.reference_fixed,
        )  # fmt: skip
    except InputError:
        return False
    return True


def _number(said: str) -> Any:
    text = said.replace(",", ".")
    try:
        number = float(text)
    except ValueError:
        return said
    return int(number) if number.is_integer() and "." not in text else number
