"""The plain text of ``boostproof causes`` and ``boostproof tests``: the lists, and one entry in full."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boostproof.cli.layout import wrapped

Row = Mapping[str, Any]


def show_causes(rows: Sequence[Row], *, width: int) -> str:
    """Causes: each name, how it shows and what usually mends it; a single one in full."""
    if len(rows) == 1:
        return show_cause(rows[0], width=width)
    blocks: list[str] = []
    for row in rows:
        lines = wrapped(f"{row['id']}: {row['title']}", width, hanging=4)
        lines += wrapped(f"{row['looks_like']} Usual repair: {row['repair']}", width, indent=4)
        blocks.append("\n".join(lines))
    return "\n".join([*blocks, "", *wrapped("One in full: boostproof causes ID", width)])


def show_inseparable(groups: Sequence[Row], *, width: int) -> str:
    """Groups of causes that nothing at hand can part, for one car."""
    lines = ["WHAT NOTHING AT HAND CAN PART"]
    if not groups:
        return "\n".join([*lines, *wrapped("Nothing: a log and the tests tell all causes listed apart.", width, indent=2)])
    told = "Computed for this car: neither a log nor any test that its shop can do parts the causes of a line."
    lines += wrapped(told, width, indent=2)
    for group in groups:
        names = ", ".join(f"{c['title'].lower()} ({c['id']})" for c in group["causes"])
        why = ". They are one change of the car as it is simulated." if group["same_change"] else "."
        lines += wrapped(f"- {names}{why}", width, indent=2, hanging=2)
    return "\n".join(lines)


def show_tests(rows: Sequence[Row], *, width: int) -> str:
    """Tests: each name, its minutes, what it shows and needs; a single one in full."""
    if len(rows) == 1:
        return show_test(rows[0], width=width)
    blocks: list[str] = []
    for row in rows:
        lines = wrapped(f"{row['id']}: {row['title']} ({_minutes(row)})", width, hanging=4)
        lines += wrapped(row["purpose"], width, indent=4)
        if row["need"]:
            lines += wrapped(f"Needs: {_needs(row)}.", width, indent=4)
        blocks.append("\n".join(lines))
    return "\n".join([*blocks, "", *wrapped("One in full, cautions first: boostproof tests ID", width)])


def show_cause(row: Row, *, width: int) -> str:
    """One cause in full."""
    share = f"{100.0 * row['base_rate_share']:.1f} % of all complaints, before anything is known of the car"
    minutes = f"about {row['minutes']:g} min"
    tests = [f"{t['id']}: {t['title']} ({_minutes(t)})" for t in row["decide_with"]]
    parts = [
        wrapped(f"{row['number']} {row['id']}: {row['title']}", width, hanging=4),
        _section("LOOKS LIKE", [row["looks_like"], row["told_apart"]], width),
        _section("DECIDED BY", tests, width, "- "),
        _section("LOOK-ALIKES", [f"{c['id']}: {c['title']}" for c in row["look_alikes"]], width, "- "),
        _section("CAUTIONS", row["cautions"], width, "! "),
        _section("USUAL REPAIR", [row["repair"], f"Usual time: {minutes}."], width),
        _section("HOW OFTEN", [f"{share} ({row['base_rate_status']})."], width),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part)


def show_test(row: Row, *, width: int) -> str:
    """One test in full, its cautions first."""
    setup = list(row["connect"])
    for name, key in (("Comes off", "parts_off"), ("Takes", "tools")):
        if row[key]:
            setup.append(f"{name}: {', '.join(row[key])}.")
    if row["need"]:
        setup.append(f"The shop needs: {_needs(row)}.")
    if row["figure"]:
        setup.append(f"Drawing: boostproof tests {row['id']} --figure FILE")
    faults = [f"{f['shows']}: {', '.join(c['title'].lower() for c in f['causes'])}." for f in row["faults"]]
    steps = [f"{number}. {step}" for number, step in enumerate(row["steps"], 1)]
    parts = [
        wrapped(f"{row['number']} {row['id']}: {row['title']} ({_minutes(row)})", width, hanging=4),
        _section("CAUTIONS", row["cautions"], width, "! "),
        _section("WHAT FOR", [row["purpose"]], width),
        _section("SET-UP", setup, width, "- "),
        _section("STEPS", steps, width, hanging=3),
        _section("NEVER", row["never"], width, "! "),
        _section("WRITE DOWN, in readings.toml", [row["write"]], width) + _example(row["reading"]),
        ["AND IN pulls.toml", *_example(row["pulls"])] if row["pulls"] else [],
        _section("A SOUND CAR", [row["sound"]], width),
        _section("USUAL FAULTS", faults, width, "- "),
        _section("WHEN IT TELLS NOTHING", [row["pointless"]], width),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part)


def _section(title: str, texts: Sequence[str], width: int, mark: str = "", *, hanging: int = 0) -> list[str]:
    if not texts:
        return []
    lines = [title]
    for text in texts:
        lines += wrapped(f"{mark}{text}", width, indent=2, hanging=len(mark) or hanging)
    return lines


def _example(text: str) -> list[str]:
    return [f"    {line}".rstrip() for line in text.strip().splitlines()]


def _minutes(row: Row) -> str:
    low, high = row["minutes_range"]
    return f"{low:g} to {high:g} min"


def _needs(row: Row) -> str:
    return ", ".join(str(need).replace("_", " ") for need in row["need"])
