"""The plain text of ``boostproof report``, made from the document."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boostproof.cli.layout import as_table, bullets, wrapped

_BAR = 20
_LAST = 26  # columns that a table leaves for its last column


def show_report(document: Mapping[str, Any], *, width: int) -> str:
    """The document for a terminal of ``width`` columns, or where it was written."""
    if document["written"]:
        return "\n".join(f"Wrote {path}" for path in document["written"]) + "\n"
    blocks = ["\n".join(wrapped(document["title"], width))]
    for part in document["sections"]:
        shown = [_block(block, width) for block in part["blocks"]]
        blocks.append("\n\n".join([part["title"].upper(), *(text for text in shown if text)]))
    return "\n\n".join(blocks) + "\n"


def _block(block: Mapping[str, Any], width: int) -> str:
    kind = block["kind"]
    if kind == "text":
        return "\n".join(wrapped(block["says"], width))
    if kind == "list":
        head = [block["head"]] if block["head"] else []
        return "\n".join([*head, *bullets(block["says"], width, "!" if block["mark"] == "caution" else "-")])
    if kind == "table":
        note = wrapped(block["note"], width, indent=2) if block["note"] else []
        return "\n".join([block["title"], _table(block["heads"], block["rows"], width), *note])
    if kind == "figure":
        return "\n".join(wrapped(f"[{block['title']}: {block['alt']}]", width))
    if kind == "ranking":
        rows = [(row["name"], "" if row["share"] is None else "█" * max(1, round(_BAR * row["share"])), row["says"])
                for row in block["rows"]]  # fmt: skip
        return f"{block['title']}\n" + as_table(("", "", ""), rows, width).lstrip("\n")
    return "\n".join(line for row in block["rows"] for line in wrapped(f"{row['name']}: {row['says']}", width))


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> str:
    """As a table, or where that would cut a cell as one paragraph for each row."""
    needed = sum(2 + max(len(row[i]) for row in [heads, *rows]) for i in range(len(heads) - 1))
    if needed + _LAST <= width:
        return as_table(heads, rows, width)
    said = ["; ".join(f"{head} {cell}" for head, cell in zip(heads, row, strict=True)) for row in rows]
    return "\n".join(bullets(said, width))
