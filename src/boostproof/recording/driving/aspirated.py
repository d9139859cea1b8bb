"""A recording in which the manifold never rises above the air around at full throttle.

That is how an engine without a turbo breathes. A turbo whose gate never shuts still makes 10 to 30 kPa, so it
is not taken for one; a charge pipe that has come off altogether may look the same, which only the car's file
can tell.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import FloatArray, Recording
from boostproof.recording.signals.smooth import noise_of, smooth, window_for

_HIGH_RPM, _LEAST_RISE = 4500.0, 1500.0  # a turbo of any size makes boost by then; common practice
_NO_BOOST = 4.0  # kPa gauge; ram effect of the intake pipes and errors of the sensor stay within it
_NO_RISE = 5.0  # kPa over a pull; the same where the air around is not well known
_COMPRESSED = 10.0  # kPa gauge before the throttle: a compressor works, whatever the manifold says
_VACUUM = -25.0  # kPa gauge; an engine that runs with its throttle shut pulls more
_MOSTLY_FULL = 0.8
_SETTLE_S = 0.4
_ENOUGH = 50_000  # samples tell how deep the vacuum is


def no_boost_at_all(
    recording: Recording,
    spans: Sequence[tuple[int, int]],
    rpm: FloatArray,
    boost: FloatArray | None,
) -> bool:
    """Whether the manifold never rises above the air around in any full-load pull.

    Parameters
    ----------
    recording : as read
    spans : rows (first, one past last) of the full-load pulls
    rpm : engine speed without holes [rpm], shape (rows,)
    boost : kPa gauge without holes, shape (rows,), None where it was not logged

    Returns
    -------
    bool
        False where that cannot be told: no pull to high engine speed, a sensor that shows no vacuum either, or
        pressure before the throttle.
    """
    if boost is None or not recording.time_known or not spans:
        return False
    if not any(rpm[b - 1] >= _HIGH_RPM and rpm[b - 1] - rpm[a] >= _LEAST_RISE for a, b in spans):
        return False
    step = 1.0 / recording.rate_hz if recording.rate_hz else 0.1
    limit = _NO_BOOST
    if recording.barometer.source == "standard atmosphere":
        limit += 2e-3 * recording.barometer.sd
    for first, last in spans:
        window = window_for(0.3, step, last - first)
        calm = smooth(boost[first:last], window, 1)
        settled = min(round(_SETTLE_S / step), max(len(calm) - 3, 0))
        high = float(np.percentile(calm[settled:], 98.0))
        if high > limit or high - float(np.median(calm[settled : settled + 3])) > _NO_RISE:
            return False
    return _senses_vacuum(boost, rpm, spans) and not _compressed(recording, spans)


def _senses_vacuum(boost: FloatArray, rpm: FloatArray, spans: Sequence[tuple[int, int]]) -> bool:
    """The sensor lives: it shows vacuum elsewhere, or ripples where the log holds full load alone."""
    rest = rpm > 500.0
    for first, last in spans:
        rest[first:last] = False
    if rest.sum() < (1.0 - _MOSTLY_FULL) * len(rpm):
        return noise_of(boost) > 0.0
    resting = boost[rest]
    return float(np.percentile(resting[:: max(1, len(resting) // _ENOUGH)], 5.0)) < _VACUUM


def _compressed(recording: Recording, spans: Sequence[tuple[int, int]]) -> bool:
    channel = recording.channels.get("compressor_outlet_pressure")
    if channel is None or channel.reference is None:
        return False
    pressure = recording.pressure_gauge("compressor_outlet_pressure") / 1e3
    highest = [
        float(np.nanpercentile(pressure[a:b], 95.0)) for a, b in spans if np.isfinite(pressure[a:b]).any()
    ]
    return bool(highest) and max(highest) > _COMPRESSED


def about_no_boost(recording: Recording, *, by_lever: bool) -> Finding:
    """The finding, for a recording of which `no_boost_at_all` is true.

    Parameters
    ----------
    by_lever : pedal or plate told full throttle; else the manifold alone did
    """
    when = (
        "at full throttle" if by_lever else "on any run, and there is no throttle channel to prove full load"
    )
    return Finding(
        "naturally-aspirated",
        recording.file,
        f"The manifold never rises above the air around {when}, up to high engine speed: so breathes an engine "
        "without a turbo, or one whose compressed air never arrives. No boost figure was taken from it.",
        "If the car has a turbo, look for a charge pipe that is off and whether the boost sensor sits behind "
        "the throttle; if it has none, there is no boost to judge.",
    )
