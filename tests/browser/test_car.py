"""The Car page as a person uses it: spoken numbers, a wrong unit, save, reload, another tablet, a power cut."""

from __future__ import annotations

import tomllib
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import SCREENS, VIEWPORTS, WIDE, LookAt, Program, Server, small_parts

AWAY = ("net::ERR",)  # what the browser says itself of a server that is not there
REFUSED = ("status of 422", "status of 409")


def new_job(shop: Server | Program, look_at: LookAt, viewport: tuple[int, int] = WIDE, bay: str = "light",
            expected: tuple[str, ...] = (*REFUSED,)) -> Page:
    """A new job from the shop page, looking at its Car page."""
    page = look_at(shop.address, viewport, bay, expected=expected)
    page.locator("#new input[name=car]").fill("Blue hatchback")
    page.locator("#new textarea[name=complaint]").fill("boost climbs with rpm")
    page.locator("#new button[type=submit]").click()
    page.wait_for_url("**/jobs/1/car")
    return page


def answer(page: Page, name: str) -> str:
    """How the page says that an answer is understood."""
    return page.locator(f"[id='u-{name}']").inner_text().strip()


def type_in(page: Page, name: str, text: str) -> None:
    page.locator(f"[name='{name}'][type=text]").fill(text)


def choose(page: Page, name: str, word: str) -> None:
    page.locator(f"label:has([name='{name}'][value='{word}'])").click()


def car_toml(shop: Server | Program) -> dict[str, object]:
    """What is kept."""
    return tomllib.loads(shop.get("/jobs/1/car")["file"])


@VIEWPORTS
def test_a_new_car_is_told_as_a_person_would(shop: Server, look_at: LookAt, viewport: tuple[int, int]) -> None:
    page = new_job(shop, look_at, viewport)
    assert page.locator("[name='car.name']").input_value() == "Blue hatchback"
    assert "boost climbs with rpm" in page.locator("[name='car.complaint']").input_value()
    type_in(page, "engine.displacement", "2.0")
    type_in(page, "engine.cylinders", "4")
    type_in(page, "engine.redline", "6800 psi")
    choose(page, "wastegate.kind", "internal flapper")
    choose(page, "controller.kind", "ball and spring")
    type_in(page, "limits.target", "11 or 12")
    expect(page.locator("[id='u-limits.target']")).to_contain_text('"11 or 12" has no unit.')
    page.get_by_role("button", name="11 or 12 psi", exact=True).click()
    expect(page.locator("[id='u-limits.target']")).to_contain_text("11 to 12 psi gauge")
    expect(page.locator("[id='u-engine.redline']")).to_contain_text("but a rotational speed is expected")
    assert page.locator("#drawing svg").count() == 0

    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("form#answers .wrong-summary")).to_contain_text("Redline")
    assert page.evaluate("document.activeElement.name") == "engine.redline"
    assert page.locator("[name='limits.target']").input_value() == "11 or 12 psi"
    assert "engine" not in car_toml(shop)

    type_in(page, "engine.redline", "6800")
    page.get_by_text("Add something that changed").click()
    page.locator("[name='history.changed.0.what']").select_option("exhaust")
    choose(page, "history.changed.0.fault", "after")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save")).to_contain_text("Saved.")
    kept = car_toml(shop)
    assert kept["engine"] == {"displacement": "2.0 L", "cylinders": 4, "redline": "6800 rpm"}
    assert kept["limits"] == {"target": "11 or 12 psi"}
    assert kept["history"] == {"changed": [{"what": "exhaust", "fault": "after"}]}
    assert page.locator("#drawing svg.boost-system").count() == 1
    expect(page.locator("#save")).to_contain_text("Enough for a verdict")
    expect(page.locator("#save a")).to_have_attribute("href", "/jobs/1/pulls")

    page.reload()
    assert page.locator("[name='engine.redline']").input_value() == "6800 rpm"
    assert page.locator("[name='controller.kind'][value='ball and spring']").is_checked()
    assert answer(page, "limits.target").endswith("11 to 12 psi gauge")


def test_everything_else_unfolds_and_is_kept(shop: Server, look_at: LookAt) -> None:
    page = new_job(shop, look_at)
    page.locator("#part-gate > summary").click()
    type_in(page, "wastegate.port", "25,5")
    page.locator("#part-place > summary").click()
    choose(page, "pull_place.lift", "yes")
    page.locator("#part-history > summary").click()
    choose(page, "history.only_when", "hot")
    choose(page, "history.only_when", "top gear")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save")).to_contain_text("Saved.")
    kept = car_toml(shop)
    assert kept["wastegate"] == {"port": "25,5 mm"}
    assert kept["pull_place"] == {"lift": True}
    assert kept["history"] == {"only_when": ["hot", "top gear"]}
    # a part that stood open stays open
    assert page.locator("#part-gate").get_attribute("open") is not None
    assert "25,5 mm" in page.locator("#part-gate .part-says").inner_text()


def test_steppers_move_the_number_and_keep_its_unit(shop: Server, look_at: LookAt) -> None:
    page = new_job(shop, look_at)
    more = page.get_by_role("button", name="More: Redline")
    more.click()
    assert page.locator("[name='engine.redline']").input_value() == "6800 rpm"
    more.click()
    assert page.locator("[name='engine.redline']").input_value() == "6900 rpm"
    type_in(page, "limits.target", "about 0.8 bar")
    page.get_by_role("button", name="Less: Boost wanted").click()
    assert page.locator("[name='limits.target']").input_value() == "about 0.75 bar"
    expect(page.locator("[id='u-limits.target']")).to_contain_text("about 0.75 bar gauge")
    moved = {"11 or 12 psi": "11.5 or 12.5 psi", "22 psi +/- 1 psi": "22.5 psi +/- 1 psi", "11..14 psi": "11.5..14.5 psi"}
    for told, more_of_it in moved.items():
        type_in(page, "limits.target", told)
        page.get_by_role("button", name="More: Boost wanted").click()
        assert page.locator("[name='limits.target']").input_value() == more_of_it


def test_two_tablets_see_both_answers(shop: Server, look_at: LookAt) -> None:
    mine = new_job(shop, look_at)
    theirs = look_at(f"{shop.address}/jobs/1/car")
    type_in(theirs, "limits.target", "15 psi")
    type_in(theirs, "engine.cylinders", "4")
    theirs.get_by_role("button", name="Save", exact=True).click()
    expect(theirs.locator("#save")).to_contain_text("Saved.")

    type_in(mine, "limits.target", "16 psi")
    type_in(mine, "engine.redline", "7000 rpm")
    mine.get_by_role("button", name="Save", exact=True).click()
    clash = mine.locator("[id='t-limits.target']")
    expect(clash).to_contain_text("Saved elsewhere meanwhile: 15 psi. Yours: 16 psi.")
    assert mine.locator("[name='engine.cylinders']").input_value() == "4"
    assert mine.locator("[name='engine.redline']").input_value() == "7000 rpm"
    assert car_toml(shop)["limits"] == {"target": "15 psi"}

    clash.get_by_text("Take theirs").click()
    mine.get_by_role("button", name="Save", exact=True).click()
    expect(mine.locator("#save")).to_contain_text("Saved.")
    assert car_toml(shop)["limits"] == {"target": "15 psi"}
    assert car_toml(shop)["engine"] == {"cylinders": 4, "redline": "7000 rpm"}


def test_what_was_kept_here_hides_nothing_that_another_saved(shop: Server, look_at: LookAt) -> None:
    mine = new_job(shop, look_at)
    type_in(mine, "engine.redline", "7000 rpm")  # typed, not saved
    theirs = look_at(f"{shop.address}/jobs/1/car")
    type_in(theirs, "engine.cylinders", "6")
    theirs.get_by_role("button", name="Save", exact=True).click()
    expect(theirs.locator("#save")).to_contain_text("Saved.")
    mine.reload()
    assert mine.locator("[name='engine.redline']").input_value() == "7000 rpm"
    assert mine.locator("[name='engine.cylinders']").input_value() == "6"


def test_a_power_cut_while_the_form_is_half_filled(program: Program, look_at: LookAt) -> None:
    page = new_job(program, look_at, expected=(*AWAY, *REFUSED))
    type_in(page, "engine.displacement", "1.8 L")
    choose(page, "controller.kind", "bleed valve")
    page.locator("#part-turbo > summary").click()
    program.kill()
    type_in(page, "turbo.compressor_inducer", "about 47 mm")
    program.start()
    page.reload()
    assert page.locator("[name='engine.displacement']").input_value() == "1.8 L"
    assert page.locator("[name='turbo.compressor_inducer']").input_value() == "about 47 mm"
    assert page.locator("[name='controller.kind'][value='bleed valve']").is_checked()
    assert page.locator("form#answers .kept").is_visible()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save")).to_contain_text("Saved.")
    kept = car_toml(program)
    assert kept["engine"] == {"displacement": "1.8 L"}
    assert kept["turbo"] == {"compressor_inducer": "about 47 mm"}
    assert page.locator("form#answers .kept").count() == 0


def test_saving_while_the_server_is_away_is_sent_when_it_is_back(program: Program, look_at: LookAt) -> None:
    page = new_job(program, look_at, expected=(*AWAY, *REFUSED))
    type_in(page, "engine.displacement", "1.8 L")
    page.wait_for_timeout(600)
    program.kill()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#away")).to_be_visible()
    program.start()
    expect(page.locator("#save")).to_contain_text("Saved.", timeout=20000)
    assert car_toml(program)["engine"] == {"displacement": "1.8 L"}


def test_without_script_everything_is_said_on_save(shop: Server, look_at: LookAt) -> None:
    page = look_at(shop.address, script=False, expected=REFUSED)
    page.locator("#new input[name=car]").fill("Blue hatchback")
    page.locator("#new button[type=submit]").click()
    type_in(page, "limits.target", "11 or 12 psi")
    type_in(page, "engine.redline", "6800 psi")
    page.get_by_role("button", name="Save", exact=True).click()
    assert "but a rotational speed is expected" in answer(page, "engine.redline")
    assert answer(page, "limits.target") == "11 to 12 psi gauge"
    type_in(page, "engine.redline", "6800")
    page.get_by_role("button", name="Save", exact=True).click()
    assert answer(page, "engine.redline").startswith("6,800 rpm")
    assert car_toml(shop)["limits"] == {"target": "11 or 12 psi"}


@SCREENS
def test_the_page_is_accessible_and_large_enough(
    demo_shop: Server, look_at: LookAt, accessible: Callable[[Page], None], viewport: tuple[int, int], bay: str
) -> None:
    page = look_at(f"{demo_shop.address}/jobs/1/car", viewport, bay)
    accessible(page)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    accessible(page)
    assert small_parts(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= viewport[0]


@pytest.mark.parametrize("viewport", [WIDE])
def test_a_form_with_mistakes_and_a_conflict_is_accessible(
    shop: Server, look_at: LookAt, accessible: Callable[[Page], None], viewport: tuple[int, int]
) -> None:
    page = new_job(shop, look_at, viewport)
    theirs = look_at(f"{shop.address}/jobs/1/car")
    type_in(theirs, "limits.target", "15 psi")
    theirs.get_by_role("button", name="Save", exact=True).click()
    expect(theirs.locator("#save")).to_contain_text("Saved.")
    type_in(page, "limits.target", "16 psi")
    type_in(page, "engine.redline", "6800 psi")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("[id='t-limits.target']")).to_be_visible()
    accessible(page)
    assert small_parts(page) == []
