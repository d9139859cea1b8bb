"""Units as people and log files write them, and their one way into SI.

One table holds every unit: dimension, factor and offset (``SI = number * factor + offset``) and the
spellings met on labels, in case files and in log headers, in any case. Whether a pressure is gauge or
absolute is not a matter of its unit; :func:`split_reference` takes that mark (``psig``, ``kPa abs``)
off a text before the unit is looked up.

SI per dimension: Pa, K, m, rad/s, rad/s2, m3, kg/s, m3/s, N/m, 1 (for %), s, rad, Hz, V, ohm, W, N m,
kg, kg m2, m/s, and 1 for plain ratios (lambda, air-fuel ratio).

Volume flow (``L/min``) is *free air*: the volume that the air would fill at the reference atmosphere of
ISO 8778 (20 degC, 100 kPa, 65 % relative humidity, 1.185 kg/m3), as flow gauges and compressed-air
parts state it; it is a mass flow in other clothes, not the volume at the pressure in the hose.

Factors: exact by definition where the unit is defined (inch, pound, pound-force, degree, litre,
horsepower of 550 ft lbf/s, metric horsepower of 75 kgf m/s); conventional mercury and water columns
as in NIST SP 811 (2008), appendix B.8 (from memory; the tests compare with scipy.constants).
"""

from __future__ import annotations

import difflib
import math
import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal, overload

from boostproof.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Reference = Literal["gauge", "abs", "difference"]


@dataclass(frozen=True)
class Unit:
    """One unit of one dimension.

    Attributes
    ----------
    name : the spelling we show
    dimension : key of :data:`DIMENSIONS`
    factor, offset : ``SI = number * factor + offset``; a difference takes the factor alone
    """

    name: str
    dimension: str
    factor: float
    offset: float = 0.0

    def __str__(self) -> str:
        return self.name


# What a dimension is called in a sentence, its SI unit, and the units offered to a person first.
DIMENSIONS: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "pressure": ("a pressure", "Pa", ("psi", "kPa", "hPa", "MPa", "bar", "mbar", "inHg", "mmHg", "Pa")),
    "temperature": ("a temperature", "K", ("C", "F", "K")),
    "length": ("a length", "m", ("mm", "cm", "m", "in", "ft")),
    "rotational_speed": ("a rotational speed", "rad/s", ("rpm", "krpm")),
    "rotational_acceleration": ("a change of speed over time", "rad/s2", ("rpm/s",)),
    "volume": ("a volume", "m3", ("L", "cc", "ci", "mL")),
    "mass_flow": ("a mass flow", "kg/s", ("g/s", "kg/h", "lb/min")),
    "volume_flow": ("a flow of free air", "m3/s", ("L/min",)),
    "stiffness": ("a spring rate", "N/m", ("N/mm", "lbf/in")),
    "fraction": ("a share in per cent", "1", ("%",)),
    "time": ("a time", "s", ("s", "ms", "min")),
    "angle": ("an angle", "rad", ("deg",)),
    "frequency": ("a frequency", "Hz", ("Hz",)),
    "voltage": ("a voltage", "V", ("V",)),
    "resistance": ("an electrical resistance", "ohm", ("ohm",)),
    "power": ("a power", "W", ("kW", "hp")),
    "torque": ("a torque", "N m", ("Nm", "lb-ft")),
    "mass": ("a mass", "kg", ("kg",)),
    "moment_of_inertia": ("a moment of inertia", "kg m2", ("kg m2",)),
    "speed": ("a road speed", "m/s", ("km/h", "mph")),
    "ratio": ("a plain ratio", "1", ("1",)),
}

_INCH = 0.0254
_POUND = 0.45359237
_GRAVITY = 9.80665
_POUND_FORCE = _POUND * _GRAVITY
_PSI = _POUND_FORCE / _INCH**2
_RPM = 2.0 * math.pi / 60.0
_DEGREE = math.pi / 180.0
_HORSEPOWER = 550.0 * 12.0 * _INCH * _POUND_FORCE
_CUBIC_FOOT = (12.0 * _INCH) ** 3
_FOOT_POUND = "lbs-ft|lbf-ft|ft-lb|ft-lbs|ft-lbf|foot pounds|foot pound|pound feet|pound foot"

# dimension: (name, factor, offset, further spellings parted by "|"). Spellings are compared after
# `_fold`: case, spaces, dots, hyphens and underscores do not count, so each is listed in one form.
_TABLE: dict[str, tuple[tuple[str, float, float, str], ...]] = {
    "pressure": (
        ("psi", _PSI, 0.0, "lbs|pounds|psis|lb/in2|lbs/in2|lbf/in2|lb/sqin|lbf/sqin"),
        ("kPa", 1e3, 0.0, "kilopascal|kilopascals|kn/m2"),
        ("hPa", 1e2, 0.0, "hectopascal|hectopascals"),
        ("MPa", 1e6, 0.0, "megapascal|megapascals|n/mm2"),
        ("bar", 1e5, 0.0, "bars"),
        ("mbar", 1e2, 0.0, "millibar|millibars"),
        ("inHg", 3386.389, 0.0, '"hg|inchhg|incheshg|inches of mercury'),
        ("mmHg", 133.3224, 0.0, "torr|mm of mercury"),
        ("Pa", 1.0, 0.0, "pascal|pascals|n/m2"),
        ("kgf/cm2", _GRAVITY * 1e4, 0.0, "kg/cm2|kp/cm2"),
        ("atm", 101325.0, 0.0, "atmosphere|atmospheres"),
        ("inH2O", 249.0889, 0.0, '"h2o|inwc|inwg|inches water'),
        ("mmH2O", 9.80665, 0.0, "mmwc|mmws"),
    ),
    "temperature": (
        ("C", 1.0, 273.15, "deg c|°c|celsius|degrees c|degree c|grad c|centigrade"),
        ("F", 5.0 / 9.0, 459.67 * 5.0 / 9.0, "deg f|°f|fahrenheit|degrees f|degree f"),
        ("K", 1.0, 0.0, "deg k|°k|kelvin"),
    ),
    "length": (
        ("mm", 1e-3, 0.0, "millimetre|millimetres|millimeter|millimeters"),
        ("cm", 1e-2, 0.0, "centimetre|centimetres|centimeter|centimeters"),
        ("m", 1.0, 0.0, "metre|metres|meter|meters"),
        ("in", _INCH, 0.0, 'inch|inches|"'),
        ("ft", 12.0 * _INCH, 0.0, "foot|feet"),
        ("thou", _INCH * 1e-3, 0.0, "mil|mils"),
        ("km", 1e3, 0.0, "kilometre|kilometres|kilometer|kilometers"),
        ("mi", 5280.0 * 12.0 * _INCH, 0.0, "mile|miles"),
    ),
    "rotational_speed": (
        ("rpm", _RPM, 0.0, "1/min|r/min|rev/min|revs/min|revs|min-1|/min|u/min|turns/min"),
        ("krpm", 1e3 * _RPM, 0.0, "rpm x 1000|rpm*1000|x1000rpm|1000rpm|x1000r/min|1000/min|rpm/1000"),
        ("100 rpm", 1e2 * _RPM, 0.0, "rpm x 100|rpm*100|x100rpm|x100r/min|100/min|rpm/100"),
        ("rad/s", 1.0, 0.0, "rad/sec|radians/s|rads/s"),
    ),
    "rotational_acceleration": (
        ("rpm/s", _RPM, 0.0, "rpm/sec|rpm/second|rev/min/s|1/min/s"),
        ("rad/s2", 1.0, 0.0, "rad/sec2"),
    ),
    "volume": (
        ("L", 1e-3, 0.0, "litre|litres|liter|liters|ltr|dm3"),
        ("cc", 1e-6, 0.0, "cm3|ccm|cubic centimetres|cubic centimeters"),
        ("ci", _INCH**3, 0.0, "cid|cu in|in3|cubic inch|cubic inches"),
        ("mL", 1e-6, 0.0, "millilitre|millilitres|milliliter|milliliters"),
        ("m3", 1.0, 0.0, "cubic metre|cubic metres|cubic meter"),
    ),
    "mass_flow": (
        ("g/s", 1e-3, 0.0, "g/sec|gm/s|gm/sec|gps|grams/s|grams/sec|gram/s|grams/second"),
        ("kg/h", 1.0 / 3600.0, 0.0, "kg/hr|kg/hour|kgph"),
        ("lb/min", _POUND / 60.0, 0.0, "lbs/min|lbm/min|lb/m|lbs/minute|pounds/min"),
        ("kg/s", 1.0, 0.0, "kg/sec"),
        ("kg/min", 1.0 / 60.0, 0.0, ""),
        ("lb/h", _POUND / 3600.0, 0.0, "lbs/h|lb/hr|lbs/hr|pph"),
        ("mg/s", 1e-6, 0.0, "mg/sec"),
    ),
    "volume_flow": (
        ("L/min", 1e-3 / 60.0, 0.0, "lpm|slpm|litre/min|litres/min|liter/min|liters/min|ltr/min"),
        ("cfm", _CUBIC_FOOT / 60.0, 0.0, "scfm|cu ft/min|ft3/min"),
        ("L/s", 1e-3, 0.0, "l/sec|litres/s|liters/s"),
        ("mL/min", 1e-6 / 60.0, 0.0, "cc/min|ccm/min|cm3/min"),
        ("m3/h", 1.0 / 3600.0, 0.0, "m3/hr"),
        ("m3/s", 1.0, 0.0, ""),
    ),
    "stiffness": (
        ("N/mm", 1e3, 0.0, "newton/mm"),
        ("lbf/in", _POUND_FORCE / _INCH, 0.0, 'lb/in|lbs/in|lbf/inch|lb/inch|lbs/inch|lb/"'),
        ("N/m", 1.0, 0.0, ""),
        ("kgf/mm", _GRAVITY * 1e3, 0.0, "kg/mm"),
    ),
    "fraction": (("%", 1e-2, 0.0, "percent|pct|per cent|prozent|%rh|%dc|%duty|%rel"),),
    "time": (
        ("s", 1.0, 0.0, "sec|secs|second|seconds"),
        ("ms", 1e-3, 0.0, "msec|msecs|millisecond|milliseconds"),
        ("min", 60.0, 0.0, "mins|minute|minutes"),
        ("h", 3600.0, 0.0, "hr|hrs|hour|hours"),
        ("us", 1e-6, 0.0, "μs|usec|μsec|microsecond|microseconds"),
        ("ns", 1e-9, 0.0, "nsec|nanosecond|nanoseconds"),
        ("10 ms", 1e-2, 0.0, "cs|centisecond|centiseconds"),
        ("day", 86_400.0, 0.0, "days"),
    ),
    "angle": (
        ("deg", _DEGREE, 0.0, "°|degree|degrees|degca|°ca|°crank|degcrank|°btdc|degbtdc|degreesbtdc|btdc"),
        ("rad", 1.0, 0.0, "radian|radians"),
    ),
    "frequency": (
        ("Hz", 1.0, 0.0, "hertz|1/s|s-1"),
        ("kHz", 1e3, 0.0, "kilohertz"),
    ),
    "voltage": (
        ("V", 1.0, 0.0, "volt|volts|vdc"),
        ("mV", 1e-3, 0.0, "millivolt|millivolts"),
    ),
    "resistance": (
        ("ohm", 1.0, 0.0, "ohms|ω"),
        ("kohm", 1e3, 0.0, "kohms|kω|kiloohm"),
    ),
    "power": (
        ("kW", 1e3, 0.0, "kilowatt|kilowatts"),
        ("hp", _HORSEPOWER, 0.0, "bhp|whp|horsepower"),
        ("W", 1.0, 0.0, "watt|watts"),
        ("PS", 75.0 * _GRAVITY, 0.0, "metric hp|cv|ch|pk"),
    ),
    "torque": (
        ("Nm", 1.0, 0.0, "newton metre|newton metres|newton meter|newton meters"),
        ("lb-ft", _POUND_FORCE * 12.0 * _INCH, 0.0, _FOOT_POUND),
        ("kgf m", _GRAVITY, 0.0, "kg-m|mkp|mkg"),
        ("lb-in", _POUND_FORCE * _INCH, 0.0, "in-lb|in-lbs|lbf-in|inch pounds"),
    ),
    "mass": (("kg", 1.0, 0.0, "kilogram|kilograms|kilogramme|kilogrammes"),),
    "moment_of_inertia": (
        ("kg m2", 1.0, 0.0, "kg sqm"),
        ("lb ft2", _POUND * (12.0 * _INCH) ** 2, 0.0, "lbm ft2|lb sqft|lbs ft2"),
    ),
    "speed": (
        ("km/h", 1.0 / 3.6, 0.0, "kph|kmh|kmph|km/hr|kmp/h"),
        ("mph", 1609.344 / 3600.0, 0.0, "mi/h|miles/h|miles/hour|mi/hr"),
        ("m/s", 1.0, 0.0, "m/sec|mps"),
    ),
    "ratio": (("1", 1.0, 0.0, "lambda|λ|la|ratio|afr|air/fuel|a/f|:1|phi"),),
}

# Look-alike signs, mojibake of the degree sign, and signs that carry no meaning in a unit.
_REPLACE = str.maketrans(
    {"\u00ba": "°", "\u02da": "°", "\ufffd": "°", "\u2033": '"', "\u201c": '"', "\u201d": '"', "\u00c2": None}
    | {"\u207b": "-", "\u2212": "-", "\u00d7": None, "\u00b7": None, "\u22c5": None}
)
_MEANINGLESS = re.compile(r"[\s._\-*^]+")


@lru_cache(maxsize=4096)
def _fold(text: str) -> str:
    """The form in which spellings are compared."""
    plain = unicodedata.normalize("NFKC", text.translate(_REPLACE)).casefold().strip()
    plain = re.sub(r"^[\[(<{]\s*(.*?)\s*[\])>}]$", r"\1", plain)
    if plain in {"-", "--"}:
        return "1"
    plain = re.sub(r"\bper\b(?!\s*cent)", "/", plain)
    return _MEANINGLESS.sub("", plain)


def _build() -> tuple[tuple[Unit, ...], dict[str, tuple[Unit, ...]]]:
    units: list[Unit] = []
    spellings: dict[str, list[Unit]] = {}
    for dimension, rows in _TABLE.items():
        for name, factor, offset, others in rows:
            unit = Unit(name, dimension, factor, offset)
            units.append(unit)
            for spelling in {_fold(name), *(_fold(other) for other in others.split("|") if other)}:
                spellings.setdefault(spelling, []).append(unit)
    return tuple(units), {key: tuple(value) for key, value in spellings.items()}


UNITS, _SPELLINGS = _build()


def accepted_units(dimension: str) -> tuple[str, ...]:
    """Names of the units offered for a dimension, the usual ones of the trade only."""
    return DIMENSIONS[dimension][2]


def dimension_phrase(dimension: str) -> str:
    """The dimension with its article, for a sentence (``"a pressure"``)."""
    return DIMENSIONS[dimension][0]


def find_unit(text: str, dimension: str | None = None) -> Unit | None:
    """The unit that a text means, or None.

    Parameters
    ----------
    text : a unit alone, in any case, with or without brackets, degree sign, dots or spaces
    dimension : look among the units of this dimension only; without it the first that fits

    Examples
    --------
    >>> find_unit("deg F").name, find_unit("[1/min]").name, find_unit("KPA").factor
    ('F', 'rpm', 1000.0)
    >>> find_unit("furlong") is None
    True
    """
    candidates = _SPELLINGS.get(_fold(text), ())
    for unit in candidates:
        if dimension is None or unit.dimension == dimension:
            return unit
    return None


def get_unit(text: str, dimension: str | None = None) -> Unit:
    """Like :func:`find_unit`, but an unknown unit is an error.

    Raises
    ------
    InputError
        Naming the accepted units and the nearest right one.
    """
    unit = find_unit(text, dimension)
    if unit is None:
        what = (
            f"is not a unit of {DIMENSIONS[dimension][0].split(' ', 1)[1]}"
            if dimension
            else "is not a known unit"
        )
        near = nearest_units(text, dimension)
        accepted = f"Accepted: {', '.join(accepted_units(dimension))}." if dimension else ""
        hint = f"Did you mean {' or '.join(near)}? " if near else ""
        raise InputError(f'"{text}" {what}.', kind="unknown-unit", do=(hint + accepted).strip())
    return unit


def nearest_units(text: str, dimension: str | None = None) -> list[str]:
    """Up to two unit names whose spelling is nearest to a wrong one; empty when nothing is near."""
    pool: dict[str, str] = {}
    for spelling, units in _SPELLINGS.items():
        for unit in units:
            if dimension is None or unit.dimension == dimension:
                pool.setdefault(spelling, unit.name)
    names: list[str] = []
    for match in difflib.get_close_matches(_fold(text), pool, n=4, cutoff=0.6):
        if pool[match] not in names:
            names.append(pool[match])
    return names[:2]


_WORDS: dict[Reference, str] = {"abs": r"abs(?:olute?|\.)?", "gauge": r"(?:gauge|gage|relative|rel\.?)"}
_SUFFIX = re.compile(r"^(psi|kpa|bar|mbar|hpa|mpa|pa)[\s_]*\(?([ag])\)?$", re.IGNORECASE)


def split_reference(text: str) -> tuple[str, Reference | None]:
    """Take ``abs``/``gauge`` marks off a unit text.

    Returns
    -------
    (rest, reference) : the unit without its mark, and "abs", "gauge" or None where nothing is said

    Examples
    --------
    >>> split_reference("psig"), split_reference("kPa abs"), split_reference("bar")
    (('psi', 'gauge'), ('kPa', 'abs'), ('bar', None))
    """
    stripped = text.strip()
    short = _SUFFIX.match(stripped)
    if short:
        return short.group(1), "abs" if short.group(2).lower() == "a" else "gauge"
    for reference, word in _WORDS.items():
        mark = re.search(rf"\(\s*{word}\s*\)$|(?<![a-z]){word}$|^{word}\s+", stripped, re.IGNORECASE)
        if mark:
            return (stripped[: mark.start()] + stripped[mark.end() :]).strip(" _,;:"), reference
    return stripped, None


@overload
def to_si(value: float, unit: Unit) -> float: ...
@overload
def to_si(value: NDArray[np.floating], unit: Unit) -> NDArray[np.floating]: ...
def to_si(value: float | NDArray[np.floating], unit: Unit) -> float | NDArray[np.floating]:
    """A number or array in ``unit``, in SI. A pressure keeps its reference, gauge or absolute."""
    return value * unit.factor + unit.offset


@overload
def from_si(value: float, unit: Unit) -> float: ...
@overload
def from_si(value: NDArray[np.floating], unit: Unit) -> NDArray[np.floating]: ...
def from_si(value: float | NDArray[np.floating], unit: Unit) -> float | NDArray[np.floating]:
    """A number or array in SI, in ``unit``."""
    return (value - unit.offset) / unit.factor
