"""The files that people write without what is left out of their case: all else stays byte for byte.

Pure: text in, text out.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Any

from boostproof.casefolder.edit_pulls import with_set_up
from boostproof.casefolder.left_out import LeftOut, names_in
from boostproof.casefolder.lines import places
from boostproof.casefolder.toml_file import toml_rows, toml_table


def pulls_without(text: str, left_out: LeftOut) -> str:
    """pulls.toml without what it says of the recordings that are left out, and with the pulls of others that are."""
    rows = toml_rows(text, "recording")
    kept = _without_rows(text, "recording", [i for i, row in enumerate(rows) if row.get("file") in left_out.recordings])
    for path, numbers in left_out.pulls:
        kept = with_set_up(kept, path, {"after_repair": str(numbers)})
    return kept


def readings_without(text: str, left_out: LeftOut) -> str:
    """readings.toml without the readings that are left out, and without pulls whose recording is."""
    rows = toml_rows(text, "reading")
    names = names_in(rows)
    return _without_rows(text, "reading", [
        i for i, row in enumerate(rows)
        if names[i] in left_out.readings or row.get("recording") in left_out.recordings
    ])  # fmt: skip


def car_without(text: str, left_out: LeftOut) -> str:
    """car.toml without the recordings that are left out where it tells of what was tried."""
    out, data = text, toml_table(text)
    if data is None:
        return text
    for pair in reversed(places(text).pairs):
        if pair.path[:2] != ("history", "tried"):
            continue
        value: Any = data
        for key in pair.path:
            value = value[key]
        named = {value} if isinstance(value, str) else set(value) if isinstance(value, list) else set()
        if pair.path[-1] in ("before", "after") and named & set(left_out.recordings):
            end = out.find("\n", pair.end)
            out = out[: pair.start] + ("" if end < 0 else out[end + 1 :])
    return out


def empty(text: str) -> bool:
    """Whether a readings.toml or pulls.toml says nothing; one that is no TOML is left to whoever reads it."""
    found = toml_table(text)
    return found is not None and not set(found) - {"format"}


def _without_rows(text: str, table: str, which: Collection[int]) -> str:
    """The text without some rows of a list of tables; all else stays byte for byte."""
    if not which:
        return text
    headings = places(text).headings
    blocks = []
    for place, heading in enumerate(headings):
        if len(heading.path) == 2 and heading.path[0] == table and heading.path[1] in which:
            after = (h.start for h in headings[place:] if h.path[:2] != heading.path)
            blocks.append((heading.start, next(after, len(text))))
    if len(blocks) != len(which):
        return _without_inline_rows(text, table, which)
    for start, end in reversed(blocks):
        kept = text[:start]
        if end >= len(text):  # the line that was left free before it goes with the last
            kept = re.sub(r"(?<=\n)\r?\n\Z", "", kept)
        text = kept + text[end:]
    return text


def _without_inline_rows(text: str, table: str, which: Collection[int]) -> str:
    import tomlkit

    document = tomlkit.parse(text)
    listed: Any = document[table]
    for place in sorted(which, reverse=True):
        del listed[place]
    return document.as_string()
