"""The plain text of ``boostproof inspect``, made from its JSON answer (formats.md, Answers)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boostproof.cli.layout import as_table, ending, wrapped
from boostproof.cli.show_comparable import comparable_lines
from boostproof.report.words import from_kpa as pressure

_ENDED = {
    "ceiling": "held to the top",
    "lifted": "then lifted",
    "end of file": "until the file ends",
    "unknown": "",
}


_PLAIN = frozenset({"by its name", "by its name and unit", "a barometer is always absolute"})
# What does not show in a log on the road or the rollers: kPa, kPa per 1,000 rpm, s.
_LEAST_SPIKE, _LEVEL, _AT_ONCE = 2.0, 1.2, 0.05


def show_inspection(answer: Mapping[str, Any], *, name: str, units: str, width: int) -> str:
    """What a recording holds, for a terminal of ``width`` columns, pressures in ``units``."""
    blocks = [_file_line(answer["file"], name), _columns(answer["channels"], width)]
    if answer.get("questions"):
        blocks.append(_questions(answer["questions"], width))
    blocks.append(_pulls(answer["pulls"], units, width, timed=answer["file"].get("rate_hz") is not None))
    if comparable := comparable_lines(answer, units=units, width=width):
        blocks.append("\n".join(["To compare with other days", *comparable]))
    return "\n\n".join([*blocks, *ending(answer, width)]) + "\n"


def _file_line(file: Mapping[str, Any], name: str) -> str:
    parts = [str(file["kind"]).upper()]
    if file.get("rows") is not None:
        parts.append(f"{file['rows']:,} rows")
    if file.get("rate_hz") is not None:
        parts.append(f"{file['rate_hz']:.3g} a second")
    return f"{name}: {', '.join(parts)}"


def _columns(channels: Sequence[Mapping[str, Any]], width: int) -> str:
    """The column match: what each column was taken for, and how sure that is."""
    if not channels:
        return "Columns\n  none was recognised"
    rows = []
    for channel in channels:
        unit = " ".join(str(part) for part in (channel.get("unit"), channel.get("reference")) if part)
        rows.append(
            (
                str(channel["name"]).replace("_", " "),
                unit or "-",
                f"{100 * channel['sure']:.0f} %",
                "; ".join([f'"{channel["column"]}"', *_reasons(channel)]),
            )
        )
    return "Columns\n" + as_table(("", "read as", "sure", "column"), rows, width)


def _reasons(channel: Mapping[str, Any]) -> list[str]:
    """What is worth saying of a column: lost cells, and a reason that is more than its plain name."""
    lost = channel.get("lost_cells") or 0
    parts = str(channel.get("why") or "").split("; ")
    told = [part for part in parts if part and part not in _PLAIN]
    return ([f"{lost:,} cells unreadable"] if lost else []) + told


def _questions(questions: Sequence[Mapping[str, Any]], width: int) -> str:
    """What is unsure and matters, what was taken, and how to say otherwise."""
    lines = ["To be sure"]
    for question in questions:
        lines += wrapped(f"- {question['asks']}", width, indent=2, hanging=2)
        for number, option in enumerate(question["options"]):
            taken = " (taken)" if number == question["guess"] else ""
            lines += wrapped(f"{option['label']}{taken}: {_typed(option)}", width, indent=4, hanging=2)
    lines += wrapped(
        "Answer by inspecting again with one of these; add --remember to keep it for every log with the same "
        "columns.",
        width,
        indent=2,
    )
    return "\n".join(lines)


def _typed(option: Mapping[str, Any]) -> str:
    """An option as it is typed on the command line."""
    said = ", ".join(str(part) for part in (option["column"], option["unit"], option["reference"]) if part)
    return f'--column "{option["channel"]}={said}"'


def _pulls(pulls: Sequence[Mapping[str, Any]], units: str, width: int, *, timed: bool) -> str:
    if not pulls:
        return "Pulls\n  no full-load run was found"
    return "Pulls\n" + "\n".join(
        line for number, pull in enumerate(pulls, 1) for line in _pull_lines(number, pull, units, width, timed=timed)
    )


def _pull_lines(number: int, pull: Mapping[str, Any], units: str, width: int, *, timed: bool) -> list[str]:
    speeds = f"{_rpm(pull['rpm_from'])} to {_rpm(pull['rpm_to'])} rpm"
    span = f"{pull['from_s']:.1f} to {pull['to_s']:.1f} s"
    if not timed:  # the file tells no time: its pulls are rows of a table
        span = f"rows {pull['from_s'] + 1:.0f} to {pull['to_s'] + 1:.0f}"
    head = f"{span}, {speeds}"
    ended = _ENDED.get(str(pull.get("ended")), str(pull.get("ended") or ""))
    load = "full load" if pull.get("full_load") else "not at full load"
    words = ", ".join(part for part in (head, load, ended) if part)
    lines = wrapped(f"{number}  {words}", width, indent=2, hanging=3)
    if not pull.get("full_load"):
        return lines
    return lines + wrapped("; ".join(_metrics(pull["metrics"], units)), width, indent=5)


def _metrics(metrics: Mapping[str, Any], units: str) -> list[str]:
    """What the pull shows, in words; a metric that it cannot show is left out."""

    def value(key: str) -> float | None:
        entry = metrics.get(key)
        return None if entry is None else float(entry["value"])

    def boost(key: str) -> str | None:
        found = value(key)
        return None if found is None else pressure(found, units)

    def at(key: str) -> str:
        found = value(key)
        return "" if found is None else f" at {_rpm(found)} rpm"

    says: list[str] = []
    if (threshold := value("boost_threshold_rpm")) is not None:
        says.append(f"boost threshold {_rpm(threshold)} rpm")
    if (knee := boost("knee_kpa_gauge")) is not None:
        says.append(f"knee {knee}{at('knee_rpm')}")
    if (plateau := boost("plateau_kpa_gauge")) is not None:
        says.append(f"plateau {plateau}")
    slope = value("creep_kpa_per_1000rpm")
    if slope is not None:
        since = value("creep_from_rpm")
        start = "" if since is None else f" from {_rpm(since)} rpm"
        if abs(slope) < _LEVEL:
            says.append(f"holds level{start}")
        else:
            word = "creeps up" if slope >= 0 else "falls"
            says.append(f"{word} {pressure(abs(slope), units)} per 1,000 rpm{start}")
    if (peak := boost("peak_kpa_gauge")) is not None:
        says.append(f"peak {peak}{at('peak_rpm')}")
    if (end := boost("end_kpa_gauge")) is not None:
        says.append(f"end {end}{at('end_rpm')}")
    spike = value("spike_kpa")
    if spike is not None and spike >= _LEAST_SPIKE:
        settling = value("settling_s")
        settled = "" if settling is None or settling < _AT_ONCE else f", settled in {settling:.1f} s"
        says.append(f"spike {pressure(spike, units)}{settled}")
    if (wave := boost("oscillation_kpa")) is not None:
        speed = value("oscillation_hz")
        says.append(f"oscillates by {wave}" + ("" if speed is None else f" at {speed:.1f} Hz"))
    return says or ["no boost figure could be taken from it"]


def _rpm(value: float) -> str:
    """To the ten: no log is steadier than that."""
    return f"{round(value, -1):,.0f}"
