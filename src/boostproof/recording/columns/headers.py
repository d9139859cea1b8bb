"""A header taken apart: what is measured, in which unit, gauge or absolute."""

from __future__ import annotations

import re
from dataclasses import dataclass

from boostproof.recording.columns.words import concepts_of
from boostproof.recording.model import Reference
from boostproof.units import Unit, find_unit, split_reference

_BRACKET = re.compile(r"[\[({<]\s*([^\[\](){}<>]*(?:\([^()]*\))?)\s*[\])}>]")
# Units as they stand in logs and hardly anywhere else.
_LOG_UNITS = {"tr/min": "rpm", "v/min": "rpm", "giri/min": "rpm", "omw/min": "rpm", "obr/min": "rpm",
              "ot/min": "rpm",
              "varv/min": "rpm", "t/min": "rpm", "r.p.m.": "rpm", "1/m": "rpm", "upm": "rpm", "u/m": "rpm",
              "o/min": "rpm", "g/sek": "g/s", "sek": "s", "sek.": "s", "seg": "s", "segundos": "s",
              "secondes": "s",
              "sekunden": "s", "sekunder": "s", "s.": "s", "grad kw": "deg", "grados": "deg", "grad": "deg",
              "degres": "deg", "°kw": "deg", "°v": "deg", "°vil": "deg", "bar(ü)": "bar gauge",
              "barü": "bar gauge",
              "mbar(ü)": "mbar gauge", "kg/hora": "kg/h", "l": "", "da nm": ""}  # fmt: skip
# The unit itself says what is measured.
_IMPLIED = {"rotational_speed": "ROTATION", "temperature": "TEMPERATURE", "pressure": "PRESSURE",
            "mass_flow": "FLOW",
            "time": "TIME", "speed": "SPEED", "torque": "TORQUE", "power": "POWER"}  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """One way to read a header.

    Attributes
    ----------
    concepts : what the words stand for
    unknown : number of words that say nothing to us
    unit : None where the header names none
    reference : gauge or abs as the header says it, None where it does not
    """

    concepts: frozenset[str]
    unknown: int
    unit: Unit | None
    reference: Reference | None


def unit_text(text: str) -> tuple[Unit | None, Reference | None]:
    """Unit and reference of a text such as "kPa abs", "psig", "tr/min"."""
    text = _LOG_UNITS.get(text.strip().casefold(), text)
    if not text.strip() or text.strip().isdigit():
        return None, None
    bare, mark = split_reference(text.replace(",", " "))
    reference: Reference | None = mark if mark in ("gauge", "abs") else None
    return find_unit(bare), reference


def read_header(header: str, unit_row: str) -> tuple[Reading, ...]:
    """Ways to read a header, the likeliest first; which one holds is decided with the channel.

    A unit is looked for in the units row, in brackets, behind a comma, and in the last or first words.
    """
    header = re.sub(r" \(\d+\)$", "", header)
    plain = header.replace("%", " % ").strip()
    unit, reference = unit_text(unit_row)
    if unit is not None or reference is not None:
        return (_reading(_BRACKET.sub(" ", plain) if _bracket_unit(plain) else plain, unit, reference),)
    found = _bracket_unit(plain)
    if found is not None:
        rest, unit, reference = found
        return (_reading(rest, unit, reference),)
    readings = []
    for rest, text in _split_options(plain):
        unit, reference = unit_text(text)
        if unit is not None:
            readings.append(_reading(rest, unit, reference))
    readings.append(_reading(plain, None, None))
    return tuple(readings)


def _bracket_unit(header: str) -> tuple[str, Unit | None, Reference | None] | None:
    """(rest, unit, reference) from brackets; a bracket that holds neither stays in the rest."""
    unit: Unit | None = None
    reference: Reference | None = None
    rest = header
    for match in _BRACKET.finditer(header):
        inside = match.group(1)
        here, mark = unit_text(inside)
        if here is None and mark is None:
            _, mark = unit_text("kPa " + inside)
        if here is None and mark is None:
            continue
        unit, reference = unit or here, reference or mark
        rest = rest.replace(match.group(0), " ")
    if unit is None and reference is None:
        return None
    if unit is None:
        for option, text in _split_options(rest.strip()):
            unit, _ = unit_text(text)
            if unit is not None:
                return option, unit, reference
    return rest, unit, reference


def _split_options(header: str) -> list[tuple[str, str]]:
    """(name, unit text) where a unit may stand without brackets."""
    options = []
    for mark in (",", ";", ":", " in "):
        name, found, tail = header.rpartition(mark)
        if found and name.strip():
            options.append((name, tail))
    if not re.search(r"[\s_]", header.strip()):
        header = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", header)
    words = re.split(r"[\s_]+", re.sub(r"(?<=[a-z])-(?=[a-z])", " ", header.strip()))
    for count in (3, 2, 1):
        if len(words) > count:
            options.append((" ".join(words[:-count]), " ".join(words[-count:])))
    if len(words) > 1:
        options.append((" ".join(words[1:]), words[0]))
    options.append((header, header))
    return options


def _reading(name: str, unit: Unit | None, reference: Reference | None) -> Reading:
    concepts, unknown = concepts_of(name)
    if unit is not None and unit.dimension in _IMPLIED:
        concepts |= {_IMPLIED[unit.dimension]}
    if unit is not None and unit.dimension != "time":
        concepts -= {"TIME"}  # "T exhaust [C]": a lone t is a temperature here
    if reference is None and "ABSOLUTE" in concepts:
        reference = "abs"
    elif reference is None and "GAUGE" in concepts:
        reference = "gauge"
    return Reading(concepts, unknown, unit, reference)
