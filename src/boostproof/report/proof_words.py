"""What a proof shows, as people read it, made from the proof's answer (formats.md, Answers)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boostproof.recording.pull_numbers import NONE, PullNumbers
from boostproof.report.bench_words import digits_of, shown_in
from boostproof.report.words import from_kpa

RANGE_HEADS = ("range", "rpm", "before", "after", "difference", "it is")
READING_HEADS = ("figure", "before", "after", "difference", "by this figure")
_STATES = {
    "holds": ", holds the target", "outside": ", off the target", "cannot tell": ", target not proved", None: "",
}  # fmt: skip
_SWINGS = {"holds": ", small enough", "outside": ", too large", "cannot tell": ", not proved small"}
_CHANGES = {
    "better": "better", "worse": "worse", "different": "different", "no different": "no different",
    "cannot tell": "not to be told",
}  # fmt: skip


def range_rows(answer: Mapping[str, Any], units: str) -> list[tuple[str, ...]]:
    """Rows under `RANGE_HEADS`: the ranges of engine speed, the swings, and all together."""
    rows: list[tuple[str, ...]] = []
    for part in answer["ranges"]:
        state = _STATES[part["state_after"]]
        rows.append(
            (
                part["name"], f"{part['rpm_from']:,.0f} to {part['rpm_to']:,.0f}",
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
    return rows


def sides(answer: Mapping[str, Any], units: str) -> list[str]:
    """Which pulls were held against each other, what weather and repeats did, and the room left after the repair."""
    said = []
    for word in ("before", "after"):
        said.append(f"{word}: {_pulls_named(answer[word]['pulls'])}")
    scatter, weather = answer["scatter"], answer["weather"]
    seen = "as is usual" if scatter["repeats"] == 0 else f"{scatter['repeats']} repeats seen"
    said.append(
        f"differences are for a standard day (weather moved them by {from_kpa(abs(weather['shift_kpa']), units)}); "
        f"pulls of one set-up differ by {from_kpa(scatter['sd_kpa'], units)} ({seen})"
    )
    margins = answer["margins"]
    room = []
    if margins["below_target_kpa"] is not None:
        left = margins["below_target_kpa"]["value"]
        room.append(f"{from_kpa(abs(left), units)} {'below' if left >= 0.0 else 'above'} the target")
    if margins["below_stop_kpa"] is not None:
        left = margins["below_stop_kpa"]["value"]
        room.append(f"the highest boost {from_kpa(abs(left), units)} {'below' if left >= 0.0 else 'above'} the stop")
    if room:
        said.append(f"after the repair: on average {', '.join(room)}")
    return said


def _pulls_named(keys: Sequence[str]) -> str:
    """Pulls by their recordings.

    >>> _pulls_named(["log.csv#1", "log.csv#2", "log.csv#4", "b.csv#1"])
    'log.csv, pulls 1 to 2, 4; b.csv, pull 1'
    """
    files: dict[str, PullNumbers] = {}
    for key in keys:
        file, _, number = key.rpartition("#")
        files[file] = files.get(file, NONE) | PullNumbers(((int(number), int(number)),))
    return "; ".join(f"{file}, {numbers.in_words()}" for file, numbers in files.items())


def reading_row(one: Mapping[str, Any], units: str) -> tuple[str, ...]:
    """A row under `READING_HEADS`: one figure of the bench before and after."""
    factor, unit = shown_in(one["unit"], units)
    change = one["difference"]
    doubt = 0.0 if change is None else change["expanded"] * factor
    digits = digits_of(doubt, [one["before"] * factor, one["after"] * factor])
    level = [f"{one[side] * factor:.{digits}f}{unit}" for side in ("before", "after")]
    apart = "-" if change is None else f"{change['value'] * factor:+.{digits}f} ± {doubt:.{digits}f}"
    return (one["name"], *level, apart, one["verdict"])


def power_sentence(power: Mapping[str, Any]) -> str:
    """Peak power before and after."""
    basis = "by SAE J1349" if power["basis"] == "sae_j1349" else "uncorrected"
    change = power["difference_kw"]
    return (
        f"Peak power, {basis}: {power['before_kw']['value']:.0f} kW before, {power['after_kw']['value']:.0f} kW after "
        f"({change['value']:+.1f} ± {change['expanded']:.1f} kW). {power['why_uncorrected']}"
    ).strip()


def _plain(kilopascal: float, units: str) -> str:
    """A number without its unit, never minus zero."""
    text = from_kpa(kilopascal, units).split(" ")[0]
    return text.lstrip("-") if float(text) == 0.0 else text


def _signed(measured: Mapping[str, float], units: str) -> str:
    text = _plain(measured["value"], units)
    sign = "" if text.startswith("-") or float(text) == 0.0 else "+"
    return f"{sign}{text} ± {_plain(measured['expanded'], units)}"
