"""The size slider of Repair: what stands beside it without a script, and the bands that its script draws from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from boostproof.report.curves import Picture
from boostproof.web import shown
from boostproof.web.pages import repair_texts as texts
from boostproof.web.shown import kpa_numbers
from boostproof.web.words import t


@dataclass(frozen=True)
class SizeChoice:
    """A size of the trade: value for the form, text, chosen."""

    value: float
    says: str
    here: bool


@dataclass(frozen=True)
class SliderShown:
    """The slider and what it says.

    Attributes
    ----------
    address : where its bands are, as JSON
    option : number of the option it belongs to
    of : what is measured
    low, high, step : of the slider, in the unit of the trade (mm, kPa gauge, turns)
    value, value_says : where it stands
    choices : sizes of the trade
    says : chances at that size
    smallest, next : the least change that holds, and the next size with its gain; empty where none does
    smallest_value : of the former, None where none holds
    boost : picture at that size
    """

    address: str
    option: int
    of: str
    low: float
    high: float
    step: float
    value: float
    value_says: str
    choices: tuple[SizeChoice, ...]
    says: tuple[str, ...]
    smallest: str
    smallest_value: float | None
    next: str
    boost: Picture


def slider_of(option: Mapping[str, Any], units: str, job_id: int, number: int, written: str) -> SliderShown:
    """The slider of an option with sizes, standing at a size as written, or at that of the forecast.

    Parameters
    ----------
    option : `OptionAnswer` with sizes
    units : of the shop
    job_id, number : of the job and of the option
    written : size asked for in the unit of the trade, may be empty
    """
    sizes, forecast = option["sizes"], option["forecast"]
    unit, rows = sizes["unit"], sizes["sizes"]
    value = _near(rows, written, _standing(option))
    here = next(row for row in rows if row["size"] == value)
    sizing = forecast["sizing"]
    chosen, following = sizing["chosen"], sizing["next"]
    step = min(b["size"] - a["size"] for a, b in pairwise(rows))
    return SliderShown(
        address=f"/jobs/{job_id}/repair/sizes?option={number}", option=number, of=sizes["of"][:1].upper() + sizes["of"][1:],
        low=rows[0]["size"], high=rows[-1]["size"], step=step / 10.0, value=value,
        value_says=texts.size_text(value, unit, units),
        choices=tuple(SizeChoice(r["size"], texts.size_text(r["size"], unit, units), r["size"] == value) for r in rows),
        says=chances(sizes, here, units),
        smallest="" if chosen is None else t(
            "repair.size.smallest", size=texts.size_text(chosen["size"], unit, units), share=shown.share(chosen["holds"])
        ),
        smallest_value=None if chosen is None else chosen["size"],
        next="" if following is None else t(
            "repair.size.next", size=texts.size_text(following["size"], unit, units),
            share=shown.share(following["holds"]), gain=_points(sizing["gain"] or 0.0),
        ),
        boost=_picture(option, here, units),
    )  # fmt: skip


def chances(sizes: Mapping[str, Any], row: Mapping[str, Any], units: str) -> tuple[str, ...]:
    """What is said of one size."""
    tolerance = shown.kpa_difference(sizes["tolerance_kpa"], units)
    lines = [t("repair.size.holds", tolerance=tolerance, share=shown.share(row["holds"]))]
    if sizes["capacity"]:
        lines.append(t("repair.size.enough", share=shown.share(row["enough"])))
    lines.append(t("repair.size.reaches", tolerance=tolerance, share=shown.share(row["reaches"])))
    lines.append(t("repair.size.stopped", share=shown.share(row["stopped"])))
    lines.append(t("repair.size.peak", boost=shown.kpa(row["peak_kpa_gauge"], units)))
    return tuple(lines)


def slider_answer(option: Mapping[str, Any], units: str) -> dict[str, Any]:
    """Bands for every size in the shop's units, with the sentences in which the script puts its numbers.

    Parameters
    ----------
    option : `OptionAnswer` with sizes
    units : of the shop
    """
    sizes = option["sizes"]
    tolerance = shown.kpa_difference(sizes["tolerance_kpa"], units)
    lines = [("holds", t("repair.size.holds", tolerance=tolerance, share="{}"))]
    if sizes["capacity"]:
        lines.append(("enough", t("repair.size.enough", share="{}")))
    lines.append(("reaches", t("repair.size.reaches", tolerance=tolerance, share="{}")))
    lines.append(("stopped", t("repair.size.stopped", share="{}")))
    lines.append(("peak", t("repair.size.peak", boost="{}")))
    unit, digits = shown.KINDS["kpa"].unit(units)
    return {
        "format": 1, "unit": sizes["unit"], "rpm": sizes["rpm"], "boost_unit": unit.name, "boost_digits": digits,
        "lines": [{"of": name, "says": text} for name, text in lines],
        "words": {
            "under": shown.share(0.001), "over": shown.share(0.999), "between": t("repair.size.between"),
            "together": t("repair.draw.after"),
        },
        "sizes": [_bands(row, sizes["unit"], units) for row in sizes["sizes"]],
    }  # fmt: skip


def _bands(row: Mapping[str, Any], unit: str, units: str) -> dict[str, Any]:
    def band(one: Mapping[str, Any]) -> list[list[float]]:
        return [[round(v, 3) for v in kpa_numbers(one[f"{k}_kpa_gauge"], units)] for k in ("low", "middle", "high")]

    return {
        "size": row["size"], "says": texts.size_text(row["size"], unit, units),
        "together": None if row["together"] is None else band(row["together"]),
        "by_cause": [{"id": c["id"], "says": texts.if_it_is(c["id"]), "band": band(c["band"])} for c in row["by_cause"]],
        **{name: round(row[name], 5) for name in ("holds", "enough", "reaches", "stopped")},
        "peak": kpa_numbers([row["peak_kpa_gauge"]], units)[0],
    }  # fmt: skip


def _standing(option: Mapping[str, Any]) -> float:
    """The size of the forecast; where the part is as it was meant, the one that holds, else the middle of the trade."""
    sizes, sizing = option["sizes"], option["forecast"]["sizing"]
    asked = next((r["size"] for r in option["forecast"]["repairs"] if r["id"] == sizes["repair"]), None)
    if asked is not None:
        return float(asked)
    if sizing is not None and sizing["chosen"] is not None:
        return float(sizing["chosen"]["size"])
    return float(sizes["sizes"][len(sizes["sizes"]) // 2]["size"])


def _near(rows: list[Mapping[str, Any]], written: str, otherwise: float) -> float:
    try:
        wanted = float(written)
    except ValueError:
        wanted = otherwise
    return float(min((row["size"] for row in rows), key=lambda size: abs(size - wanted)))


def _picture(option: Mapping[str, Any], row: Mapping[str, Any], units: str) -> Picture:
    """As the picture of the forecast, with the bands of one size."""
    forecast = option["forecast"]
    at = {**forecast, "together": row["together"], "by_cause": row["by_cause"]}
    found = texts.boost_picture("boost", at, units, highest=texts.highest_boost(forecast))
    size = texts.size_text(row["size"], option["sizes"]["unit"], units)
    return replace(found, says=t("repair.draw.slider_says", size=size))


def _points(gain: float) -> str:
    """What a size adds to a chance.

    >>> _points(0.0167), _points(0.001)
    ('2 points', 'less than 1 point')
    """
    points = round(100.0 * gain)
    return t("repair.size.points", n=points, points=points) if points >= 1 else t("repair.size.no_points")


__all__ = ["SizeChoice", "SliderShown", "chances", "slider_answer", "slider_of"]
