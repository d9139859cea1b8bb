"""Units that a file names and its numbers contradict."""

from __future__ import annotations

from collections.abc import Iterable

from boostproof.findings import Finding
from boostproof.recording.columns.two_units import BOTH
from boostproof.recording.model import Channel


def about_units(file: str, channels: Iterable[Channel]) -> tuple[Finding, ...]:
    """One finding for every channel that was read in another unit than its header names."""
    return tuple(
        Finding(
            "unit-differs",
            f"{file}: {channel.column}",
            _says(channel),
            "Set the unit right in the logger; or, if it is right, name it in pulls.toml under "
            "[recording.channels].",
        )
        for channel in channels
        if channel.said_unit
    )


def _says(channel: Channel) -> str:
    if channel.unit == BOTH.name:
        return (
            f"The header says {channel.said_unit}, but below zero the numbers can only be inHg, as boost gauges show "
            "vacuum; read as inHg below zero and psi above it."
        )
    unit = channel.unit or "a share of 1"
    return f"The header says {channel.said_unit}, but the numbers are those of {unit}; read as {unit}."
