"""Sentences of a forecast, made from its answer (formats.md, Answers): for the terminal, the report and the pages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boostproof.repair.words import turns
from boostproof.report.words import called_test, from_kpa

_DECISIONS = {
    "repair now": "Repair now.",
    "another repair first": "Another repair is worth more first.",
    "specialist": "Sending the car on costs less.",
}
RECHECK_FUELLING = "Recheck fuelling: air or sensor change with this, so mixture and timing must be looked at again."


def chance(p: float) -> str:
    """A chance in percent; never 0 % or 100 % where it is not quite that.

    >>> chance(0.004), chance(0.42), chance(0.999)
    ('under 1 %', '42 %', 'over 99 %')
    """
    return "under 1 %" if 0.0 < p < 0.005 else "over 99 %" if 0.995 <= p < 1.0 else f"{100.0 * p:.0f} %"


def repairs_in_words(answer: Mapping[str, Any]) -> str:
    """The repairs as they were asked for."""
    return ", ".join(r["written"] or r["id"] for r in answer["repairs"])


def repairs_by_title(answer: Mapping[str, Any], units: str) -> str:
    """The repairs as the product calls them, with their sizes."""
    return ", ".join(
        r["title"] + ("" if r["size"] is None else f" ({size(r['size'], r['unit'], units)})") for r in answer["repairs"]
    )


def summary(answer: Mapping[str, Any], units: str) -> str:
    """With which chance the repaired car neither passes the target nor stays below it."""
    tolerance = from_kpa(answer["tolerance_kpa"], units)
    return (
        f"Nowhere more than {tolerance} above the target: chance {chance(answer['holds'])}. "
        f"Comes to within {tolerance} of it: chance {chance(answer['reaches'])}."
    )


def by_cause(answer: Mapping[str, Any]) -> list[str]:
    """One line for each leading cause."""
    return [
        f"{c['id']} ({chance(c['probability'])}): holds in {chance(c['holds'])}, cured in "
        f"{chance(c['cured'])}"
        for c in answer["by_cause"]
    ]


def band_at(band: Mapping[str, Sequence[float]], place: int, units: str) -> str:
    """Middle and ends of a band at one of its engine speeds."""
    low, middle, high = (from_kpa(band[f"{k}_kpa_gauge"][place], units) for k in ("low", "middle", "high"))
    return f"{middle} ({low.split()[0]} to {high.split()[0]})"


def amount(value: float, unit: str, units: str) -> str:
    """A value of a limit in the unit shown."""
    if unit.startswith("kPa"):
        return from_kpa(value, units) + (" abs" if unit == "kPa_abs" else "")
    if unit == "K":
        return f"{value - 273.15:.0f} °C"
    return f"{value:.2f}" if unit == "1" else f"{value:.0f} {unit}"


def size(value: float, unit: str, units: str) -> str:
    """A size of the trade in the unit shown."""
    if unit == "kPa_gauge":
        return from_kpa(value, units)
    return turns(value) if unit == "turns" else f"{value:g} {unit}"


def sizing(s: Mapping[str, Any], units: str, titles: Mapping[str, str] | None = None) -> str:
    """Which size holds the target with the confidence wanted, or that none does."""
    named = titles or {}
    causes = [named.get(i, i) for i in s["of_causes"]]
    supposed = f", if it is {' or '.join(one[:1].lower() + one[1:] for one in causes)}" if causes else ""
    wanted = chance(s["confidence"])
    if s["chosen"] is None:
        best = max(s["tried"], key=lambda t: t["holds"])
        return (
            f"Size of {s['repair']}{supposed}: none of the trade holds the target with a chance of {wanted}; the best, "
            f"{size(best['size'], s['unit'], units)}, does with {chance(best['holds'])}."
        )
    c, n = s["chosen"], s["next"]
    said = (
        f"Size of {s['repair']}{supposed}: {size(c['size'], s['unit'], units)} holds the target with a "
        f"chance of {chance(c['holds'])} ({wanted} wanted), and boost peaks near {from_kpa(c['peak_kpa_gauge'], units)}."
    )
    if n is not None:
        said += (
            f" The next size, {size(n['size'], s['unit'], units)}, holds it with {chance(n['holds'])}, and boost peaks near "
            f"{from_kpa(n['peak_kpa_gauge'], units)}."
        )
    if c["everywhere"] < s["confidence"] <= c["holds"]:
        said += (
            f" This counts where the gate is fully open; elsewhere spring and controller set the boost, and over the whole "
            f"pull the target is held with {chance(c['everywhere'])}."
        )
    if c["reaches"] < s["confidence"]:
        said += f" It comes to within the tolerance of the target with a chance of {chance(c['reaches'])}."
    return said


def area(a: Mapping[str, Any]) -> str:
    """Gate area that the target needs at the top, and what is there."""
    low, middle, high = (row[-1] for row in a["needed_mm2"])
    return (
        f"Effective gate area at {a['rpm'][-1]:,.0f} rpm: the target needs {middle:.0f} mm² ({low:.0f} to {high:.0f}), "
        f"there are {a['there_mm2'][1]:.0f} after the repair and {a['found_mm2'][1]:.0f} as found."
    )


def setting(s: Mapping[str, Any], units: str) -> str:
    """Setting of the controller for the target, and whether it can be reached."""
    low, middle, high = (from_kpa(v, units) for v in s["floor_kpa_gauge"])
    said = (
        f"Setting of the controller: {s['turns']:.1f} turns (± {2.0 * s['sd']:.1f}), {from_kpa(s['per_turn_kpa'], units)} "
        f"a turn. It cannot go below what the spring alone gives, {middle} ({low.split()[0]} to {high.split()[0]})"
    )
    said += "." if s["reachable"] > 0.95 else f"; the target lies above that with a chance of {chance(s['reachable'])} only."
    return said + (" That is far from the two known settings: go there in steps." if s["far"] else "")


def takes(c: Mapping[str, Any]) -> str:
    """Time, parts and money of the repairs with the pull that proves them."""
    return (
        f"{c['minutes'][0]:.0f} to {c['minutes'][1]:.0f} min with the pull that proves it, parts {c['parts'][0]:.0f} to "
        f"{c['parts'][1]:.0f}; in all {c['money'][0]:.0f} to {c['money'][1]:.0f} at {c['money_per_hour']:g} an hour. It "
        f"cures the car with a chance of {chance(c['cures'])}."
    )


def expected(c: Mapping[str, Any]) -> str:
    """Minutes until the car is right by each way, and which is the shortest."""
    said = f"Expected until the car is right: {c['repair_now_minutes']:.0f} min repairing so now"
    if c["test_first_minutes"] is not None:
        said += f", {c['test_first_minutes']:.0f} min with {called_test(c['first_test']['id'])} first"
    said += f", {c['best_order_minutes']:.0f} min in the best order of repairs. "
    first = f"Test first: {called_test(c['first_test']['id'])}." if c["decision"] == "test first" else ""
    return said + (first or _DECISIONS[c["decision"]])


def instead(b: Mapping[str, Any]) -> str:
    """Something to do without parts, and what it does not mend."""
    return f"{b['title']}: {b['says']} {b['hides']}".rstrip()


def notes(answer: Mapping[str, Any]) -> list[str]:
    """What to mind with these repairs."""
    said = [r["caution"] for r in answer["repairs"] if r["caution"]]
    return [*said, RECHECK_FUELLING] if answer["recheck_fuelling"] else said
