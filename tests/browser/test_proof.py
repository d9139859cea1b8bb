"""Proof in a browser: choosing pulls, comparing them for real, signing off, and whether everybody can use it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import SCREENS, LookAt, Server, serving
from tests.unit.small_car import small_car
from tests.unit.web import made_up
from tests.unit.workflows.test_prove import CAR, READINGS, write_log

from boostproof.jobs.store import Store

Check = Callable[[Page], None]


def filled(folder: Path, case: Path) -> Path:
    """Jobs: drawn pulls to compare, nothing, cured, better with a second fault and long words."""
    (case / "recordings").mkdir(parents=True)
    (case / "car.toml").write_text(CAR, encoding="utf-8")
    (case / "readings.toml").write_text(READINGS.format(first=60, full=95), encoding="utf-8")
    write_log(case / "recordings" / "old.csv", 1, 18.0, 210.0)
    write_log(case / "recordings" / "new.csv", 2, 0.0, 200.0)
    long = made_up.proof("better", second=True)
    long["missing"] = ["What would have to be there for a surer answer goes on and on. " * 10]
    long["sentences"]["psi"]["says"] = "The sentence for the customer is a long one with many figures in it. " * 8
    with Store.open(folder) as store:
        store.import_case(case)
        store.new_job(small_car())
        for answer in (made_up.proof(), long):
            job = store.new_job(small_car())
            store.answers.keep(job.id, "prove", answer, {"before": [], "after": []}, store.content(job.id))
    return folder


@pytest.fixture(scope="module")
def proved_shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """Shared, read only."""
    folder = tmp_path_factory.mktemp("proof")
    with serving(filled(folder / "store", folder / "case")) as server:
        yield server


@pytest.fixture
def own_shop(tmp_path: Path) -> Iterator[Server]:
    """For one test to change."""
    with serving(filled(tmp_path / "store", tmp_path / "case")) as server:
        yield server


def test_pulls_are_chosen_compared_and_signed_off(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/1/proof")
    row = page.locator("#f-after tr")
    expect(row).to_have_count(6)
    for one in row.all():
        side = "before" if "old.csv" in (one.text_content() or "") else "after"
        one.locator(f"input[name={side}]").check()
    page.get_by_role("button", name="Compare them").click()
    expect(page.get_by_role("heading", name="Cured", exact=True)).to_be_visible(timeout=90_000)
    expect(page.locator(".sentence")).to_contain_text("psi")
    expect(page.locator("#untested")).to_contain_text("air straight on the actuator")
    page.get_by_label("Who signs").fill("Ada")
    page.get_by_label("Note").fill("drives as it should")
    page.get_by_role("button", name="Sign").click()
    expect(page.locator("#sign .signed")).to_contain_text("Ada")
    expect(page.locator("#sign .signed")).to_contain_text("the job was set to proved")
    expect(page.locator("#job-state summary")).to_contain_text("proved")
    assert own_shop.get("/jobs/1/proof")["job"]["state"] == "proved"


def test_a_pull_is_on_one_side_only(proved_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{proved_shop.address}/jobs/1/proof")
    row = page.locator("#f-after tr").first
    row.locator("input[name=before]").check()
    row.locator("input[name=after]").check()
    assert not row.locator("input[name=before]").is_checked()


def test_a_side_without_pulls_is_asked_for(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/1/proof", expected=("422",))
    page.locator(".sides input[name=before]").first.check()
    page.get_by_role("button", name="Compare them").click()
    expect(page.get_by_role("alert")).to_contain_text("at least one pull from after the repair")
    assert page.locator(".sides input[name=before]").first.is_checked()


def test_a_sign_off_without_a_name_is_sent_back_with_what_was_typed(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/3/proof", expected=("422",))
    page.get_by_label("Note").fill("told the customer")
    page.get_by_role("button", name="Sign").click()
    expect(page.get_by_label("Who signs")).to_be_focused()
    expect(page.get_by_label("Note")).to_have_value("told the customer")


@SCREENS
@pytest.mark.parametrize("path", [f"/jobs/{job}/proof" for job in (1, 2, 3, 4)])
def test_everybody_can_use_it(
    proved_shop: Server, look_at: LookAt, usable: Check, path: str, viewport: tuple[int, int], bay: str
) -> None:
    page = look_at(f"{proved_shop.address}{path}", viewport, bay)
    usable(page)
