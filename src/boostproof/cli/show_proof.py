"""The plain text of ``boostproof prove``, made from its JSON answer and its sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from boostproof.cli.layout import as_table, bullets, ending, wrapped
from boostproof.report.proof_words import (
    RANGE_HEADS,
    READING_HEADS,
    power_sentence,
    range_rows,
    reading_row,
    sides,
)
from boostproof.units import get_unit


def show_proof(answer: Mapping[str, Any], words: Mapping[str, Any], *, units: str, width: int) -> str:
    """What came of a repair, cautions first, for a terminal of ``width`` columns, pressures in ``units``.

    ``words`` are the sentences of the answer in that unit.
    """
    blocks = [
        "\n".join(wrapped(words["says"], width)),
        _list("Take care", words["cautions"], width),
        _boost(answer, units, width),
        "\n".join(line for said in sides(answer, units) for line in wrapped(said, width, indent=2, hanging=2)),
        _list("What is missing", answer["missing"], width),
        "\n".join(wrapped(words["next_step"], width)),
        "\n".join(wrapped(words["forecast_says"], width)),
        _readings(answer, units, width),
        "" if answer["power"] is None else "\n".join(wrapped(power_sentence(answer["power"]), width)),
    ]
    return "\n\n".join(block for block in (*blocks, *ending(answer, width)) if block) + "\n"


def _list(head: str, sentences: list[str], width: int) -> str:
    return "\n".join([head, *bullets(sentences, width)]) if sentences else ""


def _boost(answer: Mapping[str, Any], units: str, width: int) -> str:
    return f"Boost in {get_unit(units, 'pressure').name}\n" + as_table(RANGE_HEADS, range_rows(answer, units), width)


def _readings(answer: Mapping[str, Any], units: str, width: int) -> str:
    if not answer["readings"]:
        return ""
    rows = [reading_row(one, units) for one in answer["readings"]]
    return "On the bench\n" + as_table(READING_HEADS, rows, width)
