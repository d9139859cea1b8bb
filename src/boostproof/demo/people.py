"""What stands between a true value and the written one: gauge, eye, ear and habit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .metrics import PSI

Rng = np.random.Generator
BAR, KPA = 1e5, 1e3
UNITS = {"psi": PSI, "bar": BAR, "kPa": KPA}
MARKS = {"psi": (0.25, 0.5, 0.5, 1.0), "bar": (0.02, 0.02, 0.05), "kPa": (2.0, 5.0)}


def plain(value: float, digits: int = 3) -> str:
    """A number as a person writes it, without idle zeros."""
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@dataclass(frozen=True)
class ShopGauge:
    """A gauge with a zero error, a slope error and marks; ``unit`` is what its dial says."""

    unit: str
    mark: float
    zero: float  # Pa
    slope: float

    @classmethod
    def draw(cls, rng: Rng) -> ShopGauge:
        unit = str(rng.choice(["psi", "psi", "psi", "bar", "kPa"]))
        mark = float(rng.choice(MARKS[unit]))
        return cls(
            unit, mark, float(rng.normal(0.0, 0.3)) * mark * UNITS[unit], float(rng.normal(1.0, 0.006))
        )

    @property
    def pascals(self) -> float:
        """One mark in Pa."""
        return self.mark * UNITS[self.unit]

    def reads(self, pressure: float, rng: Rng) -> str:
        """A gauge pressure (Pa) as written down, to the nearest mark."""
        shown = (pressure * self.slope + (self.zero if pressure > 0.3 * self.pascals else 0.0)) / UNITS[
            self.unit
        ]
        marks = round(shown / self.mark + float(rng.normal(0.0, 0.3)))
        return f"{plain(max(marks, 0) * self.mark)} {self.unit}"

    def set_to(self, pressure: float) -> str:
        """A pressure (Pa) that somebody dialled in on purpose, in the gauge's unit."""
        value = pressure / UNITS[self.unit]
        return f"{plain(value, 2 if self.unit == 'bar' else 0)} {self.unit}"


def length(metres: float, rng: Rng, step: float = 0.5) -> str:
    """A travel read off a rule, to half a millimetre; nothing stays nothing."""
    if metres < 1.5e-4:
        return "0 mm"
    value = round((metres * 1e3 + float(rng.normal(0.0, 0.22))) / step) * step
    return f"{plain(max(value, 0.0))} mm"


def seconds(value: float | None, rng: Rng) -> str:
    """A time by feel: at once is 0, then tenths, then whole seconds; None is ``none``."""
    if value is None:
        return "none"
    if value < 0.35:
        return "0 s"
    felt = value * float(rng.normal(1.0, 0.08))
    return f"{plain(felt, 1)} s" if felt < 5.0 else f"{plain(felt, 0)} s"


def loudness(litres_per_minute: float, rng: Rng) -> str:
    """The word for a hiss, by free-air flow, with the ear's own scatter."""
    heard = litres_per_minute * float(np.exp(rng.normal(0.0, 0.15)))
    if heard < 0.5:
        return "none"
    if heard < 2.5:
        return "faint"
    return "clear" if heard < 8.0 else "strong"


def pressure_text(pressure: float, unit: str, rng: Rng | None = None, digits: int | None = None) -> str:
    """A pressure (Pa) in a unit, rounded as people round it in that unit."""
    value = pressure / UNITS[unit]
    if digits is None:
        digits = {"psi": 1, "bar": 2, "kPa": 0}[unit]
    return f"{plain(value, digits)} {unit}"
