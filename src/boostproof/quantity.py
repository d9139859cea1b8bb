"""Quantities as people write them: a number, its unit, and how sure it is.

Accepted forms (``format = 1``), in any mix of case, with a decimal point or comma::

    22 psi                       exact as written; the usual tolerance of its key applies, never zero
    0.80 bar +/- 0.05 bar        +/- (or the sign for it) is two standard deviations
    11..14 psi                   a range, also 11-14 psi, 11 or 12 psi: flat, with 5 % outside
    about 14 psi                 +/- 10 %
    101.3 kPa abs                absolute; without the word a pressure is gauge unless its key says other

A :class:`Quantity` is a distribution: :meth:`Quantity.ppf` draws from it, :meth:`Quantity.log_density`
weighs with it. Values are SI; a gauge pressure is in pascal above the air around.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from boostproof.errors import InputError
from boostproof.units import (
    DIMENSIONS,
    Reference,
    Unit,
    accepted_units,
    dimension_phrase,
    find_unit,
    from_si,
    nearest_units,
    split_reference,
    to_si,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

Form = Literal["exact", "tolerance", "about", "range"]

SHARE_OUTSIDE_RANGE = 0.05
ABOUT_SHARE = 0.10


@dataclass(frozen=True)
class UsualTolerance:
    """How sure a value is that was written without a tolerance, as one standard deviation.

    Attributes
    ----------
    relative : share of the value
    absolute : in SI; both are added in quadrature
    source : where the figure comes from, or that it is common practice or a judgement
    """

    relative: float = 0.0
    absolute: float = 0.0
    source: str = ""

    def sd(self, value: float) -> float:
        """Standard deviation at a value. [SI]"""
        return math.hypot(self.relative * value, self.absolute)


@dataclass(frozen=True)
class Quantity:
    """A value of one dimension with its doubt.

    Attributes
    ----------
    text : as written
    dimension : key of :data:`boostproof.units.DIMENSIONS`
    value : the value, or the middle of a range. [SI; gauge pressures in Pa gauge]
    sd : standard deviation, above zero. [SI]
    low, high : ends of a range; value -/+ two standard deviations otherwise. [SI]
    form : "exact", "tolerance", "about" or "range"
    reference : "gauge", "abs" or "difference" for a pressure, None for all else
    unit : the unit it was written in, for saying it back
    """

    text: str
    dimension: str
    value: float
    sd: float
    low: float
    high: float
    form: Form
    reference: Reference | None
    unit: Unit

    def __str__(self) -> str:
        return self.text

    def in_unit(self, unit: Unit | None = None) -> float:
        """The value in a unit (the one it was written in, if none is given)."""
        return from_si(self.value, unit or self.unit)

    def ppf(self, u: ArrayLike) -> NDArray[np.float64]:
        """Quantile function.

        Parameters
        ----------
        u : probabilities in (0, 1), any shape

        Returns
        -------
        ndarray
            Values, same shape. [SI]

        Notes
        -----
        Normal for a value with a tolerance. A range is flat over [low, high] with 95 % of the mass and
        an exponential tail of 2.5 % on each side that starts at the height of the flat part.
        """
        import numpy as np
        from scipy.special import ndtri

        p = np.asarray(u, dtype=float)
        if self.form != "range":
            return np.asarray(self.value + self.sd * ndtri(p))
        tail = SHARE_OUTSIDE_RANGE / 2.0
        scale = self._tail_scale()
        inside = self.low + (p - tail) / (1.0 - 2.0 * tail) * (self.high - self.low)
        with np.errstate(divide="ignore"):
            below = self.low + scale * np.log(np.minimum(p, tail) / tail)
            above = self.high - scale * np.log(np.minimum(1.0 - p, tail) / tail)
        return np.where(p < tail, below, np.where(p > 1.0 - tail, above, inside))

    def log_density(self, x: ArrayLike) -> NDArray[np.float64]:
        """Natural logarithm of the probability density at ``x``. [1/SI; same shape as x]"""
        import numpy as np

        values = np.asarray(x, dtype=float)
        if self.form != "range":
            z = (values - self.value) / self.sd
            return np.asarray(-0.5 * z * z - math.log(self.sd * math.sqrt(2.0 * math.pi)))
        height = math.log((1.0 - SHARE_OUTSIDE_RANGE) / (self.high - self.low))
        outside = np.maximum(np.maximum(self.low - values, values - self.high), 0.0)
        return np.asarray(height - outside / self._tail_scale())

    def _tail_scale(self) -> float:
        # The tail meets the flat part at the same density: mass = density * scale.
        return (SHARE_OUTSIDE_RANGE / 2.0) * (self.high - self.low) / (1.0 - SHARE_OUTSIDE_RANGE)


def _range_sd(width: float) -> float:
    tail = SHARE_OUTSIDE_RANGE / 2.0
    scale = tail * width / (1.0 - 2.0 * tail)
    outside = width * width / 4.0 + width * scale + 2.0 * scale * scale
    return math.sqrt((1.0 - 2.0 * tail) * width * width / 12.0 + 2.0 * tail * outside)


_NUMBER = r"(?:\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)*|[.,]\d+)(?:e[+-]?\d+)?"
_UNIT = r"[^\d\s+±][^±]*|1/[^\d\s][^±]*|"
_EXACT = re.compile(rf"^(?P<a>[+-]?\s*{_NUMBER})\s*(?P<unit>{_UNIT})$", re.IGNORECASE)
_TOLERANCE = re.compile(
    rf"^(?P<a>[+-]?\s*{_NUMBER})\s*(?P<unit>{_UNIT})\s*±\s*(?P<t>{_NUMBER})\s*(?P<tunit>{_UNIT})$",
    re.IGNORECASE,
)
_RANGE = re.compile(
    rf"^(?P<a>[+-]?\s*{_NUMBER})\s*(?P<unit_a>[^\d\s.+-][^\d.+-]*?)??\s*(?:\.{{2,}}|\bto\b|\bor\b)\s*"
    rf"(?P<b>[+-]?\s*{_NUMBER})\s*(?P<unit>{_UNIT})$",
    re.IGNORECASE,
)
_DASH = re.compile(
    rf"^(?P<a>{_NUMBER})\s*(?P<unit_a>[^\d\s.+-][^\d.+-]*?)??\s*-\s*(?P<b>{_NUMBER})\s*(?P<unit>{_UNIT})$",
    re.IGNORECASE,
)
_ABOUT = re.compile(
    r"^(?:about|approximately|approx\.?|around|roughly|circa|ca\.?|~|≈)\s*(?=[\d.,+-])", re.IGNORECASE
)
_REFERENCE = re.compile(r"[\s(]+(abs(?:olute)?|gauge|gage)\b\.?\)?", re.IGNORECASE)
_TIDY = str.maketrans(
    {"\u2212": "-", "\u2013": "-", "\u2014": "-", "\u00a0": " ", "\u202f": " ", "\u2026": ".."}
)

# Units in which people write thousands with a comma: "6,800 rpm" must not become 6.8 rpm.
_THOUSANDS_USUAL = {"rpm", "rpm/s", "ft", "Pa", "m"}

_EXAMPLES = {
    "pressure": '"22 psi", "0.80 bar +/- 0.05 bar" or "11..14 psi"',
    "temperature": '"24 C"',
    "length": '"26 mm" or "38..40 mm"',
    "rotational_speed": '"6800 rpm"',
    "rotational_acceleration": '"400 rpm/s"',
    "volume": '"2.0 L"',
    "mass_flow": '"250 g/s"',
    "volume_flow": '"7.5 L/min"',
    "stiffness": '"6 N/mm"',
    "fraction": '"30 %"',
    "time": '"1.5 s"',
    "angle": '"35 deg"',
    "frequency": '"30 Hz"',
    "voltage": '"13.8 V"',
    "resistance": '"28 ohm"',
    "power": '"150 kW"',
    "torque": '"300 Nm"',
    "mass": '"950 kg"',
    "moment_of_inertia": '"12.5 kg m2"',
    "speed": '"100 km/h"',
    "ratio": '"0.82 1"',
}


def example(dimension: str) -> str:
    """One or more ways to write a quantity of this dimension, for a sentence."""
    return _EXAMPLES[dimension]


def parse_quantity(
    text: object,
    *,
    dimension: str,
    usual_sd: float | UsualTolerance | None = None,
    gauge_default: Reference = "gauge",
    reference_fixed: bool = False,
    where: str = "",
) -> Quantity:
    """Read one quantity.

    Parameters
    ----------
    text : what was written; anything but text (a bare number, true/false) is refused
    dimension : what is expected, a key of :data:`boostproof.units.DIMENSIONS`
    usual_sd : standard deviation of a value written without one: in SI, or as a
        :class:`UsualTolerance`. Without it, the doubt of the last digit written (half a step, flat)
    gauge_default : what a pressure without ``abs`` or ``gauge`` is; a "difference" is neither
    reference_fixed : refuse the other word (a barometer is always absolute)
    where : file and line, for the error

    Raises
    ------
    InputError
        Saying what is wrong, the accepted units, and the nearest right one.

    Examples
    --------
    >>> boost = parse_quantity("0,80 bar ± 0.05 bar", dimension="pressure")
    >>> boost.value, boost.sd, boost.reference
    (80000.0, 2500.0, 'gauge')
    >>> spring = parse_quantity("11 or 12 psi", dimension="pressure")
    >>> spring.form, round(spring.low), round(spring.high)
    ('range', 75842, 82737)
    """
    reader = _Reader(text, dimension, usual_sd, gauge_default, reference_fixed, where)
    return reader.read()


@dataclass(frozen=True)
class _Reader:
    """One parse: what is expected, so that every refusal can say it."""

    written: object
    dimension: str
    usual: float | UsualTolerance | None
    default: Reference
    fixed: bool
    where: str

    def read(self) -> Quantity:
        if self.dimension not in DIMENSIONS:
            raise ValueError(f"unknown dimension {self.dimension!r}")
        if isinstance(self.written, bool) or not isinstance(self.written, (str, int, float)):
            raise self._refuse(f"{_shown(self.written)} is not a quantity.", self._how())
        if not isinstance(self.written, str):
            raise self._refuse(f"{self.written} has no unit.", self._how(self.written))
        body = self.written.translate(_TIDY).strip()
        body = re.sub(r"\+\s*/\s*-|\+-", "±", body)
        if not body:
            raise self._refuse("The text is empty.", f"{self._how()} Leave the key out if it is not known.")
        body, said = self._take_reference(body)
        about = _ABOUT.match(body)
        if about:
            body = body[about.end() :]
        spread = _TOLERANCE.match(body)
        if spread:
            return self._tolerance(spread, said, bool(about))
        ends = _RANGE.match(body) or _DASH.match(body)
        if ends:
            return self._range(ends, said)
        if re.match(rf"^[+-]\s*{_NUMBER}\s*-\s*{_NUMBER}", body, re.IGNORECASE):
            raise self._refuse(
                f'"{self.written}" can be read in more than one way.',
                "Write a range with a negative end with two points, for example -5..10 kPa.",
            )
        single = _EXACT.match(body)
        if not single:
            what = dimension_phrase(self.dimension)
            raise self._refuse(f'"{self.written}" cannot be read as {what}.', self._how())
        number = self._number(single["a"], single["unit"])
        unit, said = self._unit(single["unit"], number, said)
        value = to_si(number, unit)
        if about and number != 0.0:
            return self._make(value, ABOUT_SHARE * abs(number) * unit.factor / 2.0, "about", said, unit)
        step = 10.0 ** -_decimals(single["a"]) * unit.factor
        return self._make(value, self._usual_sd(value, step), "exact", said, unit)

    def _tolerance(self, match: re.Match[str], said: Reference | None, about: bool) -> Quantity:
        if about:
            raise self._refuse(f'"{self.written}" has both "about" and a tolerance.', "Write one of them.")
        unit_text = match["unit"].strip() or match["tunit"]
        if not match["tunit"].strip():
            raise self._refuse(f'The tolerance in "{self.written}" has no unit.', self._how())
        number = self._number(match["a"], unit_text)
        unit, said = self._unit(unit_text, number, said)
        width = self._number(match["t"], match["tunit"])
        if match["tunit"].strip() == "%" and self.dimension not in {"fraction", "temperature"}:
            half = abs(number) * width / 100.0 * unit.factor
        else:
            tolerance_unit, _ = self._unit(match["tunit"], width, said)
            half = width * tolerance_unit.factor
        if half <= 0.0:
            raise self._refuse(
                f'The tolerance in "{self.written}" is zero; no value is that sure.',
                "Leave the tolerance out and the usual one is taken.",
            )
        return self._make(to_si(number, unit), half / 2.0, "tolerance", said, unit)

    def _range(self, match: re.Match[str], said: Reference | None) -> Quantity:
        first, second = self._number(match["a"], match["unit"]), self._number(match["b"], match["unit"])
        unit, said = self._unit(match["unit"], second, said)
        unit_first = unit
        if match["unit_a"] and match["unit_a"].strip():
            unit_first, said = self._unit(match["unit_a"], first, said)
        low, high = sorted((to_si(first, unit_first), to_si(second, unit)))
        if high - low <= 1e-12 * max(abs(low), abs(high)):
            step = 10.0 ** -_decimals(match["b"]) * unit.factor
            return self._make(high, self._usual_sd(high, step), "exact", said, unit)
        middle = (low + high) / 2.0
        return self._make(middle, _range_sd(high - low), "range", said, unit, (low, high))

    def _make(
        self,
        value: float,
        sd: float,
        form: Form,
        said: Reference | None,
        unit: Unit,
        ends: tuple[float, float] | None = None,
    ) -> Quantity:
        reference = self._reference(said)
        low, high = ends or (value - 2.0 * sd, value + 2.0 * sd)
        lowest = ends[0] if ends else value
        if reference == "abs" and lowest <= 0.0:
            raise self._refuse(
                f'"{self.written}" is not possible: an absolute pressure is above zero.',
                "Leave the word abs out if it is measured against the air around.",
            )
        if reference == "gauge" and lowest < -1.1e5:
            raise self._refuse(
                f'"{self.written}" is below a perfect vacuum.',
                "Check the sign and the unit.",
            )
        if self.dimension == "temperature" and lowest < 0.0:
            raise self._refuse(f'"{self.written}" is below absolute zero.', "Check the sign and the unit.")
        text = str(self.written).strip()
        return Quantity(text, self.dimension, value, sd, low, high, form, reference, unit)

    def _take_reference(self, body: str) -> tuple[str, Reference | None]:
        words: list[Reference] = []
        for match in _REFERENCE.finditer(body):
            words.append("abs" if match[1].lower().startswith("abs") else "gauge")
        if not words:
            return body, None
        if self.dimension != "pressure":
            raise self._refuse(
                f'"{self.written}": abs and gauge are only for pressures, and this is '
                f"{dimension_phrase(self.dimension)}.",
                self._how(),
            )
        if len(set(words)) > 1:
            raise self._refuse(f'"{self.written}" says both abs and gauge.', "Write one of them.")
        return _REFERENCE.sub("", body).strip(), words[0]

    def _reference(self, said: Reference | None) -> Reference | None:
        if self.dimension != "pressure":
            return None
        if self.default == "difference":
            if said == "abs":
                raise self._refuse(
                    f'"{self.written}" is a difference of two pressures, so abs has no meaning here.',
                    "Leave the word abs out.",
                )
            return "difference"
        if self.fixed and said is not None and said != self.default:
            always = "absolute" if self.default == "abs" else "gauge"
            raise self._refuse(
                f'"{self.written}": this pressure is always {always}.', f"Leave the word {said} out."
            )
        return said or self.default

    def _unit(self, text: str, number: float, said: Reference | None) -> tuple[Unit, Reference | None]:
        written = text.strip().rstrip(".,;")
        if not written:
            raise self._refuse(f'"{self.written}" has no unit.', self._how(number))
        if self.dimension == "pressure":
            written, marked = split_reference(written)
            if marked and said and marked != said:
                raise self._refuse(f'"{self.written}" says both abs and gauge.', "Write one of them.")
            said = said or marked
        unit = find_unit(written, self.dimension)
        if unit is not None:
            return unit, said
        expected = dimension_phrase(self.dimension)
        other = find_unit(written)
        if other is not None:
            says = f'"{self.written}" is {dimension_phrase(other.dimension)}, but {expected} is expected.'
            raise self._refuse(says, self._how())
        near = nearest_units(written, self.dimension)
        hint = f"Did you mean {' or '.join(near)}? " if near else ""
        says = f'"{written}" in "{self.written}" is not a unit of {expected.split(" ", 1)[1]}.'
        raise self._refuse(says, hint + self._how())

    def _number(self, text: str, unit_text: str) -> float:
        plain = text.replace(" ", "") if "/" not in text else text.strip()
        if "/" in plain:
            whole, _, fraction = plain.rpartition(" ")
            top, bottom = fraction.split("/")
            if int(bottom) == 0:
                raise self._refuse(f'"{text}" divides by zero.', self._how())
            return float(whole or 0) + int(top) / int(bottom)
        mantissa = re.split("e", plain, flags=re.IGNORECASE)[0]
        marks = [character for character in mantissa if character in ".,"]
        if len(marks) > 1:
            raise self._refuse(
                f'"{text}" has more than one point or comma, so it can be read in more than one way.',
                "Write thousands without a mark and at most one decimal point or comma.",
            )
        unit = find_unit(unit_text.strip(), self.dimension)
        thousands = re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", mantissa)
        if thousands and unit is not None and unit.name in _THOUSANDS_USUAL:
            joined, pointed = mantissa.replace(",", ""), mantissa.replace(",", ".")
            raise self._refuse(
                f'"{text}" can be read as {joined} or as {pointed}.',
                f"Write {joined} or {pointed.rstrip('0')}.",
            )
        value = float(plain.replace(",", "."))
        if not math.isfinite(value):
            raise self._refuse(f'"{text}" is too large a number.', self._how())
        return value

    def _usual_sd(self, value: float, step: float) -> float:
        if isinstance(self.usual, UsualTolerance):
            sd = self.usual.sd(value)
        else:
            sd = self.usual or 0.0
        return sd if sd > 0.0 else step / math.sqrt(12.0)

    def _how(self, number: float | None = None) -> str:
        units = accepted_units(self.dimension)
        accepted = f"Accepted units: {', '.join(units)}."
        if number is not None:
            return f'Write the unit with it, for example "{number:g} {units[0]}". {accepted}'
        return f"Write {example(self.dimension)}. {accepted}"

    def _refuse(self, says: str, do: str) -> InputError:
        return InputError(says, kind="quantity", where=self.where, do=do)


def _decimals(text: str) -> int:
    """How many decimals a number was written with; fractions of an inch count as two."""
    if "/" in text:
        return 2
    match = re.search(r"[.,](\d+)", text)
    return len(match[1]) if match else 0


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "A list"
    if isinstance(value, dict):
        return "A table"
    return str(value)
