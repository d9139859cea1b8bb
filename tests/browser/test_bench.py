"""The bench in a browser: a reading typed with gloves, what it means at once, kept without loss."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect
from tests.browser.conftest import SCREENS, LookAt, Server, serving
from tests.unit.small_car import small_car
from tests.unit.web.made_verdict import judged

from boostproof.casefolder.readings_edit import readings_in
from boostproof.jobs.store import Store

Check = Callable[[Page], None]
# job 1: judged, with a reading; job 2: nothing but a car; job 3: very long words
_LONG = "the hose of a car with a very long story " * 12


def filled(folder: Path) -> Path:
    with Store.open(folder) as store:
        judged(store)
        store.new_job(small_car())
        judged(store, readings=f'format = 1\n[[reading]]\ntest = "seat-leak"\nlight = true\nnote = "{_LONG}"\n')
    return folder


@pytest.fixture(scope="module")
def bench_shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """Shared, read only."""
    with serving(filled(tmp_path_factory.mktemp("bench") / "store")) as server:
        yield server


@pytest.fixture
def own_shop(tmp_path: Path) -> Iterator[Server]:
    """For one test to change."""
    with serving(filled(tmp_path / "store")) as server:
        yield server


@pytest.mark.parametrize(
    "path",
    [
        "1/bench", "1/bench?test=actuator-sweep", "1/bench?test=controller-vent", "1/bench?reading=0",
        "1/bench?test=line-pressure-log", "2/bench?test=cold-look", "3/bench?reading=0",
    ],
)  # fmt: skip
@SCREENS
def test_everybody_can_use_it(
    bench_shop: Server, look_at: LookAt, usable: Check, path: str, viewport: tuple[int, int], bay: str
) -> None:
    page = look_at(f"{bench_shop.address}/jobs/{path}", viewport, bay)
    usable(page)


_SIZES = """() => [...document.querySelectorAll('.setup img')].filter((e) => e.checkVisibility())
  .map((e) => [e.complete && e.naturalWidth > 0, e.getBoundingClientRect().height])"""


@pytest.mark.parametrize("width", [390, 820, 1280])
def test_a_set_up_drawing_moves_nothing_when_it_arrives(bench_shop: Server, look_at: LookAt, width: int) -> None:
    page = look_at(f"{bench_shop.address}/settings", (width, 844))
    held: list[Route] = []
    page.route("**/drawings/**", lambda route: held.append(route))
    page.goto(f"{bench_shop.address}/jobs/1/bench?test=actuator-sweep", wait_until="domcontentloaded")
    page.locator(".setup").scroll_into_view_if_needed()
    while not held:
        page.wait_for_timeout(20)
    [[came, before]] = page.evaluate(_SIZES)
    assert not came and before > 100.0
    for route in held:
        route.continue_()
    while not came:
        page.wait_for_timeout(20)
        [[came, after]] = page.evaluate(_SIZES)
    assert abs(after - before) < 0.5


def test_a_reading_is_typed_means_something_at_once_and_is_kept(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/1/bench")
    page.locator(".tests").get_by_text("Air through the boost controller").click()
    expect(page.get_by_role("heading", level=2, name="Air through the boost controller")).to_be_visible()
    assert page.url.endswith("?test=controller-sweep#test")
    page.get_by_label("Arm first moves at", exact=True).fill("16")
    page.get_by_label("Arm at its stop at", exact=True).fill("12")
    # it questions what cannot be, beside the field
    expect(page.locator("#q-full_travel")).to_contain_text("lies below first movement at 16 psi")
    page.get_by_label("Arm at its stop at", exact=True).fill("21")
    expect(page.locator("#q-full_travel")).to_be_hidden()
    page.get_by_label("Travel to the stop", exact=True).fill("12")
    expect(page.locator("#meaning")).to_contain_text("controller offset")
    page.get_by_role("button", name="Keep this reading").click()
    expect(page.get_by_text("Kept. Here is what it means.")).to_be_visible()
    row = readings_in(own_shop.store.text(1, "readings.toml"))[1]
    assert row == {"test": "controller-sweep", "first_movement": "16 psi", "full_travel": "21 psi", "travel": "12 mm"}


def test_steppers_and_words_take_the_place_of_each_other(bench_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{bench_shop.address}/jobs/2/bench?test=actuator-sweep")
    field = page.get_by_label("Home again, coming down, at", exact=True)
    more = page.get_by_role("button", name="Home again, coming down, at: more")
    for _ in range(3):
        more.click()
    assert field.input_value() == "1.5"
    page.get_by_role("button", name="Home again, coming down, at: less").click()
    assert field.input_value() == "1.0"
    word = page.get_by_label("Home again, coming down, at: did not come home")
    word.check()
    assert field.input_value() == ""
    field.fill("7")
    assert not word.is_checked()
    field.fill("45 kPa")  # a unit that was typed stands for itself
    expect(page.locator(".measure", has=field).locator(".unit")).to_be_hidden()


def test_the_gauge_in_hand_is_chosen_once(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/2/bench?test=hose-flow")
    page.locator("#gauge label", has_text="bar").click()
    unit = page.locator(".measure", has=page.get_by_label("Supply", exact=True)).locator(".unit")
    expect(unit).to_have_text("bar")
    page.goto(f"{own_shop.address}/jobs/1/bench?test=bleed-decay")
    unit = page.locator(".measure", has=page.get_by_label("At the start", exact=True)).locator(".unit")
    assert unit.text_content() == "bar"


def test_what_was_typed_outlives_a_reload(bench_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{bench_shop.address}/jobs/2/bench?test=free-travel")
    page.get_by_label("Swing, stop to stop", exact=True).fill("11 or 12")
    page.get_by_label("binds").check()
    page.reload()
    assert page.get_by_label("Swing, stop to stop", exact=True).input_value() == "11 or 12"
    assert page.get_by_label("binds").is_checked() and page.get_by_text("Typed here, not saved yet.").is_visible()


def test_it_works_without_a_script(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/2/bench?test=compression", script=False)
    page.locator('[name="rows.0.pressure"]').first.fill("160")
    page.get_by_role("button", name="One more row").click()
    assert page.locator('[name="rows.4.pressure"]').first.is_visible()
    assert page.locator('[name="rows.0.pressure"]').first.input_value() == "160"
    page.get_by_role("button", name="Keep this reading").click()
    kept = readings_in(own_shop.store.text(2, "readings.toml"))
    assert kept == [{"test": "compression", "rows": [{"pressure": "160 psi"}]}]
