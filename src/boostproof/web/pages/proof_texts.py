"""What the page Proof says of a kept comparison: sentences, rows and pictures in the shop's units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from boostproof.case_names import CAR, READINGS
from boostproof.report import proof_words
from boostproof.report.curves import Band, Level, Line, Picture, picture
from boostproof.report.words import title_of_test
from boostproof.web import said, shown
from boostproof.web.pages.repair_texts import boost_axis, repairs_text
from boostproof.web.shown import kpa_numbers
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.store import Store

_LITTLE = 200.0  # rpm below the redline that need no pull of their own
Answer = Mapping[str, Any]


def repairs_of(forecast: Answer) -> str:
    """Which repair a kept forecast is of."""
    return repairs_text(forecast)


def sentences(answer: Answer, units: str) -> Mapping[str, Any]:
    """The sentence, next step, cautions and what the forecast came to, in the shop's unit."""
    told: Mapping[str, Any] = answer.get("sentences", {}).get(said.pressure_unit(units), answer)
    return told


def reasons(answer: Answer, units: str) -> tuple[str, ...]:
    """What the verdict rests on: pulls, weather, scatter."""
    about = proof_words.sides(answer, said.pressure_unit(units))[2]
    return (
        *(t(f"proof.reasons.{side}", pulls="; ".join(_driven(answer[side]["pulls"]))) for side in ("before", "after")),
        about[:1].upper() + about[1:] + ".",
    )


def _driven(pulls: Sequence[str]) -> list[str]:
    """Pulls named as FILE#NUMBER, by file."""
    files: dict[str, list[str]] = {}
    for pull in pulls:
        file, _, number = pull.rpartition("#")
        files.setdefault(file, []).append(number)
    return [t("proof.reasons.pulls", n=len(some), file=file, numbers=", ".join(some)) for file, some in files.items()]


def room(answer: Answer, units: str) -> tuple[str, ...]:
    """Room left below the target and below the stop boost."""
    margins = answer["margins"]
    out = []
    for name in ("below_target_kpa", "below_stop_kpa"):
        if margins[name] is not None:
            value = margins[name]["value"]
            key = f"proof.room.{name.removesuffix('_kpa')}" + ("" if value >= 0.0 else "_over")
            out.append(t(key, boost=shown.kpa_difference(abs(value), units)))
    out.append(
        t("proof.room.highest", boost=shown.kpa(margins["highest_kpa_gauge"], units), rpm=shown.rpm(margins["highest_rpm"]))
    )
    return tuple(out)


def heads(units: str) -> tuple[str, ...]:
    """Heads of the table of ranges; boost in which unit."""
    return tuple(
        t(f"proof.heads.{name.replace(' ', '_')}", unit=shown.unit_name("kpa", units)) for name in proof_words.RANGE_HEADS
    )


def rows(answer: Answer, units: str) -> tuple[tuple[str, ...], ...]:
    """Ranges of engine speed, swings and all together."""
    return tuple(tuple(row) for row in proof_words.range_rows(answer, said.pressure_unit(units)))


def readings(answer: Answer, units: str) -> tuple[tuple[str, ...], ...]:
    """Figures of the bench before and after."""
    return tuple(tuple(proof_words.reading_row(one, said.pressure_unit(units))) for one in answer["readings"])


def power(answer: Answer) -> str:
    """A sentence on peak power; empty where it was not logged."""
    return "" if answer["power"] is None else proof_words.power_sentence(answer["power"])


def untested(answer: Answer, store: Store, job_id: int, choices: Mapping[str, Any], units: str) -> tuple[str, ...]:
    """What nobody has tested: tests at rest not done again, speeds not driven, a leading cause that was only inferred."""
    out = []
    before, after = _tests_done(store.text(job_id, READINGS), choices.get("repeated", ()))
    done = [] if choices.get("readings_after") else [test for test in before if test not in after]
    if done:
        out.append(t("proof.untested.bench", tests=", ".join(title_of_test(test).lower() for test in done)))
    elif not before:
        out.append(t("proof.untested.no_bench"))
    top, redline = answer["rpm"][-1], _redline(store, job_id)
    if redline is not None and top < redline - _LITTLE:
        out.append(t("proof.untested.above", rpm=shown.rpm(round(top, -1)), redline=shown.rpm(round(redline, -1))))
    verdict = store.answers.latest(job_id, "diagnose", current=False)
    if verdict is not None and verdict.answer["causes"]:
        leader = max(verdict.answer["causes"], key=lambda c: c["probability"])
        if not leader["confirmed"]:
            out.append(t("proof.untested.inferred", cause=said.cause_title(leader["id"]).lower()))
    if answer["margins"]["below_stop_kpa"] is None:
        out.append(t("proof.untested.stop"))
    return tuple(out)


def _tests_done(readings: str, repeated: Sequence[str]) -> tuple[list[str], list[str]]:
    """Tests that were done before the repair, and those done after it."""
    from boostproof.casefolder.left_out import names_in
    from boostproof.casefolder.readings_edit import readings_in
    from boostproof.errors import InputError

    try:
        rows = [row for row in readings_in(readings) if "test" in row]
    except InputError:
        return [], []
    sides: tuple[list[str], list[str]] = ([], [])
    for name, row in zip(names_in(rows), rows, strict=True):
        if "not_done" not in row and row["test"] not in sides[name in repeated]:
            sides[name in repeated].append(str(row["test"]))
    return sides


def _redline(store: Store, job_id: int) -> float | None:
    """Redline of the car's file [rpm], None where it cannot be read."""
    from boostproof.casefolder.toml_file import toml_table
    from boostproof.errors import BoostproofError
    from boostproof.quantity import parse_quantity
    from boostproof.units import from_si, get_unit

    try:
        written = (toml_table(store.text(job_id, CAR)) or {})["engine"]["redline"]
        speed = parse_quantity(written, dimension="rotational_speed").value
    except (BoostproofError, KeyError, TypeError):
        return None
    return float(from_si(speed, get_unit("rpm", "rotational_speed")))


# What is drawn


def boost_picture(answer: Answer, units: str) -> Picture:
    """Boost before and after over what is wanted and what was forecast."""
    bands = []
    if answer["target_kpa_gauge"] is not None and answer["tolerance_kpa"] is not None:
        held = [i for i, at in enumerate(answer["rpm"]) if at >= answer["holds_from_rpm"]]
        low, middle, high = (
            kpa_numbers([answer["target_kpa_gauge"][i] + by * answer["tolerance_kpa"] for i in held], units)
            for by in (-1.0, 0.0, 1.0)
        )
        rpm = [answer["rpm"][i] for i in held]
        bands.append(Band("wanted", "wanted-band", t("proof.draw.wanted"), low, middle, high, x=rpm))
    forecast = answer["forecast"]
    if forecast is not None:
        low, high = (kpa_numbers(forecast[f"{k}_kpa_gauge"], units) for k in ("low", "high"))
        middle = [(a + b) / 2.0 for a, b in zip(low, high, strict=True)]
        bands.append(Band("forecast", "forecast", t("proof.draw.forecast"), low, middle, high, x=forecast["rpm"]))
    stop = answer["stop_kpa_gauge"]
    levels = [] if stop is None else [Level("stop", "stop", t("repair.draw.stop"), kpa_numbers([stop], units)[0])]
    lines = [
        Line(side, side, t(f"proof.draw.{side}"), kpa_numbers(answer[f"{side}_kpa_gauge"], units))
        for side in ("before", "after")
    ]
    return picture(
        "proof-boost", answer["rpm"], says=t("proof.draw.says"), x_says=t("repair.axis.rpm"), y_says=boost_axis(units),
        bands=bands, lines=lines, levels=levels, x_range=(answer["rpm"][0], answer["rpm"][-1]),
    )  # fmt: skip


def difference_picture(answer: Answer, units: str) -> Picture:
    """After minus before at standard weather, with where the true difference lies."""
    low, middle, high = (
        kpa_numbers(answer[f"{k}_kpa"], units, difference=True) for k in ("band_low", "difference", "band_high")
    )
    room_ = 0.1 * (max(*high, 0.0) - min(*low, 0.0))
    return picture(
        "proof-difference", answer["rpm"], says=t("proof.draw.difference_says"), x_says=t("repair.axis.rpm"),
        y_says=t("proof.draw.difference_axis", unit=shown.unit_name("kpa", units)),
        bands=[Band("difference", "first", t("proof.draw.difference"), low, middle, high)],
        levels=[Level("nought", "nought", t("proof.draw.nought"), 0.0)],
        y_range=(min(*low, 0.0) - room_, max(*high, 0.0) + room_), size=(700.0, 260.0),
    )  # fmt: skip
