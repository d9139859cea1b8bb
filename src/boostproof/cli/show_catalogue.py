"""The plain text of ``boostproof causes`` and ``boostproof tests``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boostproof.cli.layout import wrapped


def show_causes(rows: Sequence[Mapping[str, Any]], *, width: int) -> str:
    """Every cause: its name, how it shows, and what usually mends it."""
    blocks: list[str] = []
    for row in rows:
        lines = wrapped(f"{row['id']}: {row['title']}", width, hanging=4)
        lines += wrapped(f"{row['looks_like']} Usual repair: {row['repair']}", width, indent=4)
        blocks.append("\n".join(lines))
    return "\n".join(blocks)


def show_tests(rows: Sequence[Mapping[str, Any]], *, width: int) -> str:
    """Every test: its minutes, its cautions, then its steps."""
    blocks: list[str] = []
    for row in rows:
        lines = wrapped(f"{row['id']}: {row['title']} ({row['minutes']:g} min)", width, hanging=4)
        for caution in row["cautions"]:
            lines += wrapped(f"! {caution}", width, indent=4, hanging=2)
        for number, step in enumerate(row["steps"], 1):
            lines += wrapped(f"{number}. {step}", width, indent=4, hanging=3)
        if row["need"]:
            lines += wrapped(f"Needs: {str(row['need']).replace('_', ' ')}.", width, indent=4)
        blocks.append("\n".join(lines))
    return "\n".join(blocks)
