"""The plain text of ``boostproof forecast``, made from its JSON answer (formats.md, Answers)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from boostproof.cli.layout import as_table, bullets, ending, wrapped
from boostproof.report import forecast_words as words
from boostproof.report.words import from_kpa as pressure

_ROWS = 7  # engine speeds shown


def show_forecast(answer: Mapping[str, Any], *, units: str, width: int) -> str:
    """The forecast for a terminal of ``width`` columns, pressures in ``units``."""
    target = pressure(answer["target_kpa_gauge"], units)
    head = f"{answer['car']}: after {words.repairs_in_words(answer)}, {target} wanted"
    blocks = ["\n".join(wrapped(head, width))]
    blocks.append("\n".join([*wrapped(words.summary(answer, units), width), *bullets(words.by_cause(answer), width)]))
    blocks.append("Boost on a pull up to redline (nine in ten between)\n" + _curves(answer, units, width))
    blocks.append("Limits\n" + _margins(answer, units, width))
    if answer["sizing"] is not None:
        blocks.append("\n".join(wrapped(words.sizing(answer["sizing"], units), width)))
    blocks.append("\n".join(wrapped(words.area(answer["area"]), width)))
    if answer["setting"] is not None:
        blocks.append("\n".join(wrapped(words.setting(answer["setting"], units), width)))
    costs = answer["costs"]
    taken = [wrapped(text, width, indent=2) for text in (words.takes(costs), words.expected(costs))]
    blocks.append("\n".join(["What it takes", *taken[0], *taken[1]]))
    blocks.append("\n".join(["Without parts", *bullets(map(words.instead, answer["beside"]), width)]))
    if notes := words.notes(answer):
        blocks.append("\n".join(["Mind", *bullets(notes, width)]))
    return "\n\n".join([*blocks, *ending(answer, width)]) + "\n"


def _curves(answer: Mapping[str, Any], units: str, width: int) -> str:
    speeds = answer["rpm"]
    step = max(1, (len(speeds) - 1) // (_ROWS - 1))
    chosen = list(range(len(speeds) - 1, -1, -step))[::-1]
    columns: list[tuple[str, Mapping[str, Any]]] = [("as found", answer["found"])]
    if answer["together"] is not None:
        columns.append(("after", answer["together"]))
    else:
        columns += [(f"if {c['id']}", c["band"]) for c in answer["by_cause"]]
    rows = [(f"{speeds[i]:,.0f}", *(words.band_at(band, i, units) for _, band in columns)) for i in chosen]
    return as_table(("rpm", *(name for name, _ in columns)), rows, width)


def _margins(answer: Mapping[str, Any], units: str, width: int) -> str:
    rows = []
    for m in answer["margins"]:
        told = "" if m["told"] else " (usual)"
        rows.append((
            m["title"], words.amount(m["limit"], m["unit"], units) + told, words.amount(m["value"], m["unit"], units),
            f"passed in {words.chance(m['chance'])}, as found in {words.chance(m['chance_now'])}",
        ))  # fmt: skip
    return as_table(("", "limit", "comes to", ""), rows, width)
