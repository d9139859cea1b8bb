"""The plain text of ``boostproof prove``, made from its JSON answer and its sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from boostproof.cli.layout import as_table, finding_lines, pressure, wrapped

_STATES = {"holds": "holds it", "outside": "is off", "cannot tell": "not proved", None: "-"}


def show_proof(answer: Mapping[str, Any], words: Mapping[str, Any], *, units: str, width: int) -> str:
    """What came of a repair, cautions first, for a terminal of ``width`` columns, pressures in ``units``.

    ``words`` are the sentences of the answer in that unit.
    """
    blocks = [
        "\n".join(wrapped(f"{answer['verdict'].capitalize()}. {words['says']}", width)),
        _list("Take care", words["cautions"], width),
        _ranges(answer, units, width),
        "\n".join(_sides(answer, units, width)),
        _list("What is missing", answer["missing"], width),
        "\n".join(wrapped(words["next_step"], width)),
        "\n".join(wrapped(words["forecast_says"], width)),
        _readings(answer, width),
        _power(answer, width),
    ]
    if answer["findings"]:
        blocks.append("Worth knowing\n" + "\n".join(finding_lines(answer["findings"], width)))
    blocks.append("\n".join(f"Wrote {path}" for path in answer["written"]))
    return "\n\n".join(block for block in blocks if block) + "\n"


def _list(head: str, sentences: list[str], width: int) -> str:
    lines = [line for says in sentences for line in wrapped(f"- {says}", width, indent=2, hanging=2)]
    return "\n".join([head, *lines]) if lines else ""


def _ranges(answer: Mapping[str, Any], units: str, width: int) -> str:
    heads = ("range", "rpm", "before", "after", "difference", "target after", "change")
    rows = [
        (
            part["name"],
            f"{part['rpm_from']:,.0f}-{part['rpm_to']:,.0f}",
            pressure(part["before_kpa_gauge"]["value"], units),
            pressure(part["after_kpa_gauge"]["value"], units),
            _signed(part["difference_kpa"], units),
            _STATES[part["state_after"]],
            part["change"],
        )
        for part in answer["ranges"]
    ] + [
        (
            swing["name"], "", pressure(swing["before_kpa"]["value"], units),
            pressure(swing["after_kpa"]["value"], units), _signed(swing["difference_kpa"], units),
            _STATES[swing["state_after"]], swing["change"],
        )
        for swing in answer["swings"]
    ]  # fmt: skip
    rows.append(("all", "", "", "", _signed(answer["overall_difference_kpa"], units), "", ""))
    return as_table(heads, rows, width)


def _signed(measured: Mapping[str, float], units: str) -> str:
    sign = "-" if measured["value"] < 0.0 else "+"
    return f"{sign}{pressure(abs(measured['value']), units)} ± {pressure(measured['expanded'], units)}"


def _sides(answer: Mapping[str, Any], units: str, width: int) -> list[str]:
    lines = []
    for word in ("before", "after"):
        side = answer[word]
        lines += wrapped(f"{word}: {side['name']} ({', '.join(side['pulls'])})", width, indent=2, hanging=2)
    scatter, weather = answer["scatter"], answer["weather"]
    seen = "as is usual" if scatter["repeats"] == 0 else f"{scatter['repeats']} repeats seen"
    lines += wrapped(
        f"differences are for a standard day (weather moved them by {pressure(abs(weather['shift_kpa']), units)}); "
        f"pulls of one set-up differ by {pressure(scatter['sd_kpa'], units)} ({seen})",
        width, indent=2, hanging=2,
    )  # fmt: skip
    margins = answer["margins"]
    room = []
    if margins["below_target_kpa"] is not None:
        left = margins["below_target_kpa"]["value"]
        room.append(f"{pressure(abs(left), units)} {'below' if left >= 0.0 else 'above'} the target")
    if margins["below_stop_kpa"] is not None:
        left = margins["below_stop_kpa"]["value"]
        room.append(f"the highest boost {pressure(abs(left), units)} {'below' if left >= 0.0 else 'above'} the stop")
    if room:
        lines += wrapped(f"after the repair: on average {', '.join(room)}", width, indent=2, hanging=2)
    return lines


def _readings(answer: Mapping[str, Any], width: int) -> str:
    if not answer["readings"]:
        return ""
    rows = [
        (one["name"], f"{one['before']:.3g}", f"{one['after']:.3g}", one["unit"], one["verdict"])
        for one in answer["readings"]
    ]
    return "On the bench\n" + as_table(("figure", "before", "after", "unit", "by this figure"), rows, width)


def _power(answer: Mapping[str, Any], width: int) -> str:
    power = answer["power"]
    if power is None:
        return ""
    basis = "by SAE J1349" if power["basis"] == "sae_j1349" else "uncorrected"
    change = power["difference_kw"]
    text = (
        f"Peak power, {basis}: {power['before_kw']['value']:.0f} kW before, {power['after_kw']['value']:.0f} kW after "
        f"({change['value']:+.1f} ± {change['expanded']:.1f} kW). {power['why_uncorrected']}"
    )
    return "\n".join(wrapped(text.strip(), width))
