"""Are two set-ups different? Boost over engine speed of one taken from the other, with a band and an answer.

What can make two pulls of a car that nobody touched differ: noise of the samples, a slow wander within a
pull, moments of sampling and delays between channels, the pressure of the air around, another sensor, and
that no two runs are alike. Each has its own sd and its own reach along the engine speed; together they make
the covariance of the difference, from which the band is drawn.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import FloatArray, Metric, Pull, Recording
from boostproof.recording.pulls.curve import GRID, BoostCurve, common_grid, curve_of
from boostproof.recording.pulls.scatter import USUAL_SCATTER, RunScatter, run_scatter
from boostproof.recording.signals.broken_lines import fit_broken_lines

Verdict = Literal["different", "no different", "cannot tell"]
Per = Literal["set-up", "pull"]

COVERAGE = 0.95  # of the band, all engine speeds together
MATTERS = 7.0  # kPa, 1 psi: what a technician would act on; common practice, no source
_NODES = 100  # of the grid on which straight pieces are fitted
_REACH = 300.0  # rpm over which wander forgets itself; common practice, no source
_WHOLE = 0.5  # share of the run-to-run variance that moves the whole curve; the rest wanders
OFFSET = 2.0  # kPa, sd of the offset of a manifold sensor; common practice, no source
_WEATHER = 0.8  # kPa, sd of the barometer from day to day at one place; common practice, no source
_DRAWS, _SEED = 8000, 20_240_601
_RAMPS_ALIKE, _AIR_ALIKE = 0.25, 8.0  # share; K


@dataclass(frozen=True)
class Span:
    """Where two set-ups differ: engine speeds [rpm] and mean difference there [kPa].

    ``averaged``: no single engine speed settles it, the mean over the span does.
    """

    rpm_from: float
    rpm_to: float
    mean: float
    averaged: bool = False

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "rpm_from": self.rpm_from,
            "rpm_to": self.rpm_to,
            "mean_kpa": self.mean,
            "averaged": self.averaged,
        }


@dataclass(frozen=True)
class Comparison:
    """Boost after minus boost before.

    Attributes
    ----------
    rpm : engine speeds, every 50 rpm, shape (n,) [rpm]
    before, after : mean curves of the two, shape (n,) [kPa gauge]
    difference : after minus before, shape (n,) [kPa]
    sd_point : sd of the difference at each engine speed, shape (n,) [kPa]
    band_low, band_high : simultaneous band, shape (n,) [kPa]: it holds the true difference at all engine
        speeds together in 95 of 100 comparisons or more
    coverage : of that band, 0.95
    mean_difference : over engine speed [kPa]
    p_value : how often set-ups that do not differ would show so large a difference somewhere
    tells_from : a difference all along the curve that would be found in four comparisons of five [kPa]
    verdict : "different" where the band leaves zero out, or the mean over the curve or a third of it does;
        "no different" where nothing that matters can hide in the greater part of the curve; else "cannot tell"
    spans : where they differ
    scatter : run-to-run scatter that was reckoned with
    says : one sentence
    findings : what makes the two hard to compare
    covariance : of the difference, shape (n, n) [kPa2]
    degrees : of freedom of that covariance
    """

    rpm: FloatArray = field(repr=False)
    before: FloatArray = field(repr=False)
    after: FloatArray = field(repr=False)
    difference: FloatArray = field(repr=False)
    sd_point: FloatArray = field(repr=False)
    band_low: FloatArray = field(repr=False)
    band_high: FloatArray = field(repr=False)
    coverage: float
    mean_difference: Metric
    p_value: float
    tells_from: float
    verdict: Verdict
    spans: tuple[Span, ...]
    scatter: RunScatter
    says: str
    findings: tuple[Finding, ...] = ()
    covariance: FloatArray = field(default_factory=lambda: np.zeros((0, 0)), repr=False)
    degrees: float = np.inf

    def as_json(self) -> dict[str, Any]:
        """The body of ``boostproof compare --json``."""
        return {
            "verdict": self.verdict,
            "says": self.says,
            "mean_difference_kpa": self.mean_difference.as_json(),
            "p_value": self.p_value,
            "tells_from_kpa": self.tells_from,
            "spans": [span.as_json() for span in self.spans],
            "scatter": {"sd_kpa": self.scatter.sd, "repeats": self.scatter.repeats},
            "coverage": self.coverage,
            "rpm": self.rpm.tolist(),
            "before_kpa_gauge": self.before.tolist(),
            "after_kpa_gauge": self.after.tolist(),
            "difference_kpa": self.difference.tolist(),
            "sd_kpa": self.sd_point.tolist(),
            "band_low_kpa": self.band_low.tolist(),
            "band_high_kpa": self.band_high.tolist(),
        }


def compare(
    before: Sequence[Pull],
    after: Sequence[Pull],
    *,
    same_sensor: bool = True,
    per: Per = "set-up",
    matters: float = MATTERS,
    names: tuple[str, str] = ("the pulls before", "the pulls after"),
) -> Comparison:
    """Boost of one set-up against that of another, over engine speed.

    Parameters
    ----------
    before, after : pulls of each set-up, one or more; repeats tell the run-to-run scatter
    same_sensor : one sensor and logger recorded both, so that its offset and its delay are the same in both
    per : "set-up" asks whether the set-ups differ, and reckons with run-to-run scatter; "pull" asks only
        whether these very runs differ, by more than the measurement explains
    matters : the smallest difference that one would act on [kPa]
    names : what the two are called in the sentence

    Returns
    -------
    Comparison

    Raises
    ------
    InputError
        If there is no pull, one is not at full load, or they have less than 500 rpm in common.

    Notes
    -----
    The difference of means is held against a Gaussian field of the covariance described above, divided by
    a chi variate of the scatter's degrees of freedom (Student's t, at all engine speeds at once, and for the
    means over the whole curve and its thirds); its largest values come from 8000 draws of a fixed seed. The
    run-to-run scatter is that of the repeats, with the usual one (2.5 kPa, common practice, no source) counted
    as four repeats more.

    Drawn pairs that do not differ (2000 of each kind, scatter as usual) were called different in 0.1 % of
    comparisons of one pull with one, 0.3 % of two with one, 0.8 % of two with two, 1.2 % of three with three; with
    twice that scatter in 11 %, 6 %, 4 % and 5 % (400 of each): one pull alone cannot show that a car scatters more
    than is usual. A shift of 10 kPa was found in 60 % of one with one, 97 % of two with two and all of three with
    three (150 of each).
    """
    groups = [[curve_of(pull) for pull in pulls] for pulls in (before, after)]
    rpm = common_grid([*groups[0], *groups[1]], _places(before, after))
    mean = [np.mean([curve.at(rpm) for curve in curves], axis=0) for curves in groups]
    difference = mean[1] - mean[0]
    scatter = run_scatter(groups, rpm) if per == "set-up" else RunScatter(0.0, np.inf, 0)
    run, known = _run_part(groups, rpm, scatter), _known_part(groups, rpm, same_sensor=same_sensor)
    level = _level_variance(before, after, same_sensor=same_sensor)
    covariance = run + known + level
    sd = np.sqrt(np.diag(covariance))
    degrees = _degrees(scatter.degrees, np.diag(run), sd**2)
    test = _tested(difference, covariance, degrees)
    k = test.point
    spans = _spans(rpm, difference, np.abs(difference) > k * sd) or test.parts_beyond(rpm, difference)
    mean_sd = float(np.sqrt(covariance.mean()))
    verdict: Verdict = "different" if spans else "cannot tell"
    if not spans and _nothing_hides(difference, _pointwise(degrees) * sd, matters):
        verdict = "no different"
    # 0.84: the upper fifth of a normal distribution lies above it.
    tells = float(min((k + 0.84) * np.median(sd), (test.part + 0.84) * mean_sd))
    average = Metric(float(difference.mean()), mean_sd)
    return Comparison(
        rpm, mean[0], mean[1], difference, sd, difference - k * sd, difference + k * sd, COVERAGE,
        average, test.p_value, tells, verdict, spans, scatter,
        _says(verdict, spans, average, tells, matters, (float(rpm[0]), float(rpm[-1])), names),
        (*_about_scatter(scatter, per, names), *_about_likeness(before, after, groups, names)),
        covariance, degrees,
    )  # fmt: skip


def set_up_covariance(pulls: Sequence[Pull], rpm: FloatArray, scatter: RunScatter) -> FloatArray:
    """Covariance of the mean curve of one set-up by itself, shape (n, n) [kPa2].

    Runs that are not alike, noise, moments of sampling and delay; not the offset of the sensor.

    Parameters
    ----------
    pulls : of that set-up, one or more
    rpm : grid within all of them, shape (n,) [rpm]
    scatter : as `compare` found it
    """
    curves = [[curve_of(pull) for pull in pulls]]
    return _run_part(curves, rpm, scatter) + _known_part(curves, rpm, same_sensor=False)


def hysteresis(first: Pull, second: Pull) -> Comparison:
    """A pull against its repeat, or a sweep upwards against one downwards: second minus first.

    The question is whether these two runs differ by more than the measurement explains, so run-to-run
    scatter is left out; heat, friction and trapped pressure show here. Errors as `compare`.
    """
    return compare([first], [second], per="pull", names=("the first run", "the second run"))


# -- what can make them differ -----------------------------------------------------------------------


def _kernel(rpm: FloatArray, reach: float) -> FloatArray:
    return np.exp(-np.abs(rpm[:, None] - rpm[None, :]) / reach)


def _run_part(groups: Sequence[Sequence[BoostCurve]], rpm: FloatArray, scatter: RunScatter) -> FloatArray:
    """Covariance from runs that are not alike, and from wander within them."""
    whole, wandering = np.zeros((len(rpm), len(rpm))), _kernel(rpm, _REACH)
    for curves in groups:
        wander = (1.0 - _WHOLE) * scatter.sd**2
        if scatter.repeats == 0:
            wander = max(wander, float(np.mean([_wander(curve) ** 2 for curve in curves])))
        whole += (_WHOLE * scatter.sd**2 + wander * wandering) / len(curves)
    return whole


def _wander(curve: BoostCurve) -> float:
    """Sd of what up to three straight pieces leave of a pull, beyond its noise [kPa]."""
    rising = np.concatenate([[True], np.diff(curve.rpm) > 0.0])
    rpm, boost = curve.rpm[rising], curve.boost[rising]
    inside = (rpm >= curve.first) & (boost >= 0.5 * boost.max())
    rpm, boost = rpm[inside], boost[inside]
    if len(rpm) < 8 or rpm[-1] - rpm[0] < 500.0:
        return 0.0
    span = float(rpm[-1] - rpm[0])
    grid = np.linspace(rpm[0], rpm[-1], _NODES)
    lines = fit_broken_lines(
        grid, np.interp(grid, rpm, boost)[None], max(60.0, 0.02 * span), noise=0.0, free=_NODES
    )
    return float(np.sqrt(max(float(lines.misfit[0]) ** 2 - curve.noise**2, 0.0)))


def _known_part(
    groups: Sequence[Sequence[BoostCurve]], rpm: FloatArray, *, same_sensor: bool
) -> FloatArray:
    """Covariance from noise, moments of sampling and delays."""
    total = np.zeros((len(rpm), len(rpm)))
    rates: list[FloatArray] = []
    for curves in groups:
        share = 1.0 / len(curves) ** 2
        for curve in curves:
            moved = curve.jitter * curve.per_second(rpm)
            reach = max(0.5 * curve.smoothed_over, 0.2 * GRID)
            total += share * (curve.noise**2 * _kernel(rpm, reach) + np.outer(moved, moved))
        rates.append(np.mean([curve.delay * curve.per_second(rpm) for curve in curves], axis=0))
    # One logger delays both alike: only the difference of the rates of rise is moved by it.
    for moved in [rates[1] - rates[0]] if same_sensor else rates:
        total += np.outer(moved, moved)
    return total


def _level_variance(before: Sequence[Pull], after: Sequence[Pull], *, same_sensor: bool) -> float:
    """Variance of a shift of the whole difference: pressure of the air around, and another sensor [kPa2]."""
    offset = 0.0 if same_sensor else 2.0 * OFFSET**2
    return offset + _air_variance(_recordings(before), _recordings(after))


def _air_variance(before: list[Recording], after: list[Recording]) -> float:
    """From the doubt in the barometers, where boost is an absolute pressure less the air around [kPa2]."""
    if {id(r) for r in before} == {id(r) for r in after}:
        return 0.0
    sets = [[r for r in recordings if _needs_air(r)] for recordings in (before, after)]
    everyone = [r.barometer for r in (*sets[0], *sets[1])]
    if not everyone:
        return 0.0
    if sets[0] and sets[1] and all(b == everyone[0] for b in everyone) and everyone[0].source in (
        "given", "standard atmosphere",
    ):  # fmt: skip
        return 2.0 * _WEATHER**2  # one figure for both: the place is the same, the weather need not be
    parts = [
        sum((0.001 * r.barometer.sd) ** 2 for r in needing) / len(recordings) ** 2
        for needing, recordings in zip(sets, (before, after), strict=True)
    ]
    return float(sum(parts))


def _needs_air(recording: Recording) -> bool:
    return recording.manifold_channel().reference == "abs"


def _recordings(pulls: Sequence[Pull]) -> list[Recording]:
    return list({id(pull.recording): pull.recording for pull in pulls}.values())


# -- what follows from it ----------------------------------------------------------------------------


def _degrees(degrees: float, run: FloatArray, total: FloatArray) -> float:
    """Degrees of freedom of the whole, by Welch and Satterthwaite (JCGM 100, G.4), at the middle speed."""
    share = float(np.median(run / total))
    return float(degrees / max(share, 1e-6) ** 2) if np.isfinite(degrees) else float("inf")


@dataclass(frozen=True)
class _Test:
    """The difference against no difference, at single engine speeds and averaged over parts of the curve.

    Attributes
    ----------
    point, part : how many sd a difference must lie from zero, at an engine speed or averaged over a part, so
        that nothing at all lies beyond in 95 of 100 comparisons of set-ups that do not differ
    p_value : how often those show so large a difference somewhere
    beyond : the parts (first, last point) whose mean lies beyond, the widest first
    """

    point: float
    part: float
    p_value: float
    beyond: tuple[tuple[int, int], ...]

    def parts_beyond(self, rpm: FloatArray, difference: FloatArray) -> tuple[Span, ...]:
        """The widest part whose mean lies beyond, as a span; empty where there is none."""
        return tuple(
            Span(float(rpm[a]), float(rpm[b - 1]), float(difference[a:b].mean()), averaged=True)
            for a, b in self.beyond[:1]
        )


def _tested(difference: FloatArray, covariance: FloatArray, degrees: float) -> _Test:
    """Largest |difference| / sd of points and of parts, against draws of the same covariance.

    A shift of the whole curve shows first in its mean, a creep in the mean of a third, a dip in single points.
    Both kinds get the share of false answers that makes 5 % together.
    """
    count = len(difference)
    thirds = np.linspace(0, count, 4).round().astype(int).tolist()
    parts = [(0, count), *itertools.pairwise(thirds)]
    rows = averaging(parts, count)
    sd = np.sqrt(np.diag(covariance))
    part_sd = standard_uncertainties(rows, covariance)
    drawn = draws_of(covariance, degrees)
    points = np.abs(drawn / sd[:, None]).max(axis=0)
    means = np.abs(rows @ drawn / part_sd[:, None]).max(axis=0)
    k = np.quantile(points, COVERAGE), np.quantile(means, COVERAGE)
    either = np.maximum(points / k[0], means / k[1])
    c = float(np.quantile(either, COVERAGE))
    seen = np.abs(rows @ difference) / part_sd
    top = max(float(np.max(np.abs(difference) / sd)) / k[0], float(seen.max()) / k[1])
    p_value = float((np.count_nonzero(either >= top) + 1) / (_DRAWS + 1))
    beyond = tuple(part for part, s in zip(parts, seen, strict=True) if s > c * k[1])
    return _Test(c * float(k[0]), c * float(k[1]), p_value, beyond)


def averaging(spans: Sequence[tuple[int, int]], count: int) -> FloatArray:
    """Rows that average over spans of a grid of that many points, shape (spans, count)."""
    rows = np.zeros((len(spans), count))
    for row, (first, last) in zip(rows, spans, strict=True):
        row[first:last] = 1.0 / (last - first)
    return rows


def standard_uncertainties(rows: FloatArray, covariance: FloatArray) -> FloatArray:
    """Of means over spans, shape (rows,): JCGM 100, equation 16, with the covariance of the points."""
    return np.asarray(np.sqrt(np.diag(rows @ covariance @ rows.T)))


def draws_of(covariance: FloatArray, degrees: float) -> FloatArray:
    """Differences of set-ups that do not differ, shape (n, draws) [kPa]."""
    rng = np.random.default_rng(_SEED)
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    drawn = root @ rng.standard_normal((len(covariance), _DRAWS))
    if np.isfinite(degrees) and degrees < 1e4:
        drawn = drawn * np.sqrt(degrees / rng.chisquare(degrees, _DRAWS))
    return np.asarray(drawn)


def _pointwise(degrees: float) -> float:
    """Factor of a band that holds nine in ten at one engine speed."""
    rng = np.random.default_rng(_SEED)
    draws = np.abs(rng.standard_normal(_DRAWS))
    if np.isfinite(degrees) and degrees < 1e4:
        draws = draws * np.sqrt(degrees / rng.chisquare(degrees, _DRAWS))
    return float(np.quantile(draws, 0.90))


def _nothing_hides(difference: FloatArray, half: FloatArray, matters: float) -> bool:
    """Whether a difference that matters is ruled out over the greater part of the curve.

    One at a time is enough for that: a difference that matters everywhere would have to hide everywhere.
    """
    return bool(np.mean(np.abs(difference) + half <= matters) >= 0.6)


def _spans(rpm: FloatArray, difference: FloatArray, outside: FloatArray) -> tuple[Span, ...]:
    """Runs of engine speeds where the band leaves zero out, parted where the sign turns."""
    sign = np.where(outside, np.sign(difference), 0.0)
    edges = np.flatnonzero(np.diff(sign)) + 1
    found = []
    for first, last in itertools.pairwise([0, *edges.tolist(), len(sign)]):
        if sign[first] != 0.0:
            part = slice(first, last)
            found.append(Span(float(rpm[first]), float(rpm[last - 1]), float(difference[part].mean())))
    return tuple(found)


def _says(
    verdict: Verdict,
    spans: tuple[Span, ...],
    mean: Metric,
    tells: float,
    matters: float,
    ends: tuple[float, float],
    names: tuple[str, str],
) -> str:
    over = f"from {ends[0]:,.0f} to {ends[1]:,.0f} rpm"
    if verdict == "different":
        parts = [
            f"{abs(s.mean):.1f} kPa {'higher' if s.mean > 0.0 else 'lower'} {_where(s)}"
            for s in sorted(spans, key=lambda s: s.rpm_from - s.rpm_to)[:2]
        ]
        return f"Against {names[0]}, boost of {names[1]} is {' and '.join(parts)}."
    if verdict == "no different":
        return (
            f"Boost of {names[1]} is that of {names[0]} {over}: there is no difference of {matters:.0f} kPa or more."
        )
    word = "above" if mean.value > 0.0 else "below"
    return (
        f"Boost of {names[1]} lies {abs(mean.value):.1f} kPa {word} that of {names[0]} on average {over}, but only "
        f"a difference of {tells:.0f} kPa or more could be told from what repeats differ by."
    )


def _where(span: Span) -> str:
    if span.rpm_to == span.rpm_from:
        return f"at {span.rpm_from:,.0f} rpm"
    return f"{'on average ' if span.averaged else ''}from {span.rpm_from:,.0f} to {span.rpm_to:,.0f} rpm"


def _places(before: Sequence[Pull], after: Sequence[Pull]) -> str:
    return ", ".join(dict.fromkeys(pull.recording.file for pull in (*before, *after)))


def _about_scatter(scatter: RunScatter, per: Per, names: tuple[str, str]) -> tuple[Finding, ...]:
    if per == "pull" or scatter.repeats > 0:
        return ()
    return (
        Finding(
            "scatter-not-known", f"{names[0]}, {names[1]}",
            f"Neither set-up was driven twice, so pulls of one set-up are taken to differ by {USUAL_SCATTER:.1f} "
            "kPa (common practice, no source).",
            "Repeat each pull at least once: same gear, same start, same intake temperature.",
        ),
    )  # fmt: skip


def _about_likeness(
    before: Sequence[Pull],
    after: Sequence[Pull],
    groups: Sequence[Sequence[BoostCurve]],
    names: tuple[str, str],
) -> tuple[Finding, ...]:
    """Ramps and air that differ: then not the set-up alone was changed."""
    where = f"{names[0]}, {names[1]}"
    found = []
    ramps = [[c.ramp for c in curves if c.ramp is not None] for curves in groups]
    if ramps[0] and ramps[1]:
        slow, fast = sorted((float(np.mean(ramps[0])), float(np.mean(ramps[1]))))
        if fast > (1.0 + _RAMPS_ALIKE) * slow:
            found.append(
                Finding(
                    "ramps-differ", where,
                    f"Engine speed rose by {slow:,.0f} rpm a second in one and {fast:,.0f} in the other: boost "
                    "builds at another engine speed for that alone.",
                    "Drive both in the same gear or on the same ramp.",
                )
            )  # fmt: skip
    air = [charge_at_start(pulls) for pulls in (before, after)]
    if air[0] is not None and air[1] is not None and abs(air[1] - air[0]) > _AIR_ALIKE:
        found.append(
            Finding(
                "air-differs", where,
                f"The charge air began {abs(air[1] - air[0]):.0f} K {'hotter' if air[1] > air[0] else 'colder'} "
                f"in {names[1]}; colder air alone makes more boost where the gate is at its limit.",
                "Compare pulls that begin at the same intake temperature.",
            )
        )  # fmt: skip
    return tuple(found)


def charge_at_start(pulls: Sequence[Pull]) -> float | None:
    """Charge temperature at the start of the pulls [K]."""
    starts = []
    for pull in pulls:
        values = pull.recording.values("intake_temperature")
        first = None if values is None else values[pull.start : pull.start + 10]
        if first is not None and np.isfinite(first).any():
            starts.append(float(np.nanmedian(first)))
    return float(np.mean(starts)) if starts else None
