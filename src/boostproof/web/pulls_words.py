"""Pulls in words: what each is called, what it shows, and what came of holding one against another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from boostproof.web import shown
from boostproof.web.words import t
from boostproof.workflows.recordings_seen import Figure, PullSeen

_LEAST_SPIKE, _LEVEL, _AT_ONCE = 2.0, 1.2, 0.05  # kPa, kPa per 1,000 rpm, s: less does not show in a log


def nth(number: int) -> str:
    """A place in a row (``"3rd"``)."""
    known = ("1", "2", "3", "21", "22", "23")
    return t(f"pulls.nth.{number}") if str(number) in known else t("pulls.nth.other", n=number)


def pull_name(pull: PullSeen) -> str:
    """What a pull is called: its place, gear and set-up (``"3rd, gear 4, line direct"``)."""
    parts = [nth(pull.place) if pull.place else t("pulls.pull.part_load")]
    if pull.gear is not None:
        parts.append(t("pulls.pull.gear", n=pull.gear))
    parts += [
        t(f"pulls.set_up.{words}")
        for words, there in (
            ("direct", pull.controller == "bypassed"),
            ("removed", pull.controller == "removed"),
            ("held_open", pull.gate == "held open"),
            ("held_shut", pull.gate == "held shut"),
        )
        if there
    ]
    return ", ".join(parts)


def rpm(value: float) -> str:
    """An engine speed to the ten: no log is steadier than that."""
    return shown.rpm(round(value, -1))


def _plain(value: float) -> str:
    return f"{round(value, -1):,.0f}"


def span_words(pull: PullSeen) -> str:
    """From where to where a pull goes and how it ended."""
    span = t("pulls.pull.span", low=_plain(pull.rpm_from), high=_plain(pull.rpm_to))
    ended = t(f"pulls.ended.{pull.ended}")
    return f"{span}, {ended}" if ended else span


def short_line(pull: PullSeen, units: str) -> str:
    """What matters most of a pull, in one line."""

    def said(key: str, boost: str = "", speed: str = "") -> str:
        if any(name and name not in pull.figures for name in (boost, speed)):
            return ""
        values = {}
        if boost:
            values["boost"] = shown.kpa(pull.figures[boost].value, units)
        if speed:
            values["rpm"] = rpm(pull.figures[speed].value)
        return t(f"pulls.short.{key}", **values)

    creep = pull.figures.get("creep_kpa_per_1000rpm")
    parts = [
        said("knee", "knee_kpa_gauge", "knee_rpm") or said("threshold", "", "boost_threshold_rpm"),
        said("plateau", "plateau_kpa_gauge"),
        "" if creep is None or abs(creep.value) < _LEVEL else _creep(pull, units),
        said("peak", "peak_kpa_gauge", "peak_rpm"),
        said("oscillation", "oscillation_kpa"),
    ]
    spike = pull.figures.get("spike_kpa")
    if spike is not None and spike.value >= _LEAST_SPIKE:
        parts.append(t("pulls.short.spike", boost=shown.kpa_difference(spike.value, units)))
    return "; ".join(part for part in parts if part) or t("pulls.metric.none")


def _creep(pull: PullSeen, units: str, *, doubt: bool = False) -> str:
    slope, since = pull.figures["creep_kpa_per_1000rpm"], pull.figures.get("creep_from_rpm")
    start = rpm(since.value if since is not None else pull.rpm_from)
    if abs(slope.value) < (max(2.0 * slope.sd, 0.1 * _LEVEL) if doubt else _LEVEL):
        return t("pulls.metric.level", rpm=start)
    digits = shown.KINDS["kpa"].unit(units)[1] + 1  # a slope is a small number
    text = shown.kpa_difference(abs(slope.value), units, sd=slope.sd if doubt else None, digits=digits)
    return t(f"pulls.metric.{'up' if slope.value >= 0.0 else 'down'}", slope=text, rpm=start)


@dataclass(frozen=True)
class FigureRow:
    """One figure of several pulls in words, in the order of the pulls; a pull that cannot show it has a dash."""

    name: str
    says: tuple[str, ...]


def figure_rows(pulls: Sequence[PullSeen], units: str) -> tuple[FigureRow, ...]:
    """The figures of pulls with their doubt; figures that no pull shows are left out."""
    rows = []
    for name, say in _ROWS:
        told = [say(pull, units) for pull in pulls]
        if any(told):
            rows.append(FigureRow(t(f"pulls.metric.{name}"), tuple(one or t("pulls.metric.nothing") for one in told)))
    return tuple(rows)


def _speed(name: str) -> Any:
    def say(pull: PullSeen, units: str) -> str:
        figure = pull.figures.get(name)
        return "" if figure is None else _rpm_doubt(figure)

    return say


def _rpm_doubt(figure: Figure) -> str:
    doubt = max(10.0, round(2.0 * figure.sd, -1))
    return t("pulls.metric.rpm", value=_plain(figure.value), doubt=f"{doubt:,.0f}")


def _boost(name: str, at: str = "", *, difference: bool = False) -> Any:
    def say(pull: PullSeen, units: str) -> str:
        figure, speed = pull.figures.get(name), pull.figures.get(at)
        if figure is None or (difference and figure.value < _LEAST_SPIKE):
            return ""
        text = (shown.kpa_difference if difference else shown.kpa)(figure.value, units, sd=figure.sd)
        return text if speed is None else t("pulls.metric.at", boost=text, rpm=rpm(speed.value))

    return say


def _time(pull: PullSeen, units: str) -> str:
    figure = pull.figures.get("time_to_80_s")
    if figure is None:
        return ""
    return t("pulls.metric.seconds", value=f"{figure.value:.1f}", doubt=f"{max(0.1, 2.0 * figure.sd):.1f}")


def _after(pull: PullSeen, units: str) -> str:
    return _creep(pull, units, doubt=True) if "creep_kpa_per_1000rpm" in pull.figures else ""


def _spike(pull: PullSeen, units: str) -> str:
    figure, settling = pull.figures.get("spike_kpa"), pull.figures.get("settling_s")
    if figure is None or figure.value < _LEAST_SPIKE:
        return ""
    text = shown.kpa_difference(figure.value, units, sd=figure.sd)
    if settling is None or settling.value < _AT_ONCE:
        return text
    return t("pulls.metric.settled", boost=text, seconds=f"{settling.value:.1f}")


def _swing(pull: PullSeen, units: str) -> str:
    figure, speed = pull.figures.get("oscillation_kpa"), pull.figures.get("oscillation_hz")
    if figure is None:
        return ""
    text = shown.kpa_difference(figure.value, units, sd=figure.sd)
    return text if speed is None else t("pulls.metric.swings", boost=text, hz=f"{speed.value:.1f}")


_ROWS: tuple[tuple[str, Any], ...] = (
    ("boost_threshold_rpm", _speed("boost_threshold_rpm")),
    ("rpm_at_80", _speed("rpm_at_80")),
    ("time_to_80_s", _time),
    ("knee", _boost("knee_kpa_gauge", "knee_rpm")),
    ("plateau_kpa_gauge", _boost("plateau_kpa_gauge")),
    ("creep", _after),
    ("taper_kpa", _boost("taper_kpa", difference=True)),
    ("peak", _boost("peak_kpa_gauge", "peak_rpm")),
    ("end", _boost("end_kpa_gauge", "end_rpm")),
    ("spike_kpa", _spike),
    ("oscillation", _swing),
)


def compared_words(answer: Mapping[str, Any], names: tuple[str, str], units: str) -> tuple[str, str]:
    """What came of holding two pulls against each other: a sentence, and a remark that may be empty."""
    before, after = names
    low, high = _plain(answer["rpm"][0]), _plain(answer["rpm"][-1])
    values = {"before": before, "after": after, "low": low, "high": high}
    if answer["verdict"] == "no different":
        return t("pulls.compare.no_different", **values), ""
    if answer["verdict"] == "cannot tell":
        apart = shown.kpa_difference(abs(answer["mean_difference_kpa"]["value"]), units)
        tells = shown.kpa_difference(answer["tells_from_kpa"], units)
        return t("pulls.compare.cannot_tell", **values, boost=apart, tells=tells), ""
    span = max(answer["spans"], key=lambda s: (s["rpm_to"] - s["rpm_from"], abs(s["mean_kpa"])))
    values |= {"low": _plain(span["rpm_from"]), "high": _plain(span["rpm_to"])}
    key = "more" if span["mean_kpa"] > 0.0 else "less"
    says = t(f"pulls.compare.{key}", **values, boost=shown.kpa_difference(abs(span["mean_kpa"]), units))
    return says, t("pulls.compare.averaged") if span["averaged"] else ""
