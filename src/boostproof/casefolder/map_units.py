"""What stands in the header of a map: which column is what, in which unit, and the air it is corrected to."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from boostproof.errors import InputError
from boostproof.physics.corrected import ReferenceConditions
from boostproof.units import accepted_units, find_unit, to_si


@dataclass(frozen=True)
class Heading:
    """One column of a map.

    Attributes
    ----------
    index, header : its number and header
    factor, offset : ``SI = number * factor + offset``
    corrected : the header says that it is corrected
    volume : a flow by volume, m3/s
    parameter : a flow or speed parameter, which needs no reference
    bare : the header names no unit
    """

    index: int
    header: str
    factor: float = 1.0
    offset: float = 0.0
    corrected: bool = False
    volume: bool = False
    parameter: bool = False
    bare: bool = False


_WANTED = {
    "compressor": ("speed", "flow", "ratio", "efficiency"),
    "turbine": ("ratio", "flow"),
}
_TITLES = {
    "speed": "speed", "flow": "flow", "ratio": "pressure ratio", "efficiency": "efficiency",
    "inlet_pressure": "inlet pressure", "inlet_temperature": "inlet temperature",
}  # fmt: skip
_DIMENSIONS = {
    "speed": ("rotational_speed",),
    "flow": ("mass_flow", "volume_flow"),
    "efficiency": ("fraction", "ratio"),
    "ratio": ("ratio",),
    "inlet_pressure": ("pressure",),
    "inlet_temperature": ("temperature",),
}
_WORDS: tuple[tuple[str, str], ...] = (
    ("efficiency", r"\beff(?:iciency|y|\b)|\beta\b|η"),
    ("ratio", r"ratio\b|^\W*(?:pr|pi)\b"),
    ("inlet_pressure", r"(?=.*\b(?:inlet|p1)\b)(?=.*(?:press|\bp1\b))"),
    ("inlet_temperature", r"(?=.*\b(?:inlet|t1)\b)(?=.*(?:temp|\bt1\b))"),
    ("speed", r"speed\b|\brpm\b|\bkrpm\b"),
    ("flow", r"flow\b"),
)
_CORRECTED = re.compile(r"\bcorr|\breduced\b|\breferred\b", re.IGNORECASE)
# kg sqrt(K) / (s Pa) however it is written, after blanks, dots and brackets are taken out.
_FLOW_PARAMETER = re.compile(r"kg(?:/s)?(?:√k|sqrtk|k0?5|k1/2)(?:/?s)?/?(pa|kpa|mpa|bar)")
_SPEED_PARAMETER = re.compile(r"(rpm|rad/s|1/min)/?(?:√k|sqrtk|k0?5|k1/2)")
_PASCAL = {"pa": 1.0, "kpa": 1e3, "mpa": 1e6, "bar": 1e5}


def columns_of(
    names: Sequence[str], units: Sequence[str], machine: str, where: str
) -> dict[str, Heading]:
    """The columns of a map by what they are: speed, flow, ratio, efficiency, inlet_pressure, inlet_temperature.

    Parameters
    ----------
    names, units : headers and units row
    machine : "compressor" or "turbine"
    where : file and line of the header

    Raises
    ------
    InputError
        If a column is missing, stands twice, or has no unit that fits.
    """
    found: dict[str, list[Heading]] = {}
    for index, (name, unit) in enumerate(zip(names, units, strict=True)):
        what = _what(name)
        if what is not None:
            found.setdefault(what, []).append(_heading(index, name, unit, what, machine, where))
    chosen = {what: _one(what, options, where) for what, options in found.items()}
    missing = [_TITLES[what] for what in _WANTED[machine] if what not in chosen]
    if missing:
        raise InputError(
            f"The {machine} map has no column of {' and '.join(missing)}; its columns are {', '.join(names)}.",
            kind="map-columns", where=where,
            do=f"A {machine} map needs {', '.join(_TITLES[what] for what in _WANTED[machine])}, each named in the "
            "header with its unit.",
        )  # fmt: skip
    return chosen


def reference_of(lines: Iterable[tuple[int, str]], name: str) -> ReferenceConditions | None:
    """The air that the numbers are corrected to, from a line such as "# reference 298 K, 100 kPa".

    Parameters
    ----------
    lines : line numbers and texts of what stands around the numbers
    name : of the file

    Returns
    -------
    ReferenceConditions or None
        None where no line speaks of it.

    Raises
    ------
    InputError
        If the line does not hold one temperature and one pressure, or two lines differ.
    """
    found: dict[tuple[float, float], int] = {}
    for number, text in lines:
        said = re.match(r"\W*(?:reference|corrected to)\b(.*)", text, re.IGNORECASE)
        if said:
            found.setdefault(_pair(said[1], f"{name}, line {number}"), number)
    if len(found) > 1:
        first, second = sorted(found.values())[:2]
        raise InputError(
            "The map names two references that differ.", kind="map-reference",
            where=f"{name}, lines {first} and {second}", do="Keep the one that holds.",
        )  # fmt: skip
    if not found:
        return None
    pressure, temperature = next(iter(found))
    return ReferenceConditions(pressure, temperature, f"{name}, line {found[pressure, temperature]}")


def _pair(text: str, where: str) -> tuple[float, float]:
    """Pressure [Pa] and temperature [K] of a reference line."""
    pressures, temperatures = [], []
    for number, word in re.findall(r"([+-]?\d+(?:[.,]\d+)?)\s*((?:deg|°)?\s*[A-Za-z]+)", text):
        value = float(number.replace(",", "."))
        if (unit := find_unit(word, "temperature")) is not None:
            temperatures.append(to_si(value, unit))
        elif (unit := find_unit(word, "pressure")) is not None:
            pressures.append(to_si(value, unit))
    form = 'Write a temperature and an absolute pressure, as in "# reference 298 K, 100 kPa".'
    if len(pressures) != 1 or len(temperatures) != 1:
        raise InputError("The reference of the map cannot be read.", kind="map-reference", where=where, do=form)
    if not (80e3 <= pressures[0] <= 110e3 and 250.0 <= temperatures[0] <= 330.0):
        raise InputError(
            f"{pressures[0] / 1e3:.1f} kPa and {temperatures[0]:.1f} K are the air of no map.", kind="map-reference",
            where=where, do=form,
        )  # fmt: skip
    return float(pressures[0]), float(temperatures[0])


def _what(header: str) -> str | None:
    """What a column is, by the words of its header."""
    words = re.sub(r"[_\s]+", " ", header.casefold())
    return next((what for what, pattern in _WORDS if re.search(pattern, words)), None)


def _heading(index: int, name: str, unit_row: str, what: str, machine: str, where: str) -> Heading:
    from boostproof.recording.columns.headers import read_header

    corrected = _CORRECTED.search(name.replace("_", " ")) is not None
    if machine == "turbine" and (factor := _parameter(f"{name} {unit_row}", what)) is not None:
        return Heading(index, name, factor, corrected=corrected, parameter=True)
    readings = read_header(name, unit_row)
    dimensions = _DIMENSIONS[what]
    unit = next((r.unit for r in readings if r.unit is not None and r.unit.dimension in dimensions), None)
    if unit is None and what in ("ratio", "efficiency"):
        return Heading(index, name, bare=True)
    if unit is None:
        accepted = ", ".join(u for d in dimensions for u in accepted_units(d))
        also = " or a flow parameter such as kg sqrt(K)/(s kPa)" if machine == "turbine" and what == "flow" else ""
        raise InputError(
            f'The header "{name}" names no unit of {_TITLES[what]}.', kind="unknown-unit", where=where,
            do=f'Accepted: {accepted}{also}, as in "{_TITLES[what]} ({accepted_units(dimensions[0])[0]})".',
        )  # fmt: skip
    if what == "inlet_pressure" and any(r.reference == "gauge" for r in readings):
        raise InputError(
            f'"{name}" is a gauge pressure; a correction needs the absolute one.', kind="map-columns", where=where,
            do="Add the barometer, and write abs into the header.",
        )  # fmt: skip
    return Heading(index, name, unit.factor, unit.offset, corrected, unit.dimension == "volume_flow")


def _parameter(text: str, what: str) -> float | None:
    """Factor of a flow or speed parameter to SI, None where the header names none."""
    plain = re.sub(r"[\s()\[\]{}.,·*^_]+", "", text.casefold())
    if what == "flow" and (found := _FLOW_PARAMETER.search(plain)):
        return 1.0 / _PASCAL[found[1]]
    if what == "speed" and (found := _SPEED_PARAMETER.search(plain)):
        unit = find_unit(found[1], "rotational_speed")
        return None if unit is None else unit.factor
    return None


def _one(what: str, options: Sequence[Heading], where: str) -> Heading:
    """The one column of a kind; of several the one that is called corrected."""
    if len(options) == 1:
        return options[0]
    corrected = [option for option in options if option.corrected]
    if len(corrected) == 1:
        return corrected[0]
    names = " and ".join(f'"{option.header}"' for option in options)
    raise InputError(
        f"Two columns could be the {_TITLES[what]}: {names}.", kind="map-columns", where=where,
        do="Leave one of them out, or call the right one corrected.",
    )  # fmt: skip
