"""How an answer was understood, in words: "11 to 12 psi gauge"; or what was expected instead."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from boostproof.errors import InputError
from boostproof.quantity import Quantity
from boostproof.units import Unit, from_si, get_unit
from boostproof.web.shown import IMPERIAL
from boostproof.web.words import t
from boostproof.workflows.bench_form import NO, YES
from boostproof.workflows.car_answer import Problem, key_at, tidied, understood

_SIGNS = {"C": "°C", "F": "°F"}
# the unit that the shop reads, by dimension; only for what is commonly told in several
_SHOP = {
    "pressure": {"imperial": "psi", "metric": "kPa"},
    "temperature": {"imperial": "F", "metric": "C"},
    "length": {"imperial": "mm", "metric": "mm"},
}  # fmt: skip
_LONG = 0.3  # metres: beyond it a length is no size of a part


@dataclass(frozen=True)
class Understood:
    """What to say beside an answer.

    Attributes
    ----------
    name : of the answer
    ok : whether it can be used (nothing said can)
    says : how it is understood, or what is wrong; "" where there is nothing to say
    do : what would be right
    offers : texts that would do instead, one tap each
    """

    name: str
    ok: bool
    says: str
    do: str = ""
    offers: tuple[str, ...] = ()


@lru_cache(maxsize=4096)
def answer_understood(name: str, said: tuple[str, ...], units: str = IMPERIAL) -> Understood:
    """What to say beside an answer as it is typed.

    Parameters
    ----------
    name : of the answer ("limits.target")
    said : as typed
    units : the shop's choice, for a second unit where it was typed in another

    Raises
    ------
    InputError
        If there is no such answer.

    Examples
    --------
    >>> answer_understood("limits.target", ("11 or 12 psi",)).says
    '11 to 12 psi gauge'
    """
    found = understood(name, said)
    if isinstance(found, Problem):
        return wrong(name, found)
    if isinstance(found, Quantity):
        return Understood(name, True, quantity_says(found, units))
    key = key_at(name)
    if key.kind == "quantity" and isinstance(found, str):
        return Understood(name, True, t("car.understood.none") if found == "none" else found)
    if key.kind == "turns" and isinstance(found, float):
        return Understood(name, True, t("car.understood.turns", turns=f"{found:g}"))
    if found is None and tidied(said):
        return Understood(name, True, t("car.understood.unknown"))
    return Understood(name, True, "")


def wrong(name: str, problem: Problem) -> Understood:
    """A problem, to be said beside the answer; words in quotes as people read them."""
    do = problem.do.replace("Leave the key out if it is not known.", t("car.understood.leave_out"))
    if problem.offers:  # one tap says more than the list of units
        do = t("car.understood.choose")
    return Understood(name, False, problem.says, do, problem.offers)


def quantity_says(found: Quantity, units: str = IMPERIAL) -> str:
    """A quantity as it was understood, with its doubt, and in the shop's unit too where it was typed in another."""
    text = _in_unit(found, found.unit)
    other = _other_unit(found, units)
    return text if other is None else t("car.understood.also", says=text, also=_in_unit(found, other, short=True))


def _in_unit(found: Quantity, unit: Unit, *, short: bool = False) -> str:
    name = _SIGNS.get(unit.name, unit.name)
    reference = {"gauge": "gauge", "abs": "abs"}.get(found.reference or "", "")
    suffix = f" {name}" + (f" {reference}" if reference and not short else "")
    low, value, high = (from_si(x, unit) for x in (found.low, found.value, found.high))
    doubt = 2.0 * found.sd / unit.factor
    if found.form == "range":
        return t("car.understood.range", low=_number(low, high - low), high=_number(high, high - low), unit=suffix)
    if short:
        return t("car.understood.plain", value=_number(value, doubt), unit=suffix)
    if found.form == "about":
        return t(
            "car.understood.about", value=_number(value, doubt), unit=suffix,
            low=_number(low, doubt), high=_number(high, doubt),
        )  # fmt: skip
    form = "tolerance" if found.form == "tolerance" else "usual"
    return t(f"car.understood.{form}", value=_number(value, doubt), unit=suffix, doubt=_doubt(doubt), name=name)


def _other_unit(found: Quantity, units: str) -> Unit | None:
    choice = _SHOP.get(found.dimension)
    if choice is None or (found.dimension == "length" and abs(found.value) > _LONG):
        return None
    unit = get_unit(choice[units if units in choice else IMPERIAL], found.dimension)
    return None if unit.name == found.unit.name else unit


def _number(value: float, doubt: float) -> str:
    """A number with no more decimals than its doubt bears, and never fewer than it needs to be told apart."""
    decimals = 0 if doubt >= 5.0 else 1 if doubt >= 0.3 else 2 if doubt >= 0.02 else 3
    text = f"{value:,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _doubt(doubt: float) -> str:
    rounded = float(f"{doubt:.1g}" if doubt < 1.0 else f"{doubt:.2g}")
    return f"{rounded:,.0f}" if rounded >= 10.0 else f"{rounded:g}"


def said_of(value: Any) -> str:
    """A word of the file as read on screen."""
    return {YES: t("car.yes"), NO: t("car.no")}.get(value, str(value))


__all__ = ["InputError", "Understood", "answer_understood", "quantity_says", "said_of", "wrong"]
