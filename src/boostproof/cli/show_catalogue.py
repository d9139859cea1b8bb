"""The plain text of ``boostproof causes`` and ``boostproof tests``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boostproof.cli.layout import as_table, wrapped


def show_causes(rows: Sequence[Mapping[str, Any]], *, width: int) -> str:
    """Every cause with its name for people and what it is."""
    pairs = [(str(row["id"]), str(row["text"])) for row in rows]
    return as_table(("cause", "what it is"), pairs, width, indent=0)


def show_tests(rows: Sequence[Mapping[str, Any]], *, width: int) -> str:
    """Every test with its minutes, what it is, and its cautions."""
    lines: list[str] = []
    for row in rows:
        minutes = f" ({row['minutes']:g} min)" if row.get("minutes") is not None else ""
        lines.append(f"{row['id']}{minutes}")
        lines.extend(wrapped(str(row["text"]), width, indent=4))
        for caution in row.get("cautions", ()):
            lines.extend(wrapped(f"! {caution}", width, indent=4, hanging=2))
    return "\n".join(lines)
