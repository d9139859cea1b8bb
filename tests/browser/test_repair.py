"""Repair and its ladder in a browser: the slider moves the band, the card, money, and whether everybody can use them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect
from tests.browser.conftest import SCREENS, LookAt, Server, serving, small_parts
from tests.unit.small_car import small_car
from tests.unit.web import made_up

from boostproof.jobs.store import Store

Check = Callable[[Page], None]
_LONG_NAME = "the grey estate of a customer with a very long name " * 4
_LONG = {"kind": "x", "where": "", "says": "What is worth knowing goes on and on. " * 12, "do": "Read it all. " * 6}


def filled(folder: Path) -> Path:
    """A store with a judged car whose repairs are forecast and whose pull is planned, one without, one only judged."""
    with Store.open(folder) as store:
        job = store.new_job(small_car())
        content = store.content(job.id)
        store.answers.keep(job.id, "diagnose", made_up.verdict(), {}, content)
        store.answers.keep(job.id, "repair_options", made_up.options(parts_at=28.0), {}, content)
        store.answers.keep(job.id, "plan", made_up.plan(refused=True), {}, content)
        store.new_job(small_car())
        judged = store.new_job(small_car())
        store.answers.keep(judged.id, "diagnose", made_up.verdict(), {}, store.content(judged.id))
        long = store.new_job(small_car().replace("the grey estate", _LONG_NAME))
        told = made_up.options()
        told["options"][0]["forecast"]["findings"] = [_LONG]
        store.answers.keep(long.id, "repair_options", told, {}, store.content(long.id))
    return folder


@pytest.fixture(scope="module")
def mended_shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """Shared, read only."""
    with serving(filled(tmp_path_factory.mktemp("repair") / "store")) as server:
        yield server


@pytest.fixture
def own_shop(tmp_path: Path) -> Iterator[Server]:
    """For one test to change."""
    with serving(filled(tmp_path / "store")) as server:
        yield server


def top_of_band(page: Page, number: int = 0) -> float:
    """Height at which the middle line of a drawn band begins [px of the view]."""
    path = page.locator("#boost .band .middle").nth(number).get_attribute("d")
    found = re.match(r"M[\d.]+ ([\d.]+)", path or "")
    assert found
    return float(found[1])


def test_the_slider_moves_the_band_and_what_is_said(mended_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{mended_shop.address}/jobs/1/repair")
    slide = page.get_by_role("slider", name=re.compile("Diameter of the port"))
    expect(slide).to_be_visible()
    expect(slide).to_have_attribute("aria-valuetext", re.compile("^30 mm. Nowhere more than"))
    at_30 = top_of_band(page)
    page.get_by_role("button", name="One size up").click()
    expect(page.locator("#size-says li").first).to_contain_text("60")
    at_32 = top_of_band(page)
    assert at_32 > at_30  # less boost lies lower
    page.locator("#size-slide").evaluate("(e) => { e.value = 31; e.dispatchEvent(new Event('input', {bubbles: true})); }")
    assert top_of_band(page) == pytest.approx((at_30 + at_32) / 2.0, abs=0.15)  # halfway between two sizes
    expect(page.locator("#size output")).to_contain_text("between two sizes")
    slide.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    expect(slide).to_have_attribute("aria-valuetext", re.compile("^34 mm"))
    assert page.locator("input[data-size]").input_value() == "34"


def test_below_a_size_the_causes_part_and_both_are_drawn(mended_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{mended_shop.address}/jobs/1/repair")
    expect(page.locator(".slide")).to_be_visible()
    assert page.locator("#boost .band").count() == 1
    page.get_by_role("button", name="One size down").click(click_count=2)
    assert page.locator("#boost .band").count() == 2
    expect(page.locator("#boost-legend")).to_contain_text("if it is poor way into the gate port")
    assert page.locator("#boost .band.second .area").get_attribute("fill") == "url(#boost-second)"
    page.get_by_role("button", name="One size up").click(click_count=2)
    assert page.locator("#boost .band").count() == 1
    expect(page.locator("#boost-legend [data-band]")).to_have_count(1)


def test_without_a_script_a_size_can_be_chosen(mended_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{mended_shop.address}/jobs/1/repair", script=False)
    page.locator("#size-choice").select_option("34.0")
    page.get_by_role("button", name="Show this size").click()
    expect(page.locator("#size-says li").first).to_contain_text("80")


def test_deciding_money_and_done(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/1/repair")
    expect(page.locator("#money .ask")).to_contain_text("ask the customer before you begin")
    page.get_by_label("The customer approves, in all").fill("900")
    page.get_by_role("button", name="Note it").click()
    expect(page.locator("#money")).to_contain_text("900 of what was approved are left")
    page.get_by_role("button", name="Decide on this repair").click()
    expect(page.locator("#decide")).to_contain_text("Decided on: Port and flapper enlarged, 30 mm.")
    expect(page.locator("#stations")).to_contain_text("1 repair forecast")
    expect(page.locator("#job-state summary")).to_contain_text("found")
    page.get_by_role("button", name="It has been done").click()
    page.wait_for_url("**/proof")
    assert own_shop.get("/jobs/1/repair")["job"]["state"] == "mended"


def test_a_sum_whose_answer_was_lost_counts_once(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/1/repair", expected=("ERR_",))

    def lose(route: Route) -> None:
        route.fetch(max_redirects=0)  # it arrives
        route.abort()  # and nobody hears of it

    page.route("**/repair/money", lose, times=1)
    page.get_by_label("Spent now").fill("50")
    page.get_by_role("button", name="Note it").click()
    expect(page.locator("#money")).to_contain_text(re.compile(r"Spent so far\s*50\b"), timeout=20_000)
    expect(page.get_by_text("The server is not answering.")).to_be_hidden()
    assert [row["amount"] for row in own_shop.store.settings.of_job(1).get("money")["spent"]] == [50.0]
    page.get_by_label("Spent now").fill("50")
    page.get_by_role("button", name="Note it").click()  # the page is another one: this is another sum
    expect(page.locator("#money")).to_contain_text(re.compile(r"Spent so far\s*100\b"))


def test_a_sum_that_is_typed_still_after_a_lost_answer_and_a_reload_counts_once(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/1/repair", expected=("ERR_",))
    lost: list[bool] = []

    def lose(route: Route) -> None:
        route.fetch(max_redirects=0)
        lost.append(True)
        route.abort()

    page.route("**/repair/money", lose, times=1)
    page.get_by_label("Spent now").fill("50")
    page.route("**/alive", lambda route: route.abort())  # it does not send again by itself
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_text("The server is not answering.")).to_be_visible()
    assert lost
    page.reload()
    expect(page.get_by_text("Typed here, not saved yet.")).to_be_visible()
    expect(page.get_by_label("Spent now")).to_have_value("50")
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_text("Typed here, not saved yet.")).to_have_count(0)
    assert [row["amount"] for row in own_shop.store.settings.of_job(1).get("money")["spent"]] == [50.0]


def test_a_wrong_amount_stays_typed_with_its_message(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/1/repair", expected=("422",))
    page.get_by_label("The customer approves, in all").fill("lots")
    page.get_by_role("button", name="Note it").click()
    field = page.get_by_label("The customer approves, in all")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_value("lots")
    expect(page.locator("#w-approved")).to_be_visible()


def test_the_card_is_ticked_point_by_point(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/1/repair/ladder")
    expect(page.locator("#card")).to_contain_text("2 points are open: no pull")
    for box in page.locator("#card input[type=checkbox]").all():
        box.check()
    page.get_by_role("button", name="Keep the ticks").click()
    expect(page.locator("#card")).to_contain_text("All points ticked")
    page.reload()
    assert all(box.is_checked() for box in page.locator("#card input[type=checkbox]").all())


def test_ticks_not_yet_kept_survive_a_reload(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/1/repair/ladder")
    page.locator("#card input[type=checkbox]").first.check()
    page.reload()
    expect(page.locator("#card")).to_contain_text("Typed here, not saved yet.")
    assert page.locator("#card input[type=checkbox]").first.is_checked()


_OVERLAPS = """() => {
  const all = [...document.querySelectorAll('svg.ladder text')].map((e) => [e.textContent, e.getBoundingClientRect()]);
  return all.flatMap(([a, r], k) => all.slice(k + 1)
    .filter(([, q]) => r.left < q.right && q.left < r.right && r.top + 4 < q.bottom && q.top + 4 < r.bottom)
    .map(([b]) => [a, b]));
}"""


@pytest.mark.parametrize("width", [320, 390, 520, 820, 1280])
def test_the_ladder_can_be_read_on_a_phone_too(mended_shop: Server, look_at: LookAt, width: int) -> None:
    page = look_at(f"{mended_shop.address}/jobs/1/repair/ladder", (width, 844))
    assert page.locator("svg.ladder text").count() == 8
    assert small_parts(page) == [] and page.evaluate(_OVERLAPS) == []
    assert page.evaluate("document.documentElement.scrollWidth") == width


@SCREENS
@pytest.mark.parametrize(
    "path", ["/jobs/1/repair", "/jobs/1/repair?option=1", "/jobs/2/repair", "/jobs/3/repair", "/jobs/4/repair",
             "/jobs/1/repair/ladder", "/jobs/2/repair/ladder"]
)  # fmt: skip
def test_everybody_can_use_them(
    mended_shop: Server, look_at: LookAt, usable: Check, path: str, viewport: tuple[int, int], bay: str
) -> None:
    page = look_at(f"{mended_shop.address}{path}", viewport, bay)
    usable(page)
