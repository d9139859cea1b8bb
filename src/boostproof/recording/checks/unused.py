"""Columns that were not used: those that were meant to be boost are told apart from the rest."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from boostproof.findings import Finding
from boostproof.recording.columns.matching import Seen, says_boost

_LISTED = 16


def about_unused(file: str, seen: Sequence[Seen], used: Collection[str]) -> tuple[Finding, ...]:
    """Findings ``unknown-scale`` and ``unused-columns``.

    Parameters
    ----------
    file : its name
    seen : every column as it was judged
    used : headers of those that are channels
    """
    left = [one for one in seen if one.column.header not in used]
    scaleless = [one for one in left if says_boost(one)]
    findings = [_without_scale(file, one) for one in scaleless]
    rest = [one for one in left if one not in scaleless]
    listed = [f'"{one.column.header}"' + ("" if one.some.size else " (holds no number)") for one in rest]
    if len(listed) > _LISTED:
        listed = [*listed[:_LISTED], f"and {len(listed) - _LISTED} more"]
    if listed:
        findings.append(Finding("unused-columns", file, f"Not used: {', '.join(listed)}."))
    return tuple(findings)


def _without_scale(file: str, one: Seen) -> Finding:
    low, high = float(one.some.min()), float(one.some.max())
    unit = next((f" {r.unit.name}" for r in one.readings if r.unit is not None), "")
    volts = "volts or counts of a sensor, not a pressure" if unit != " %" else "a share, not a pressure"
    return Finding(
        "unknown-scale",
        f"{file}: {one.column.header}",
        f"Its numbers ({low:.4g} to {high:.4g}{unit}) are {volts}; without the sensor's scale no boost can be taken "
        "from it.",
        "Enter the sensor's scale in the logger and log its pressure; if it is a pressure, say its unit with --column.",
    )
