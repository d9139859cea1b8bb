"""The report as a person makes, reads, prints and takes it, and its one-file page by itself."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import SCREENS, TABLET, WIDE, LookAt, Server, small_parts
from tests.unit.small_car import small_car

from boostproof.workflows.report import report

Check = Callable[[Page], None]
DONE = "Clamp </li><script>alert(1)</script> #pagebreak()"
NAME = 'Grey <b onclick="x()">estate</b> {{ 7*7 }} #strong[x]'
READINGS = """format = 1
[[reading]]
test = "actuator-sweep"
first_movement = "60 kPa"
full_travel = "95 kPa"
travel = "14 mm"
"""


@pytest.fixture(scope="session")
def reported(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """A case that was read at the bench and not driven, and its report."""
    folder = tmp_path_factory.mktemp("reported") / "case"
    folder.mkdir()
    car = small_car('[limits]\ntarget = "90 kPa"\n').replace('"the grey estate"', json.dumps(NAME))
    (folder / "car.toml").write_text(car, encoding="utf-8")
    (folder / "readings.toml").write_text(READINGS, encoding="utf-8")
    return folder, report(folder, customer=True, done=["Hose renewed", DONE], by="A. Fitter").as_json()


@pytest.fixture
def address(shop: Server, reported: tuple[Path, dict[str, Any]]) -> str:
    """Of the page of this report, as if it had been made there."""
    folder, document = reported
    job = shop.store.import_case(folder).id
    choices = {"customer": True, "done": ["Hose renewed", DONE], "by": "A. Fitter"}
    shop.store.settings.of_job(job).set("report", choices)
    shop.store.answers.keep(job, "report", document, choices, shop.store.content(job))
    return f"{shop.address}/jobs/{job}/report"


@SCREENS
def test_the_report_can_be_read_by_everyone(
    address: str, look_at: LookAt, accessible: Check, viewport: tuple[int, int], bay: str
) -> None:
    page = look_at(address, viewport, bay)
    accessible(page)
    assert small_parts(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    document = page.locator("#document")
    expect(document.get_by_text(DONE)).to_be_visible()
    expect(document.get_by_text("No repair was forecast.")).to_be_visible()
    expect(document.get_by_role("img", name="Line drawing of the pressure that moves the actuator")).to_be_visible()
    page.get_by_text("Change what it says").click()
    accessible(page)
    assert small_parts(page) == []


def test_only_the_report_goes_onto_the_paper(address: str, look_at: LookAt) -> None:
    page = look_at(address)
    page.emulate_media(media="print")
    expect(page.locator("#document")).to_be_visible()
    for name in (".top", ".job-head", ".foot", ".report-ask"):
        expect(page.locator(name).first).to_be_hidden()


def test_it_is_made_and_made_again_with_what_was_typed(
    shop: Server, reported: tuple[Path, dict[str, Any]], look_at: LookAt, accessible: Check
) -> None:
    job = shop.store.import_case(reported[0]).id
    page = look_at(f"{shop.address}/jobs/{job}/report", TABLET)
    accessible(page)
    assert small_parts(page) == []
    page.get_by_label("What was done on the car").fill(f"Hose renewed\n{DONE}")
    page.get_by_role("button", name="Make the report").click()
    expect(page.get_by_role("heading", name=f"Boost report: {NAME}")).to_be_visible(timeout=90_000)
    expect(page.locator("#document").get_by_text(DONE)).to_be_visible()
    page.get_by_text("Change what it says").click()
    page.get_by_label("Work done by").fill("B. Mender")
    page.get_by_role("button", name="Make it again").click()
    expect(page.locator("#document").get_by_text("B. Mender")).to_be_visible(timeout=90_000)


@pytest.mark.parametrize("viewport", [WIDE, TABLET])
def test_the_page_in_one_file_stands_alone(
    address: str, look_at: LookAt, tmp_path: Path, viewport: tuple[int, int]
) -> None:
    """Opened from the disk: nothing is asked for, nothing is refused by its policy, no text of a person runs."""
    page = look_at(address)
    with page.expect_download() as taken:
        page.get_by_role("link", name="Page in one file").click()
    file = tmp_path / "report.html"
    taken.value.save_as(file)
    alone = look_at(file.as_uri(), viewport)
    assert alone.title() == f"Boost report: {NAME}"
    assert alone.evaluate("performance.getEntriesByType('resource').length") == 0
    assert alone.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert alone.evaluate("getComputedStyle(document.querySelector('.report')).backgroundColor") == "rgb(255, 253, 248)"
    assert alone.evaluate("document.scripts.length") == 0
