"""Numbers as the shop reads them: imperial or metric, said the same way on every page.

Each function takes the number in the unit that our JSON uses, which its name says, and the shop's choice
of units; the templates have each as a filter that knows the choice (``{{ 113.3 | kpa }}``). A gauge pressure
is written without a word, one that counts from vacuum with "abs"; the foot of every page says so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import jinja2

from boostproof.units import Unit, from_si, get_unit

IMPERIAL, METRIC = "imperial", "metric"
SYSTEMS = (IMPERIAL, METRIC)
NOTHING = "–"
_NARROW = "\u202f"  # between a number and its unit: never broken over two lines


@dataclass(frozen=True)
class Shown:
    """One kind of quantity on screen.

    Attributes
    ----------
    comes_in : unit of our JSON
    imperial, metric : units of the shop, with the decimals that it reads
    """

    comes_in: Unit
    imperial: tuple[Unit, int]
    metric: tuple[Unit, int]

    def unit(self, units: str) -> tuple[Unit, int]:
        """Unit and decimals for a choice of units."""
        return self.imperial if units == IMPERIAL else self.metric

    def number(self, value: float, units: str, *, difference: bool = False) -> float:
        """The number in the shop's unit."""
        unit, _ = self.unit(units)
        if difference:
            return value * self.comes_in.factor / unit.factor
        return from_si(value * self.comes_in.factor + self.comes_in.offset, unit)


def _kind(comes_in: str, imperial: tuple[str, int], metric: tuple[str, int], dimension: str) -> Shown:
    def unit(name: str) -> Unit:
        return get_unit(name, dimension)

    return Shown(unit(comes_in), (unit(imperial[0]), imperial[1]), (unit(metric[0]), metric[1]))


KINDS: dict[str, Shown] = {
    "kpa": _kind("kPa", ("psi", 1), ("kPa", 0), "pressure"),
    "celsius": _kind("C", ("F", 0), ("C", 0), "temperature"),
    "g_per_s": _kind("g/s", ("lb/min", 1), ("g/s", 0), "mass_flow"),
    "mm": _kind("mm", ("mm", 1), ("mm", 1), "length"),
    "nm": _kind("Nm", ("lb-ft", 0), ("Nm", 0), "torque"),
    "kw": _kind("kW", ("hp", 0), ("kW", 0), "power"),
}
_SIGNS = {"C": "°C", "F": "°F", "Nm": "N m"}


def unit_name(kind: str, units: str) -> str:
    """The shop's unit of a kind of quantity, as written on screen (``"psi"``, ``"°C"``)."""
    name = KINDS[kind].unit(units)[0].name
    return _SIGNS.get(name, name)


def quantity(kind: str, value: float | None, units: str, *, digits: int | None = None, sd: float | None = None,
             difference: bool = False) -> str:
    """A number with its unit, and with ± where a doubt is given (two standard deviations)."""
    if value is None:
        return NOTHING
    shown = KINDS[kind]
    decimals = shown.unit(units)[1] if digits is None else digits
    number = _number(shown.number(value, units, difference=difference), decimals)
    name = unit_name(kind, units)
    if sd is None:
        return f"{number}{_NARROW}{name}"
    doubt = _number(shown.number(2.0 * sd, units, difference=True), decimals)
    return f"{number} ± {doubt}{_NARROW}{name}"


def kpa(value: float | None, units: str, **how: Any) -> str:
    """A gauge pressure that comes in kPa."""
    return quantity("kpa", value, units, **how)


def kpa_numbers(values: Sequence[float], units: str, *, difference: bool = False) -> list[float]:
    """Gauge pressures that come in kPa as bare numbers in the shop's unit, to be drawn."""
    return [KINDS["kpa"].number(value, units, difference=difference) for value in values]


def kpa_abs(value: float | None, units: str, **how: Any) -> str:
    """A pressure above vacuum that comes in kPa."""
    return NOTHING if value is None else f"{quantity('kpa', value, units, **how)} abs"


def kpa_difference(value: float | None, units: str, **how: Any) -> str:
    """A difference of pressures that comes in kPa."""
    return quantity("kpa", value, units, difference=True, **how)


def celsius(value: float | None, units: str, **how: Any) -> str:
    """A temperature that comes in degrees Celsius."""
    return quantity("celsius", value, units, **how)


def g_per_s(value: float | None, units: str, **how: Any) -> str:
    """A flow of air that comes in g/s."""
    return quantity("g_per_s", value, units, **how)


def mm(value: float | None, units: str, **how: Any) -> str:
    """A size that comes in mm; ports and travel are read in mm in every shop."""
    return quantity("mm", value, units, **how)


def nm(value: float | None, units: str, **how: Any) -> str:
    """A torque that comes in N m."""
    return quantity("nm", value, units, **how)


def kw(value: float | None, units: str, **how: Any) -> str:
    """A power that comes in kW."""
    return quantity("kw", value, units, **how)


def rpm(value: float | None, units: str = IMPERIAL) -> str:
    """An engine speed (``"4,210 rpm"``)."""
    return NOTHING if value is None else f"{value:,.0f}{_NARROW}rpm"


def share(value: float | None, units: str = IMPERIAL) -> str:
    """A share of 0 to 1 in per cent; what is not quite nothing or everything is said so."""
    if value is None:
        return NOTHING
    if 0.0 < value < 0.01:
        return f"under 1{_NARROW}%"
    if 0.99 < value < 1.0:
        return f"over 99{_NARROW}%"
    return f"{value * 100.0:.0f}{_NARROW}%"


def minutes(value: float | None, units: str = IMPERIAL) -> str:
    """A time that comes in minutes (``"45 min"``, ``"2 h 10 min"``)."""
    if value is None:
        return NOTHING
    whole = round(value)
    hours, rest = divmod(whole, 60)
    if hours < 2:
        return f"{whole}{_NARROW}min"
    return f"{hours}{_NARROW}h" + (f" {rest}{_NARROW}min" if rest else "")


def file_size(value: float, units: str = IMPERIAL) -> str:
    """The size of a file that comes in bytes."""
    for name, factor in (("MB", 1e6), ("kB", 1e3)):
        if value >= factor:
            return f"{value / factor:.1f}{_NARROW}{name}" if value < 10 * factor else f"{value / factor:.0f}{_NARROW}{name}"
    return f"{value:.0f}{_NARROW}bytes"


def day(value: str, units: str = IMPERIAL) -> str:
    """The day and time of an ISO time in UTC, where this machine stands."""
    when = datetime.fromisoformat(value).astimezone()
    return f"{when.day} {when:%B %Y, %H:%M}"


def _number(value: float, decimals: int) -> str:
    text = f"{value:,.{decimals}f}"
    return text.lstrip("-") if float(text.replace(",", "")) == 0.0 else text.replace("-", "−")


def _filter(function: Callable[..., str]) -> Callable[..., str]:
    @jinja2.pass_context
    def filtered(context: jinja2.runtime.Context, value: Any, **how: Any) -> str:
        return function(value, context["units"], **how)

    return filtered


FILTERS: dict[str, Callable[..., str]] = {
    function.__name__: _filter(function)
    for function in (kpa, kpa_abs, kpa_difference, celsius, g_per_s, mm, nm, kw, rpm, share, minutes, file_size, day)
}
