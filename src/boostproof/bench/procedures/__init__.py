"""How every test is done, as text: kept as data, one folder for each language, one file for each family.

Text holds its quantities as placeholders; `fill` puts them into the units of the shop.
"""

from __future__ import annotations

import tomllib
from difflib import get_close_matches
from functools import lru_cache
from importlib.resources import files
from typing import Any

from boostproof.bench.procedures.filling import fill, quantities
from boostproof.bench.procedures.model import CAUTION_KINDS, Caution, Fault, Procedure
from boostproof.errors import InputRangeError

FAMILIES = ("air_on_signal", "air_on_engine", "by_hand", "pulls", "other")
_TEXTS = ("parts_off", "tools", "need", "connect", "steps", "never")


def procedure(test_id: str, *, language: str = "en") -> Procedure:
    """The procedure of a test.

    Parameters
    ----------
    test_id : as in the catalogue; also leak-down, which is a part of actuator-sweep
    language : folder of the text

    Raises
    ------
    InputRangeError
        If there is none; the nearest ids are given.
    """
    known = _by_id(language)
    if test_id not in known:
        near = ", ".join(get_close_matches(test_id, known, 3)) or "see `boostproof tests`"
        raise InputRangeError(f"no test is called {test_id!r}.", where="tests", do=f"Nearest: {near}.")
    return known[test_id]


def procedures(*, language: str = "en") -> tuple[Procedure, ...]:
    """All procedures, in catalogue order."""
    return tuple(_by_id(language).values())


def caution(key: str, *, language: str = "en") -> Caution:
    """A caution by its key.

    Raises
    ------
    KeyError
        If there is none: keys are written by us, never by a person.
    """
    return _cautions(language)[key]


def deference(*, language: str = "en") -> str:
    """What goes before every procedure: the maker, local rules, licensed practice."""
    return str(_read("cautions", language)["deference"])


def label(key: str, *, language: str = "en") -> str:
    """A word on a set-up drawing, by its key.

    Raises
    ------
    KeyError
        If there is none.
    """
    return str(_read("labels", language)[key])


@lru_cache(maxsize=4)
def _by_id(language: str) -> dict[str, Procedure]:
    found = [
        _procedure(test_id, row, language)
        for family in FAMILIES
        for test_id, row in _read(family, language).items()
    ]
    return {one.id: one for one in sorted(found, key=lambda one: one.number)}


@lru_cache(maxsize=4)
def _cautions(language: str) -> dict[str, Caution]:
    rows = _read("cautions", language)
    return {key: Caution(key, **row) for key, row in rows.items() if isinstance(row, dict)}


@lru_cache(maxsize=32)
def _read(name: str, language: str) -> dict[str, Any]:
    text = files(__name__).joinpath(language, f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _procedure(test_id: str, row: dict[str, Any], language: str) -> Procedure:
    low, high = row["minutes"]
    fixed = {key: tuple(row[key]) for key in _TEXTS}
    other = {
        key: value for key, value in row.items() if key not in {*_TEXTS, "minutes", "cautions", "faults"}
    }
    return Procedure(
        id=test_id,
        minutes=(float(low), float(high)),
        cautions=tuple(_cautions(language)[key] for key in row["cautions"]),
        faults=tuple(Fault(fault["shows"], tuple(fault["causes"])) for fault in row["faults"]),
        **{"pulls": "", **fixed, **other},
    )


__all__ = [
    "CAUTION_KINDS", "Caution", "Fault", "Procedure", "caution", "deference", "fill", "label", "procedure", "procedures",
    "quantities",
]  # fmt: skip
