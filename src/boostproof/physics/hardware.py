"""Kinds of controller and gate as settings of the one model: what is fitted, and usual sizes.

Each setting is a few rows of a parameter array; there is no other code path for a kind. Sizes are
common practice, no source, unless marked.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputRangeError
from boostproof.physics import layout
from boostproof.physics.wastegate import seat

_POPPET_COSINE, _POPPET_SLOPE = seat(math.pi / 4.0)

CONTROLLERS: Mapping[str, Mapping[str, float]] = {
    "none": {},
    # a ball lets nothing flow back; without a bleed the chamber would stay under pressure
    "ball and spring": {"check": 1.0, "offset": 2.5e4, "bleed_area": 4.5e-7},
    # a bleed lowers the signal only behind a restrictor
    "bleed valve": {"line_area": 8.0e-7, "bleed_area": 4.0e-7},
    "solenoid 3-port": {"solenoid": 1.0, "interrupts": 1.0, "line_area": 2.2e-6, "vent_area": 2.9e-6},
    "solenoid 2-port": {"solenoid": 1.0, "interrupts": 0.0, "line_area": 8.0e-7, "vent_area": 2.0e-6},
    # the valve feeds one chamber while it vents the other
    "solenoid 4-port": {
        "solenoid": 1.0, "interrupts": 1.0, "line_area": 2.2e-6, "vent_area": 2.2e-6,
        "upper_feed": 2.2e-6, "upper_vent": 2.2e-6,
    },
}  # fmt: skip
"""What each kind of boost controller is in the signal line."""

GATES: Mapping[str, Mapping[str, float]] = {
    "internal flapper": {"lever_arm": 2.2e-2},
    "external poppet": {
        "seat_cosine": _POPPET_COSINE, "seat_slope": _POPPET_SLOPE, "port_diameter": 3.6e-2,
        "gate_travel": 1.05e-2, "assistance": 0.38, "diaphragm_area": 3.0e-3, "chamber_volume": 1.0e-4,
        "upper_volume": 1.0e-4, "dump_area": 8.0e-4,
    },
    "external poppet, own dump pipe": {
        "seat_cosine": _POPPET_COSINE, "seat_slope": _POPPET_SLOPE, "port_diameter": 3.6e-2,
        "gate_travel": 1.05e-2, "assistance": 0.38, "diaphragm_area": 3.0e-3, "chamber_volume": 1.0e-4,
        "upper_volume": 1.0e-4, "dump_area": 6.0e-4, "dump_apart": 1.0,
    },
    "twin gates": {"gate_count": 2.0, "port_diameter": 2.0e-2, "lever_arm": 2.2e-2, "other_gates": 1.0},
}  # fmt: skip
"""What each kind of gate is."""


def fitted(
    par: NDArray[np.floating], settings: Mapping[str, float], chosen: NDArray[np.bool_] | None = None
) -> NDArray[np.floating]:
    """A copy of a parameter array with settings made in the chosen candidates (all where None).

    Parameters
    ----------
    par : (parameters, n), SI
    settings : value by parameter name
    chosen : (n,)

    Raises
    ------
    InputRangeError
        A setting is unknown or outside its parameter's range.

    >>> cars = np.array([[p.neutral] * 2 for p in layout.PARAMETERS])
    >>> fitted(cars, CONTROLLERS["ball and spring"])[layout.INDEX["check"]].tolist()
    [1.0, 1.0]
    """
    out = np.array(par)
    for name, value in settings.items():
        row = layout.parameter(name)
        if not row.low <= value <= row.high:
            raise InputRangeError(
                f"{name} must lie between {row.low:g} and {row.high:g} {row.unit}, got {value:g}.",
                kind="range", where="fitted", do="Check the unit of that setting.",
            )  # fmt: skip
        out[layout.INDEX[name], slice(None) if chosen is None else chosen] = value
    return out
