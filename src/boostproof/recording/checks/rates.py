"""What a log with few samples a second cannot show."""

from __future__ import annotations

from boostproof.findings import Finding
from boostproof.recording.model import Channel, Recording
from boostproof.recording.rows import rate_of

_LEAST_HZ = 7.0  # common practice, no source: three samples of a spike that lasts under half a second


def slow_logger(recording: Recording) -> tuple[Finding, ...]:
    """Finding ``slow-logger`` where engine speed or boost come less than seven times a second.

    Parameters
    ----------
    recording : a table without time tells nothing
    """
    if recording.rate_hz is None or not recording.time_known:
        return ()
    names = [n for n in ("engine_speed", "boost", "manifold_pressure") if n in recording.channels]
    rates = {name: _rate(recording.channels[name], recording.rate_hz) for name in names}
    slow = {name: rate for name, rate in rates.items() if rate < _LEAST_HZ}
    if not slow:
        return ()
    told = ", ".join(f"{name.replace('_', ' ')} {rate:.2g} times a second" for name, rate in slow.items())
    return (
        Finding(
            "slow-logger",
            recording.file,
            f"Told are {told}: a spike of boost shorter than {2.0 / min(slow.values()):.1f} s, and swings "
            f"faster than {min(slow.values()) / 2.5:.1f} a second, cannot be seen in this log.",
            "Log engine speed, throttle and boost alone, or at ten samples a second or more.",
        ),
    )


def _rate(channel: Channel, rows: float) -> float:
    if channel.samples is None:
        told = 1.0 - channel.lost_cells / max(len(channel.values), 1)
        return rows * max(told, 1e-3)
    return min(rate_of(channel.samples.time), rows) if len(channel.samples.time) > 1 else rows
