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
    each = [f"{name.replace('_', ' ')} {_times(rate)}" for name, rate in slow.items()]
    told = " and ".join(each)
    return (
        Finding(
            "slow-logger",
            recording.file,
            f"This log tells {told}: a spike of boost shorter than {2.0 / min(slow.values()):.1f} s, or swings that "
            f"take less than {2.5 / min(slow.values()):.1f} s, cannot be seen in it.",
            "Log engine speed, throttle and boost alone, or at ten samples a second or more.",
        ),
    )


def _times(rate: float) -> str:
    if rate < 0.95:
        return f"once in {1.0 / rate:.2g} s"
    return "once a second" if rate < 1.05 else f"{rate:.2g} times a second"


def _rate(channel: Channel, rows: float) -> float:
    if channel.samples is None:
        told = 1.0 - channel.lost_cells / max(len(channel.values), 1)
        return rows * max(told, 1e-3)
    return min(rate_of(channel.samples.time), rows) if len(channel.samples.time) > 1 else rows
