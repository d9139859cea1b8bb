"""Spikes and oscillations before and after: what a mean over 500 rpm does not show."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from boostproof.proof.model import Change, Measured, State, SwingResult
from boostproof.proof.states import difference_factor, one_sided_factor, scatter_of_figures
from boostproof.recording.model import Pull
from boostproof.uncertainty import combined_uncertainty

_USUAL_SD = 2.0  # kPa, of a spike or a swing from pull to pull; common practice, no source
_NAMES: tuple[tuple[Literal["spike", "oscillation"], str], ...] = (
    ("spike", "spike_kpa"), ("oscillation", "oscillation_kpa"),
)  # fmt: skip


def swings_of(before: Sequence[Pull], after: Sequence[Pull], tolerance: float) -> tuple[SwingResult, ...]:
    """Spike and oscillation of the pulls, those that any pull shows.

    Parameters
    ----------
    before, after : pulls; one that has a knee and shows no swing has a swing of zero, one without is passed over
    tolerance : what a sound car may show [kPa]

    Notes
    -----
    Difference of two independent means: ``u^2 = s^2 (1/n + 1/m) + (mean of the pulls' own u^2) / n + ... / m``
    (JCGM 100, 4.2.3 and equation 10). The scatter of one pull from the next comes from all pulls, the usual one
    counted as four repeats more.
    """
    found = []
    for name, key in _NAMES:
        sides = [_values(pulls, key) for pulls in (before, after)]
        if all(sides) and any(value > 0.0 for side in sides for value, _ in side):
            found.append(_result(name, sides, tolerance))
    return tuple(found)


def _values(pulls: Sequence[Pull], key: str) -> list[tuple[float, float]]:
    """(value, sd) of each pull that can show it."""
    found = []
    for pull in pulls:
        metric = pull.metrics.get(key)
        if metric is not None:
            found.append((metric.value, metric.sd))
        elif pull.metrics.get("knee_rpm") is not None:
            found.append((0.0, 0.0))
    return found


def _result(
    name: Literal["spike", "oscillation"], sides: list[list[tuple[float, float]]], tolerance: float
) -> SwingResult:
    values = [np.array([value for value, _ in side]) for side in sides]
    scatter, degrees = scatter_of_figures(values, _USUAL_SD)
    own = [float(np.mean([sd**2 for _, sd in side])) for side in sides]
    sd = [float(np.sqrt((scatter + part) / len(v))) for v, part in zip(values, own, strict=True)]
    factor = difference_factor(degrees)
    means = [float(v.mean()) for v in values]
    u = combined_uncertainty(sd, [-1.0, 1.0])
    difference = means[1] - means[0]
    change: Change = "cannot tell"
    if abs(difference) > factor * u:
        change = "better" if difference < 0.0 else "worse"
    elif abs(difference) + one_sided_factor(degrees) * u <= tolerance:
        change = "no different"
    states = [_state(mean, s, degrees, tolerance) for mean, s in zip(means, sd, strict=True)]
    return SwingResult(
        name, Measured(means[0], sd[0], factor * sd[0]), Measured(means[1], sd[1], factor * sd[1]),
        Measured(difference, u, factor * u), states[0], states[1], change,
    )  # fmt: skip


def _state(mean: float, sd: float, degrees: float, tolerance: float) -> State:
    k = one_sided_factor(degrees)
    if mean + k * sd <= tolerance:
        return "holds"
    return "outside" if mean - k * sd > tolerance else "cannot tell"
