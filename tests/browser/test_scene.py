"""The moving picture in a browser: everything moves together, by hand, by keys, by pointer, and without any of it."""

from __future__ import annotations

import functools
import shutil
import threading
from collections.abc import Callable, Iterator
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

import pytest
from playwright.sync_api import Browser, Locator, Page, expect
from tests.browser.conftest import SCREENS, WIDE, LookAt, small_parts
from tests.unit.web.made_scene import made_scene

from boostproof.report.system_layout import System
from boostproof.web import static
from boostproof.web.page import _environment
from boostproof.web.scene_part import scene_part

_PAGE = """{% from "parts/scene.html" import scene %}<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Moving picture</title><link rel="icon" href="mark.svg">
{% for name in ("base", "curves", "system", "scene") %}<link rel="stylesheet" href="{{ name }}.css">{% endfor %}
<script type="module" src="scene.js"></script></head>
<body><main id="main"><h1>Pictures</h1>
<section class="sheet"><h2>{{ part.cause }}</h2>{{ scene(part) }}</section></main></body></html>"""
_FILES = ("base.css", "curves.css", "system.css", "scene.css", "scene.js", "mark.svg")
KINDS = {
    "ball": ("ball and spring", "internal flapper", System("ball and spring")),
    "loop": ("solenoid 4-port", "external poppet", System("solenoid 4-port", external=True, dual=True, own_dump=None)),
    "twin": ("bleed valve", "twin gates", System("bleed valve", gates=2)),
}


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: object) -> None:
        """Nothing."""


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a folder with one page for each kind."""
    folder = tmp_path_factory.mktemp("scene")
    for name in _FILES:
        shutil.copy(static.files()[name], folder / name)
    page = _environment().from_string(_PAGE)
    for name, (controller, gate, system) in KINDS.items():
        part = scene_part(made_scene(controller, gate), system, units="imperial")
        (folder / f"{name}.html").write_text(page.render(part=part, units="imperial"), encoding="utf-8")
    server = ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(_Quiet, directory=str(folder)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()


def slider(page: Page) -> Locator:
    return page.get_by_role("slider", name="Moment of the pull")


def to(page: Page, moment: int) -> None:
    slider(page).evaluate("(e, at) => { e.value = at; e.dispatchEvent(new Event('input')); }", moment)


def turned(page: Page) -> float:
    """Angle of the flapper. [degrees]"""
    text = page.locator("[data-turn]").first.get_attribute("transform") or "rotate(0"
    return float(text.removeprefix("rotate(").split()[0].rstrip(")"))


@SCREENS
@pytest.mark.parametrize("kind", KINDS)
def test_it_can_be_read_and_nothing_is_in_the_way(
    look_at: LookAt, accessible: Callable[[Page], None], pictures: str, viewport: tuple[int, int], bay: str, kind: str
) -> None:
    page = look_at(f"{pictures}/{kind}.html", viewport, bay)
    to(page, 20)
    accessible(page)
    assert small_parts(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    sizes = page.locator(".boost-system text:visible").evaluate_all(
        "all => all.map(e => parseFloat(getComputedStyle(e).fontSize) * e.getScreenCTM().a)"
    )
    assert len(sizes) > 10 and min(sizes) >= 15.9
    for control in page.locator(".scrub button:visible, .scrub input, .which label").all():
        box = control.bounding_box()
        assert box is not None and box["height"] >= 44


def test_slider_sentence_numbers_drawing_and_curve_move_together(look_at: LookAt, pictures: str) -> None:
    page = look_at(f"{pictures}/ball.html")
    seen = []
    for moment in (0, 20, 49):
        to(page, moment)
        now = page.locator("[data-now]").inner_text()
        boost = page.locator("[data-row=boost]").inner_text()
        seen.append((now, boost, turned(page), float(page.locator(".spot").get_attribute("cx") or 0)))
        assert boost.replace("\u202f", " ") in now.replace("\u202f", " ")
        assert (slider(page).get_attribute("aria-valuetext") or "").endswith(boost)
    assert len({now for now, *_ in seen}) == 3
    angles, places = [s[2] for s in seen], [s[3] for s in seen]
    assert angles[0] == 0.0 < angles[1] <= angles[2] == pytest.approx(38.0, abs=0.5)
    assert places == sorted(places) and places[0] < places[2]
    assert page.locator(".flow.on").count() > 5
    widths = page.locator("[data-pressure=turbine_inlet]").first
    high = widths.evaluate("e => parseFloat(getComputedStyle(e).strokeWidth)")
    to(page, 0)
    assert widths.evaluate("e => parseFloat(getComputedStyle(e).strokeWidth)") < 0.5 * high


def test_the_sound_car_can_be_shown_in_its_place(look_at: LookAt, pictures: str) -> None:
    page = look_at(f"{pictures}/ball.html")
    to(page, 49)
    suspected = page.locator("[data-row=boost]").inner_text()
    assert page.locator(".suspects").is_visible() and "above what is wanted" in page.locator("[data-now]").inner_text()
    page.get_by_label("the same car, sound").check()
    assert not page.locator(".suspects").is_visible()
    sound = page.locator("[data-row=boost]").inner_text()
    assert float(sound.split("\u202f")[0]) < float(suspected.split("\u202f")[0]) - 1.0


def test_keys_and_buttons_step_by_moments(look_at: LookAt, pictures: str) -> None:
    page = look_at(f"{pictures}/ball.html")
    to(page, 10)
    slider(page).focus()
    page.keyboard.press("ArrowRight")
    assert slider(page).input_value() == "11"
    page.keyboard.press("Home")
    assert slider(page).input_value() == "0"
    page.get_by_role("button", name="One moment on").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Space")
    assert slider(page).input_value() == "2"
    page.get_by_role("button", name="One moment back").click()
    assert slider(page).input_value() == "1"


def test_a_finger_on_the_curve_leads_too(look_at: LookAt, pictures: str) -> None:
    page = look_at(f"{pictures}/ball.html")
    curve = page.locator(".scene-curve svg.curves")
    curve.scroll_into_view_if_needed()
    box = curve.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.5 * box["height"])
    page.mouse.down()
    early = int(slider(page).input_value())
    page.mouse.move(box["x"] + 0.8 * box["width"], box["y"] + 0.5 * box["height"])
    page.mouse.up()
    assert early < 20 < int(slider(page).input_value())


def test_it_plays_to_the_end_unless_motion_is_unwanted(browser: Browser, look_at: LookAt, pictures: str) -> None:
    calm = look_at(f"{pictures}/ball.html")  # asks for reduced motion
    assert not calm.get_by_role("button", name="Play").is_visible()
    assert calm.get_by_role("button", name="One moment on").is_visible()
    page = browser.new_page(viewport={"width": WIDE[0], "height": WIDE[1]}, reduced_motion="no-preference")
    page.goto(f"{pictures}/ball.html")
    begins = slider(page).input_value()
    page.wait_for_timeout(300)
    assert slider(page).input_value() == begins  # never by itself
    to(page, 0)
    page.get_by_role("button", name="Play").click()
    assert page.get_by_role("button", name="Pause").is_visible()
    page.wait_for_function("Number(document.querySelector('.scene input[type=range]').value) > 6", timeout=20_000)
    page.get_by_role("button", name="Pause").click()
    stopped = slider(page).input_value()
    page.wait_for_timeout(300)
    assert slider(page).input_value() == stopped
    to(page, 47)
    page.get_by_role("button", name="Play").click()
    page.wait_for_function("document.querySelector('.scene input[type=range]').value === '49'", timeout=20_000)
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    page.close()


def test_without_a_script_it_stands_where_the_fault_shows_most(look_at: LookAt, pictures: str) -> None:
    page = look_at(f"{pictures}/ball.html", script=False)
    assert "full open" in page.locator("[data-now]").inner_text()
    assert turned(page) == pytest.approx(38.0, abs=0.5)
    assert not page.locator("input[type=range]").is_visible()
    assert (page.locator("[data-value=compressor_outlet]").text_content() or "").strip()


def test_narrow_it_has_numbers_for_names(look_at: LookAt, pictures: str) -> None:
    page = look_at(f"{pictures}/twin.html", (360, 740))
    assert page.locator(".boost-system .name").first.is_hidden()
    numbers = page.locator(".boost-system .number:visible").all_inner_texts()
    legend = page.locator(".system-legend li:visible").all_inner_texts()
    assert len(numbers) == len(legend) > 8
    sizes = page.locator(".boost-system .number").evaluate_all(
        "all => all.map(e => parseFloat(getComputedStyle(e).fontSize) * e.getScreenCTM().a)"
    )
    assert min(sizes) >= 15.9
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
