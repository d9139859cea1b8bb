"""What a pull shows, by the definitions of formats.md, each with a standard deviation.

Boost in kPa gauge at the manifold over engine speed in rpm, as in the names of the metrics. A metric
that the pull cannot show is None, never a guess. Every definition is worked out on the pull as logged and
on copies of it as it might as well have been logged (`replicas`); how the copies differ is the doubt, and a
metric that most copies do not show is not shown.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from boostproof.recording.model import FloatArray, Metric
from boostproof.recording.pulls.replicas import (
    CALM,
    COPIES,
    LAG_SD_S,
    MEASURED,
    SENSOR_S,
    Prepared,
    SensorDoubt,
    prepare,
)
from boostproof.recording.signals.broken_lines import BrokenLines, fit_broken_lines
from boostproof.recording.signals.waves import strongest_line

__all__ = ["LAG_SD_S", "METRICS", "SENSOR_S", "SensorDoubt", "measure"]

METRICS = (
    "boost_threshold_rpm",
    "rpm_at_80",
    "time_to_80_s",
    "knee_rpm",
    "knee_kpa_gauge",
    "plateau_kpa_gauge",
    "creep_kpa_per_1000rpm",
    "creep_from_rpm",
    "taper_kpa",
    "peak_kpa_gauge",
    "peak_rpm",
    "end_kpa_gauge",
    "end_rpm",
    "spike_kpa",
    "settling_s",
    "oscillation_kpa",
    "oscillation_hz",
)

# The copies' calm course rounds off a short swing, and spikes are told only where they stand out: found by
# drawing pulls whose truth is known (the tests repeat it on others).
_WIDER = {"spike_kpa": 1.25}
_FLAT = 3.0e-3  # kPa per rpm
_LEAST_PLATEAU = 500.0  # rpm
_KNEE_SHARE = 0.25
_LEAST_SLOPE = 4.0e-3  # kPa per rpm, of a rise that can have a knee
_WITHIN = 3.0  # kPa
_NODES = 100  # of the grid of engine speed on which lines are fitted
_MANY = 30  # copies; of fewer no share of a twentieth can be told
_BAND = 2.0 * 1.6449  # sd between the 5th and 95th of a hundred normal values
# What hangs on a highest or last value: noise lifts it.
_RAISED = ("peak_kpa_gauge", "spike_kpa", "settling_s")
# What can fall on either of two places: the share that the farther of both sides has in its doubt.
_ONE_SIDED = {"knee_rpm": 1.0, "creep_from_rpm": 0.5, "settling_s": 0.75, "taper_kpa": 0.5}

_NEAR = 1.0  # noise of smoothed boost; samples this near to the highest could be it

# A definition worked out on every row of a prepared pull: shape (rows,), NaN where a row does not show it.
Found = dict[str, FloatArray]


def measure(
    time: FloatArray | None,
    rpm: FloatArray,
    boost: FloatArray | None,
    *,
    tip_in: bool,
    opened: float | None = None,
    limit: float | None = None,
    sensor: SensorDoubt | None = None,
    copies: int = COPIES,
) -> dict[str, Metric | None]:
    """All metrics of one pull.

    Parameters
    ----------
    time : seconds of each sample, shape (n,), None where the file has no time
    rpm : engine speed, without holes
    boost : kPa gauge at the manifold, without holes; None where it was not logged
    tip_in : the throttle was seen opening, so that times can be counted from there
    opened : seconds at which it was first seen open; None, at the first sample
    limit : boost at which the sensor ends, None where it never came there: of a pull that met it only what
        happened before is told, and its peak, its end and what counts from its level are unknown
    sensor : how far the boost sensor may be off; None, as sensors usually are
    copies : drawn to see the doubt
    """
    nothing: dict[str, Metric | None] = dict.fromkeys(METRICS)
    cut = _met_limit(boost, limit)
    if boost is None or len(boost[:cut]) < 4:
        return nothing
    pull = prepare(
        None if time is None else time[:cut],
        rpm[:cut],
        boost[:cut],
        sensor or SensorDoubt(),
        opened=opened,
        copies=copies,
    )
    end = _end(pull)
    found: Found = {}
    if cut is None:
        found |= {"end_kpa_gauge": end, "end_rpm": pull.end_rpm} | _peak(pull)
    lines, grid, curves = _fit(pull, end)
    knee = None if lines is None else _knee(lines)
    if lines is not None and knee is not None:
        found |= _after_knee(pull, lines, knee, grid, curves, end, found.get("peak_kpa_gauge"))
    plateau = found.get("plateau_kpa_gauge", np.full(len(end), np.nan))
    if cut is None or np.isfinite(plateau[MEASURED]):
        found |= _response(pull, np.where(np.isfinite(plateau), plateau, end), tip_in=tip_in)
    # What is counted in samples or nodes is no surer than half of one (GUM 4.3.7).
    node = float(np.ptp(grid)) / _NODES / 12**0.5 if grid.size else 0.0
    least = {"settling_s": pull.step / 6**0.5, "knee_rpm": node, "creep_from_rpm": node}
    span = found.pop("peak_span", None)
    if span is not None:
        between = float(np.ptp(pull.rpm[CALM])) / max(pull.boost.shape[1] - 1, 1)
        least["peak_rpm"] = float(np.hypot(span[MEASURED] / _BAND, between / 12**0.5))
    told = {
        name: _metric(values, name, least.get(name, 0.0), lifted=pull.time is not None)
        for name, values in found.items()
    }
    waves: dict[str, Metric | None] = {}
    if pull.time is not None and time is not None and told.get("knee_rpm") is not None:
        after = int(np.argmax(pull.rpm[MEASURED] >= found["knee_rpm"][MEASURED]))
        waves = _wave(time[:cut], boost[:cut], float(pull.time[after]))
    return nothing | _shown(told) | waves


@lru_cache(maxsize=4)
def _close_calls(rows: int) -> tuple[FloatArray, FloatArray]:
    """How much a further piece must bring, and how flat it must be after a knee, per row.

    Where that is a close call the copies fall on both sides.
    """
    copies = rows - 2
    strict, shares = np.ones(rows), np.full(rows, _KNEE_SHARE)
    strict[2:] = np.random.default_rng(1).permutation(np.linspace(-0.7, 2.0, copies))
    shares[2:] *= np.random.default_rng(2).permutation(np.geomspace(0.5, 2.0, copies))
    return strict, shares


def _met_limit(boost: FloatArray | None, limit: float | None) -> int | None:
    """First sample at the end of the sensor's range, None if the pull stays below."""
    if boost is None or limit is None:
        return None
    at = np.flatnonzero(boost >= limit - 1e-6)
    return int(at[0]) if at.size >= 3 else None


def _metric(values: FloatArray, name: str, least: float, *, lifted: bool) -> Metric | None:
    """A value with the spread of its copies; None where the pull or most copies do not show it."""
    drawn = values[2:][np.isfinite(values[2:])]
    if not np.isfinite(values[MEASURED]) or 2 * len(drawn) < len(values) - 2:
        return None
    value = float(values[MEASURED])
    if lifted and name in _RAISED and np.isfinite(values[CALM]):
        value -= max(float(np.median(drawn) - values[CALM]), 0.0)
        value = value if values[MEASURED] < 0.0 else max(value, 0.0)
    farther = _ONE_SIDED.get(name, 0.0)
    if len(drawn) < _MANY:
        spread, away = float(drawn.std(ddof=1)), float(np.sqrt(np.mean((drawn - value) ** 2)))
    else:
        low, high = np.percentile(drawn, [5.0, 95.0])
        spread, away = float(high - low) / _BAND, 2.0 * float(max(high - value, value - low)) / _BAND
    sd = ((1.0 - farther) * spread + farther * away) * _WIDER.get(name, 1.0)
    return Metric(value, max(sd, least))


def _shown(told: dict[str, Metric | None]) -> dict[str, Metric | None]:
    """A spike no higher than twice its doubt is none, and then nothing settles."""
    spike = told.get("spike_kpa")
    if spike is not None and spike.value <= 2.0 * spike.sd:
        told |= {"spike_kpa": None, "settling_s": None}
    return told


def _end(pull: Prepared) -> FloatArray:
    """Boost at the last sample: a straight line through the last quarter second, read at its end."""
    if pull.time is None:
        return np.asarray(pull.boost[:, -1])
    last = max(3, int(np.count_nonzero(pull.time > pull.time[-1] - 0.25)))
    to_line = np.linalg.pinv(np.vander(pull.time[-last:] - pull.time[-1], 2))
    return np.asarray(pull.raw[:, -last:] @ to_line[1])


def _peak(pull: Prepared) -> Found:
    """Highest boost, and its speed: the middle of all that noise cannot tell from the highest."""
    top = pull.boost.max(axis=1)
    near = pull.boost >= (top - _NEAR * pull.noise_sd)[:, None]
    near[CALM] = pull.boost[CALM] >= top[CALM]
    rows = np.arange(len(top))
    first = pull.rpm[rows, np.argmax(near, axis=1)]
    last = pull.rpm[rows, near.shape[1] - 1 - np.argmax(near[:, ::-1], axis=1)]
    return {"peak_kpa_gauge": top, "peak_rpm": 0.5 * (first + last), "peak_span": last - first}


def _crossing(pull: Prepared, level: FloatArray) -> tuple[np.ndarray, FloatArray]:
    """(sample, share of the step before it) where each row first reaches its level; NaN if it starts above."""
    above = pull.boost >= level[:, None]
    index = np.argmax(above, axis=1)
    rows = np.arange(len(index))
    before, after = pull.boost[rows, np.maximum(index - 1, 0)], pull.boost[rows, index]
    rise = np.where(after > before, after - before, np.inf)
    part = np.where(above.any(axis=1) & (index > 0), (level - before) / rise, np.nan)
    return np.maximum(index, 1), part


def _response(pull: Prepared, level: FloatArray, *, tip_in: bool) -> Found:
    """Boost threshold (half of the level), and speed and time at which 80 % of it is reached."""
    level = np.where(level < 10.0, np.nan, level)
    found: Found = {}
    rows = np.arange(len(level))
    for share, name in ((0.5, "boost_threshold_rpm"), (0.8, "rpm_at_80")):
        index, part = _crossing(pull, share * level)
        low, high = pull.rpm[rows, index - 1], pull.rpm[rows, index]
        found[name] = low + part * (high - low)
        if share == 0.8 and tip_in and pull.time is not None:
            before, after = pull.time[index - 1], pull.time[index]
            found["time_to_80_s"] = before + part * (after - before) - pull.begin
    return found


def _fit(pull: Prepared, end: FloatArray) -> tuple[BrokenLines | None, FloatArray, FloatArray]:
    """Straight pieces from where the rise is well under way to the end of the pull, on an even grid of speed.

    Where creep doubles the boost, half of the level lies beyond the knee: a fit from a quarter on looks for
    a knee that low first, and counts only if it finds one.
    """
    highest = float(pull.boost[CALM].max())
    top = max(float(end[MEASURED]), 0.6 * highest)
    nothing = np.zeros(0)
    for share in (0.25, 0.5):
        grid, curves = _on_grid(pull, share * top)
        if not grid.size:
            continue
        span = float(grid[-1] - grid[0])
        nodes = pull.boost.shape[1] * span / max(float(np.ptp(pull.rpm[CALM])), 1.0)
        least = max(60.0, 2.5 * span / max(nodes, 1.0), 0.02 * span)
        if span < 2.0 * least:
            continue
        noise, free = _node_noise(pull, nodes)
        if share == 0.25:
            lines = fit_broken_lines(grid, curves[:CALM], least, noise=noise, free=free)
            knee = int(_knee(lines)[MEASURED])
            if knee == 0 or lines.levels[MEASURED, knee] >= 0.67 * highest:
                continue
        lines = fit_broken_lines(grid, curves, least, noise=noise, free=free, strict=_close_calls(len(curves))[0])
        return lines, grid, curves
    return None, nothing, nothing


def _node_noise(pull: Prepared, nodes: float) -> tuple[float, float]:
    """(mean square of the noise at a node, independent values of it along the grid)."""
    holds = (1.0 + pull.noise.correlation) / (1.0 - pull.noise.correlation)
    window = 1.0 if pull.time is None else max(SENSOR_S / max(pull.step, 1e-9), 1.0)
    return pull.noise_sd**2 * min(holds, window), max(nodes / max(window, holds), 4.0)


def _on_grid(pull: Prepared, level: float) -> tuple[FloatArray, FloatArray]:
    """Every row on one even grid of engine speed, from where the calm course first reaches a level."""
    calm = pull.boost[CALM]
    above = np.flatnonzero(calm >= level)
    first = int(above[0]) if above.size else 0
    rpm = pull.rpm[CALM]
    if len(rpm) - first < 8 or rpm[-1] - rpm[first] < 120.0:
        return np.zeros(0), np.zeros((0, 0))
    grid = np.linspace(rpm[first], rpm[-1], _NODES)
    return grid, np.stack([np.interp(grid, x, y) for x, y in zip(pull.rpm, pull.boost, strict=True)])


def _knee(lines: BrokenLines) -> np.ndarray:
    """Number of the edge that is a knee, per row; 0 where there is none.

    A knee has a rise before it and less than a quarter of that slope after it.
    """
    knee = np.zeros(len(lines.count), dtype=np.intp)
    shares = _close_calls(max(len(knee), 3))[1][: len(knee)]
    fits = lines.misfit <= 0.7 * lines.straight
    for index in (1, 0):
        before, after = lines.slopes[:, index], lines.slopes[:, index + 1]
        level = lines.levels[:, index + 1]
        climbed = level - lines.levels[:, 0]
        left = lines.edges[:, -1] - lines.edges[:, index + 1]
        steep = (before > _LEAST_SLOPE) & (climbed > np.maximum(0.1 * np.abs(level), 4.0 * lines.misfit))
        bends = (lines.count > index + 1) & (np.nan_to_num(after, nan=np.inf) < shares * before)
        knee = np.where(fits & steep & bends & (left >= 100.0), index + 1, knee)
    return knee


def _after_knee(
    pull: Prepared,
    lines: BrokenLines,
    knee: np.ndarray,
    grid: FloatArray,
    curves: FloatArray,
    end: FloatArray,
    peak: FloatArray | None,
) -> Found:
    rows = np.arange(len(knee))
    shown = np.where(knee > 0, 1.0, np.nan)
    found: Found = {
        "knee_rpm": shown * lines.edges[rows, knee],
        "knee_kpa_gauge": shown * lines.levels[rows, knee],
        "plateau_kpa_gauge": shown * _plateau(lines, knee, grid, curves),
    }
    last = lines.count - 1
    slope = shown * lines.slopes[rows, last]
    found["creep_kpa_per_1000rpm"] = 1000.0 * slope
    found["creep_from_rpm"] = shown * lines.edges[rows, last]
    if peak is not None:
        # Noise lifts a highest value: the copies tell by how much.
        lift = 0.0 if pull.time is None else max(float(np.median(peak[2:]) - peak[CALM]), 0.0)
        lifted = peak - np.where(rows == CALM, 0.0, lift)
        top = np.where(np.isfinite(found["plateau_kpa_gauge"]), found["plateau_kpa_gauge"], lifted)
        found["taper_kpa"] = np.where(slope < 0.0, top - end, np.nan)
    if pull.time is not None:
        found |= _spike(pull, found["knee_rpm"])
    return found


def _plateau(lines: BrokenLines, knee: np.ndarray, grid: FloatArray, curves: FloatArray) -> FloatArray:
    """Median boost over the flat pieces after the knee."""
    flat = np.zeros(curves.shape, dtype=bool)
    span = np.zeros(len(knee))
    for index in range(3):
        low, high = lines.edges[:, index], lines.edges[:, index + 1]
        level = (index >= knee) & (np.abs(np.nan_to_num(lines.slopes[:, index], nan=1.0)) <= _FLAT)
        flat |= level[:, None] & (grid >= low[:, None]) & (grid <= high[:, None])
        span += np.where(level, high - low, 0.0)
    known = (span >= _LEAST_PLATEAU) & flat.any(axis=1)
    out = np.full(len(knee), np.nan)
    if known.any():
        out[known] = np.nanmedian(np.where(flat[known], curves[known], np.nan), axis=1)
    return out


def _spike(pull: Prepared, knee: FloatArray) -> Found:
    """Highest boost within a second after the knee, above the level one second later."""
    assert pull.time is not None
    time, boost = pull.time, pull.boost
    rows = np.arange(len(knee))
    first = np.argmax(pull.rpm >= np.nan_to_num(knee, nan=np.inf)[:, None], axis=1)
    start = time[first]
    window = (time >= start[:, None] - 0.1) & (time <= start[:, None] + 1.0)
    top = np.argmax(np.where(window, boost, -np.inf), axis=1)
    until = time[top] + 1.0
    later = np.abs(time - until[:, None]) <= max(0.1, 1.01 * pull.step)
    known = np.isfinite(knee) & (time[-1] >= until) & later.any(axis=1)
    level = np.where(later, boost, 0.0).sum(axis=1) / np.maximum(later.sum(axis=1), 1)
    height = boost[rows, top] - level
    outside = (time >= start[:, None]) & (time <= until[:, None]) & (np.abs(boost - level[:, None]) > _WITHIN)
    # The last sample outside, counted from the back.
    last = outside.shape[1] - 1 - np.argmax(outside[:, ::-1], axis=1)
    settled = np.where(outside.any(axis=1), time[np.minimum(last + 1, len(time) - 1)] - start, 0.0)
    return {
        "spike_kpa": np.where(known, height, np.nan),
        "settling_s": np.where(known, np.maximum(settled, 0.0), np.nan),
    }


def _wave(time: FloatArray, boost: FloatArray, since: float) -> dict[str, Metric | None]:
    """Strongest line of boost from some second on, where it stands above the noise."""
    first = int(np.searchsorted(time, since))
    line = strongest_line(time[first:], boost[first:])
    if line is None:
        return {}
    return {"oscillation_kpa": Metric(*line.amplitude), "oscillation_hz": Metric(*line.frequency)}
