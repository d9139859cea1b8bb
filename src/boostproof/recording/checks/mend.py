"""What is mended on a channel as soon as it is recognised; every change is told."""

from __future__ import annotations

from collections.abc import Mapping

from boostproof.findings import Finding
from boostproof.recording.checks.inverted import turned_right
from boostproof.recording.checks.spikes import without_spikes
from boostproof.recording.columns.timebase import TimeAxis
from boostproof.recording.model import Channel


def mended(
    channel: Channel, channels: Mapping[str, Channel], axis: TimeAxis, file: str
) -> tuple[Channel, tuple[Finding, ...]]:
    """A channel the right way round and without spikes.

    Parameters
    ----------
    channel : just recognised, in SI
    channels : those before it, by our names
    axis : the time of the rows; without a clock nothing is judged
    file : for the findings
    """
    if axis.rate_hz is None:
        return channel, ()
    channel, turned = turned_right(channel, channels, axis.time, file)
    channel, spikes = without_spikes(channel, axis.time, file)
    return channel, turned + spikes
