"""Units that a file names and its numbers contradict."""

from __future__ import annotations

from collections.abc import Iterable

from boostproof.findings import Finding
from boostproof.recording.model import Channel


def about_units(file: str, channels: Iterable[Channel]) -> tuple[Finding, ...]:
    """One finding for every channel that was read in another unit than its header names."""
    return tuple(
        Finding(
            "unit-differs",
            f"{file}: {channel.column}",
            f"The header says {channel.said_unit}, but the numbers are those of "
            f"{channel.unit or 'a share of 1'}; read as {channel.unit or 'a share of 1'}.",
            "Set the unit right in the logger; or, if it is right, name it in pulls.toml under "
            "[recording.channels].",
        )
        for channel in channels
        if channel.said_unit
    )
