"""The shop page as a person uses it: finger and keyboard, bright and dark, with a server that goes away."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import SCREENS, TABLET, LookAt, Program, Server, small_parts

Check = Callable[[Page], None]
AWAY = ("net::ERR",)  # what the browser says itself of a server that is not there


@SCREENS
@pytest.mark.parametrize("path", ["/", "/settings", "/api"])
def test_a_page_can_be_read_and_tapped_by_everyone(
    demo_shop: Server, look_at: LookAt, accessible: Check, path: str, viewport: tuple[int, int], bay: str
) -> None:
    page = look_at(demo_shop.address + path, viewport, bay)
    accessible(page)
    assert small_parts(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_new_job_by_keyboard_alone(shop: Server, look_at: LookAt, accessible: Check) -> None:
    page = look_at(shop.address, TABLET, expected=("422",))
    accessible(page)  # the empty shop
    assert small_parts(page) == []
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the sheet")).to_be_focused()
    page.get_by_role("textbox", name="Car").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("Say what the car is called.")).to_be_visible()
    expect(page.get_by_role("textbox", name="Car")).to_be_focused()
    page.keyboard.type("Blue estate")
    page.keyboard.press("Tab")
    page.keyboard.type("climbs at the top end")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/jobs/1/car")
    (row,) = shop.get("/")["jobs"]
    assert row["job"]["name"] == "Blue estate" and row["job"]["complaint"] == "climbs at the top end"
    page.goto(shop.address)
    expect(page.get_by_role("textbox", name="Car")).to_have_value("")


def test_what_is_typed_outlives_a_crash_of_the_server(program: Program, look_at: LookAt) -> None:
    page = look_at(program.address, expected=AWAY)
    page.get_by_role("textbox", name="Car").fill("Half typed")
    page.get_by_role("textbox", name="What the owner says").fill("only on cold days")
    program.kill()
    program.start()
    page.reload()
    expect(page.get_by_text("Typed here, not saved yet.")).to_be_visible()
    expect(page.get_by_role("textbox", name="Car")).to_have_value("Half typed")
    page.get_by_role("button", name="Open the job").click()
    page.wait_for_url("**/jobs/1/car")
    assert program.get("/")["jobs"][0]["job"]["complaint"] == "only on cold days"


def test_what_is_typed_can_be_dropped(shop: Server, look_at: LookAt) -> None:
    page = look_at(shop.address)
    page.get_by_role("textbox", name="Car").fill("Not this one")
    page.reload()
    page.get_by_role("button", name="Drop what I typed").click()
    expect(page.get_by_role("textbox", name="Car")).to_have_value("")
    page.reload()
    expect(page.get_by_role("textbox", name="Car")).to_have_value("")
    expect(page.get_by_text("Typed here, not saved yet.")).to_have_count(0)


def test_a_form_sent_to_a_server_that_is_away_is_sent_when_it_is_back(program: Program, look_at: LookAt) -> None:
    page = look_at(program.address, expected=AWAY)
    page.get_by_role("textbox", name="Car").fill("Patient one")
    program.kill()
    page.get_by_role("button", name="Open the job").click()
    expect(page.get_by_text("The server is not answering.")).to_be_visible()
    program.start()
    page.wait_for_url("**/jobs/1/car", timeout=20_000)
    assert [row["job"]["name"] for row in program.get("/")["jobs"]] == ["Patient one"]


def test_a_case_comes_in_as_a_zip_file(shop: Server, look_at: LookAt, demo_case: Path, tmp_path: Path) -> None:
    packed = tmp_path / "case.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        for file in sorted(demo_case.rglob("*")):
            if file.is_file():
                archive.write(file, Path("some folder") / file.relative_to(demo_case))
    page = look_at(shop.address)
    page.get_by_label("A zip file, or its files").set_input_files(packed)
    page.get_by_role("button", name="Bring it in").click()
    page.wait_for_url("**/jobs/1/**")
    page.goto(shop.address)
    expect(page.get_by_role("link", name="Norvik Vale Estate")).to_be_visible()
    expect(page.get_by_text("1 recording, 6 readings")).to_be_visible()


def test_files_that_are_no_case_say_so_beside_the_field(shop: Server, look_at: LookAt, tmp_path: Path) -> None:
    note = tmp_path / "note.csv"
    note.write_text("a,b\n1,2\n")
    page = look_at(shop.address, expected=("422",))
    page.get_by_role("textbox", name="Car").fill("still here")
    page.get_by_label("A zip file, or its files").set_input_files(note)
    page.get_by_role("button", name="Bring it in").click()
    expect(page.get_by_text("There is no car.toml among these files")).to_be_visible()
    expect(page.get_by_role("textbox", name="Car")).to_have_value("still here")


def test_the_demo_job_and_the_search(shop: Server, look_at: LookAt) -> None:
    page = look_at(shop.address)
    page.get_by_role("button", name="Open the demo job").click()
    page.wait_for_url("**/jobs/1/**")
    page.goto(shop.address)
    page.get_by_role("searchbox").fill("estate")
    page.keyboard.press("Enter")
    expect(page.get_by_role("link", name="Norvik Vale Estate")).to_be_visible()
    page.get_by_role("searchbox").fill("green van")
    page.get_by_role("button", name="Find").click()
    expect(page.get_by_text("No job fits.")).to_be_visible()


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_settings_are_kept(shop: Server, look_at: LookAt, script: bool) -> None:
    page = look_at(shop.address + "/settings", expected=("422",), script=script)
    page.get_by_label("Name of the shop").fill("Quay & Sons")
    page.get_by_text("kPa, °C, g/s, N m").click()
    page.get_by_text("dark bay").click()
    page.get_by_label("Bench hour").fill("a lot")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert")).to_contain_text("Write an amount")
    expect(page.get_by_label("Name of the shop")).to_have_value("Quay & Sons")
    page.get_by_label("Bench hour").fill("80..110")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Saved.")).to_be_visible()
    expect(page.locator("html")).to_have_attribute("data-bay", "dark")
    kept = shop.get("/settings")
    assert (kept["shop_name"], kept["units"], kept["bay"]) == ("Quay & Sons", "metric", "dark")
    assert kept["rates"] == {"bench": "80..110", "dyno": ""}


def test_the_program_says_where_it_is_and_ends_when_told_to(program: Program) -> None:
    assert program.address.startswith("http://127.0.0.1:")
    assert program.stop() == 0
