"""Pulls as a person would use them: drop a log, see its pulls, correct a column, zoom by keyboard, compare."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import SCREENS, LookAt, Server, small_parts
from tests.unit.small_car import small_car

CAR = small_car('[limits]\ntarget = "10 psi +/- 1 psi"')


def small_log(path: Path, *, boosts: tuple[float, ...] = (60.0, 95.0)) -> Path:
    """Two pulls from 2000 to 6000 rpm in 8 s, 20 samples a second, holding these boosts [kPa]; and a spare sensor."""
    rows = ["time (s),engine speed (rpm),throttle (%),boost gauge (kPa),Pressure 7,gate position (%)"]
    rng = np.random.default_rng(4)
    for number, held in enumerate(boosts):
        for step in range(280):
            since = step / 20 - 2.0
            full = 0.0 <= since < 8.0
            rpm = 2000 + 500 * since if full else 2000.0 if since < 0.0 else max(2000.0, 6000 - 2500 * (since - 8.0))
            boost = min(held, 30.0 * since) if full else -50.0
            gate = 100.0 * min(max(since - 3.0, 0.0), 1.0) if full else 0.0
            now = 14.0 * number + step / 20
            cells = (rpm + rng.normal(0, 3), 98 if full else 12, boost + rng.normal(0, 0.3), boost + 5.0, gate)
            rows.append(f"{now:.2f}," + ",".join(f"{v:.2f}" for v in cells))
    path.write_text("\n".join(rows) + "\n")
    return path


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return small_log(tmp_path / "afternoon.csv")


def _new_job(server: Server, car: str = CAR) -> int:
    return server.store.new_job(car).id


def _dropped(server: Server, look_at: LookAt, log: Path, *, car: str = CAR, **how: Any) -> Page:
    """The page of a new job with a log just dropped, its plots drawn."""
    job = _new_job(server, car)
    page = look_at(f"{server.address}/jobs/{job}/pulls", **how)
    page.set_input_files("form[data-drop] input[type=file]", str(log))
    expect(page.locator("#curves[data-state='drawn']")).to_be_visible(timeout=30_000)
    expect(page.locator("#whole[data-state='drawn']")).to_be_visible(timeout=30_000)
    return page


def _pulls_toml(server: Server) -> str:
    return server.store.text(1, "pulls.toml")


def test_a_dropped_log_shows_its_pulls_and_is_corrected_looked_into_and_compared(
    shop: Server, look_at: LookAt, log: Path, accessible: Callable[[Page], None]
) -> None:
    page = _dropped(shop, look_at, log)
    assert [text.split("\n")[0].strip() for text in page.locator(".pulls strong").all_inner_texts()] == ["1st", "2nd"]

    # The keyboard: the cursor speaks, a zoom is narrower around it, 0 shows the whole again.
    area = page.locator("#curves [data-panel=boost] [data-area]")
    area.focus()
    page.keyboard.press("End")
    says = page.locator("#curves [data-says]")
    expect(says).to_contain_text("gate full open")
    assert says.inner_text().startswith("5,9")
    page.keyboard.press("Home")
    expect(says).to_contain_text("gate shut")
    for _ in range(3):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("+")
    low, high = map(float, page.locator("#curves").get_attribute("data-zoom").split())  # type: ignore[union-attr]
    assert high - low < 0.7 * 4000
    page.keyboard.press("0")
    assert page.locator("#curves").get_attribute("data-zoom") == ""

    # One against another, in the shop's unit: 35 kPa are 5.1 psi.
    page.get_by_label("Pull before").select_option(label="1st")
    page.get_by_label("Pull after").select_option(label="2nd")
    page.get_by_role("button", name="Compare").click()
    expect(page.locator(".compared")).to_contain_text(
        re.compile(r"2nd makes (4\.9|5\.[01])\s+psi more boost than 1st from [\d,]+ to [\d,]+ rpm\."), timeout=20_000
    )
    assert page.locator("[data-line]:checked").count() == 2

    # The spare sensor is the boost: two taps and pulls.toml says so.
    page.locator("details.file > summary").click()
    page.locator("#correct-1-boost > summary").click()
    page.locator("#correct-1-boost select").select_option("Pressure 7")
    page.locator("#correct-1-boost form.line button").click()
    expect(page.locator("[data-certainty=told]")).to_contain_text("Pressure 7", timeout=20_000)
    assert tomllib.loads(_pulls_toml(shop))["recording"][0]["channels"] == {"boost": {"column": "Pressure 7"}}
    expect(page.locator("details.file")).to_have_attribute("open", "")
    accessible(page)


def test_how_the_car_stood_names_the_pulls(shop: Server, look_at: LookAt, log: Path) -> None:
    page = _dropped(shop, look_at, log, expected=("422",))
    page.locator("details.file > summary").click()
    page.locator("#set-up-1 > summary").click()
    page.get_by_label("Boost controller").select_option("bypassed")
    page.get_by_label("Gear", exact=True).fill("4")
    page.locator("#set-up-1 button").click()
    expect(page.locator(".pulls strong").first).to_have_text("1st, gear 4, line direct", timeout=20_000)
    page.get_by_label("Fixed duty of the solenoid").fill("plenty")
    page.locator("#set-up-1 button").click()
    expect(page.locator("#notices")).to_contain_text("duty", timeout=20_000)
    assert page.get_by_label("Fixed duty of the solenoid").input_value() == "plenty"
    assert "plenty" not in _pulls_toml(shop)


def test_where_a_repair_lies_is_chosen_by_pull(shop: Server, look_at: LookAt, log: Path) -> None:
    page = _dropped(shop, look_at, log)
    page.locator("details.file > summary").click()
    page.locator("#repair-1 > summary").click()
    page.get_by_label("The repair was done").select_option("before the 2nd")
    page.locator("#repair-1 button").click()
    expect(page.locator(".pulls li").nth(1)).to_contain_text("after the repair", timeout=20_000)
    expect(page.locator(".pulls li").first).not_to_contain_text("after the repair")
    assert 'after_repair = "2-"' in _pulls_toml(shop)
    assert small_parts(page) == []


def test_a_file_that_is_no_log_is_answered_and_kept(shop: Server, look_at: LookAt, tmp_path: Path) -> None:
    wrong = tmp_path / "invoice.pdf"
    wrong.write_bytes(b"%PDF-1.4\n" + bytes(range(256)) * 20)
    job = _new_job(shop)
    page = look_at(f"{shop.address}/jobs/{job}/pulls", expected=("422",))
    page.set_input_files("form[data-drop] input[type=file]", str(wrong))
    expect(page.locator("#notices")).to_contain_text("invoice.pdf could not be used", timeout=20_000)
    expect(page.locator(".aside")).to_contain_text("invoice.pdf")
    with page.expect_download() as download:
        page.locator(".aside a[download]").click()
    assert Path(download.value.path()).read_bytes() == wrong.read_bytes()
    assert [file.path for file in shop.store.files(job)] == ["car.toml", "set-aside/invoice.pdf"]


UNFINISHED = 'format = 1\n[car]\nname = "only a name yet"\n'


@pytest.mark.parametrize("car", [CAR, UNFINISHED], ids=["whole car", "only a name"])
def test_a_pull_is_left_out_and_a_file_removed_is_still_kept(
    shop: Server, look_at: LookAt, log: Path, car: str
) -> None:
    page = _dropped(shop, look_at, log, car=car)
    page.locator("details.file > summary").click()
    page.locator("#leave-1 > summary").click()
    page.get_by_label("Why it is left out").first.fill("traffic")
    page.locator("#leave-1 form button").first.click()
    expect(page.locator(".left-out")).to_contain_text("traffic", timeout=20_000)
    expect(page.locator(".pulls > li")).to_have_count(1)
    page.get_by_role("button", name="Remove this file").click()
    expect(page.get_by_role("heading", name="Drop the log of a pull here")).to_be_visible(timeout=20_000)
    (version,) = shop.store.versions(1, "recordings/afternoon.csv")
    assert shop.store.read(1, version.path, sha256=version.sha256) == log.read_bytes()
    assert "recording" not in tomllib.loads(_pulls_toml(shop))


def test_fingers_spread_come_closer_and_a_tap_speaks(shop: Server, look_at: LookAt, log: Path) -> None:
    page = _dropped(shop, look_at, log, viewport=(820, 1180))
    box = page.locator("#curves .u-over").first.bounding_box()
    assert box is not None
    session = page.context.new_cdp_session(page)
    y = box["y"] + box["height"] / 2
    page.evaluate("navigator.maxTouchPoints")

    def touch(kind: str, *xs: float) -> None:
        points = [{"x": box["x"] + share * box["width"], "y": y, "id": i} for i, share in enumerate(xs)]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", 0.5)
    touch("touchEnd")
    expect(page.locator("#curves [data-says]")).to_contain_text("rpm:")
    touch("touchStart", 0.4, 0.6)
    touch("touchMove", 0.2, 0.8)
    touch("touchEnd")
    low, high = map(float, page.locator("#curves").get_attribute("data-zoom").split())  # type: ignore[union-attr]
    assert (high - low) == pytest.approx(4025 / 3.0, rel=0.1)


@SCREENS
def test_every_state_is_readable(
    demo_shop: Server, look_at: LookAt, accessible: Callable[[Page], None], viewport: tuple[int, int], bay: str
) -> None:
    page = look_at(f"{demo_shop.address}/jobs/1/pulls", viewport, bay)
    expect(page.locator("#curves[data-state='drawn']")).to_be_visible(timeout=30_000)
    page.locator("details.file > summary").click()
    accessible(page)
    assert small_parts(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= viewport[0]
