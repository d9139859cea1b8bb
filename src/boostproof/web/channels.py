"""Channels of a log as the shop reads them: a name in words, a unit and its decimals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.units import Unit, find_unit, from_si, get_unit
from boostproof.web.shown import IMPERIAL
from boostproof.web.words import t

# Dimension -> unit and decimals of an imperial and of a metric shop.
_UNITS: dict[str, tuple[tuple[str, int], tuple[str, int]]] = {
    "pressure": (("psi", 1), ("kPa", 0)),
    "temperature": (("F", 0), ("C", 0)),
    "rotational_speed": (("rpm", 0), ("rpm", 0)),
    "rotational_acceleration": (("rpm/s", 0), ("rpm/s", 0)),
    "mass_flow": (("lb/min", 1), ("g/s", 0)),
    "volume_flow": (("cfm", 0), ("L/min", 0)),
    "fraction": (("%", 0), ("%", 0)),
    "time": (("s", 1), ("s", 1)),
    "angle": (("deg", 1), ("deg", 1)),
    "frequency": (("Hz", 0), ("Hz", 0)),
    "voltage": (("V", 2), ("V", 2)),
    "power": (("hp", 0), ("kW", 0)),
    "torque": (("lb-ft", 0), ("Nm", 0)),
    "speed": (("mph", 0), ("km/h", 0)),
}
_SIGNS = {"C": "°C", "F": "°F", "deg": "°", "Nm": "N m"}
_PLAIN_DIGITS = 2
_SHUT, _OPEN = 0.03, 0.97  # of the gate's travel, within which it is said to be at its end
GATE = "gate_position"
FIRST = ("boost", "manifold_pressure")  # whichever the log holds is what the first plot shows
LEAST_USED = frozenset({"time", "engine_speed"})


@dataclass(frozen=True)
class Shown:
    """How one channel is shown.

    Attributes
    ----------
    name : in words
    unit : None for plain numbers
    sign : the unit as written, empty without one
    digits : decimals
    """

    name: str
    unit: Unit | None
    sign: str
    digits: int

    def numbers(self, si: NDArray[np.floating[Any]]) -> NDArray[np.floating[Any]]:
        """SI values in the shop's unit."""
        return si if self.unit is None else from_si(si, self.unit)

    def panel(self, channel: str) -> dict[str, Any]:
        """What a plot needs to know: words, unit, and for the gate words in place of numbers."""
        about: dict[str, Any] = {
            "label": self.name,
            "unit": self.sign,
            "digits": self.digits,
            "says": t("pulls.cursor.value" if self.sign in ("", "%", "°") or not self.sign else "pulls.cursor.unit"),
            "zero": channel == "boost",
        }
        if channel not in FIRST:
            about["says"] = f"{self.name} {about['says']}"
        if channel == GATE:
            about["levels"] = [
                [100.0 * _SHUT, t("pulls.cursor.gate_shut")],
                [100.0 * _OPEN, t("pulls.cursor.gate_part")],
                [1e9, t("pulls.cursor.gate_open")],
            ]
        return about


def shown_channel(channel: str, unit: str, reference: str | None, units: str) -> Shown:
    """A channel as read, for a choice of units.

    Parameters
    ----------
    channel : our name
    unit : of the numbers in the file, which tells what they are; empty where it says nothing
    reference : gauge or abs of a pressure
    units : "imperial" or "metric"
    """
    from boostproof.recording.columns.channel_table import BY_NAME

    known = find_unit(unit) if unit else None
    dimension = known.dimension if known is not None else "ratio"
    if known is None and channel in BY_NAME and unit == "inHg/psi":
        dimension = "pressure"
    name = channel_name(channel)
    if reference == "abs":
        name = t("pulls.absolute", name=name)
    chosen = _UNITS.get(dimension)
    if chosen is None:
        return Shown(name, None, "", _PLAIN_DIGITS)
    text, digits = chosen[0] if units == IMPERIAL else chosen[1]
    return Shown(name, get_unit(text, dimension), _SIGNS.get(text, text), digits)


def channel_name(channel: str) -> str:
    """What a channel is called."""
    return t(f"pulls.channels.{channel}")


def known_channels() -> tuple[tuple[str, str], ...]:
    """Every channel that a column can be named for, with its name, in the order of the words."""
    from boostproof.recording.setup import CHANNEL_NAMES

    return tuple(sorted(((name, channel_name(name)) for name in CHANNEL_NAMES), key=lambda pair: pair[1].casefold()))
