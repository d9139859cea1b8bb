"""Peak power before and after, brought to a standard day where that is right for the engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from boostproof.proof.model import Change, Measured
from boostproof.proof.states import difference_factor, scatter_of_figures
from boostproof.recording.model import Pull
from boostproof.recording.pulls.weather import Air, Controlled, peak_power, weather_factors
from boostproof.uncertainty import combined_uncertainty

_USUAL = 0.01  # share, sd of peak power from pull to pull on one bench; common practice, no source


@dataclass(frozen=True)
class PowerChange:
    """Peak power of both sides [kW].

    Attributes
    ----------
    basis : "sae_j1349" where the factor suits the engine and the days, else "uncorrected"
    before, after, difference : with their doubt
    change : "different" beyond the expanded uncertainty, else "no different"
    why_uncorrected : one sentence; empty where it was corrected
    """

    basis: Literal["sae_j1349", "uncorrected"]
    before: Measured
    after: Measured
    difference: Measured
    change: Change
    why_uncorrected: str = ""

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "basis": self.basis,
            "before_kw": self.before.as_json(),
            "after_kw": self.after.as_json(),
            "difference_kw": self.difference.as_json(),
            "change": self.change,
            "why_uncorrected": self.why_uncorrected,
        }


def power_change(
    before: Sequence[tuple[Pull, Air]], after: Sequence[tuple[Pull, Air]], controlled: Controlled | None
) -> PowerChange | None:
    """Mean peak power after minus before; None where a pull has no power and no torque.

    Parameters
    ----------
    before, after : pulls with the air of their day (`boostproof.recording.pulls.weather.air_of`)
    controlled : a factor suits only an engine whose boost control holds a gauge pressure

    Notes
    -----
    ``u^2 = s^2 (1/n + 1/m) + u_own^2 + u_weather^2`` (JCGM 100, equation 10): scatter of single pulls, the usual 1 %
    counted as four repeats more; their noise; and the factor, whose doubt all pulls of one day share.
    """
    every = [[(peak_power(pull), weather_factors(air).get("sae_j1349")) for pull, air in side] for side in (before, after)]
    factors = [factor for side in every for _, factor in side]
    why = ""
    if controlled != "gauge":
        why = "The boost control may hold an absolute pressure; a weather factor would correct for it twice."
    elif any(factor is None for factor in factors):
        why = "The temperature of the air around is not known."
    elif any(factor is not None and not factor.valid for factor in factors):
        why = "A day lies outside the limits of the standard."
    sides, sds = [], []
    for side in every:
        watts, own, weather = [], [], 0.0
        for power, factor in side:
            if power is None:
                return None
            f, doubt = (1.0, 0.0) if why or factor is None else (factor.factor.value, factor.factor.sd)
            watts.append(power.value * f)
            own.append(power.sd * f)
            weather = max(weather, doubt * power.value)
        sides.append(watts)
        sds.append((len(watts), float(np.mean(np.square(own))), weather))
    means = [float(np.mean(watts)) for watts in sides]
    scatter, degrees = scatter_of_figures(sides, _USUAL * float(np.mean(means)))
    u = [float(np.sqrt((scatter + own) / count + weather**2)) for count, own, weather in sds]
    k = difference_factor(degrees)
    difference, sd = means[1] - means[0], combined_uncertainty(u, [-1.0, 1.0])
    return PowerChange(
        "uncorrected" if why else "sae_j1349", Measured(means[0], u[0], k * u[0]), Measured(means[1], u[1], k * u[1]),
        Measured(difference, sd, k * sd), "different" if abs(difference) > k * sd else "no different", why,
    )  # fmt: skip
