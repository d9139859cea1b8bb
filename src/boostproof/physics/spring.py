"""The helical compression spring: rate, stress, and what a wrong or hot wire does to it.

The spring decides at which pressure a wastegate opens; its rate decides how much boost rises while the
gate travels. Equations of EN 13906-1 (standard not opened; as repeated in machine-element texts).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError


@dataclass(frozen=True)
class Wire:
    """What a spring is wound from.

    Attributes
    ----------
    name : the material
    shear_modulus : G at 20 °C [Pa]
    softening : share of G lost per kelvin above 20 °C [1/K]
    """

    name: str
    shear_modulus: float
    softening: float


#: EN 13906-1 and EN 10270, from memory. The softening of 0.03 %/K holds roughly from -40 to 250 °C.
PATENTED_STEEL = Wire("patented cold drawn unalloyed steel, EN 10270-1", 81.5e9, 3.0e-4)
STAINLESS_STEEL = Wire("stainless steel 1.4310, EN 10270-3", 73.0e9, 3.0e-4)

_REFERENCE_TEMPERATURE = 293.15  # K


@dataclass(frozen=True)
class Spring:
    """A round-wire helical compression spring.

    Attributes
    ----------
    wire_diameter : d [m]
    mean_diameter : D, from wire centre to wire centre [m]
    active_coils : n [1]
    wire : material

    Raises
    ------
    InputRangeError
        If a size is not positive, or the spring index D/d lies outside 3 to 30 (the equations do not
        hold there; EN 13906-1 asks for 4 to 20).

    Examples
    --------
    >>> spring = Spring(2.5e-3, 32e-3, 5.5)
    >>> round(spring.index, 1), round(float(spring_rate(spring)))
    (12.8, 2208)
    """

    wire_diameter: float
    mean_diameter: float
    active_coils: float
    wire: Wire = PATENTED_STEEL

    def __post_init__(self) -> None:
        for name in ("wire_diameter", "mean_diameter", "active_coils"):
            if not 0.0 < getattr(self, name) < np.inf:
                raise InputRangeError(
                    f"{name} must be positive, got {getattr(self, name):g}.", kind="range", where="Spring"
                )
        if not 3.0 <= self.index <= 30.0:
            raise InputRangeError(
                f"The spring index, mean over wire diameter, must lie between 3 and 30, got "
                f"{self.index:.3g}.",
                kind="range",
                where="Spring",
                do="Measure the mean diameter from wire centre to wire centre: outer diameter less one wire.",
            )

    @property
    def index(self) -> float:
        """Spring index ``w = D / d``. [1]"""
        return self.mean_diameter / self.wire_diameter


def shear_modulus(wire: Wire, temperature: ArrayLike = _REFERENCE_TEMPERATURE) -> NDArray[np.float64]:
    """Shear modulus of the hot wire, ``G20 (1 - a (T - 293.15 K))``.

    Parameters
    ----------
    wire : material
    temperature : of the wire, any shape, 230 to 620 K [K]

    Returns
    -------
    ndarray
        [Pa]

    Raises
    ------
    InputRangeError
        If a temperature lies outside 230 to 620 K (spring steel takes a set beyond).

    Examples
    --------
    A can at 120 °C has a spring that is 3 % softer than on the bench.

    >>> round(float(shear_modulus(PATENTED_STEEL, 393.15) / 81.5e9), 3)
    0.97
    """
    t = np.asarray(temperature, float)
    if not np.all((t >= 230.0) & (t <= 620.0)):
        raise InputRangeError(
            f"temperature must lie between 230 and 620 K, got {t.min():g} to {t.max():g} K.",
            kind="range",
            where="shear_modulus",
            do="Give the temperature in kelvin.",
        )
    return wire.shear_modulus * (1.0 - wire.softening * (t - _REFERENCE_TEMPERATURE))


def spring_rate(spring: Spring, temperature: ArrayLike = _REFERENCE_TEMPERATURE) -> NDArray[np.float64]:
    """Force per deflection, ``R = G d^4 / (8 D^3 n)``.

    Parameters
    ----------
    spring : the spring
    temperature : of the wire, any shape [K]

    Returns
    -------
    ndarray
        Shape of the temperature. [N/m]

    Raises
    ------
    InputRangeError
        As `shear_modulus`.

    Notes
    -----
    Source: EN 13906-1 (from memory; machine-element texts agree).

    Examples
    --------
    >>> round(float(spring_rate(Spring(2.5e-3, 32e-3, 5.5))) / 1e3, 4)
    2.2081
    """
    size = spring.wire_diameter**4 / (8.0 * spring.mean_diameter**3 * spring.active_coils)
    return shear_modulus(spring.wire, temperature) * size


def rate_sensitivity() -> dict[str, float]:
    """Per cent of rate for one per cent of each size: wire 4, mean diameter -3, coils -1. [1]

    The exponents of the rate's equation. A wire that is 1 % thick, 0.03 mm in 3 mm, is 4 % in rate.

    >>> rate_sensitivity()["wire_diameter"]
    4.0
    """
    return {"wire_diameter": 4.0, "mean_diameter": -3.0, "active_coils": -1.0, "shear_modulus": 1.0}


def stress_factor(index: ArrayLike) -> NDArray[np.float64]:
    """Stress at the inside of the coil over the mean one, ``k = (w + 0.5) / (w - 0.75)``. [1]

    The form of Bergstraesser that EN 13906-1 takes; the same as ``(4 w + 2) / (4 w - 3)``.

    Parameters
    ----------
    index : spring index D / d, any shape, at least 3 [1]

    Raises
    ------
    InputRangeError
        If an index is below 3.

    Examples
    --------
    >>> round(float(stress_factor(12.8)), 4)
    1.1037
    """
    w = np.asarray(index, float)
    if not np.all(w >= 3.0):
        raise InputRangeError(
            f"index must be at least 3, got {w.min():g}.",
            kind="range",
            where="stress_factor",
            do="The index is mean coil diameter over wire diameter.",
        )
    return np.asarray((w + 0.5) / (w - 0.75))


def shear_stress(spring: Spring, force: ArrayLike, *, corrected: bool = False) -> NDArray[np.float64]:
    """Shear stress in the wire, ``8 F D / (pi d^3)``, or that times the stress factor.

    Parameters
    ----------
    spring : the spring
    force : any shape [N]
    corrected : with the factor for the curved wire: for moving loads. Without: for loads at rest.

    Returns
    -------
    ndarray
        Shape of the force. [Pa]

    Notes
    -----
    Source: EN 13906-1 (from memory).

    Examples
    --------
    >>> spring = Spring(2.5e-3, 32e-3, 5.5)
    >>> round(float(shear_stress(spring, 60.0)) / 1e6, 1)
    312.9
    >>> round(float(shear_stress(spring, 60.0, corrected=True)) / 1e6, 1)
    345.4
    """
    factor = stress_factor(spring.index) if corrected else np.asarray(1.0)
    stress = 8.0 * np.asarray(force, float) * spring.mean_diameter / (np.pi * spring.wire_diameter**3)
    return np.asarray(factor * stress)


def force_at_stress(spring: Spring, stress: ArrayLike, *, corrected: bool = False) -> NDArray[np.float64]:
    """Force that brings the wire to a shear stress; the way back of `shear_stress`. [N]

    Examples
    --------
    >>> round(float(force_at_stress(Spring(2.5e-3, 32e-3, 5.5), 312.9e6)), 1)
    60.0
    """
    return np.asarray(np.asarray(stress, float) / shear_stress(spring, 1.0, corrected=corrected))
