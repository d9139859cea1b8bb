"""Gauge or absolute, and in which unit: reasoned from header words, the key-on reading, and the range.

The two readings of a pressure differ by a whole atmosphere, so even a sensor with a large fault (twenty
kPa off) tells which it is. Nothing here changes a value. The typical levels are common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from boostproof.recording.columns.two_units import BOTH, straight
from boostproof.recording.model import FloatArray, OtherReading, Reference
from boostproof.recording.signals.smooth import noise_of
from boostproof.units import Unit, get_unit

Role = Literal["manifold", "compressor", "exhaust", "downpipe", "line", "other"]

_STOPPED_RPM, _SLOWEST_IDLE = 50.0, 150.0
_RESTLESS = 15.0  # times a column's noise: what moves by more with the engine stopped is not at rest
_REVVED_RPM = 1800.0  # an engine that never turned faster was not at full load
_REFERENCES: tuple[Reference, ...] = ("gauge", "abs")
# How much likelier an unlabelled number is in one unit than in another, before looking at it (log odds).
_UNIT_PRIOR = {"kPa": 0.0, "psi": 0.0, "bar": 0.0, "mbar": -0.7, "inHg": -2.0, "kgf/cm2": -3.0, "Pa": -3.0}
_SENSIBLE = -5.0  # fit from which a unit other than the header's is thought of
_UNIT_SAID = 7.0  # log odds that a unit written in the header is right
_FAR_OFF = 8e3  # Pa
_SAID = 6.0  # log odds that a reference written in the header is right
_BOTH = {True: 1.0, False: -2.5}  # log odds of the gauge's two units, where the name says vacuum and boost or not
_NO_VACUUM_PSI = -17.0  # deeper than any vacuum, and than what a sensor with a large offset shows of one
_BOTH_SAID = -4.0  # the same where the header names one of the two
_USUAL = 1.5  # log odds of the usual habit: boost is gauge, manifold pressure is absolute
_BESIDE = 1.5  # log odds that a column without a unit is in that of the manifold sensor beside it
# kPa gauge at full load, within a factor of two or so; behind the turbine 5 to 25 with a free exhaust, 25 to 50 with
# a usual one
_TYPICAL, _TYPICAL_DOWNPIPE = 100.0, 20.0


@dataclass(frozen=True)
class Engine:
    """What the engine was doing: rpm and throttle share (None where not logged), and the air around [Pa]."""

    rpm: FloatArray | None
    throttle: FloatArray | None
    barometer: float | None


@dataclass(frozen=True)
class Judged:
    """The likeliest unit and reference, how sure (0 to 1), the main reason in words, and how well all fits.

    ``fit`` is a log likelihood: zero for a textbook trace, below -8 where no reading makes sense.
    ``others`` are the other readings that are not ruled out, the likelier first.
    """

    unit: Unit
    reference: Reference
    sure: float
    reason: str
    fit: float = 0.0
    others: tuple[OtherReading, ...] = ()


@dataclass(frozen=True)
class _Levels:
    """Levels of a column in its own numbers; NaN where the log does not show one.

    ``loaded``: full load may be in the log; ``unloaded``: whether a shut throttle is.
    """

    key_on: float
    low: float
    high: float
    closed: float
    wide: float
    overrun: float = math.nan
    loaded: bool = True
    unloaded: Literal["seen", "likely", ""] = "likely"


def key_on_rows(rpm: FloatArray | None) -> NDArray[np.bool_]:
    """Rows with the engine stopped, at least five in a row, two at each end of a run left out."""
    if rpm is None:
        return np.zeros(0, dtype=bool)
    stopped = np.nan_to_num(rpm, nan=1e9) < _STOPPED_RPM
    edges = np.flatnonzero(np.diff(np.concatenate([[False], stopped, [False]]).astype(np.int8)))
    kept = np.zeros(len(rpm), dtype=bool)
    if np.isfinite(rpm).any() and 0.0 < float(np.nanmax(rpm)) < _SLOWEST_IDLE:
        return kept  # no engine speed in rpm: low numbers are no engine that stands
    for start, stop in zip(edges[0::2], edges[1::2], strict=True):
        first = start if start == 0 else start + 2
        last = stop if stop == len(rpm) else stop - 2
        if stop - start >= 5 and last > first:
            kept[first:last] = True
    return kept


def judge(
    values: FloatArray,
    role: Role,
    engine: Engine,
    *,
    unit: Unit | None,
    said: Reference | None,
    usual: Reference | None,
    told: bool = False,
    both: bool = False,
    beside: Unit | None = None,
) -> Judged:
    """The likeliest unit and reference of a pressure column.

    Parameters
    ----------
    values : float64, shape (rows,), the numbers as written
    role : what kind of place the sensor sits in
    engine : what the engine was doing at the same rows
    unit : the unit where the file names it
    said : the reference where the file names it
    usual : the reference that such a name usually means
    told : a person named the unit: no other is thought of
    both : the name says vacuum and boost
    beside : unit of the manifold sensor in the same file, where it was read before
    """
    levels = _levels(values, engine)
    around = 98.0 if engine.barometer is None else engine.barometer / 1e3
    scores: list[tuple[float, Unit, Reference]] = []
    options = _options(unit, told)
    if role == "manifold" and levels.low < 0.0 and said != "abs" and not told:
        options += _two_units(unit, levels.low, both)
    for option, prior in options:
        for reference in _REFERENCES if option is not BOTH else _REFERENCES[:1]:
            score = prior + _SAID * (said == reference) + _USUAL * (usual == reference)
            score += _BESIDE * (unit is None and beside is not None and option.factor == beside.factor)
            fits = _fit(levels, role, option, 0.0 if reference == "gauge" else around, around)
            # Numbers that make sense in no unit are a faulty sensor's: then the header is believed.
            if unit is None or option is unit or fits > _SENSIBLE:
                scores.append((score + fits, option, reference))
    scores.sort(key=lambda item: -item[0])
    top, best, reference = scores[0]
    shares = [math.exp(score - top) for score, _, _ in scores]
    total = sum(shares)
    zero = 0.0 if reference == "gauge" else around
    fit = _fit(levels, role, best, zero, around)
    reason = _reason(levels, best, reference, said, usual)
    if best is BOTH:
        reason = "gauge, below zero in inHg and above it in psi, as boost gauges show it"
    elif unit is not None and best.name != unit.name:
        span = f"{levels.low:.4g} to {levels.high:.4g}"
        reason = f"the header says {unit.name}, but {span} makes sense in {best.name} only; {reason}"
    others = tuple(
        OtherReading(u.name, r, share / total)
        for share, (_, u, r) in zip(shares[1:4], scores[1:4], strict=False)
    )
    # The gauge's two units and psi are one for boost.
    same = sum(
        share
        for share, (_, u, r) in zip(shares, scores, strict=True)
        if r == reference and u.factor == best.factor
    )
    return Judged(best, reference, same / total, reason, fit, others)


def _options(unit: Unit | None, told: bool) -> list[tuple[Unit, float]]:
    """Units that a pressure may be in, with the log odds of each before looking at the numbers."""
    if unit is None:
        return [(get_unit(name, "pressure"), prior) for name, prior in _UNIT_PRIOR.items()]
    others = [] if told else [get_unit(name, "pressure") for name in ("kPa", "psi", "bar", "mbar")]
    far = [other for other in others if not 0.8 < other.factor / unit.factor < 1.25]
    return [(unit, 0.0), *((other, -_UNIT_SAID) for other in far)]


def _two_units(unit: Unit | None, low: float, both: bool) -> list[tuple[Unit, float]]:
    """The scale of boost gauges, where the file does not name another unit."""
    if unit is None:
        return [(BOTH, _BOTH[both])]
    impossible = unit.name == "psi" and low < _NO_VACUUM_PSI
    return [(BOTH, _BOTH_SAID)] if impossible or unit.name == "inHg" else []


def _levels(values: FloatArray, engine: Engine) -> _Levels:
    finite = np.isfinite(values)
    if not finite.any():
        return _Levels(math.nan, math.nan, math.nan, math.nan, math.nan)
    running = finite if engine.rpm is None else finite & (np.nan_to_num(engine.rpm) > 400.0)
    moving = values[running if running.any() else finite]
    low, high = np.percentile(moving, [0.5, 99.5])
    stopped = key_on_rows(engine.rpm)
    key_on = values[stopped & finite] if stopped.size else values[:0]
    if key_on.size > 8 and float(np.subtract(*np.percentile(key_on, [90.0, 10.0]))) > _RESTLESS * noise_of(key_on):
        key_on = values[:0]  # the engine speed reads zero, but the engine runs
    closed = wide = overrun = values[:0]
    if engine.throttle is not None:
        throttle = np.nan_to_num(engine.throttle, nan=0.5)
        if engine.rpm is not None:
            overrun = values[running & (throttle < 0.05) & (np.nan_to_num(engine.rpm) > 2000.0)]
        closed, wide = values[running & (throttle < 0.2)], values[running & (throttle > 0.9)]
    loaded, unloaded = _driven(engine, closed.size, wide.size)
    if not loaded:
        wide = values[:0]  # the widest opening of an idle is no full throttle
    return _Levels(
        float(np.median(key_on)) if key_on.size else math.nan,
        float(low),
        float(high),
        float(np.median(closed)) if closed.size > 5 else math.nan,
        float(np.percentile(wide, 2.0)) if wide.size > 5 else math.nan,
        float(np.median(overrun)) if overrun.size > 5 else math.nan,
        loaded,
        unloaded,
    )


def _driven(engine: Engine, closed: int, wide: int) -> tuple[bool, Literal["seen", "likely", ""]]:
    """Whether full load, and a shut throttle, may be in the log: rows with each, where a throttle tells."""
    revved = engine.rpm is None or not np.isfinite(engine.rpm).any() or float(np.nanmax(engine.rpm)) > _REVVED_RPM
    if engine.throttle is None:
        return revved, "likely"
    return revved and wide > 5, "seen" if closed > 5 else ""


def _fit(levels: _Levels, role: Role, unit: Unit, zero: float, around: float) -> float:
    """Log likelihood of the levels if they are in ``unit`` and gauge zero stands at ``zero`` kPa."""
    written = (levels.key_on, levels.low, levels.high, levels.closed, levels.wide, levels.overrun)
    in_kpa = straight(np.array(written), unit) * (unit.factor / 1e3) - zero
    key_on, low, high, closed, wide, overrun = (float(level) for level in in_kpa)
    score = 0.0
    if math.isfinite(key_on):
        score -= 2.0 * math.log1p((key_on / 8.0) ** 2)
    # Nothing reads below a full vacuum; a little is left for a sensor with an offset.
    below = -around - low
    score -= min(max(below, 0.0) / 2.0, 20.0)
    if levels.loaded:
        typical = _TYPICAL_DOWNPIPE if role == "downpipe" else _TYPICAL
        score -= _capped((math.log(max(high, 1.0) / typical) / 0.8) ** 2 / 2.0, 9.0)
    if role == "manifold":
        if math.isfinite(closed):
            score -= _capped(((closed + 55.0) / 28.0) ** 2 / 2.0, 8.0)
        if math.isfinite(wide):
            above = _capped((max(wide - 80.0, 0.0) / 30.0) ** 2, 4.0)
            score -= _capped((max(-20.0 - wide, 0.0) / 10.0) ** 2 + above, 12.0)
        if levels.unloaded:
            score -= _capped((max(low - 20.0, 0.0) / 20.0) ** 2, 10.0 if levels.unloaded == "seen" else 5.0)
        if math.isfinite(overrun):  # an engine that turns fast against a shut throttle pulls a deep vacuum
            score -= _capped((max(overrun + 45.0, 0.0) / 10.0) ** 2 / 2.0, 8.0)
    elif role == "line":
        score -= _capped((low / 40.0) ** 2 / 2.0, 8.0)
    else:
        score -= _capped((low / 14.0) ** 2 / 2.0, 12.0)
    return score


def _capped(penalty: float, cap: float) -> float:
    return min(penalty, cap)


def _reason(
    levels: _Levels, unit: Unit, reference: Reference, said: Reference | None, usual: Reference | None
) -> str:
    """The strongest reason for a reference, with the number that shows it."""
    word = "gauge" if reference == "gauge" else "absolute"
    if said == reference:
        return f"marked {word}"
    if math.isfinite(levels.key_on):
        near = "near zero" if reference == "gauge" else "near the barometer"
        if reference == "gauge" and abs(levels.key_on) * unit.factor > _FAR_OFF:
            near = "nearer to zero than to the barometer"
        return f"{word}, as it reads {levels.key_on:.4g} {unit.name} with the engine stopped, {near}"
    if reference == "gauge" and levels.low < 0.0:
        return f"{word}, as it goes down to {levels.low:.4g} {unit.name}, below zero"
    if reference == "abs" and levels.low > 0.0:
        even = " even with the throttle shut" if math.isfinite(levels.closed) else ""
        return f"{word}, as it never falls below {levels.low:.4g} {unit.name}{even}"
    return f"{word}, as its name usually means" if usual == reference else f"{word}, by its range"
