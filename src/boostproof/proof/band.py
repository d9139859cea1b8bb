"""Does the curve after the repair lie in the band that was forecast for it, and where does it leave it?"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from boostproof.errors import InputError
from boostproof.recording.model import FloatArray

_LEAST = 100.0  # rpm that they must have in common
_FACTOR = 2.0


@dataclass(frozen=True)
class Left:
    """Engine speeds at which the curve lies outside the band [rpm], and by how much at most [kPa].

    ``sure``: by more than its own doubt somewhere there.
    """

    rpm_from: float
    rpm_to: float
    side: Literal["above", "below"]
    most: float
    sure: bool

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "rpm_from": self.rpm_from,
            "rpm_to": self.rpm_to,
            "side": self.side,
            "most_kpa": self.most,
            "sure": self.sure,
        }


@dataclass(frozen=True)
class BandCheck:
    """The curve after the repair against its forecast.

    Attributes
    ----------
    inside : share of the engine speeds in common at which it lies in the band
    verdict : "as forecast" where it nowhere leaves the band by more than its own doubt
    left : where it leaves it
    rpm, low, high : the band on the curve's own grid [rpm, kPa gauge]
    of : the cause that the band is for; empty for all of them together
    """

    inside: float
    verdict: Literal["as forecast", "not as forecast"]
    left: tuple[Left, ...]
    rpm: FloatArray
    low: FloatArray
    high: FloatArray
    of: str = ""

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "of": self.of,
            "inside": self.inside,
            "verdict": self.verdict,
            "left": [one.as_json() for one in self.left],
            "rpm": self.rpm.tolist(),
            "low_kpa_gauge": self.low.tolist(),
            "high_kpa_gauge": self.high.tolist(),
        }


def against_band(
    rpm: FloatArray,
    boost: FloatArray,
    sd: FloatArray,
    band_rpm: FloatArray,
    band_low: FloatArray,
    band_high: FloatArray,
    of: str = "",
) -> BandCheck:
    """Hold a measured curve against a forecast.

    Parameters
    ----------
    rpm, boost, sd : measured mean curve and its standard uncertainty, shape (n,) [rpm, Pa gauge, Pa]
    band_rpm, band_low, band_high : forecast, shape (m,) [rpm, Pa gauge]
    of : the cause that it is for

    Raises
    ------
    InputError
        If the band is none, or they have too little in common.
    """
    order = np.argsort(band_rpm, kind="stable")
    at, low, high = (np.asarray(values, float)[order] for values in (band_rpm, band_low, band_high))
    if len(at) < 2 or not np.all(np.isfinite([at, low, high])) or np.any(low > high):
        raise InputError(
            "The forecast holds no band: it needs two or more engine speeds, each with a low and a high boost.",
            kind="no-band", where="forecast", do="Give the answer of 'boostproof forecast --json' as it is.",
        )  # fmt: skip
    common = (rpm >= at[0]) & (rpm <= at[-1])
    if common.sum() < 2 or np.ptp(rpm[common]) < _LEAST:
        raise InputError(
            f"The forecast is for {at[0]:,.0f} to {at[-1]:,.0f} rpm, where there are no pulls after the repair.",
            kind="nothing-in-common", where="forecast", do="Drive through the engine speeds of the forecast.",
        )  # fmt: skip
    grid, curve, doubt = rpm[common], boost[common], sd[common]
    low, high = np.interp(grid, at, low), np.interp(grid, at, high)
    beyond = np.where(curve > high, curve - high, np.where(curve < low, curve - low, 0.0))
    left = _left(grid, beyond, doubt)
    return BandCheck(
        float(np.mean(beyond == 0.0)), "not as forecast" if any(one.sure for one in left) else "as forecast", left,
        grid, low / 1e3, high / 1e3, of,
    )  # fmt: skip


def _left(grid: FloatArray, beyond: FloatArray, doubt: FloatArray) -> tuple[Left, ...]:
    sign = np.sign(beyond)
    edges = np.flatnonzero(np.diff(sign)) + 1
    found = []
    for first, last in itertools.pairwise([0, *edges.tolist(), len(sign)]):
        if sign[first] != 0.0:
            part = np.abs(beyond[first:last])
            sure = bool(np.any(part > _FACTOR * doubt[first:last]))
            side: Literal["above", "below"] = "above" if sign[first] > 0.0 else "below"
            found.append(Left(float(grid[first]), float(grid[last - 1]), side, float(part.max()) / 1e3, sure))
    return tuple(found)
