"""The plain text of ``boostproof forecast``, made from its JSON answer (formats.md, Answers)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boostproof.cli.layout import as_table, bullets, ending, pressure, wrapped
from boostproof.repair.words import turns

_ROWS = 7  # engine speeds shown
_WORDS = {
    "repair now": "Repair now.",
    "another repair first": "Another repair is worth more first.",
    "specialist": "Sending the car on costs less.",
}


def show_forecast(answer: Mapping[str, Any], *, units: str, width: int) -> str:
    """The forecast for a terminal of ``width`` columns, pressures in ``units``."""
    names = ", ".join(r["written"] or r["id"] for r in answer["repairs"])
    target = pressure(answer["target_kpa_gauge"], units)
    blocks = ["\n".join(wrapped(f"{answer['car']}: after {names}, {target} wanted", width))]
    blocks.append("\n".join(_summary(answer, units, width)))
    blocks.append("Boost on a pull up to redline (nine in ten between)\n" + _curves(answer, units, width))
    blocks.append("Limits\n" + _margins(answer, units, width))
    if answer["sizing"] is not None:
        blocks.append("\n".join(_sizing(answer["sizing"], units, width)))
    blocks.append("\n".join(wrapped(_area(answer["area"]), width)))
    if answer["setting"] is not None:
        blocks.append("\n".join(wrapped(_setting(answer["setting"], units), width)))
    blocks.append("\n".join(["What it takes", *_costs(answer["costs"], width)]))
    blocks.append("\n".join(["Without parts", *bullets(map(_instead, answer["beside"]), width)]))
    notes = [r["caution"] for r in answer["repairs"] if r["caution"]]
    if answer["recheck_fuelling"]:
        notes.append("Recheck fuelling: air or sensor change with this, so mixture and timing must be looked at again.")
    if notes:
        blocks.append("\n".join(["Mind", *bullets(notes, width)]))
    return "\n\n".join([*blocks, *ending(answer, width)]) + "\n"


def _percent(p: float) -> str:
    return "under 1 %" if 0.0 < p < 0.005 else "over 99 %" if 0.995 <= p < 1.0 else f"{100.0 * p:.0f} %"


def _summary(answer: Mapping[str, Any], units: str, width: int) -> list[str]:
    tolerance = pressure(answer["tolerance_kpa"], units)
    lines = wrapped(
        f"Nowhere more than {tolerance} above the target in {_percent(answer['holds'])}, comes to within {tolerance} of "
        f"it in {_percent(answer['reaches'])} of what the car may be.", width,
    )  # fmt: skip
    each = (
        f"{c['id']} ({_percent(c['probability'])}): holds in {_percent(c['holds'])}, cured in {_percent(c['cured'])}"
        for c in answer["by_cause"]
    )
    return lines + bullets(each, width)


def _curves(answer: Mapping[str, Any], units: str, width: int) -> str:
    speeds = answer["rpm"]
    step = max(1, (len(speeds) - 1) // (_ROWS - 1))
    chosen = list(range(len(speeds) - 1, -1, -step))[::-1]
    columns: list[tuple[str, Mapping[str, Any]]] = [("as found", answer["found"])]
    if answer["together"] is not None:
        columns.append(("after", answer["together"]))
    else:
        columns += [(f"were it {c['id']}", c["band"]) for c in answer["by_cause"]]
    rows = [(f"{speeds[i]:,.0f}", *(_band(band, i, units) for _, band in columns)) for i in chosen]
    return as_table(("rpm", *(name for name, _ in columns)), rows, width)


def _band(band: Mapping[str, Sequence[float]], i: int, units: str) -> str:
    low, middle, high = (pressure(band[f"{k}_kpa_gauge"][i], units) for k in ("low", "middle", "high"))
    return f"{middle} ({low.split()[0]} to {high.split()[0]})"


def _margins(answer: Mapping[str, Any], units: str, width: int) -> str:
    rows = []
    for m in answer["margins"]:
        told = "" if m["told"] else " (usual)"
        rows.append((
            m["title"], _amount(m["limit"], m["unit"], units) + told, _amount(m["value"], m["unit"], units),
            f"passed in {_percent(m['chance'])}, as found in {_percent(m['chance_now'])}",
        ))  # fmt: skip
    return as_table(("", "limit", "comes to", ""), rows, width)


def _amount(value: float, unit: str, units: str) -> str:
    if unit.startswith("kPa"):
        return pressure(value, units) + (" abs" if unit == "kPa_abs" else "")
    if unit == "K":
        return f"{value - 273.15:.0f} °C"
    return f"{value:.2f}" if unit == "1" else f"{value:.0f} {unit}"


def _size(value: float, unit: str, units: str) -> str:
    if unit == "kPa_gauge":
        return pressure(value, units)
    return turns(value) if unit == "turns" else f"{value:g} {unit}"


def _sizing(s: Mapping[str, Any], units: str, width: int) -> list[str]:
    supposed = f", were it {' or '.join(s['of_causes'])}" if s["of_causes"] else ""
    wanted = _percent(s["confidence"])
    if s["chosen"] is None:
        best = max(s["tried"], key=lambda t: t["holds"])
        said = (
            f"Size of {s['repair']}{supposed}: none of the trade holds the target with {wanted}; the best, "
            f"{_size(best['size'], s['unit'], units)}, does in {_percent(best['holds'])}."
        )
        return wrapped(said, width)
    c, n = s["chosen"], s["next"]
    said = (
        f"Size of {s['repair']}{supposed}: {_size(c['size'], s['unit'], units)} holds the target with "
        f"{_percent(c['holds'])} ({wanted} wanted), peak {pressure(c['peak_kpa_gauge'], units)}."
    )
    if n is not None:
        said += (
            f" The next, {_size(n['size'], s['unit'], units)}, with {_percent(n['holds'])}, peak "
            f"{pressure(n['peak_kpa_gauge'], units)}."
        )
    if c["everywhere"] < s["confidence"] <= c["holds"]:
        said += (
            f" That is where the gate is fully open; elsewhere boost is what spring and controller set, and over the whole "
            f"pull it holds in {_percent(c['everywhere'])}."
        )
    if c["reaches"] < s["confidence"]:
        said += f" It comes to within the tolerance of the target in {_percent(c['reaches'])}."
    return wrapped(said, width)


def _area(a: Mapping[str, Any]) -> str:
    low, middle, high = (row[-1] for row in a["needed_mm2"])
    return (
        f"Effective gate area at {a['rpm'][-1]:,.0f} rpm: the target needs {middle:.0f} mm² ({low:.0f} to {high:.0f}), "
        f"there are {a['there_mm2'][1]:.0f} after the repair and {a['found_mm2'][1]:.0f} as found."
    )


def _setting(s: Mapping[str, Any], units: str) -> str:
    low, middle, high = (pressure(v, units) for v in s["floor_kpa_gauge"])
    said = (
        f"Setting of the controller: {s['turns']:.1f} turns (± {2.0 * s['sd']:.1f}), {pressure(s['per_turn_kpa'], units)} "
        f"a turn. It cannot go below what the spring alone gives, {middle} ({low.split()[0]} to {high.split()[0]})"
    )
    said += "." if s["reachable"] > 0.95 else f"; the target lies above that in {_percent(s['reachable'])} only."
    return said + (" That is far from the two known settings: go there in steps." if s["far"] else "")


def _costs(c: Mapping[str, Any], width: int) -> list[str]:
    lines = wrapped(
        f"{c['minutes'][0]:.0f} to {c['minutes'][1]:.0f} min with the pull that proves it, parts {c['parts'][0]:.0f} to "
        f"{c['parts'][1]:.0f}; in all {c['money'][0]:.0f} to {c['money'][1]:.0f} at {c['money_per_hour']:g} an hour. It "
        f"cures the car in {_percent(c['cures'])}.", width, indent=2,
    )  # fmt: skip
    said = f"Expected until the car is right: {c['repair_now_minutes']:.0f} min repairing so now"
    if c["test_first_minutes"] is not None:
        said += f", {c['test_first_minutes']:.0f} min with {c['first_test']['id']} first"
    said += f", {c['best_order_minutes']:.0f} min in the best order of repairs. "
    first = f"Test first: {c['first_test']['id']}." if c["decision"] == "test first" else _WORDS[c["decision"]]
    return lines + wrapped(said + first, width, indent=2)


def _instead(b: Mapping[str, Any]) -> str:
    return f"{b['title']}: {b['says']} {b['hides']}".rstrip()
