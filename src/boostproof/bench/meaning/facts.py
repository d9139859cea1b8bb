"""What is known of the car, as far as the meaning of its readings needs it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.quantity import Quantity

Array = NDArray[np.float64]

STANDARD_AIR = 101325.0  # Pa abs


@dataclass(frozen=True)
class CarFacts:
    """A car as specified or as last known good; None for what is not known.

    Attributes
    ----------
    controller : kind of controller
    external : external gate
    redline : [rad/s]
    target : boost wanted [Pa gauge]; None where nobody said
    sound : (parameters, n) drawn sound cars of this kind, rows as `physics.layout`
    opening, full_pressure : pressures of the bare actuator
    through : opening pressure through the controller
    travel : to the stop, at the rod
    diaphragm, lever, flapper, port, bleed_hole : sizes
    gates : number of gates
    barometer : of that day
    sensor_range : end of the manifold sensor's range
    """

    controller: str
    external: bool
    redline: float
    target: float | None
    sound: Array = field(repr=False)
    opening: Quantity | None = None
    full_pressure: Quantity | None = None
    through: Quantity | None = None
    travel: Quantity | None = None
    diaphragm: Quantity | None = None
    lever: Quantity | None = None
    flapper: Quantity | None = None
    bleed_hole: Quantity | None = None
    gates: int = 1
    barometer: Quantity | None = None
    sensor_range: Quantity | None = None

    @property
    def air(self) -> float:
        """Pressure around. [Pa abs]"""
        return STANDARD_AIR if self.barometer is None else self.barometer.value
