"""All the words of a document in the order in which they are read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any


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
