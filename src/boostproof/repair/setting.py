"""The setting of a boost controller from two settings whose boost is known, and where it can go no lower."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from boostproof.errors import InputError
from boostproof.quantity import parse_quantity

_TURNS_SD, _BOOST_SD = 0.1, 2.0e3  # of a setting by hand [turns] and of a boost read off [Pa] (judgement)
_KNOWN = re.compile(r"^(?P<turns>-?\d+(?:[.,]\d+)?)\s*turns?\s*(?:=|:|,|gave|gives|made)?\s*(?P<boost>.+)$", re.IGNORECASE)
_FAR = 1.5  # times the distance of the two settings beyond the nearer one, from which a straight line is a guess


@dataclass(frozen=True)
class Known:
    """A setting that was driven: turns from slack, or from any mark, and the boost it made [Pa gauge]."""

    turns: float
    boost: float


@dataclass(frozen=True)
class Setting:
    """Where to put the adjuster.

    Attributes
    ----------
    turns, sd : for the target, with its standard deviation
    per_turn : boost that one turn adds [Pa]
    floor : boost with the controller out, the least that spring and gate give: low, middle, high [Pa gauge]
    reachable : chance that the target lies above what the spring alone gives
    far : the setting lies well outside the two that are known
    """

    turns: float
    sd: float
    per_turn: float
    floor: tuple[float, float, float]
    reachable: float
    far: bool


def parse_known(written: str) -> Known:
    """A setting and its boost, as in "2 turns 0.8 bar".

    >>> parse_known("2.5 turns = 14 psi").turns
    2.5

    Raises
    ------
    InputError
        If it cannot be read.
    """
    match = _KNOWN.match(" ".join(written.split()))
    if match is None:
        raise InputError(
            f'"{written}" is no setting with its boost.', kind="setting", where="--known",
            do='Write turns and the boost they made, such as --known "2 turns 0.8 bar".',
        )  # fmt: skip
    boost = parse_quantity(match["boost"], dimension="pressure", where="--known")
    if boost.reference == "abs":
        raise InputError(
            f'"{match["boost"]}" is absolute; boost counts from the air around.', kind="setting", where="--known",
            do="Write it gauge.",
        )  # fmt: skip
    return Known(float(match["turns"].replace(",", ".")), boost.value)


def setting_for(target: float, one: Known, other: Known, floor: tuple[float, float, float], reachable: float) -> Setting:
    """Straight line through two settings: offset adds to boost, so that equal turns add equal boost.

    Parameters
    ----------
    target : boost wanted [Pa gauge]
    one, other : settings that were driven
    floor, reachable : as `Setting` says, from the candidates

    Raises
    ------
    InputError
        If the two are no two settings, or made the same boost.

    >>> found = setting_for(90e3, Known(1.0, 70e3), Known(3.0, 100e3), (50e3, 55e3, 60e3), 1.0)
    >>> round(found.turns, 2), found.per_turn
    (2.33, 15000.0)
    """
    apart = other.turns - one.turns
    if abs(apart) < 2.0 * _TURNS_SD or abs(other.boost - one.boost) < 2.0 * _BOOST_SD:
        raise InputError(
            "The two settings, or what they made, are too near to each other to lay a line through.",
            kind="setting", where="--known", do="Drive one further setting, a turn or more away.",
        )  # fmt: skip
    per_turn = (other.boost - one.boost) / apart
    share = (target - one.boost) / (other.boost - one.boost)
    # each end counts by how near the setting lies to it
    each = math.hypot(_TURNS_SD, _BOOST_SD / per_turn)
    sd = each * math.hypot(1.0 - share, share)
    return Setting(one.turns + share * apart, sd, per_turn, floor, reachable, not -_FAR <= share <= 1.0 + _FAR)
