"""Every test of the catalogue in one of four groups, and what a reading means before it is kept."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.unit.small_car import small_car

from boostproof.bench.tests import CATALOGUE
from boostproof.casefolder import read_case
from boostproof.casefolder.readings_edit import add_reading, readings_in
from boostproof.workflows.bench_form import typed_reading
from boostproof.workflows.bench_sheet import (
    bench_sheet,
    context_of_case,
    meaning_of,
    parted,
    places_of,
    procedure_page,
    read_meaning,
)

READINGS = """format = 1
[[reading]]
test = "actuator-sweep"
first_movement = "9 psi"
full_travel = "14 psi"
[[reading]]
test = "seat-leak"
not_done = "no tool"
"""
ANSWER = {
    "next_tests": [
        {"id": "tip-in", "minutes": 15.0, "minutes_saved": 30.0},
        {"id": "actuator-sweep", "minutes": 15.0, "minutes_saved": 9.0},
        {"id": "hose-flow", "minutes": 5.0, "minutes_saved": -1.0},
    ],
    "findings": [{"kind": "pull-not-offered", "where": "", "do": "",
                  "says": "As things stand these pulls may pass the stop boost and are not offered: floor-pull, re-apply."}],
}  # fmt: skip


def case(folder: Path, **car: str) -> Path:
    folder.mkdir()
    (folder / "car.toml").write_text(small_car(**car), encoding="utf-8")
    (folder / "readings.toml").write_text(READINGS, encoding="utf-8")
    return folder


def test_every_test_stands_in_one_group(tmp_path: Path) -> None:
    folder = read_case(case(tmp_path / "case", more="[pull_place]\nlift = false\n"))
    sheet = bench_sheet(context_of_case(folder), readings_in(READINGS), ANSWER, read_meaning(folder))
    assert [w.test for w in sheet.worth] == ["tip-in"]  # one is done, one saves nothing
    assert [(d.test, d.not_done) for d in sheet.done] == [("actuator-sweep", ""), ("seat-leak", "no tool")]
    why = {n.test: (n.why, n.what) for n in sheet.not_here}
    assert why == {
        "free-travel": ("need", "lift"), "port-measure": ("need", "lift"),
        "line-sweep": ("controller fitted", "ball and spring"),
        "solenoid-check": ("controller", "ball and spring"), "floor-pull": ("withheld", ""), "re-apply": ("withheld", ""),
    }  # fmt: skip
    named = [w.test for w in sheet.worth] + list(sheet.possible) + [d.test for d in sheet.done] + list(why)
    assert sorted(named) == sorted(t.id for t in CATALOGUE)
    assert [f.name for f in sheet.done[0].figures][:2] == ["opening pressure", "pressure at full travel"]
    assert sheet.done[0].figures[0].measured.endswith("psi gauge")


def test_without_a_controller_the_line_is_swept_and_nothing_repeated_before_it_was_done(
    tmp_path: Path,
) -> None:
    folder = read_case(case(tmp_path / "case", controller="none"))
    sheet = bench_sheet(context_of_case(folder), [], None)
    why = {n.test: n.why for n in sheet.not_here}
    assert (
        "line-sweep" in sheet.possible
        and why["controller-sweep"] == "no controller"
        and why["hot-repeat"] == "first"
    )


def test_a_car_that_cannot_be_read_yet_closes_no_test() -> None:
    sheet = bench_sheet(None, [], None)
    assert len(sheet.possible) == len(CATALOGUE) and not sheet.not_here


@pytest.mark.parametrize("units", ["psi", "kPa"])
def test_what_a_reading_means_before_it_is_kept(tmp_path: Path, units: str) -> None:
    folder = read_case(case(tmp_path / "case"))
    typed = typed_reading(
        "controller-sweep", {"first_movement": ["16"], "full_travel": ["21"], "travel": ["12"]}, "psi"
    )
    found = meaning_of(folder, typed.reading, units=units)
    offset = next(f for f in found.figures if f.name == "controller offset")
    # 16 psi at the supply less 9 psi straight on the actuator
    assert offset.measured.startswith({"psi": "7.0", "kPa": "48"}[units]) and not found.questions
    assert (folder.path / "readings.toml").read_text(encoding="utf-8") == READINGS


def test_what_cannot_be_so_is_asked_at_its_field(tmp_path: Path) -> None:
    folder = read_case(case(tmp_path / "case"))
    typed = typed_reading("actuator-sweep", {"first_movement": ["14"], "full_travel": ["11"]}, "psi")
    found = meaning_of(folder, typed.reading, index=0)
    assert list(found.questions) == ["full_travel"]
    assert found.questions["full_travel"].startswith(
        "Full travel at 11 psi lies below first movement at 14 psi."
    )


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda t: t.id)
def test_a_page_of_procedures_is_whole_and_in_plain_words(test: object) -> None:
    page = procedure_page(test.id, pressure="bar")  # type: ignore[attr-defined]
    assert page.cautions and page.steps and page.connect
    text = " ".join(
        [page.purpose, *(says for _, says in page.cautions), *page.steps, *page.never, page.sound]
    )
    assert "{" not in text and "_" not in text


def test_readings_from_before_and_after_a_repair_are_read_apart(tmp_path: Path) -> None:
    place = case(tmp_path / "case")
    text = READINGS
    for row in (
        {"test": "free-travel", "arm": "binds"},
        {"test": "actuator-sweep", "first_movement": "15 psi", "full_travel": "20 psi"},
        {"test": "seat-leak", "light": False},
    ):
        text = add_reading(text, row)
    (place / "readings.toml").write_text(text, encoding="utf-8")
    folder, rows, later = read_case(place), readings_in(text), ("actuator-sweep#2", "seat-leak#2")
    assert places_of(rows, later) == ((False, 0), (False, 1), (False, 2), (True, 0), (True, 1))
    before, after = parted(folder, later)
    sheet = bench_sheet(
        context_of_case(before), rows, ANSWER, read_meaning(before), repaired=True, later=later,
        meant_later=read_meaning(after),
    )  # fmt: skip
    opening = [next(f.measured for f in d.figures if f.name == "opening pressure") for d in sheet.done if d.figures]
    assert [float(text.split()[0]) for text in opening] == pytest.approx([9.0, 15.0], abs=0.3)
    assert [d.after for d in sheet.done] == [False, False, False, True, True]
    assert sheet.again == ("free-travel",) and not sheet.worth  # nothing tells of the car as found any more
    assert not sheet.findings
    mixed = bench_sheet(context_of_case(folder), rows, ANSWER, read_meaning(folder))
    assert not mixed.again and mixed.worth
