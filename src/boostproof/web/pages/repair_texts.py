"""What the pages Repair and Ladder say of a kept answer: rows of words and pictures, in the shop's units."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from boostproof.report import forecast_words
from boostproof.report.curves import Band, Level, Line, Picture, picture
from boostproof.report.words import percent, title_of_test
from boostproof.web import said, shown
from boostproof.web.shown import kpa_numbers
from boostproof.web.words import t

_LOOKS = ("first", "second", "third")
Answer = Mapping[str, Any]


def amount(value: float) -> str:
    """Money, without a currency: the shop knows its own."""
    return f"{value:,.0f}" if value == round(value) else f"{value:,.2f}"


def span(ends: Sequence[float], said_as: Callable[[float], str] = amount) -> str:
    """A range, or one value where both ends are it."""
    low, high = ends
    return said_as(low) if low == high else t("repair.span", low=said_as(low), high=said_as(high))


def size_text(value: float, unit: str, units: str) -> str:
    """A size of the trade as read in the shop."""
    if unit == "kPa_gauge":
        return shown.kpa(value, units)
    return forecast_words.size(value, unit, said.pressure_unit(units))


def boost_axis(units: str) -> str:
    """What the upright axis of boost says."""
    return t("repair.axis.boost", unit=shown.unit_name("kpa", units))


# What is drawn


def boost_picture(id: str, forecast: Answer, units: str, *, small: bool = False, highest: float | None = None) -> Picture:
    """Boost as found and after over engine speed, the boost wanted and the boost never to be passed."""
    bands = [_band(f"{id}-{k}", look, name, band, units) for k, (look, name, band) in enumerate(after_bands(forecast))]
    found = kpa_numbers(forecast["found"]["middle_kpa_gauge"], units)
    levels = [Level(f"{id}-wanted", "wanted", t("repair.draw.wanted"), kpa_numbers([forecast["target_kpa_gauge"]], units)[0])]
    stop = stop_of(forecast)
    if stop is not None:
        levels.append(Level(f"{id}-stop", "stop", t("repair.draw.stop"), kpa_numbers([stop], units)[0]))
    high = highest_boost(forecast) if highest is None else highest
    return picture(
        id, forecast["rpm"], says=t("repair.draw.boost_says", repair=repairs_text(forecast)), x_says=t("repair.axis.rpm"),
        y_says=boost_axis(units), bands=bands, lines=[Line(f"{id}-found", "found", t("repair.draw.found"), found)],
        levels=levels, y_range=(0.0, kpa_numbers([high], units)[0]), small=small,
        size=(300.0, 150.0) if small else (700.0, 350.0),
    )  # fmt: skip


def highest_boost(forecast: Answer) -> float:
    """Top of an axis that holds the car as found, the wanted boost and the stop. [kPa gauge]"""
    top: float = max(*forecast["found"]["high_kpa_gauge"], forecast["target_kpa_gauge"], stop_of(forecast) or 0.0)
    return 1.08 * top


def stop_of(forecast: Answer) -> float | None:
    """The boost never to be passed [kPa gauge], None where none is known."""
    return next((m["limit"] for m in forecast["margins"] if m["id"] == "stop-boost"), None)


def after_bands(answer: Answer) -> list[tuple[str, str, Answer]]:
    """Look, name and band of what is drawn after a repair: one band, or one for each cause where these part."""
    if answer["together"] is not None:
        return [("first", t("repair.draw.after"), answer["together"])]
    return [
        (look, if_it_is(c["id"]), c["band"]) for look, c in zip(_LOOKS, answer["by_cause"], strict=False)
    ]


def if_it_is(cause: str) -> str:
    """What a band of one cause is called."""
    return t("repair.draw.if_it_is", cause=said.cause_title(cause).lower())


def _band(id: str, look: str, name: str, band: Answer, units: str) -> Band:
    low, middle, high = (kpa_numbers(band[f"{row}_kpa_gauge"], units) for row in ("low", "middle", "high"))
    return Band(id, look, name, low, middle, high)


def area_picture(forecast: Answer) -> Picture:
    """Gate area that the target needs, and what is there as found and after the repair."""
    a = forecast["area"]
    low, middle, high = a["needed_mm2"]
    top = 1.15 * max(*high, a["there_mm2"][1], a["found_mm2"][1])
    return picture(
        "area", a["rpm"], says=forecast_words.area(a), x_says=t("repair.axis.rpm"), y_says=t("repair.axis.area"),
        bands=[Band("area-needed", "needed", t("repair.draw.needed"), low, middle, high)],
        levels=[
            Level("area-found", "found", t("repair.draw.there_found"), a["found_mm2"][1]),
            Level("area-there", "there", t("repair.draw.there_after"), a["there_mm2"][1]),
        ],
        y_range=(0.0, top), size=(700.0, 290.0),
    )  # fmt: skip


def compressor_picture(answer: Answer, units: str) -> Picture:
    """Where the candidates run on the compressor's map after the repair, and the middle of them as one line."""
    rows = [[shown.KINDS["g_per_s"].number(1e3 * v, units) for v in row] for row in answer["flow_kg_s"]]
    found = [shown.KINDS["g_per_s"].number(1e3 * v, units) for v in answer["found_flow_kg_s"]]
    middle_ratio = answer["ratio"][1]
    unit = shown.unit_name("g_per_s", units)
    return picture(
        "compressor", rows[1], says=t("repair.compressor.says"), x_says=t("repair.axis.flow", unit=unit),
        y_says=t("repair.axis.ratio"),
        bands=[Band("compressor-after", "first", t("repair.compressor.after"), answer["ratio"][0], middle_ratio,
                    answer["ratio"][2])],
        lines=[Line("compressor-found", "found", t("repair.compressor.found"), answer["found_ratio"], x=found)],
        y_range=(1.0, 0.1 + max(*answer["ratio"][2], *answer["found_ratio"])),
        x_range=(0.0, 1.08 * max(*rows[2], *found)), size=(700.0, 330.0), digits=1,
    )  # fmt: skip


# What is said


@dataclass(frozen=True)
class LimitShown:
    """A limit: where it lies, what the repaired car comes to, and how likely it is passed."""

    title: str
    limit: str
    told: bool
    value: str
    chance: str
    chance_now: str


def limits(forecast: Answer, units: str) -> tuple[LimitShown, ...]:
    """Every limit of a forecast."""
    unit = said.pressure_unit(units)
    return tuple(
        LimitShown(
            m["title"][:1].upper() + m["title"][1:], _value(m, m["limit"], units, unit), m["told"],
            _value(m, m["value"], units, unit), shown.share(m["chance"]), shown.share(m["chance_now"]),
        )
        for m in forecast["margins"]
    )  # fmt: skip


def _value(margin: Answer, value: float, units: str, unit: str) -> str:
    if margin["unit"] == "K":
        return shown.celsius(value - 273.15, units)
    return forecast_words.amount(value, margin["unit"], unit)


def repairs_text(forecast: Answer) -> str:
    """The repairs with their sizes."""
    return " + ".join(r["title"] + ("" if r["size"] is None else f", {r['written'].removeprefix(r['id']).strip()}")
                      for r in forecast["repairs"])  # fmt: skip


def titles(forecast: Answer) -> dict[str, str]:
    """Titles of the causes that an answer names, to stand inside a sentence."""
    ids = {c["id"] for c in forecast["by_cause"]} | set((forecast["sizing"] or {}).get("of_causes", ()))
    return {i: said.cause_title(i).lower() for i in ids}


@dataclass(frozen=True)
class DecisionShown:
    """What to do first, why, and where; the address is empty where nothing is to be opened."""

    decision: str
    says: str
    why: str
    address: str


def decision(forecast: Answer, units: str, job: int) -> DecisionShown:
    """Test first, repair now, another repair first, or the specialist: with the minutes that speak for it."""
    c = forecast["costs"]
    first = c["first_test"]
    test = "" if first is None else title_of_test(first["id"])
    address = f"/jobs/{job}/verdict" if c["decision"] == "test first" else ""
    why = [t("repair.decide.now", minutes=shown.minutes(c["repair_now_minutes"]))]
    if c["test_first_minutes"] is not None:
        why.append(t("repair.decide.tested", minutes=shown.minutes(c["test_first_minutes"]), test=test.lower()))
    why.append(t("repair.decide.best", minutes=shown.minutes(c["best_order_minutes"])))
    name = c["decision"].replace(" ", "_")
    minutes = "" if first is None else shown.minutes(first["minutes"])
    saved = "" if first is None else shown.minutes(first["minutes_saved"])
    says = t(f"repair.decide.{name}", test=test, minutes=minutes, saved=saved, repair=repairs_text(forecast))
    return DecisionShown(c["decision"], says, t("repair.decide.until", ways="; ".join(why)), address)


@dataclass(frozen=True)
class CauseAfterShown:
    """The repaired car, if this is the cause."""

    title: str
    probability: str
    holds: str
    cured: str


def by_cause(forecast: Answer, trust: str) -> tuple[CauseAfterShown, ...]:
    """Rows for the leading causes; ``trust`` as of `chance_of`."""
    return tuple(
        CauseAfterShown(
            said.cause_title(c["id"]), chance_of(c["probability"], trust), shown.share(c["holds"]), shown.share(c["cured"])
        )
        for c in forecast["by_cause"]
    )


def chance_of(probability: float, trust: str) -> str:
    """The probability of a cause as the verdict says it, by how far its numbers can be trusted ("ok", "about" ...)."""
    return percent(probability, trust).replace(" %", "\u202f%") or shown.NOTHING


@dataclass(frozen=True)
class InsteadShown:
    """Something to do without parts."""

    id: str
    title: str
    says: str
    hides: str


def beside(forecast: Answer, units: str) -> tuple[InsteadShown, ...]:
    """What can be done besides parts."""
    return tuple(
        InsteadShown(b["id"], b["title"], said.in_units(b["says"], units), b["hides"]) for b in forecast["beside"]
    )


def findings(forecast: Answer, units: str) -> tuple[tuple[str, str], ...]:
    """What to know and what to do, causes by their titles, pressures as the shop reads them."""
    names = titles(forecast)

    def named(text: str) -> str:
        for id, title in names.items():
            text = text.replace(id, title)
        return text

    return tuple((said.in_units(named(f["says"]), units), f["do"]) for f in forecast["findings"])
