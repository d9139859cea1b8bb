"""Texts of the product as the shop reads them: titles for ids, and pressures inside a sentence in its units."""

from __future__ import annotations

import re
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from boostproof.errors import InputError
from boostproof.quantity import parse_quantity
from boostproof.units import from_si
from boostproof.web import shown
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.casefolder.left_out import LeftOut
    from boostproof.quantity import Quantity

_KPA = re.compile(r"(?P<sign>[+-]?)(?P<number>\d[\d,]*(?:\.\d+)?) kPa\b")
BOTH = " + "
_FEW = 10.0  # kPa, below which whole ones are too coarse for a reading


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


def typed_in_units(typed: str, units: str) -> str:
    """What somebody typed of a reading, in the shop's unit, with what was typed behind it where it had another; all that is
    no pressure or temperature stays as it is.

    >>> typed_in_units("9 psi", "metric").replace(chr(8239), " ")
    '62 kPa (typed: 9 psi)'
    >>> typed_in_units("0.6..0.7 bar", "imperial").replace(chr(8239), " ")
    '8.7 to 10.2 psi (typed: 0.6..0.7 bar)'
    >>> typed_in_units("9 psi", "imperial"), typed_in_units("12 mm", "metric"), typed_in_units("steady", "metric")
    ('9 psi', '12 mm', 'steady')
    """
    for kind in ("kpa", "celsius"):
        unit, _ = shown.KINDS[kind].unit(units)
        try:
            read = parse_quantity(typed, dimension=unit.dimension)
        except InputError:
            continue
        return typed if read.unit == unit else _converted(read, kind, units)
    return typed


def _converted(read: Quantity, kind: str, units: str) -> str:
    unit, digits = shown.KINDS[kind].unit(units)
    if digits == 0 and kind == "kpa" and abs(from_si(read.value, unit)) < _FEW:
        digits = 1

    def number(value: float) -> str:
        return f"{from_si(value, unit):.{digits}f}"

    says = number(read.value)
    if read.form == "range":
        says = t("frame.typed.range", low=number(read.low), high=number(read.high))
    elif read.form == "tolerance":
        says = t("frame.typed.tolerance", number=says, by=f"{2.0 * read.sd / unit.factor:.{digits}f}")
    elif read.form == "about":
        says = t("frame.typed.about", number=says)
    absolute = f" {read.reference}" if read.reference == "abs" else ""
    return t("frame.typed.says", number=says, unit=f"{shown.unit_name(kind, units)}{absolute}", typed=read.text.strip())


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
