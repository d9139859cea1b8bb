"""Blocks of the document: short ways to make each kind, and all the words of a document in the order read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from boostproof.workflows.report_answers import (
        BlockAnswer,
        ListAnswer,
        PairsAnswer,
        RankingAnswer,
        SectionAnswer,
        SignAnswer,
        TableAnswer,
        TextAnswer,
    )

    SectionId = Literal[
        "short", "car", "pulls", "bench", "verdict", "done", "forecast", "proof", "cautions", "not-tested", "sign-off"
    ]


def text(says: str, *, lead: bool = False) -> TextAnswer:
    """One paragraph."""
    return {"kind": "text", "says": says, "lead": lead}


def bullets(says: Sequence[str], head: str = "", mark: Literal["dot", "caution"] = "dot") -> list[ListAnswer]:
    """A list, or nothing where it would be empty."""
    return [{"kind": "list", "head": head, "mark": mark, "says": list(says)}] if says else []


def pairs(rows: Sequence[tuple[str, str]]) -> PairsAnswer:
    """Names with what belongs to them; those without anything are left out."""
    return {"kind": "pairs", "rows": [{"name": name, "says": says} for name, says in rows if says]}


def table(title: str, heads: Sequence[str], rows: Sequence[Sequence[str]], note: str = "") -> list[TableAnswer]:
    """A table, or nothing where it would be empty."""
    if not rows:
        return []
    return [{"kind": "table", "title": title, "heads": list(heads), "rows": [list(row) for row in rows], "note": note}]


def ranking(title: str, rows: Sequence[tuple[str, str, float | None]]) -> RankingAnswer:
    """Names, how their share is said, and the share."""
    return {
        "kind": "ranking", "title": title,
        "rows": [{"name": name, "says": says, "share": share} for name, says, share in rows],
    }  # fmt: skip


def sign(rows: Sequence[tuple[str, str]]) -> SignAnswer:
    """Who signs, and what is already known of it."""
    return {"kind": "sign", "rows": [{"name": name, "says": says} for name, says in rows]}


def section(name: SectionId, title: str, blocks: Sequence[BlockAnswer], *, done: bool = True) -> SectionAnswer:
    """One part of the report."""
    return {"id": name, "title": title, "done": done, "blocks": list(blocks)}


def not_done(name: SectionId, title: str, says: str) -> SectionAnswer:
    """A part that was not done, and why."""
    return section(name, title, [text(says)], done=False)


def words_of(document: Mapping[str, Any]) -> Iterator[str]:
    """Every text of a document in the order in which it is read; figures by their captions."""
    yield document["title"]
    for part in document["sections"]:
        yield part["title"]
        for block in part["blocks"]:
            yield from filter(None, _words(block))


def _words(block: Mapping[str, Any]) -> list[str]:
    kind = block["kind"]
    if kind == "text":
        return [block["says"]]
    if kind == "list":
        return [block["head"], *block["says"]]
    if kind == "figure":
        return [block["title"]]
    if kind == "table":
        return [block["title"], *block["heads"], *(cell for row in block["rows"] for cell in row), block["note"]]
    rows = [part for row in block["rows"] for part in (row["name"], row["says"])]
    return [block["title"], *rows] if kind == "ranking" else rows
