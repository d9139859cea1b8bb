"""The plain text of ``boostproof plan``, made from its JSON answer: cautions first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from boostproof.bench.procedures import fill
from boostproof.cli.layout import as_table, bullets, ending, wrapped
from boostproof.report.words import from_kpa as pressure

_HELD = {
    "chance": "a faulty car could pass the limit beyond", "slope": "boost could rise so fast",
    "low ceiling": "first pull of a set-up", "redline": "the redline",
}  # fmt: skip


def show_plan(answer: Mapping[str, Any], *, units: str, width: int) -> str:
    """The plan for a terminal of ``width`` columns, pressures in ``units``."""
    blocks = ["\n".join(["Cautions", *(bullets((fill(c, pressure=units) for c in answer["cautions"]), width, "!"))])]
    if answer["refusals"]:
        said = [f"{r['says']} {r['do']}" for r in answer["refusals"]]
        blocks.append("\n".join(["Not offered", *bullets(said, width, "x")]))
    if answer["rungs"]:
        blocks.append("\n".join(["Before the first pull: one no, and nothing is driven", *_card(answer, width)]))
    blocks.append("\n".join([f"{answer['car']}: the next pull", *_next(answer, units, width)]))
    if len(answer["rungs"]) > 1:
        table = as_table(("", "to rpm", "stop at", "expected", "held by"), [_row(r, units) for r in answer["rungs"]], width)
        blocks.append(f"If it goes as expected (only the first is to be driven; each pull changes the rest)\n{table}")
    if answer["halt"] is not None:
        blocks.append("\n".join(["Where it ends", *_halt(answer["halt"], width)]))
    return "\n\n".join([*blocks, *ending(answer, width)]) + "\n"


def _card(answer: Mapping[str, Any], width: int) -> list[str]:
    own = ["Boost is read on a gauge of its own: the car's sensor may be wrong."] if answer["own_gauge"] else []
    return bullets([*(i["asks"] for i in answer["card"]), *own], width, "[ ]")


def _next(answer: Mapping[str, Any], units: str, width: int) -> list[str]:
    if not answer["rungs"]:
        return wrapped("There is none.", width, indent=2)
    r, driver = answer["rungs"][0], answer["driver"]
    gear = f", gear {driver['gear']}" if driver["gear"] is not None else ""
    lines = [
        r["says"],
        f"From {r['rpm_from']:,.0f} rpm at full load, {driver['rpm_per_s']:,.0f} rpm a second{gear}; lift at "
        f"{r['ceiling_rpm']:,.0f} rpm, or before it at {pressure(r['stop_kpa_gauge'], units)}.",
        f"Expected there: {pressure(r['low_kpa_gauge'], units)} to {pressure(r['high_kpa_gauge'], units)}. Never to be "
        f"passed: {pressure(answer['hard_kpa_gauge'], units)}{'' if answer['hard_told'] else ' (a usual margin)'}.",
        *(_stop_line(s) for s in answer["stop_lines"][1:]),
        f"Log {', '.join(answer['log'])}.",
        *r["look_at"],
        r["cool_down"],
    ]
    return bullets(lines, width)


def _stop_line(line: Mapping[str, Any]) -> str:
    unit = {"degC": " °C", "1": ""}[line["unit"]]
    value = f"{line['value']:.2f}" if line["unit"] == "1" else f"{line['value']:.0f}"
    said = "" if line["told"] else " (a usual value)"
    return f"Stop at once where {line['what']} goes above {value}{unit}{said}."


def _row(r: Mapping[str, Any], units: str) -> tuple[str, ...]:
    band = f"{pressure(r['low_kpa_gauge'], units).split()[0]} to {pressure(r['high_kpa_gauge'], units)}"
    return (r["set_up"], f"{r['ceiling_rpm']:,.0f}", pressure(r["stop_kpa_gauge"], units), band, _HELD[r["held_by"]])


def _halt(halt: Mapping[str, Any], width: int) -> list[str]:
    causes = ", ".join(f"{c['id']} ({100.0 * c['chance']:.1f} %)" for c in halt["causes"])
    with_them = f" To be feared: {causes}." if causes else ""
    return wrapped(f"{halt['says']}{with_them} {halt['do']}".strip(), width, indent=2)
