"""The plain text of ``boostproof bench``, made from its JSON answer (formats.md, Answers)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boostproof.cli.layout import as_table, ending, wrapped
from boostproof.report.bench_words import meaning_in_words

_WORDS = 24  # columns for the words behind the figures
_GROUPS = ("actuator", "controller", "line", "gate", "sensor", "engine")


def show_bench(answer: Mapping[str, Any], *, units: str, width: int) -> str:
    """What the readings mean, for a terminal of ``width`` columns, pressures in ``units``."""
    groups = {g: [meaning_in_words(m, units) for m in answer["meanings"] if m["group"] == g] for g in _GROUPS}
    rows = [row for group in groups.values() for row in group]
    as_tables = sum(2 + max((len(row[i]) for row in rows), default=0) for i in range(3)) + _WORDS <= width
    blocks = ["\n".join(wrapped(f"{answer['car']}: what the bench readings mean (± is two standard deviations)", width))]
    for group, found in groups.items():
        if found:
            text = as_table(("", "is", "sound", ""), found, width) if as_tables else _paragraphs(found, width)
            blocks.append(f"{group.capitalize()}\n{text}")
    return "\n\n".join([*blocks, *ending(answer, width)]) + "\n"


def _paragraphs(rows: Sequence[Sequence[str]], width: int) -> str:
    """One for each figure, where a table would have to cut them."""
    lines: list[str] = []
    for name, measured, sound, said in rows:
        beside = "" if sound == "-" else f" (sound {sound})"
        lines += wrapped(f"{name} {measured}{beside}: {said}", width, indent=2, hanging=4)
    return "\n".join(lines)
