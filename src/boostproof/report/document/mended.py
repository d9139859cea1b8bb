"""The repair: what it will do, and what it did."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from boostproof.diagnosis.causes import BY_ID
from boostproof.report import forecast_words as words
from boostproof.report.document.blocks import bullets, not_done, pairs, section, table, text
from boostproof.report.document.drawn import TALL, figure
from boostproof.report.document.results import Results, Told
from boostproof.report.proof_words import (
    RANGE_HEADS,
    READING_HEADS,
    power_sentence,
    range_rows,
    reading_row,
    sides,
)
from boostproof.report.words import from_kpa, shown_percent

if TYPE_CHECKING:
    from boostproof.workflows.forecast import RepairForecast
    from boostproof.workflows.prove import Proved
    from boostproof.workflows.report_answers import BlockAnswer, FigureAnswer, SectionAnswer

_SPEEDS = 7  # of the table of boost
_WORTH_SAYING = 0.01  # chance of passing a limit, for the customer


def forecast(results: Results, told: Told) -> SectionAnswer:
    """Boost after the repair with its doubt, the limits, the size, what it takes, and what else could be done."""
    title, found = "Forecast of the repair", results.forecast
    if found is None:
        return not_done("forecast", title, "No repair was forecast.")
    answer, units = found.as_json(), told.units
    names = _titles(results)
    target = from_kpa(answer["target_kpa_gauge"], units)
    blocks: list[BlockAnswer] = [
        text(f"Repair: {words.repairs_by_title(answer, units)}. Boost wanted: {target}.", lead=True),
        pairs(_chances(answer, units)),
        *bullets(_by_cause(answer, names, results), "By what may be wrong"),
        _curves(found, answer, units),
    ]
    if not told.customer:
        blocks += table("Boost on a pull up to redline", *_boost(answer, units, names), "Nine in ten lie between.")
    blocks += _limits(answer, told)
    said = [words.sizing(answer["sizing"], units, names)] if answer["sizing"] is not None else []
    said += [] if told.customer else [words.area(answer["area"])]
    said += [words.setting(answer["setting"], units)] if answer["setting"] is not None else []
    blocks += [text(one) for one in said]
    costs = answer["costs"]
    done = results.proof is not None  # then other ways are not asked for any more
    blocks += bullets([words.takes(costs), *([] if told.customer or done else [words.expected(costs)])], "What it takes")
    if not done:
        blocks += bullets([words.instead(one) for one in _beside(found, units)], "What could be done without parts")
    return section("forecast", title, blocks)


def _chances(answer: Mapping[str, Any], units: str) -> list[tuple[str, str]]:
    """Over all that the car may be."""
    tolerance = from_kpa(answer["tolerance_kpa"], units)
    return [
        (f"Chance that boost nowhere passes the target by more than {tolerance}", words.chance(answer["holds"])),
        (f"Chance that it comes to within {tolerance} of the target", words.chance(answer["reaches"])),
        ("Chance that the car is cured", words.chance(answer["costs"]["cures"])),
    ]


def _by_cause(answer: Mapping[str, Any], names: Mapping[str, str], results: Results) -> list[str]:
    """The chances of each leading cause, with its own as the verdict says it."""
    verdict = results.verdict
    said = {} if verdict is None else {c.id: shown_percent(c, verdict.fit.trust) for c in verdict.causes}
    lines = []
    for c in answer["by_cause"]:
        share = said.get(c["id"], words.chance(c["probability"]))
        name = names.get(c["id"], c["id"]) + (f" ({share})" if share else "")
        lines.append(
            f"{name}: the target is then held with a chance of {words.chance(c['holds'])}, and the car is cured with "
            f"{words.chance(c['cured'])}."
        )
    return lines


def _titles(results: Results) -> dict[str, str]:
    known = [] if results.verdict is None else results.verdict.causes
    return {"healthy": "Nothing wrong", **{id: cause.title for id, cause in BY_ID.items()}, **{c.id: c.title for c in known}}


def _beside(found: RepairForecast, units: str) -> list[dict[str, Any]]:
    """With pressures in the unit shown."""
    from boostproof.bench.procedures import fill

    return [
        {"title": one.title, "says": fill(one.says, pressure=units), "hides": one.hides} for one in found.result.beside
    ]


def _curves(found: RepairForecast, answer: Mapping[str, Any], units: str) -> FigureAnswer:
    from boostproof.report.forecast_figure import draw_forecast

    top = f"{answer['rpm'][-1]:,.0f} rpm"
    alt = f"Line drawing of boost over engine speed as found and after the repair. At {top}"
    alt += f" {words.band_at(answer['found'], -1, units)} as found"
    alt += f" and {words.band_at(answer['together'], -1, units)} after." if answer["together"] is not None else "."
    return figure(
        lambda empty: draw_forecast(found, empty, units=units),
        "Boost and gate area as found and after the repair", alt, TALL, name="forecast",
    )  # fmt: skip


def _boost(
    answer: Mapping[str, Any], units: str, names: Mapping[str, str]
) -> tuple[list[str], list[list[str]]]:
    speeds = answer["rpm"]
    step = max(1, (len(speeds) - 1) // (_SPEEDS - 1))
    chosen = list(range(len(speeds) - 1, -1, -step))[::-1]
    columns: list[tuple[str, Mapping[str, Any]]] = [("as found", answer["found"])]
    if answer["together"] is not None:
        columns.append(("after the repair", answer["together"]))
    else:
        columns += [(f"if it is: {names.get(c['id'], c['id'])}", c["band"]) for c in answer["by_cause"]]
    rows = [[f"{speeds[i]:,.0f}", *(words.band_at(band, i, units) for _, band in columns)] for i in chosen]
    return ["rpm", *(name for name, _ in columns)], rows


def _limits(answer: Mapping[str, Any], told: Told) -> list[BlockAnswer]:
    rows = []
    for m in answer["margins"]:
        if told.customer and m["chance"] < _WORTH_SAYING:
            continue
        usual = "" if m["told"] else " (usual)"
        rows.append((
            m["title"], words.amount(m["limit"], m["unit"], told.units) + usual,
            words.amount(m["value"], m["unit"], told.units), words.chance(m["chance"]), words.chance(m["chance_now"]),
        ))  # fmt: skip
    if told.customer and not rows:
        return [text("No limit is passed with a chance worth naming.")]
    heads = ("limit", "lies at", "comes to", "chance that it is passed", "chance as found")
    return [*table("Limits", heads, rows, "(usual): not given for this car, so a usual one was taken.")]


def proof(results: Results, told: Told) -> SectionAnswer:
    """Pulls after the repair against those before it."""
    title, proved = "Proof of the repair", results.proof
    if proved is None:
        return not_done(
            "proof", title, "The repair was not proved: no pulls before and after it were held against each other."
        )
    answer, said, units = proved.as_json(), proved.sentences(told.units), told.units
    blocks: list[BlockAnswer] = [text(said["says"], lead=True)]
    blocks += [text(one) for one in (said["forecast_says"], said["next_step"]) if one]
    blocks.append(_before_and_after(proved, units))
    heads = [*RANGE_HEADS]
    heads[2:5] = [f"{head}, {units}" for head in heads[2:5]]
    blocks += table("Boost before and after", heads, range_rows(answer, units))
    readings = [reading_row(one, units) for one in answer["readings"]]
    blocks += table("On the bench, before and after", READING_HEADS, readings)
    if answer["power"] is not None:
        blocks.append(text(power_sentence(answer["power"])))
    blocks += bullets(answer["missing"], "What is missing for a full proof")
    if not told.customer:
        blocks += bullets([f"{one[:1].upper()}{one[1:]}." for one in sides(answer, units)], "How it was compared")
    return section("proof", title, blocks)


def _before_and_after(proved: Proved, units: str) -> FigureAnswer:
    from boostproof.report.proof_figure import draw_proof

    return figure(
        lambda empty: draw_proof(
            proved.proof, empty, band=proved.forecast, stop=proved.stop, units=units
        ),
        "Boost before and after the repair, and the difference on a standard day",
        f"Line drawing of boost over engine speed before and after the repair. {proved.sentences(units)['says']}",
        TALL, name="proof",
    )  # fmt: skip
