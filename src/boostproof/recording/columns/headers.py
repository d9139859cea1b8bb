"""A header taken apart: what is measured, in which unit, gauge or absolute."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from boostproof.recording.columns.two_units import BOTH, names_both
from boostproof.recording.columns.words import concepts_of, fold, word_concepts
from boostproof.recording.model import Reference
from boostproof.units import Unit, find_unit, split_reference

_BRACKET = re.compile(r"[\[({<]\s*([^\[\](){}<>]*(?:\([^()]*\))?)\s*[\])}>]")
# Units as they stand in logs and hardly anywhere else.
_LOG_UNITS = {
    spelling: unit
    for unit, spellings in {
        "rpm": "tr/min|tr/mn|v/min|giri/min|omw/min|obr/min|ot/min|varv/min|t/min|r.p.m.|1/m|upm|u/m|o/min|rot/min"
        "|1/perc|ford/perc|f/perc|min^-1|d/dk|dev/dk|devir/dk|r/m|об/мин|об/хв|мин-1|хв-1|στρ/λεπτό|σ.α.λ."
        "|回転/分|回/分|转/分|転/分|rpm (tach)|k/min|kierr/min",
        "s": "sek|sek.|seg|seg.|segundos|secondes|sekunden|sekunder|s.|с|с.|сек|сек.|秒|초|sn|mp",
        "ms": "мс|мсек|毫秒|ミリ秒",
        "g/s": "g/sek|г/с|гр/с|gr/s|克/秒",
        "kg/h": "kg/hora|kg/std|kg/t|кг/ч|кг/час|кг/год|kg/u|kg/ó",
        "deg": "grad kw|grados|grad|degres|degrés|graus|gradi|°kw|°v|°vil|°ac|°kwh|град|град.|°пкв|度|도|fok",
        "bar gauge": "bar(ü)|barü|bar ü|bar(e)|bar (ü)",
        "mbar gauge": "mbar(ü)|mbarü",
        "kPa": "кпа|千帕",
        "bar": "бар|巴",
        "mbar": "мбар",
        "hPa": "гпа|百帕",
        "MPa": "мпа",
        "psi": "фунт/дюйм2",
        "km/h": "км/ч|км/год|км/час|км/г|km/t|km/u|km/std|km/ó|公里/小时|km/sa|χλμ/ώρα",
        "V": "в|伏|вольт",
        "Nm": "нм|н·м|н*м|牛米",
        "C": "°с|град.с|гр.с|摄氏度|도씨",
        "kW": "квт|千瓦",
        "PS": "л.с.|к.с.|лс|马力",
        "%": "percent|prozent|por ciento|процент",
        "": "l|da nm",
    }.items()
    for spelling in spellings.split("|")
}
_PER = frozenset({"s", "sec", "min", "h", "hr"})
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
    if names_both(text):
        return BOTH, "gauge"
    text = _LOG_UNITS.get(text.strip().casefold(), text)
    if not text.strip() or text.strip().isdigit():
        return None, None
    bare, mark = split_reference(text.replace(",", " "))
    if mark is None:
        bare, mark = _foreign_mark(bare)
    reference: Reference | None = mark if mark in ("gauge", "abs") else None
    return find_unit(_LOG_UNITS.get(bare.strip().casefold(), bare)), reference


def _foreign_mark(text: str) -> tuple[str, Reference | None]:
    """Take the last word off where it says gauge or absolute in any language ("bar relatif")."""
    rest, blank, last = text.strip().rpartition(" ")
    concepts = word_concepts(fold(last.strip("().[]"))) if blank else None
    if concepts == frozenset({"ABSOLUTE"}):
        return rest, "abs"
    return (rest, "gauge") if concepts == frozenset({"GAUGE"}) else (text, None)


@lru_cache(maxsize=2048)
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
    if not readings or readings[0].unit is None or readings[0].unit.dimension != "fraction":
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
        # "Mixture (lambda)": the unit is the name.
        said = inside if here is not None and here.dimension == "ratio" else " "
        rest = rest.replace(match.group(0), f" {said} ")
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
    options = [(header, header)] if len(header) > 4 else []  # "RPM x1000": a unit as a whole
    for mark in (",", ";", ":", " / ", " | ", " in "):
        name, found, tail = header.rpartition(mark)
        if found and name.strip():
            options.append((name, tail))
    if not re.search(r"[\s_]", header.strip()):
        header = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", header)
    # Dots part words where nothing else does: "BOOST.PRESS.PSI".
    dotted = re.fullmatch(r"[^\W_]+(?:\.[^\W_]+)+", header.strip()) is not None
    words = re.split(r"[\s_.]+" if dotted else r"[\s_]+", re.sub(r"(?<=[a-z])-(?=[a-z])", " ", header.strip()))
    for count in (3, 2, 1):
        if len(words) > count:
            options.append((" ".join(words[:-count]), " ".join(words[-count:])))
            if count == 2 and words[-1] in _PER:
                options.append((" ".join(words[:-2]), "/".join(words[-2:])))  # lb_min
    if re.search(r"[^\W\d]", " ".join(words[1:])):  # "psi Boost", but not "Ch 12"
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
