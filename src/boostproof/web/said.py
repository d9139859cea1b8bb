"""Texts of the product as the shop reads them: titles for ids, and pressures inside a sentence in its units."""

from __future__ import annotations

import re
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from boostproof.web import shown
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.casefolder.left_out import LeftOut

_KPA = re.compile(r"(?P<sign>[+-]?)(?P<number>\d[\d,]*(?:\.\d+)?) kPa\b")
BOTH = " + "


def pressure_unit(units: str) -> str:
    """The unit of pressures for functions of the product that take one by name."""
    return shown.unit_name("kpa", units)


def in_units(text: str, units: str) -> str:
    """A sentence with its pressures in the shop's units.

    >>> in_units("Boost peaks near 147 kPa.", "imperial").replace(chr(8239), " ")
    'Boost peaks near 21.3 psi.'
    >>> in_units("Nothing to say.", "imperial"), in_units("147 kPa", "metric")
    ('Nothing to say.', '147 kPa')
    """
    if pressure_unit(units) == "kPa":
        return text
    return _KPA.sub(lambda m: m["sign"] + shown.kpa_difference(float(m["number"].replace(",", "")), units), text)


def cause_title(cause: str) -> str:
    """A cause, or two at once, as the product's list of causes calls it; an id that is not in it as words.

    >>> cause_title("charge-leak"), cause_title("healthy")
    ('Charge pipe leaks after the compressor', 'Nothing wrong')
    """
    from boostproof.diagnosis.causes import BY_ID
    from boostproof.workflows.explained import together

    if cause == "healthy":
        return t("repair.healthy")
    return together([BY_ID[i].title if i in BY_ID else i.replace("-", " ") for i in cause.split(BOTH)])


def neither_side(left_out: LeftOut) -> tuple[str, ...]:
    """What is left out of before a repair and of after it, a sentence for each recording."""
    return tuple(
        t("frame.neither_side", file=PurePosixPath(path).name, pulls=numbers.in_words().capitalize())
        for path, numbers in left_out.between
    )
