"""One answer about a car: its key, what was typed as car.toml has it, and how that is understood.

Names are dotted keys (``"engine.redline"``, ``"history.changed.0.what"``). What was said is what a form sends: one text,
or several for a choice of several; flags are "yes" and "no", lists of texts are lines of one text.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from boostproof.car.spec import CarSpec
from boostproof.casefolder.edit import key_path
from boostproof.casefolder.tables import UNKNOWN, TableReader, plain
from boostproof.errors import InputError
from boostproof.keys import Key, keys_of
from boostproof.units import accepted_units
from boostproof.workflows.bench_form import NO, YES, field_file

Said = tuple[str, ...]

# What a bare number means where the question itself names the unit. A pressure is never guessed.
_BARE_UNITS = {
    "engine.displacement": "L", "engine.redline": "rpm", "pull_place.ramp": "rpm/s", "controller.frequency": "Hz",
    "wastegate.opening_angle": "deg", "engine.ethanol": "%", "weather.humidity": "%",
}  # fmt: skip
_NOT_MM = ("signal_line.length", "weather.altitude", "pull_place.roller_diameter")
_OFFERED = {"pressure": ("psi", "bar", "kPa")}
_HAS_NUMBER = re.compile(r"[0-9]")


@dataclass(frozen=True)
class Problem:
    """What is wrong with one answer: what was expected and the nearest right one; texts that would do instead."""

    says: str
    do: str
    offers: tuple[str, ...] = ()


@lru_cache(maxsize=1024)
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


def spec_at(name: str) -> type[Any]:
    """The dataclass of a table.

    Raises
    ------
    InputError
        If car.toml has no such table.
    """
    of = key_at(name).of
    assert of is not None, name
    return of


def tidied(said: Sequence[str]) -> Said:
    """What a form sent, without blanks around it and without empty parts."""
    cleaned = (text.replace("\r\n", "\n").strip() for text in said)
    return tuple(text for text in cleaned if text)


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
    if not unit or not _HAS_NUMBER.search(text) or not isinstance(_one(name, text), Problem):
        return text
    return text if isinstance(_one(name, f"{text} {unit}"), Problem) else f"{text} {unit}"


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
    value = toml_value(name, said)
    if key.kind in ("integer", "number") and not isinstance(value, int | float):
        return Problem(f'"{value}" is not a plain number.', f"Write for example {key.example}.")
    for begins, sentence in key.refused:
        if ("true" if value is True else plain(str(value))).startswith(begins):
            return Problem(sentence, "")
    found = _one(name, value)
    if isinstance(found, Problem) and key.kind == "quantity":
        return replace(found, offers=_offers(name, key, str(value)))
    return found


def _one(name: str, value: Any) -> Any:
    """One value as the table that it stands in holds it, or what is wrong with it."""
    *table, own = key_path(name)
    spec = spec_at(".".join(part for part in table if isinstance(part, str))) if table else CarSpec
    reader = TableReader(field_file())
    found = reader.read(spec, {own: value}, tuple(table))
    for _, error in reader.problems:
        if error.kind != "missing":
            return problem_of(error)
    return getattr(found, keys_of(spec)[str(own)][0])


def _offers(name: str, key: Key, value: str) -> tuple[str, ...]:
    """The same number with the units that make sense of it, where it was typed without one."""
    if not re.search(r"\d\s*$", value):
        return ()
    units = _OFFERED.get(key.dimension, accepted_units(key.dimension)[:3])
    offers = (f"{value.strip()} {unit}" for unit in units)
    return tuple(text for text in offers if not isinstance(_one(name, text), Problem))


def problem_of(error: InputError) -> Problem:
    """What is wrong, for a place beside the answer: the name of the key is left out."""
    name = error.where.rpartition(".")[2]
    says = error.says.partition(f"{name}: ")[2] if f"{name}: " in error.says else error.says
    return Problem(says[:1].upper() + says[1:], error.do)
