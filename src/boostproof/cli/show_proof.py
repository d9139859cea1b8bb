"""The plain text of ``boostproof prove``, made from its JSON answer and its sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from boostproof.cli.layout import as_table, bullets, ending, wrapped
from boostproof.report.bench_words import digits_of, shown_in
from boostproof.report.words import from_kpa as pressure
from boostproof.units import get_unit

_STATES = {
    "holds": ", holds the target", "outside": ", off the target", "cannot tell": ", target not proved", None: "",
}  # fmt: skip
_SWINGS = {"holds": ", small enough", "outside": ", too large", "cannot tell": ", not proved small"}
_CHANGES = {
    "better": "better", "worse": "worse", "different": "different", "no different": "no different",
    "cannot tell": "not to be told",
}  # fmt: skip


def show_proof(answer: Mapping[str, Any], words: Mapping[str, Any], *, units: str, width: int) -> str:
    """What came of a repair, cautions first, for a terminal of ``width`` columns, pressures in ``units``.

    ``words`` are the sentences of the answer in that unit.
    """
    blocks = [
        "\n".join(wrapped(words["says"], width)),
        _list("Take care", words["cautions"], width),
        _ranges(answer, units, width),
        "\n".join(_sides(answer, units, width)),
        _list("What is missing", answer["missing"], width),
        "\n".join(wrapped(words["next_step"], width)),
        "\n".join(wrapped(words["forecast_says"], width)),
        _readings(answer, units, width),
        _power(answer, width),
    ]
    return "\n\n".join(block for block in (*blocks, *ending(answer, width)) if block) + "\n"


def _list(head: str, sentences: list[str], width: int) -> str:
    return "\n".join([head, *bullets(sentences, width)]) if sentences else ""


def _ranges(answer: Mapping[str, Any], units: str, width: int) -> str:
    heads = ("range", "rpm", "before", "after", "difference", "it is")
    rows = []
    for part in answer["ranges"]:
        state = _STATES[part["state_after"]]
        rows.append(
            (
                part["name"], f"{part['rpm_from']:,.0f}-{part['rpm_to']:,.0f}",
                _plain(part["before_kpa_gauge"]["value"], units), _plain(part["after_kpa_gauge"]["value"], units),
                _signed(part["difference_kpa"], units), f"{_CHANGES[part['change']]}{state}",
            )
        )  # fmt: skip
    for swing in answer["swings"]:
        rows.append(
            (
                swing["name"], "", _plain(swing["before_kpa"]["value"], units),
                _plain(swing["after_kpa"]["value"], units), _signed(swing["difference_kpa"], units),
                f"{_CHANGES[swing['change']]}{_SWINGS[swing['state_after']]}",
            )
        )  # fmt: skip
    rows.append(("all", "", "", "", _signed(answer["overall_difference_kpa"], units), ""))
    return f"Boost in {get_unit(units, 'pressure').name}\n" + as_table(heads, rows, width)


def _plain(kilopascal: float, units: str) -> str:
    """A number without its unit, never minus zero."""
    text = pressure(kilopascal, units).split(" ")[0]
    return text.lstrip("-") if float(text) == 0.0 else text


def _signed(measured: Mapping[str, float], units: str) -> str:
    text = _plain(measured["value"], units)
    sign = "" if text.startswith("-") or float(text) == 0.0 else "+"
    return f"{sign}{text} ± {_plain(measured['expanded'], units)}"


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


def _readings(answer: Mapping[str, Any], units: str, width: int) -> str:
    if not answer["readings"]:
        return ""
    rows = [_reading(one, units) for one in answer["readings"]]
    return "On the bench\n" + as_table(("figure", "before", "after", "difference", "by this figure"), rows, width)


def _reading(one: Mapping[str, Any], units: str) -> tuple[str, ...]:
    factor, unit = shown_in(one["unit"], units)
    change = one["difference"]
    doubt = 0.0 if change is None else change["expanded"] * factor
    digits = digits_of(doubt, [one["before"] * factor, one["after"] * factor])
    level = [f"{one[side] * factor:.{digits}f}{unit}" for side in ("before", "after")]
    apart = "-" if change is None else f"{change['value'] * factor:+.{digits}f} ± {doubt:.{digits}f}"
    return (one["name"], *level, apart, one["verdict"])


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
