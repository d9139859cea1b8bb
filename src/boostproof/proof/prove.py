"""The proof of a repair: pulls before against pulls after, at standard weather, all doubt in the sum."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.proof.day import day_correction
from boostproof.proof.judge import judge
from boostproof.proof.model import SIDES, Margins, Measured, Proof, RangeResult, State, Target
from boostproof.proof.ranges import Part, parts_of
from boostproof.proof.states import (
    change_of,
    margin_factor,
    simultaneous_factor,
    state_of,
    together,
)
from boostproof.proof.swings import swings_of
from boostproof.recording.model import FloatArray, Pull
from boostproof.recording.pulls.comparison import (
    MATTERS,
    OFFSET,
    Comparison,
    averaging,
    compare,
    set_up_covariance,
    standard_uncertainties,
)
from boostproof.recording.pulls.curve import curve_of
from boostproof.recording.pulls.weather import Controlled


def prove(
    before: Sequence[Pull],
    after: Sequence[Pull],
    *,
    target: Target | None = None,
    stop: float | None = None,
    controlled: Controlled | None = None,
    same_sensor: bool = True,
    beyond: Sequence[str] = (),
) -> Proof:
    """Whether a repair cured the car, made it better, changed nothing, or made it worse.

    Parameters
    ----------
    before, after : full-load pulls of each side, one or more; three of each are wanted
    target : boost that is wanted; None where it is not known: then nothing can be called cured
    stop : boost never to be passed [kPa gauge]
    controlled : what the boost control holds, for the weather (`day_correction`)
    same_sensor : one sensor recorded both
    beyond : sentences for what else keeps the two from being held against each other, such as another gear

    Returns
    -------
    Proof

    Raises
    ------
    InputError
        As `boostproof.recording.pulls.comparison.compare`.

    Notes
    -----
    A change is claimed only where it exceeds its expanded uncertainty, which is at least twice
    ``sqrt(u_before^2 + u_after^2)`` (JCGM 100, equation 10, for two independent means), run-to-run scatter included,
    and wide enough that all ranges together are right in 95 of 100 cases. The target is held against boost as read
    on its own day; what the sensor is off is not in that doubt where one sensor recorded both, since a target is
    spoken of in that sensor's numbers.

    Drawn pulls whose truth is known: see docs/proof.md.
    """
    comparison = compare(
        before, after, same_sensor=same_sensor, names=("the pulls before the repair", "the pulls after it")
    )
    day = day_correction(before, after, controlled)
    rpm = comparison.rpm
    difference = comparison.difference + day.shift
    covariance = comparison.covariance + day.sd**2
    parts, holds_from = parts_of(rpm, comparison.before, comparison.after, target)
    rows = averaging([(0, len(rpm)), *((p.first, p.last) for p in parts)], len(rpm))
    sd = standard_uncertainties(rows, covariance)
    factor = simultaneous_factor(rows, covariance, comparison.degrees)
    means = [
        Measured(float(m), float(s), factor * float(s)) for m, s in zip(rows @ difference, sd, strict=True)
    ]
    alone = [set_up_covariance(side, rpm, comparison.scatter) for side in (before, after)]
    if not same_sensor:
        alone[1] = alone[1] + 2.0 * OFFSET**2
    ranges = tuple(
        _range(part, comparison, alone, mean, target) for part, mean in zip(parts, means[1:], strict=True)
    )
    tolerance = MATTERS if target is None else target.tolerance
    swings = swings_of(before, after, tolerance)
    margins, over = _margins(after, comparison, alone[1], parts, target, stop)
    judged = judge(
        ranges, swings,
        beyond=(*beyond, *day.beyond, *_other_ramp(comparison)),
        pulls=(len(before), len(after)),
        target_known=target is not None,
        spool_known=target is not None and target.from_rpm is not None,
        over_stop=over,
        same_sensor=same_sensor,
    )  # fmt: skip
    half = comparison.band_high - comparison.difference
    half = half * np.sqrt(np.diag(covariance)) / comparison.sd_point
    return Proof(
        judged.verdict, ranges, means[0], swings, judged.missing, judged.still_outside, judged.second_fault, margins,
        day, comparison.scatter, len(before), len(after), factor, rpm, comparison.before, comparison.after,
        np.sqrt(np.diag(alone[1])), difference, difference - half, difference + half,
        None if target is None else target.wanted(rpm, "after"), holds_from,
        None if target is None else target.tolerance, comparison.findings,
    )  # fmt: skip


def _range(
    part: Part,
    comparison: Comparison,
    alone: Sequence[FloatArray],
    difference: Measured,
    target: Target | None,
) -> RangeResult:
    rpm, degrees = comparison.rpm, comparison.degrees
    whole = averaging([(part.first, part.last)], len(rpm))
    stretches = averaging(list(part.stretches), len(rpm))
    ends = float(rpm[part.first]), float(rpm[part.last - 1])
    levels: list[Measured] = []
    offs: list[Measured | None] = []
    states: list[State | None] = []
    for side, curve, covariance in zip(SIDES, (comparison.before, comparison.after), alone, strict=True):
        sd = float(standard_uncertainties(whole, covariance)[0])
        expanded = margin_factor(degrees) * sd
        levels.append(Measured(float((whole @ curve)[0]), sd, expanded))
        if target is None or not part.held:
            offs.append(None)
            states.append(None)
            continue
        off = curve - target.wanted(rpm, side)
        offs.append(Measured(float((whole @ off)[0]), sd, expanded))
        states.append(together(state_of(off, stretches, covariance, degrees, target.tolerance)))
    change = change_of(
        difference, None if offs[0] is None else offs[0].value, degrees=degrees,
        more_is_better=not part.held and target is not None,
    )  # fmt: skip
    return RangeResult(
        part.name, *ends, levels[0], levels[1], difference, offs[0], offs[1], states[0], states[1], change
    )


def _margins(
    after: Sequence[Pull],
    comparison: Comparison,
    covariance: FloatArray,
    parts: Sequence[Part],
    target: Target | None,
    stop: float | None,
) -> tuple[Margins, bool]:
    """Room that is left, and whether the stop boost was passed."""
    rpm = comparison.rpm
    factor = margin_factor(comparison.degrees)
    held = [part for part in parts if part.held]
    row = averaging([(held[0].first, held[-1].last)], len(rpm))
    below = None
    if target is not None:
        sd = float(standard_uncertainties(row, covariance)[0])
        below = Measured(float((row @ (target.wanted(rpm, "after") - comparison.after))[0]), sd, factor * sd)
    highest, at, noise = max(_highest(pull) for pull in after)
    room = None
    if stop is not None:
        # The next pull will be one pull, with the whole scatter.
        sd = float(np.hypot(comparison.scatter.sd, noise))
        room = Measured(stop - highest, sd, factor * sd)
    return Margins(below, room, highest, at), stop is not None and highest > stop


def _highest(pull: Pull) -> tuple[float, float, float]:
    """(boost, engine speed, noise) at the highest boost of a pull."""
    curve = curve_of(pull)
    top = int(np.argmax(curve.boost))
    return float(curve.boost[top]), float(curve.rpm[top]), curve.noise


def _other_ramp(comparison: Comparison) -> tuple[str, ...]:
    differ = [finding for finding in comparison.findings if finding.kind == "ramps-differ"]
    return tuple(f"{finding.says} {finding.do}" for finding in differ)
