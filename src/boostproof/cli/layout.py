"""Plain-text pieces that the commands share: tables, wrapped lines, findings."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

_LAST_COLUMN = 24  # columns kept free for the last, wrapped, column of a table


def wrapped(text: str, width: int, *, indent: int = 0, hanging: int = 0) -> list[str]:
    """Lines of at most ``width`` columns."""
    first, rest = " " * indent, " " * (indent + hanging)
    return textwrap.wrap(
        text, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )


def as_table(heads: Sequence[str], rows: Sequence[Sequence[str]], width: int, *, indent: int = 2) -> str:
    """Columns as wide as they need to be, the last one wrapped into what is left of ``width``.

    Where too little is left the widest columns are cut, and end in an ellipsis.
    """
    widths = [max(len(row[i]) for row in [heads, *rows]) for i in range(len(heads) - 1)]
    room = width - indent - 2 * len(widths)
    while sum(widths) > max(0, room - _LAST_COLUMN) and max(widths) > 8:
        widths[widths.index(max(widths))] -= 1
    left = width - room + sum(widths)
    lines: list[str] = []
    for row in [heads, *rows]:
        cells = [
            text if len(text) <= size else text[: size - 1] + "…"
            for text, size in zip(row[:-1], widths, strict=True)
        ]
        start = " " * indent + "".join(
            cell.ljust(size + 2) for cell, size in zip(cells, widths, strict=True)
        )
        last = textwrap.wrap(row[-1], max(20, width - left)) or [""]
        lines.append((start + last[0]).rstrip())
        lines.extend(" " * left + more for more in last[1:])
    return "\n".join(lines)


def bullets(texts: Iterable[str], width: int, mark: str = "-") -> list[str]:
    """Every text as a paragraph behind a mark."""
    return [line for text in texts for line in wrapped(f"{mark} {text}", width, indent=2, hanging=2)]


def ending(answer: Mapping[str, Any], width: int) -> list[str]:
    """The blocks in which an answer ends: its findings, and the files that were written; none where there are none."""
    found = ["\n".join(["Worth knowing", *finding_lines(answer["findings"], width)])] if answer["findings"] else []
    written = "\n".join(f"Wrote {path}" for path in answer.get("written", ()))
    return [*found, written] if written else found


def finding_lines(findings: Sequence[Mapping[str, Any]], width: int) -> list[str]:
    """One paragraph for each finding: where, what, what would settle it."""
    texts = []
    for finding in findings:
        place = f"{finding['where']}: " if finding["where"] else ""
        texts.append(" ".join(part for part in (f"{place}{finding['says']}", finding["do"]) if part))
    return bullets(texts, width)
