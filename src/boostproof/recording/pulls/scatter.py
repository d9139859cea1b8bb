"""How much pulls of one set-up differ from each other: run-to-run scatter, and drift from pull to pull."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from boostproof.errors import InputError
from boostproof.recording.model import FloatArray, Metric, Pull
from boostproof.recording.pulls.curve import BoostCurve, common_grid, curve_of

#: Usual sd of boost between pulls of one set-up [kPa], and as how many repeats it counts beside those that
#: were driven. Common practice, no source: repeats on a brake lie within 1 to 2 kPa, on the road within 5.
USUAL_SCATTER, USUAL_WEIGHT = 2.5, 4.0


@dataclass(frozen=True)
class RunScatter:
    """One figure for how much pulls of one set-up differ.

    Attributes
    ----------
    sd : of the boost of one pull about the mean of its set-up, without noise and delay [kPa]
    degrees : of freedom of that figure, those of the usual scatter counted in
    repeats : pulls beyond the first of each set-up, that is, what was driven to find it
    """

    sd: float
    degrees: float
    repeats: int


@dataclass(frozen=True)
class Scatter:
    """Run-to-run scatter over engine speed, as driven, noise and all.

    Attributes
    ----------
    rpm : shape (n,) [rpm]
    sd : of one pull about the mean of its set-up, shape (n,) [kPa]
    pairs : pairs of pulls that it comes from
    """

    rpm: FloatArray = field(repr=False)
    sd: FloatArray = field(repr=False)
    pairs: int

    def as_json(self) -> dict[str, Any]:
        """Plain lists."""
        return {"rpm": self.rpm.tolist(), "sd_kpa": self.sd.tolist(), "pairs": self.pairs}


@dataclass(frozen=True)
class Repeats:
    """What repeats of one set-up say, in the order driven.

    Attributes
    ----------
    pulls : how many
    rpm_from, rpm_to : engine speeds that all of them hold [rpm]
    metrics : ``repeat_scatter_kpa``: sd of one pull about a straight drift (with two pulls: about their mean);
        ``repeat_drift_kpa``: rise of boost from one pull to the next, averaged over engine speed. None where
        the pulls cannot show it
    says : one sentence
    """

    pulls: int
    rpm_from: float
    rpm_to: float
    metrics: dict[str, Metric | None]
    says: str

    def as_json(self) -> dict[str, Any]:
        """The ``repeats`` object of ``inspect --json``."""
        return {
            "pulls": self.pulls,
            "rpm_from": self.rpm_from,
            "rpm_to": self.rpm_to,
            "metrics": {name: None if m is None else m.as_json() for name, m in self.metrics.items()},
            "says": self.says,
        }


def scatter(pulls: Sequence[Pull]) -> Scatter:
    """Sd between pulls of one set-up, at each engine speed that they have in common.

    Raises
    ------
    InputError
        If there are fewer than two pulls, one is not at full load, or they have too little in common.
    """
    curves = _several(pulls)
    rpm = common_grid(curves, pulls[0].recording.file)
    boost = np.array([curve.at(rpm) for curve in curves])
    count = len(curves)
    return Scatter(rpm, np.asarray(boost.std(axis=0, ddof=1)), count * (count - 1) // 2)


def run_scatter(groups: Sequence[Sequence[BoostCurve]], rpm: FloatArray) -> RunScatter:
    """Run-to-run scatter from the repeats within each set-up, and the usual one.

    The variance within set-ups, less what noise and moments of sampling explain, is averaged over engine
    speed, least where boost rises steeply. The usual scatter counts as four repeats more, so that one repeat
    that happens to lie close does not pass for proof; where the repeats scatter by more than is usual, they alone
    are believed.

    Parameters
    ----------
    groups : curves of each set-up, on the same sensor
    rpm : common grid, shape (n,)
    """
    repeats = sum(len(curves) - 1 for curves in groups)
    if repeats == 0:
        return RunScatter(USUAL_SCATTER, USUAL_WEIGHT, 0)
    square, known = np.zeros(len(rpm)), np.zeros(len(rpm))
    for curves in groups:
        boost = np.array([curve.at(rpm) for curve in curves])
        square += np.sum((boost - boost.mean(axis=0)) ** 2, axis=0)
        explained = [c.noise**2 + (c.jitter * c.per_second(rpm)) ** 2 for c in curves]
        known += (len(curves) - 1) * np.mean(explained, axis=0)
    square, known = square / repeats, known / repeats
    weight = 1.0 / (USUAL_SCATTER**2 + known) ** 2
    driven = max(float(np.sum(weight * (square - known)) / np.sum(weight)), 0.0)
    degrees = USUAL_WEIGHT + repeats
    mixed = (USUAL_WEIGHT * USUAL_SCATTER**2 + repeats * driven) / degrees
    return RunScatter(float(np.sqrt(max(driven, mixed))), degrees, repeats)


def repeats(pulls: Sequence[Pull]) -> Repeats:
    """Scatter and drift of repeats of one set-up, given in the order driven.

    Heat soaks into charge cooler, housings and springs from pull to pull, and boost drifts with it: the
    drift is the slope of mean boost over the number of the pull.

    Raises
    ------
    InputError
        As `scatter`.
    """
    curves = _several(pulls)
    rpm = common_grid(curves, pulls[0].recording.file)
    boost = np.array([curve.at(rpm) for curve in curves])
    level = boost.mean(axis=1)
    count = len(curves)
    order = np.arange(count) - 0.5 * (count - 1)
    spread = float(order @ order)
    drift = float(order @ level) / spread
    rest = boost - boost.mean(axis=0)
    free = count - 1
    if count > 2:
        rest, free = rest - np.outer(order, order @ boost / spread), count - 2
    found = float(np.sqrt(np.mean(np.sum(rest**2, axis=0)) / free))
    # The usual scatter has a say while there are few repeats.
    about = np.sqrt((USUAL_WEIGHT * USUAL_SCATTER**2 + free * found**2) / (USUAL_WEIGHT + free))
    metrics: dict[str, Metric | None] = {
        "repeat_scatter_kpa": Metric(found, float(found / np.sqrt(2.0 * free))),
        "repeat_drift_kpa": Metric(drift, float(about / np.sqrt(spread))),
    }
    return Repeats(count, float(rpm[0]), float(rpm[-1]), metrics, _says(count, found, drift, float(about), spread))


def _says(count: int, found: float, drift: float, about: float, spread: float) -> str:
    between = f"The {count} pulls differ by {found:.1f} kPa from each other"
    if abs(drift) > 2.0 * about / np.sqrt(spread):
        word = "rises" if drift > 0.0 else "falls"
        return f"{between}, and boost {word} by {abs(drift):.1f} kPa from one to the next."
    return f"{between}; no drift from one to the next can be told."


def _several(pulls: Sequence[Pull]) -> list[BoostCurve]:
    if len(pulls) < 2:
        raise InputError(
            "One pull alone shows no scatter.", kind="one-pull",
            where=pulls[0].recording.file if pulls else "", do="Repeat the pull in the same set-up.",
        )  # fmt: skip
    return [curve_of(pull) for pull in pulls]
