"""What the weather of two days does to a difference of boost, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.proof.model import DayCorrection
from boostproof.recording.model import STANDARD_ATMOSPHERE, Pull
from boostproof.recording.pulls.comparison import charge_at_start
from boostproof.recording.pulls.weather import Controlled
from boostproof.uncertainty import rectangular_uncertainty

# Where the gate is at its limit boost follows the density of the air: up to 0.3 kPa for each kelvin, nothing at
# all where the gate still regulates (judgement, from 1 % of 100 kPa gauge in 3 K).
_CHARGE_KPA_PER_K = 0.3
_SAME_FIGURE = 0.8  # kPa, sd of one day's barometer about a figure written down once; common practice, no source
_CHARGE_BEYOND, _BAROMETER_BEYOND = 20.0, 10.0  # K; kPa, about 900 m of height (judgement)


def day_correction(
    before: Sequence[Pull], after: Sequence[Pull], controlled: Controlled | None
) -> DayCorrection:
    """The shift that brings after minus before to one barometer, 101.325 kPa.

    Parameters
    ----------
    before, after : pulls of each side
    controlled : "gauge" where a spring or a gauge target holds boost: nothing moves; "absolute": gauge boost moves
        by as much as the barometer; None where it is not known: half of that, with a flat doubt over all of it

    Returns
    -------
    DayCorrection

    Notes
    -----
    Each curve is brought to the standard barometer as `standard_boost` does it, so that the difference moves by
    the difference of the barometers alone. Doubts combine by JCGM 100, equation 10; the flat ones by 4.3.7.
    """
    low, high = {"gauge": (0.0, 0.0), "absolute": (1.0, 1.0)}.get(controlled or "", (0.0, 1.0))
    pressures = [1e-3 * np.array([pull.recording.barometer.value for pull in side]) for side in (before, after)]
    means = [float(p.mean()) for p in pressures]
    apart = means[1] - means[0]
    share = 0.5 * (low + high)
    shift = share * (means[1] - 1e-3 * STANDARD_ATMOSPHERE) - share * (means[0] - 1e-3 * STANDARD_ATMOSPHERE)
    doubts = [float(rectangular_uncertainty(0.5 * (high - low) * abs(apart))), share * _barometer_sd(before, after)]
    charge = _charge_difference(before, after)
    if charge is not None:
        doubts.append(float(rectangular_uncertainty(_CHARGE_KPA_PER_K * abs(charge))))
    return DayCorrection(
        float(shift), float(np.hypot.reduce(doubts)), means[0], means[1], charge, _beyond(apart, charge)
    )


def _barometer_sd(before: Sequence[Pull], after: Sequence[Pull]) -> float:
    """Of the difference of the two barometers [kPa]."""
    sides = [list({id(p.recording): p.recording for p in side}.values()) for side in (before, after)]
    if {id(r) for r in sides[0]} == {id(r) for r in sides[1]}:
        return 0.0
    everyone = [r.barometer for side in sides for r in side]
    if all(b == everyone[0] for b in everyone):
        return float(np.sqrt(2.0)) * _SAME_FIGURE
    return float(np.sqrt(sum(np.mean([(1e-3 * r.barometer.sd) ** 2 for r in side]) for side in sides)))


def _charge_difference(before: Sequence[Pull], after: Sequence[Pull]) -> float | None:
    first, second = charge_at_start(before), charge_at_start(after)
    return None if first is None or second is None else second - first


def _beyond(apart: float, charge: float | None) -> tuple[str, ...]:
    """Sentences for days too unlike to be corrected."""
    said = []
    if abs(apart) > _BAROMETER_BEYOND:
        said.append(
            f"The air pressure differed by {abs(apart):.0f} kPa between the two: drive both at one height above the sea."
        )
    if charge is not None and abs(charge) > _CHARGE_BEYOND:
        word = "hotter" if charge > 0.0 else "colder"
        said.append(
            f"The charge air began {abs(charge):.0f} K {word} after the repair: drive again from the same temperature."
        )
    return tuple(said)
