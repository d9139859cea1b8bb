"""A manifold that shows no vacuum with the pedal released: no throttle plate, or a sensor before it."""

from __future__ import annotations

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.columns.thinned import thin
from boostproof.recording.model import Recording

_RPM = 30.0 / np.pi
_SHUT, _WIDE = 0.1, 0.9
_RUNNING = 700.0
_SHUT_S = 1.5
_NONE, _BOOSTED = -8e3, 20e3  # Pa gauge
_STANDS = 0.2  # share of rows at the lowest value, as of a channel that ends there


def no_vacuum(recording: Recording) -> tuple[Finding, ...]:
    """Finding ``no-vacuum``.

    Parameters
    ----------
    recording : with its channels; one without pedal or throttle tells nothing
    """
    lever = recording.channels.get("pedal") or recording.channels.get("throttle")
    if lever is None or not recording.rate_hz or not {"boost", "manifold_pressure"} & set(recording.channels):
        return ()
    opening, boost = thin(lever.values), thin(recording.boost_gauge())
    rpm = thin(recording.channels["engine_speed"].values) * _RPM
    told = np.isfinite(opening) & np.isfinite(boost) & (rpm > _RUNNING)
    shut, wide = told & (opening < _SHUT), told & (opening > _WIDE)
    seconds = recording.rows / len(opening) / recording.rate_hz
    if shut.sum() * seconds < _SHUT_S or wide.sum() < 5 or float(np.percentile(boost[wide], 90.0)) < _BOOSTED:
        return ()
    if float(np.percentile(boost[shut], 5.0)) < _NONE or float(np.mean(boost[told] == boost[told].min())) > _STANDS:
        return ()
    return (
        Finding(
            "no-vacuum",
            f"{recording.file}: {recording.manifold_channel().column}",
            "With the pedal released the pressure never falls below the air around: the engine has no throttle plate, "
            "as a diesel, or the sensor sits before the plate.",
            "If it sits before the plate, log the manifold as well; causes are told here for petrol engines only.",
        ),
    )
