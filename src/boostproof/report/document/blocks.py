"""Blocks of the document: short ways to make each kind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

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
