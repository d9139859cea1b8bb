"""Gate areas by point and candidate, what is to be said of them, and their bands."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntFlag
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError
from boostproof.physics.ranges import within

Array: TypeAlias = NDArray[np.float64]

#: Areas are not told apart beyond this one, 113 mm of open hole. [m2]
AREA_LIMIT = 1.0e-2


class GateFlag(IntFlag):
    """What is to be said of an area; several may hold at once.

    SHUT : the turbine cannot give the torque even with the gate shut: spooling, or not this car; area 0
    WIDE : at least 1 % more than the candidate's gates give at full travel, leaks included
    COASTING : the shaft needs less torque than the turbine gives at any exhaust pressure; area `AREA_LIMIT`
    CHOKED : the candidate's compressor cannot pass the air at any speed; area 0, means nothing
    UNBOOSTED : the engine draws more past the wheel than it needs; area 0, means nothing
    SENSOR_END : the boost sensor stands at its end of range; the area is that of the reading
    UNSETTLED : the sweeps have not come to rest
    """

    SHUT = 1
    WIDE = 2
    COASTING = 4
    CHOKED = 8
    UNBOOSTED = 16
    SENSOR_END = 32
    UNSETTLED = 64


#: With one of these an area says nothing of the gate, and `GateArea.band` leaves the candidate out.
NOT_KNOWN = GateFlag.CHOKED | GateFlag.UNBOOSTED | GateFlag.SENSOR_END | GateFlag.UNSETTLED


@dataclass(frozen=True)
class Band:
    """Quantiles over candidates.

    Attributes
    ----------
    probabilities : (k,)
    area : (k, points) effective gate area, leaks past the turbine included [m2]
    used : (points,) share of the candidates' weight behind it; where it is 0 nothing is known, and the
        quantiles are those of an even spread from 0 to `AREA_LIMIT`
    """

    probabilities: Array
    area: Array
    used: Array


@dataclass(frozen=True)
class GateArea:
    """Gate area by point and candidate, and what the car did on the way there.

    Attributes
    ----------
    engine_speed : (points,) [rad/s]
    area : (points, n) effective, all leaks past the turbine included [m2]
    largest : (n,) what the gates give at full travel, leaks included [m2]
    flags : (points, n) `GateFlag`
    boost : (points, n) at the manifold, gauge [Pa]
    charge_pressure, exhaust_pressure, outlet_pressure : (points, n) after the compressor, before and after
        the turbine [Pa abs]
    shaft_speed : (points, n) [rad/s]
    torque : (points, n) on the shaft from the turbine [N m]
    compressor_power : (points, n) [W]
    engine_flow : (points, n) air into the cylinders [kg/s]
    exhaust_flow, gate_flow : (points, n) all exhaust, and the part past the turbine [kg/s]
    exhaust_temperature : (points, n) [K]
    """

    engine_speed: Array
    area: Array
    largest: Array
    flags: NDArray[np.uint8]
    boost: Array
    charge_pressure: Array
    exhaust_pressure: Array
    outlet_pressure: Array
    shaft_speed: Array
    torque: Array
    compressor_power: Array
    engine_flow: Array
    exhaust_flow: Array
    gate_flow: Array
    exhaust_temperature: Array

    @property
    def margin(self) -> Array:
        """Largest area less this one; negative where the gate is too small. (points, n) [m2]"""
        return np.asarray(self.largest - self.area)

    def flagged(self, flag: GateFlag) -> NDArray[np.bool_]:
        """Where one of the flags holds. (points, n)"""
        return np.asarray((self.flags & int(flag)) != 0)

    def band(self, probabilities: ArrayLike, weights: ArrayLike | None = None) -> Band:
        """Quantiles of the area over candidates.

        Between the candidates' areas in order of size, each at the middle of its weight (Hazen's positions).
        Candidates flagged `NOT_KNOWN` at a point are left out there; `Band.used` says what remains.

        Parameters
        ----------
        probabilities : (k,) or one, 0 to 1
        weights : (n,) not negative; equal where None

        Raises
        ------
        InputRangeError
            Probabilities outside 0 to 1, or weights that are negative, all zero or not one per candidate.
        """
        p = within(np.atleast_1d(np.asarray(probabilities, float)), 0.0, 1.0, name="probabilities", unit="",
                   where="band", do="Give 0.05 for the 5 % quantile.")  # fmt: skip
        points, n = self.area.shape
        w = np.full(n, 1.0) if weights is None else np.asarray(weights, float)
        if w.shape != (n,) or not np.all(np.isfinite(w)) or np.any(w < 0.0) or not np.any(w > 0.0):
            raise InputRangeError(
                f"weights must be {n} numbers, none negative and not all zero.",
                kind="range", where="band", do="Give one weight for each candidate, or none.",
            )  # fmt: skip
        shares = np.where(self.flagged(NOT_KNOWN), 0.0, w / w.sum())
        area = np.empty((len(p), points))
        used = shares.sum(axis=1)
        for i in range(points):
            if used[i] <= 0.0:
                area[:, i] = p * AREA_LIMIT
                continue
            order = np.argsort(self.area[i])
            order = order[shares[i, order] > 0.0]
            share = shares[i, order]
            area[:, i] = np.interp(p, (np.cumsum(share) - 0.5 * share) / used[i], self.area[i, order])
        return Band(p, area, used)
