"""What a proof is made of: figures with their doubt, ranges of engine speed, and the verdict."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import FloatArray
from boostproof.recording.pulls.scatter import RunScatter

Verdict = Literal["cured", "better", "no different", "worse", "cannot say"]
RangeName = Literal["spool", "plateau", "top end"]
State = Literal["holds", "outside", "cannot tell"]
Change = Literal["better", "worse", "different", "no different", "cannot tell"]
Side = Literal["before", "after"]
SIDES: tuple[Side, Side] = ("before", "after")


@dataclass(frozen=True)
class Measured:
    """A figure with its standard uncertainty and its expanded one, in one unit."""

    value: float
    sd: float
    expanded: float

    def as_json(self) -> dict[str, float]:
        """Plain values."""
        return {"value": self.value, "sd": self.sd, "expanded": self.expanded}


@dataclass(frozen=True)
class Target:
    """The boost that is wanted, over engine speed.

    Attributes
    ----------
    rpm : shape (n,), rising [rpm]
    before, after : wanted on the day of the pulls before and after, shape (n,) [kPa gauge]
    tolerance : how far a sound car may lie from it [kPa]
    from_rpm : engine speed from which it must be held; None where nobody said it [rpm]
    """

    rpm: FloatArray = field(repr=False)
    before: FloatArray = field(repr=False)
    after: FloatArray = field(repr=False)
    tolerance: float
    from_rpm: float | None = None

    def wanted(self, rpm: FloatArray, side: Side) -> FloatArray:
        """Boost wanted on the day of one side, shape of rpm [kPa gauge]."""
        return np.asarray(np.interp(rpm, self.rpm, self.before if side == "before" else self.after))


@dataclass(frozen=True)
class RangeResult:
    """One range of engine speed.

    Attributes
    ----------
    name, rpm_from, rpm_to : which [rpm]
    before, after : mean boost as read on the day [kPa gauge]
    difference : after minus before at standard weather [kPa]
    off_before, off_after : mean boost minus the target [kPa]; None where no target holds there
    state_before, state_after : whether the target is held in every stretch of the range; None likewise
    change : towards the target or away from it; in the spool range more boost is better
    """

    name: RangeName
    rpm_from: float
    rpm_to: float
    before: Measured
    after: Measured
    difference: Measured
    off_before: Measured | None
    off_after: Measured | None
    state_before: State | None
    state_after: State | None
    change: Change

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "name": self.name,
            "rpm_from": self.rpm_from,
            "rpm_to": self.rpm_to,
            "before_kpa_gauge": self.before.as_json(),
            "after_kpa_gauge": self.after.as_json(),
            "difference_kpa": self.difference.as_json(),
            "off_target_before_kpa": None if self.off_before is None else self.off_before.as_json(),
            "off_target_after_kpa": None if self.off_after is None else self.off_after.as_json(),
            "state_before": self.state_before,
            "state_after": self.state_after,
            "change": self.change,
        }


@dataclass(frozen=True)
class SwingResult:
    """A spike or an oscillation, before and after: means over the pulls [kPa], and whether it matters after."""

    name: Literal["spike", "oscillation"]
    before: Measured
    after: Measured
    difference: Measured
    state_before: State
    state_after: State
    change: Change

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "name": self.name,
            "before_kpa": self.before.as_json(),
            "after_kpa": self.after.as_json(),
            "difference_kpa": self.difference.as_json(),
            "state_before": self.state_before,
            "state_after": self.state_after,
            "change": self.change,
        }


@dataclass(frozen=True)
class DayCorrection:
    """What the weather of the two days does to the difference.

    Attributes
    ----------
    shift : added to after minus before [kPa]
    sd : its standard uncertainty, with what colder or hotter charge air may do [kPa]
    barometer_before, barometer_after : means [kPa abs]
    charge_difference : charge air at the start, after minus before [K]; None where it was not logged
    beyond : why the days cannot be held against each other; empty where they can
    """

    shift: float
    sd: float
    barometer_before: float
    barometer_after: float
    charge_difference: float | None
    beyond: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "shift_kpa": self.shift,
            "sd_kpa": self.sd,
            "barometer_before_kpa_abs": self.barometer_before,
            "barometer_after_kpa_abs": self.barometer_after,
            "charge_difference_k": self.charge_difference,
            "beyond": list(self.beyond),
        }


@dataclass(frozen=True)
class Margins:
    """Room that is left after the repair.

    Attributes
    ----------
    below_target : target minus the mean boost where it must be held [kPa]; None without a target
    below_stop : stop boost minus the highest boost of any pull after [kPa]; None without a stop
    highest, highest_rpm : of any pull after [kPa gauge, rpm]
    """

    below_target: Measured | None
    below_stop: Measured | None
    highest: float
    highest_rpm: float

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "below_target_kpa": None if self.below_target is None else self.below_target.as_json(),
            "below_stop_kpa": None if self.below_stop is None else self.below_stop.as_json(),
            "highest_kpa_gauge": self.highest,
            "highest_rpm": self.highest_rpm,
        }


@dataclass(frozen=True)
class Proof:
    """Whether a repair did what it should.

    Attributes
    ----------
    verdict : the answer
    ranges, overall : by engine speed, and the mean difference over all of it at standard weather [kPa]
    swings : spike and oscillation, where the pulls show them
    missing : what would have to be there for a surer answer
    still_outside : names of ranges and swings in which the car after is not as a sound one
    second_fault : the same where the repair mended something else: then another fault may be there
    margins, weather, scatter : see there
    pulls_before, pulls_after : how many
    coverage_factor : expanded over standard uncertainty of the ranges, all of them together
    rpm, before, after : grid and mean curves [rpm, kPa gauge]
    after_sd : standard uncertainty of the curve after [kPa]
    difference, band_low, band_high : at standard weather [kPa]
    target : on that grid on the day of the pulls after [kPa gauge]; None where it is not known
    holds_from : engine speed from which the target must be held [rpm]
    tolerance : about it [kPa]
    findings : doubtful data
    """

    verdict: Verdict
    ranges: tuple[RangeResult, ...]
    overall: Measured
    swings: tuple[SwingResult, ...]
    missing: tuple[str, ...]
    still_outside: tuple[str, ...]
    second_fault: tuple[str, ...]
    margins: Margins
    weather: DayCorrection
    scatter: RunScatter
    pulls_before: int
    pulls_after: int
    coverage_factor: float
    rpm: FloatArray = field(repr=False)
    before: FloatArray = field(repr=False)
    after: FloatArray = field(repr=False)
    after_sd: FloatArray = field(repr=False)
    difference: FloatArray = field(repr=False)
    band_low: FloatArray = field(repr=False)
    band_high: FloatArray = field(repr=False)
    target: FloatArray | None = field(repr=False)
    holds_from: float
    tolerance: float | None
    findings: tuple[Finding, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Plain values; findings, sentences and the two sides are for the workflow to add."""
        return {
            "verdict": self.verdict,
            "ranges": [r.as_json() for r in self.ranges],
            "overall_difference_kpa": self.overall.as_json(),
            "swings": [s.as_json() for s in self.swings],
            "missing": list(self.missing),
            "still_outside": list(self.still_outside),
            "second_fault": list(self.second_fault),
            "margins": self.margins.as_json(),
            "weather": self.weather.as_json(),
            "scatter": {"sd_kpa": self.scatter.sd, "repeats": self.scatter.repeats},
            "coverage_factor": self.coverage_factor,
            "holds_from_rpm": self.holds_from,
            "tolerance_kpa": self.tolerance,
            "rpm": self.rpm.tolist(),
            "before_kpa_gauge": self.before.tolist(),
            "after_kpa_gauge": self.after.tolist(),
            "difference_kpa": self.difference.tolist(),
            "band_low_kpa": self.band_low.tolist(),
            "band_high_kpa": self.band_high.tolist(),
            "target_kpa_gauge": None if self.target is None else np.asarray(self.target).tolist(),
        }
