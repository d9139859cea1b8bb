"""The engine control unit's boost loop: feed-forward plus proportional and integral part."""

from __future__ import annotations

from typing import TYPE_CHECKING

from boostproof.physics.ops import clip, component, maximum, minimum

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

_SPOOL_GAIN = 3.0e-5  # 1/Pa, duty per boost error beyond the band
_EDGE = 8.0e3  # Pa beyond the band over which that term sets in and the integral part comes to rest


@component
def loop_duty(error, integral, feed_forward, gain, spool_band, limit, wind_up):
    """Duty that the loop commands, its slope over the error, and how far the integral part follows.

    Within ``spool_band`` of the target the duty is ``feed_forward + gain error + integral``, clipped.
    Further below it a strong extra term drives the duty to its limit within a few kPa, and the integral
    part rests; it rests too where the duty is at either end. ``wind_up`` takes that rest away.

    Parameters
    ----------
    error : target minus measured boost [Pa]
    integral : integral part [1]
    feed_forward, limit : duties [1]
    gain [1/Pa], spool_band [Pa]
    wind_up : 0 the integral part rests as said, 1 it never does [1]

    Returns
    -------
    duty [1], d duty / d error [1/Pa], d duty / d integral [1], share of the integral part's rate that is in
    force [1]

    >>> [float(x) for x in loop_duty(50e3, 0.0, 0.5, 4e-6, 12e3, 0.95, 0.0)]
    [0.95, 0.0, 0.0, 0.0]
    """
    over = maximum(error - spool_band, 0.0)
    onset = over / (over + _EDGE)  # the extra term sets in softly, as a control unit's table would
    raw = feed_forward + gain * error + integral + _SPOOL_GAIN * over * onset
    inside = clip(minimum(raw, limit - raw) * 1e9, 0.0, 1.0)
    slope = inside * (gain + _SPOOL_GAIN * onset * (2.0 - onset))
    near = clip(1.0 - over * (1.0 / _EDGE), 0.0, 1.0)
    free = clip((raw + 0.02) * 50.0, 0.0, 1.0) * clip((limit + 0.02 - raw) * 50.0, 0.0, 1.0)
    following = near * free
    return clip(raw, 0.0, limit), slope, inside, following + wind_up * (1.0 - following)


def table_duty(engine_speed: ArrayLike, speeds: ArrayLike, duties: ArrayLike) -> NDArray[np.float64]:
    """Duty of an open-loop table over engine speed, held at both ends. [1]

    Parameters
    ----------
    engine_speed : any shape [rad/s]
    speeds : (rows,), rising [rad/s]
    duties : (rows,) [1]

    Raises
    ------
    InputRangeError
        Lengths differ, speeds do not rise, or a duty lies outside 0 to 1.

    >>> table_duty([200.0, 350.0, 900.0], [300.0, 400.0], [0.6, 0.4]).tolist()
    [0.6, 0.5, 0.4]
    """
    import numpy as np

    from boostproof.errors import InputRangeError

    at, values = np.asarray(speeds, float), np.asarray(duties, float)
    wrong = ""
    if at.shape != values.shape or at.ndim != 1 or not at.size:
        wrong = f"it has {at.size} speeds and {values.size} duties"
    elif np.any(np.diff(at) <= 0.0):
        wrong = f"its speeds must rise; row {int(np.argmax(np.diff(at) <= 0.0)) + 2} does not"
    elif np.any((values < 0.0) | (values > 1.0)):
        wrong = f"duties must lie between 0 and 1, got {values.min():g} to {values.max():g}"
    if wrong:
        raise InputRangeError(
            f"A duty table cannot be used: {wrong}.", kind="range", where="table_duty", do="Mend that row."
        )
    return np.asarray(np.interp(np.asarray(engine_speed, float), at, values))
