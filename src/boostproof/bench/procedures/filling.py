"""Quantities in the text of procedures, put into the units of the shop."""

from __future__ import annotations

import math
import re

from boostproof.units import Unit, from_si, get_unit, to_si

# {60 kPa}, {20 to 30 kPa}, {max 60 kPa}; anything else in braces is left as it stands (tables of TOML).
_PLACE = re.compile(r"\{(max )?(-?\d+(?:\.\d+)?)(?: to (-?\d+(?:\.\d+)?))? (kPa|mm|m|degC)\}")
_DIMENSION = {"kPa": "pressure", "mm": "length", "m": "length", "degC": "temperature"}
_DIGITS = {"psi": 1, "bar": 2, "kPa": 0, "MPa": 3, "mbar": 0, "in": 2, "mm": 0, "ft": 1, "C": 0, "F": 0}
_HOT = 300.0  # °F
_SHOWN = {"C": "°C", "F": "°F"}


def fill(text: str, *, pressure: str = "kPa", length: str = "mm", temperature: str = "C") -> str:
    """Text with every quantity in the chosen units.

    Parameters
    ----------
    text : with placeholders such as ``{60 kPa}``, ``{20 to 30 kPa}``, ``{12 mm}``, ``{0.5 m}``,
        ``{600 to 950 degC}``; ``{max 60 kPa}`` is rounded down, because a limit is never rounded up
    pressure, length, temperature : names of units

    Returns
    -------
    str
        What is not a placeholder is left as it stands.

    Examples
    --------
    >>> fill("at most {max 60 kPa}, then {20 to 30 kPa}", pressure="psi")
    'at most 8.7 psi, then 2.9 to 4.4 psi'
    >>> fill("at most {max 50 kPa}", pressure="psi"), fill("{50 kPa}", pressure="psi")
    ('at most 7.2 psi', '7.3 psi')
    """
    chosen = {"pressure": pressure, "length": length, "temperature": temperature}

    def put(match: re.Match[str]) -> str:
        limit, first, second, written = match.groups()
        dimension = _DIMENSION[written]
        shown = get_unit("m" if written == "m" and length == "mm" else chosen[dimension], dimension)
        numbers = [n for n in (first, second) if n is not None]
        said = [_number(number, written, shown, down=limit is not None) for number in numbers]
        return f"{' to '.join(said)} {_SHOWN.get(shown.name, shown.name)}"

    return _PLACE.sub(put, text)


def quantities(text: str, dimension: str = "pressure") -> list[float]:
    """Every number in the placeholders of one dimension, in SI.

    >>> quantities("{20 to 30 kPa} and {12 mm}")
    [20000.0, 30000.0]
    """
    return [
        float(to_si(float(number), get_unit(_written(match[4]))))
        for match in _PLACE.finditer(text)
        if _DIMENSION[match[4]] == dimension
        for number in match.group(2, 3)
        if number is not None
    ]


def _written(unit: str) -> str:
    return "C" if unit == "degC" else unit


def _number(text: str, written: str, shown: Unit, *, down: bool) -> str:
    own = get_unit(_written(written), shown.dimension)
    if own == shown:  # as it was written: 0.3 mm stays 0.3 mm
        return text
    value = float(from_si(to_si(float(text), own), shown))
    if shown.name == "F" and value >= _HOT:  # hundreds of degrees are told to the ten
        return f"{(math.floor(value / 10.0) if down else round(value / 10.0)) * 10}"
    digits = 0 if shown.name == "in" and abs(value) >= 10.0 else _DIGITS.get(shown.name, 1)
    # 1e-9: a limit that is exact in the new unit must not lose its last digit to rounding of the machine
    return f"{math.floor(value * 10**digits + 1e-9) / 10**digits if down else value:.{digits}f}"
