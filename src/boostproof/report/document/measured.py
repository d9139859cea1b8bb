"""What was measured: pulls with their doubt, and what the bench readings mean."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from boostproof.report.bench_words import meaning_in_words
from boostproof.report.document.blocks import bullets, not_done, section, table, text
from boostproof.report.document.drawn import WIDE, figure
from boostproof.report.document.results import Recorded, Results, Told
from boostproof.report.words import from_kpa

if TYPE_CHECKING:
    from boostproof.workflows.bench import Bench
    from boostproof.workflows.report_answers import BlockAnswer, FigureAnswer, SectionAnswer

_DOUBT = "In 19 of 20 cases the true value lies within ±."
_HEADS = ("pull", "rpm", "boost is there from", "held", "highest", "at the end")


def pulls(results: Results, told: Told) -> SectionAnswer:
    """The full-load pulls of every recording."""
    title = "Measured on pulls"
    if not results.recorded:
        return not_done("pulls", title, "No pull was recorded.")
    blocks: list[BlockAnswer] = []
    said_doubt = False
    # what is of before the repair comes first, and a second log after the first
    in_order = sorted(results.recorded, key=lambda one: (one.after.every, _as_counted(one.name)))
    for number, recorded in enumerate(in_order, 1):
        rows = [
            _row(f"{k}, after the repair" if k in recorded.after and not recorded.after.every else str(k), pull, told.units)
            for k, pull in enumerate(recorded.pulls, 1) if pull["full_load"]
        ]  # fmt: skip
        if rows:
            blocks += table(f"Boost in {recorded.title}", *_told_columns(rows), "" if said_doubt else _DOUBT)
            said_doubt = True
            if recorded.lines:
                blocks.append(_curves(recorded, told.units, number))
        else:
            blocks.append(text(f"{recorded.title} holds no full-load pull."))
    later = _later(results.recorded)
    if later and results.verdict is not None:
        blocks.append(text(f"{later} made after the repair; the verdict rests on what is from before it."))
    blocks += bullets([said for recorded in in_order for said in _creeps(recorded, told.units)])
    return section("pulls", title, blocks)


def _as_counted(name: str) -> list[str | int]:
    """Key by which files are put in order as people count them.

    >>> sorted(["log-10.csv", "log.csv", "log-2.csv"], key=_as_counted)
    ['log.csv', 'log-2.csv', 'log-10.csv']
    """
    parts = re.split(r"(\d+)", name.rpartition(".")[0] or name)
    return [int(part) if part.isdecimal() else part for part in parts]


def _later(recorded: Sequence[Recorded]) -> str:
    """What was made after the repair, as the start of a sentence; empty where nothing was."""
    whole = sum(one.after.every for one in recorded)
    counts = [sum(n in one.after for n in range(1, len(one.pulls) + 1)) for one in recorded if not one.after.every]
    said = [
        f"{number} {kind}{'' if number == 1 else 's'}"
        for number, kind in ((whole, "recording"), (sum(counts), "pull")) if number
    ]  # fmt: skip
    return f"{' and '.join(said)} {'was' if whole + sum(counts) == 1 else 'were'}" if said else ""


def _row(number: str, pull: Mapping[str, Any], units: str) -> list[str]:
    metrics = pull["metrics"]
    return [
        number, f"{round(pull['rpm_from'], -1):,.0f} to {round(pull['rpm_to'], -1):,.0f}",
        _at(metrics, "knee", units), _boost(metrics, "plateau_kpa_gauge", units), _at(metrics, "peak", units),
        _boost(metrics, "end_kpa_gauge", units),
    ]  # fmt: skip


def _told_columns(rows: list[list[str]]) -> tuple[list[str], list[list[str]]]:
    """Heads and rows without the columns of which no pull says anything."""
    told = [i for i in range(len(_HEADS)) if any(row[i] != "–" for row in rows)]
    return [_HEADS[i] for i in told], [[row[i] for i in told] for row in rows]


def _boost(metrics: Mapping[str, Any], name: str, units: str) -> str:
    found = metrics.get(name)
    if found is None:
        return "–"
    value, unit = from_kpa(found["value"], units).split()
    doubt = from_kpa(2.0 * found["sd"], units).split()[0]
    return f"{value} ± {doubt} {unit}"


def _at(metrics: Mapping[str, Any], name: str, units: str) -> str:
    said = _boost(metrics, f"{name}_kpa_gauge", units)
    rpm = metrics.get(f"{name}_rpm")
    return said if rpm is None or said == "–" else f"{said} at {round(rpm['value'], -1):,.0f} rpm"


def _creeps(recorded: Recorded, units: str) -> list[str]:
    """Boost that rises or falls with engine speed by more than its doubt, for the pull that went highest."""
    shown = [(k, p) for k, p in enumerate(recorded.pulls, 1) if p["full_load"]]
    if not shown:
        return []
    number, pull = max(shown, key=lambda item: item[1]["rpm_to"])
    slope = pull["metrics"].get("creep_kpa_per_1000rpm")
    if slope is None or abs(slope["value"]) <= 2.0 * slope["sd"]:
        return []
    word = "rises" if slope["value"] > 0.0 else "falls"
    since = pull["metrics"].get("creep_from_rpm")
    start = "" if since is None else f" from {round(since['value'], -1):,.0f} rpm on"
    much = from_kpa(abs(slope["value"]), units)
    return [f"In pull {number} of {recorded.name} boost {word} by {much} for every 1,000 rpm{start}."]


def _curves(recorded: Recorded, units: str, number: int) -> FigureAnswer:
    from boostproof.report.boost_figure import draw_boost, longest

    shown = longest(recorded.lines)
    alt = (
        f"Line drawing of boost over engine speed. Pull {shown.number} rises to {from_kpa(float(shown.boost.max()), units)} "
        f"at most, between {round(shown.rpm[0], -1):,.0f} and {round(shown.rpm[-1], -1):,.0f} rpm."
    )
    return figure(
        lambda empty: draw_boost(recorded.lines, empty.add_subplot(), name=recorded.name, units=units),
        f"Boost over engine speed in {recorded.title}", alt, WIDE, name=f"pulls{number}",
    )  # fmt: skip


def bench(results: Results, told: Told) -> SectionAnswer:
    """Figures of the car behind the readings, beside those of a sound one."""
    title = "Measured on the bench"
    read = results.bench
    if read is None:
        return not_done("bench", title, "No bench reading was taken.")
    meanings = read.as_json()["meanings"]
    shown = [m for m in meanings if not told.customer or m["verdict"] in ("low", "high")]
    blocks: list[BlockAnswer] = [*table(
        "What the readings mean", ("figure", "is", "on a sound car", "meaning"),
        [meaning_in_words(m, told.units) for m in shown], _DOUBT,
    )]  # fmt: skip
    blocks += _others(meanings, told)
    if read.sweeps:
        blocks.append(_sweeps(read, told.units))
    return section("bench", title, blocks or [text("The readings are words and looks; none of them gives a figure.")])


def _others(meanings: Sequence[Mapping[str, Any]], told: Told) -> list[BlockAnswer]:
    """What the customer's copy leaves out, counted."""
    if not told.customer:
        return []
    kinds = (("as it should be", "is as it should be", "are as they should be"),
             ("cannot tell", "cannot be judged by these readings", "cannot be judged by these readings"))  # fmt: skip
    counts = [(sum(m["verdict"] == verdict for m in meanings), one, many) for verdict, one, many in kinds]
    said = ["1 figure " + one if n == 1 else f"{n} figures {many}" for n, one, many in counts if n]
    return [text(f"{'; '.join(said)}.")] if said else []


def _sweeps(read: Bench, units: str) -> FigureAnswer:
    from boostproof.report.bench_figure import draw_sweeps

    said = "; ".join(
        f"{s.name}: starts to move at {from_kpa(s.first / 1e3, units)}, at its stop at {from_kpa(s.full / 1e3, units)}"
        for s in read.sweeps
    )
    return figure(
        lambda empty: draw_sweeps(read, empty, units=units), "Pressure over travel of the actuator",
        f"Line drawing of the pressure that moves the actuator, beside the range of sound ones. {said}.", WIDE,
        name="sweeps",
    )  # fmt: skip
