"""Channels that come late against others of the file, where physics ties them together.

Nothing is shifted: a filter in a sensor or a slow answer of a control unit delays a channel, and whoever
measures times must know it.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.findings import Finding
from boostproof.recording.model import Channel, FloatArray, Recording, Samples
from boostproof.recording.signals.delays import Delay, delay_between
from boostproof.recording.signals.smooth import filled

_MANY_ROWS, _LEAST_HZ = 50_000, 10.0
_JUDGED = (
    "time", "engine_speed", "throttle", "pedal", "boost", "manifold_pressure", "barometer", "boost_check",
    "compressor_outlet_pressure", "air_flow", "vehicle_speed",
)  # fmt: skip
_LEAST_S = 0.15
_LEAST_SDS = 3.0
_LEAST_PEAK = 0.8
_LONGEST_S = 1.0
_STRETCH_S, _STRETCHES = 30.0, 6  # longest stretch looked at, and how many of them
_SHORTEST_S = 2.0  # of a stretch: in less no delay of half a second shows
_CHARGED = 5e3  # Pa gauge; above it the compressor outlet and the manifold see one pressure
_RISE = 25e3  # Pa; a stretch in which less happens tells nothing
# Ten litres of pipes and cooler over fifty litres a second that a two-litre engine breathes at 3000 rpm.
_FILLING_S = 0.25
_WHEELS_S = 0.3  # s; wheel speeds come over a bus and are smoothed there; common practice, no source
_LEAST_GEARED = 0.95
_TURNING = 60.0  # rad/s, idle and above
# Tip-in: throttle from nearly shut to well open.
_SHUT, _OPEN, _SNAP_S = 0.25, 0.7, 0.4
_VACUUM = -15e3  # Pa gauge
_FOLLOW_S = 0.1  # s in which the manifold fills through an open throttle; common practice, no source
_PEDAL_S = 0.3  # s; the same from the pedal, which a motor and its control follow; common practice, no source
_LOOK_S = 2.0

Rows = NDArray[np.bool_]


@dataclass(frozen=True)
class _Case:
    """A delay that was found: of which channel, against what, and the range that physics gives it."""

    late: Channel
    against: str
    delay: Delay
    least: float = 0.0
    most: float = 0.0

    def outside(self) -> float:
        """Seconds by which the delay lies outside that range."""
        return max(self.least - self.delay.seconds, self.delay.seconds - self.most, 0.0)


def channel_delays(recording: Recording) -> tuple[Finding, ...]:
    """Findings ``channel-delay``.

    Parameters
    ----------
    recording : with its channels; one without time or manifold pressure tells nothing
    """
    if not recording.time_known or not {"boost", "manifold_pressure"} & set(recording.channels):
        return ()
    recording = _thinned(recording)
    manifold = recording.manifold_channel()
    boost = filled(recording.boost_gauge())
    if not np.isfinite(boost).all():
        return ()
    cases = [*_same_pressure(recording, manifold, boost), *_air_flow(recording, manifold, boost)]
    cases += [*_tip_in(recording, manifold, boost), *_vehicle(recording)]
    found = []
    for case in cases:
        off = case.outside()
        if off > _LEAST_S and off > _LEAST_SDS * case.delay.sd:
            found.append(_finding(recording.file, case))
    return tuple(found)


def _thinned(recording: Recording) -> Recording:
    """Of a very long and fast log every so many rows: delays show at ten samples a second."""
    rate = recording.rate_hz or 1.0
    every = min(recording.rows // _MANY_ROWS, int(rate / _LEAST_HZ))
    if every < 2:
        return recording
    channels = {
        name: replace(channel, values=channel.values[::every])
        for name, channel in recording.channels.items()
        if name in _JUDGED
    }
    time = recording.time[::every]
    return replace(recording, rows=len(time), rate_hz=rate / every, time=time, channels=channels)


def _finding(file: str, case: _Case) -> Finding:
    word = "after" if case.delay.seconds > 0.0 else "before"
    return Finding(
        "channel-delay",
        f"{file}: {case.late.column}",
        f"It comes {abs(case.delay.seconds):.2f} s (+/- {2.0 * case.delay.sd:.2f} s) {word} {case.against}; "
        "its values were left at the times of the log.",
        "Do not read times or engine speeds of quick events from this channel; log fewer channels or take "
        "out the filter.",
    )


def _same_pressure(recording: Recording, manifold: Channel, boost: FloatArray) -> list[_Case]:
    """Two sensors of the charge pressure, at full load, where nothing but a cooler is between them."""
    cases = []
    loaded = (boost > _CHARGED) & _wide(recording)
    for name in ("compressor_outlet_pressure", "boost_check"):
        other = recording.channels.get(name)
        if other is None:
            continue
        delay = _over(recording, _samples(recording, manifold), _samples(recording, other), loaded)
        if delay is not None:
            label = f"the pressure in {manifold.column}"
            cases.append(_Case(other, label, delay))
    return cases


def _wide(recording: Recording) -> Rows:
    """Rows with the throttle wide open; all where it was not logged."""
    lever = recording.values("throttle")
    if lever is None or not np.isfinite(lever).any():
        return np.ones(recording.rows, dtype=bool)
    return np.asarray(np.nan_to_num(lever) > 0.8 * float(np.nanpercentile(lever[:: _every(lever)], 99.5)))


def _air_flow(recording: Recording, manifold: Channel, boost: FloatArray) -> list[_Case]:
    """What the engine breathes goes with engine speed times manifold pressure.

    At full load only: after a lift air goes on through the meter and out of a bypass valve. While boost
    rises the meter sees what fills pipes and cooler too, ahead of what the engine breathes.
    """
    flow = recording.channels.get("air_flow")
    if flow is None or not np.isfinite(flow.values).any():
        return []
    speed = filled(recording.channels["engine_speed"].values)
    breathed = speed * np.maximum(boost + recording.barometer.value, 0.0)
    if not np.isfinite(breathed).all():
        return []
    if "throttle" not in recording.channels:
        return []
    loaded = (speed > _TURNING) & _wide(recording)
    delay = _over(recording, Samples(recording.time, breathed), _samples(recording, flow), loaded)
    against = f"engine speed times {manifold.column}, which it must follow"
    return [] if delay is None else [_Case(flow, against, delay, -_FILLING_S)]


def _vehicle(recording: Recording) -> list[_Case]:
    """In one gear the wheels turn with the engine."""
    wheels = recording.channels.get("vehicle_speed")
    if wheels is None or not np.isfinite(wheels.values).any():
        return []
    speed = recording.channels["engine_speed"]
    ratio = filled(wheels.values) / np.maximum(filled(speed.values), _TURNING)
    level = float(np.median(ratio[ratio > 0.0])) if (ratio > 0.0).any() else 0.0
    # A late channel bends the ratio for a while; another gear shifts it for good.
    in_gear = (ratio > 0.6 * level) & (ratio < 1.6 * level) & _turning(speed)
    delay = _over(recording, _samples(recording, speed), _samples(recording, wheels), in_gear)
    if delay is None or delay.peak < _LEAST_GEARED:
        return []
    return [_Case(wheels, f"{speed.column}, with which the wheels turn in one gear", delay, -0.1, _WHEELS_S)]


def _turning(speed: Channel) -> Rows:
    return np.asarray(np.nan_to_num(speed.values) > 1.5 * _TURNING)


def _every(values: FloatArray) -> int:
    return max(1, len(values) // 20_000)


def _samples(recording: Recording, channel: Channel) -> Samples:
    if channel.samples is not None:
        return channel.samples
    told = np.isfinite(channel.values)
    if told.all():
        return Samples(recording.time, channel.values)
    return Samples(recording.time[told], channel.values[told])


def _over(recording: Recording, a: Samples, b: Samples, rows: Rows) -> Delay | None:
    """The delay over the liveliest stretches, weighted by how well each tells it."""
    found = []
    for first, last in _stretches(recording, rows, a):
        pieces = [_between(s, first, last) for s in (a, b)]
        delay = delay_between(*pieces, longest=min(_LONGEST_S, 0.3 * (last - first)))
        if delay is not None and delay.peak > _LEAST_PEAK and delay.sd > 0.0:
            found.append(delay)
    return _joined(found)


def _joined(found: Sequence[Delay]) -> Delay | None:
    if not found:
        return None
    seconds, sd = (np.array([getattr(delay, name) for delay in found]) for name in ("seconds", "sd"))
    weight = 1.0 / sd**2
    mean = float(np.sum(weight * seconds) / weight.sum())
    # Stretches that disagree by more than they say are less certain than they say.
    spread = float(np.sum(weight * (seconds - mean) ** 2)) / max(len(found) - 1, 1)
    return Delay(
        mean, float(np.sqrt(max(1.0, spread) / weight.sum())), float(np.mean([d.peak for d in found]))
    )


def _stretches(recording: Recording, rows: Rows, a: Samples) -> list[tuple[float, float]]:
    """Times of the stretches without a hole in which most happens, none longer than half a minute."""
    time = recording.time
    step = 1.0 / recording.rate_hz if recording.rate_hz else 1.0
    edges = np.flatnonzero(np.diff(np.concatenate([[False], rows, [False]]).astype(np.int8)))
    holes = np.flatnonzero(np.diff(time) > max(0.5, 6.0 * step)) + 1
    spans: list[tuple[float, float, float]] = []
    lengths = time[edges[1::2] - 1] - time[edges[0::2]]
    for index in np.argsort(-lengths)[: 4 * _STRETCHES]:
        start, stop = int(edges[2 * index]), int(edges[2 * index + 1])
        cuts = [start, *holes[(holes > start) & (holes < stop)].tolist(), stop]
        for first, last in itertools.pairwise(cuts):
            begin, end = float(time[first]), float(time[last - 1])
            parts = min(max(1, int((end - begin) / _STRETCH_S) + 1), 20)
            marks = np.linspace(begin, end, parts + 1)
            spans += [(_ptp(a, p, q), p, q) for p, q in itertools.pairwise(marks.tolist())]
    spans.sort(reverse=True)
    return [(p, q) for moved, p, q in spans[:_STRETCHES] if q - p > _SHORTEST_S and moved > 0.0]


def _ptp(samples: Samples, first: float, last: float) -> float:
    piece = _between(samples, first, last).values
    return float(np.ptp(piece)) if piece.size else 0.0


def _between(samples: Samples, first: float, last: float) -> Samples:
    i, j = np.searchsorted(samples.time, [first, last])
    return Samples(samples.time[i : j + 1], samples.values[i : j + 1])


def _tip_in(recording: Recording, manifold: Channel, boost: FloatArray) -> list[_Case]:
    """The manifold fills as soon as the throttle opens; how long after that does its pressure say so?"""
    lever = recording.channels.get("throttle") or recording.channels.get("pedal")
    if lever is None or not np.isfinite(lever.values).any():
        return []
    pressure = Samples(recording.time, boost)
    if manifold.samples is not None:
        pressure = Samples(manifold.samples.time, np.interp(manifold.samples.time, recording.time, boost))
    opening = _samples(recording, lever)
    top = float(np.percentile(opening.values[:: _every(opening.values)], 99.5))
    lags = []
    for start in _openings(opening, top)[:40]:
        lag = _lag(opening, pressure, top, start)
        if lag is not None:
            lags.append(lag)
    if not lags:
        return []
    seconds, sds = np.array(lags).T
    middle = float(np.median(seconds))
    spread = 1.4826 * float(np.median(np.abs(seconds - middle))) if len(lags) > 2 else 0.0
    sd = float(np.hypot(spread, np.median(sds))) / np.sqrt(len(lags))
    against = f"the {lever.name} opens, which the manifold must follow at once"
    most = _FOLLOW_S if lever.name == "throttle" else _PEDAL_S
    return [_Case(manifold, against, Delay(middle, max(sd, 1e-3), 1.0), 0.0, most)]


def _openings(opening: Samples, top: float) -> list[int]:
    """Last samples before the throttle goes from nearly shut to well open in a moment."""
    share = opening.values / max(top, 1e-6)
    rising = np.flatnonzero((share[:-1] < _SHUT) & (share[1:] >= _SHUT))
    found = []
    for row in rising.tolist():
        ahead = min(int(np.searchsorted(opening.time, opening.time[row + 1] + _SNAP_S)) + 1, len(share))
        if share[row + 1 : ahead].size and float(share[row + 1 : ahead].max()) > _OPEN:
            found.append(row)
    return found


def _lag(opening: Samples, pressure: Samples, top: float, row: int) -> tuple[float, float] | None:
    """Seconds from half of the opening to half of the filling, and its sd."""
    begin = float(opening.time[row])
    before, after = _between(pressure, begin - 0.5, begin), _between(pressure, begin, begin + _LOOK_S)
    if len(before.time) < 2 or len(after.time) < 3:
        return None
    low = float(np.median(before.values))
    if low > _VACUUM or float(after.values.max()) < 0.3 * low:
        return None
    half = 0.5 * low
    filled_at = _crossing(after, half)
    plate = _between(opening, begin, begin + _SNAP_S + 0.5)
    opened_at = _crossing(plate, 0.5 * (_SHUT + _OPEN) * top)
    if filled_at is None or opened_at is None:
        return None
    steps = [s.time[1] - s.time[0] for s in (after, plate)]
    return filled_at - opened_at, float(np.hypot(*steps)) / np.sqrt(12.0)


def _crossing(samples: Samples, level: float) -> float | None:
    """When a rising signal first comes to a level."""
    above = np.flatnonzero(samples.values >= level)
    if not above.size:
        return None
    i = int(above[0])
    if i == 0:
        return float(samples.time[0])
    share = (level - samples.values[i - 1]) / (samples.values[i] - samples.values[i - 1])
    return float(samples.time[i - 1] + share * (samples.time[i] - samples.time[i - 1]))
