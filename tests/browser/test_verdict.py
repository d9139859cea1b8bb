"""The verdict in a browser: a reading typed into the card moves the ranking at once, and kept it waits for the answer."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import SCREENS, LookAt, Server, serving
from tests.unit.small_car import small_car
from tests.unit.web.made_verdict import LOOK, UNSURE, OpenAlready, judged, looked_at, verdict

from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.workflows.verdict_kept import to_kept

Check = Callable[[Page], None]
AT_ONCE = 300.0  # ms from the last key to the changed ranking
# jobs: 1 judged, 2 without a log, 3 with a log alone, 4 order only, 5 none of these, 6 sound, 7 changed since, 8 long words,
# 9 a test with a drawing, 10 a first look, 11 its order alone, 12 a first look after a change
_PATHS = [f"{n}/verdict" for n in range(1, 13)]
# ms from the last thing that was put in to the frame after the ranking has moved
_CLOCK = """() => {
  let from = 0;
  addEventListener('input', () => { from = performance.now(); }, true);
  window.took = [];
  document.addEventListener('boostproof:tried', () => requestAnimationFrame(() => took.push(performance.now() - from)));
}"""

_TOOK = "() => new Promise((done) => { const look = () => (took.length ? done(took[0]) : setTimeout(look, 20)); look(); })"


def filled(folder: Path) -> Path:
    with Store.open(folder) as store:
        judged(store)
        store.new_job(small_car())
        store.new_job(small_car(), {"recordings/log.csv": b"x\n"})
        judged(store, verdict(fit=replace(verdict().fit, trust="order only")))
        judged(store, verdict(none_of_these=0.9))
        judged(store, verdict(healthy=0.9, next_tests=()))
        changed = judged(store)
        store.write(changed, "car.toml", small_car() + "\n# other tyres\n")
        long = verdict()
        told = replace(long.findings[0], says="The log has holes in time, " * 30)
        judged(store, replace(long, findings=(told,), causes=tuple(replace(c, title=c.title) for c in long.causes)))
        drawn = replace(verdict().next_tests[0], id="actuator-sweep")  # its set-up is drawn
        judged(store, replace(verdict(), next_tests=(drawn,)))
        with contextlib.closing(Work(store, works=False)) as work:
            for look in (LOOK, UNSURE):
                looked_at(store, work, store.new_job(small_car(), {"recordings/log.csv": b"x\n"}).id, look)
            changed = judged(store)
            store.write(changed, "car.toml", small_car() + "\n# other tyres\n")
            looked_at(store, work, changed)
    return folder


@pytest.fixture(scope="module")
def verdict_shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """Shared, read only."""
    with serving(filled(tmp_path_factory.mktemp("verdict") / "store"), works=False) as server:
        server.app.state.open_cases = OpenAlready()
        yield server


@pytest.fixture
def own_shop(tmp_path: Path) -> Iterator[Server]:
    """For one test to change; what is asked to be ranked waits."""
    with serving(filled(tmp_path / "store"), works=False) as server:
        server.app.state.open_cases = OpenAlready()
        yield server


@pytest.mark.parametrize("path", _PATHS)
@SCREENS
def test_everybody_can_use_it(
    verdict_shop: Server, look_at: LookAt, usable: Check, path: str, viewport: tuple[int, int], bay: str
) -> None:
    page = look_at(f"{verdict_shop.address}/jobs/{path}", viewport, bay)
    usable(page)


def first_cause(page: Page) -> str:
    return page.locator(".ranking li:not([hidden]) .what").first.inner_text()


@SCREENS
def test_a_reading_moves_the_ranking_at_once(
    verdict_shop: Server, look_at: LookAt, capsys: pytest.CaptureFixture[str], viewport: tuple[int, int], bay: str
) -> None:
    page = look_at(f"{verdict_shop.address}/jobs/1/verdict", viewport, bay)
    page.evaluate(_CLOCK)
    assert first_cause(page) == "Gate port too small for this engine and target"
    page.get_by_label("Bore of the port", exact=True).fill("31")
    expect(page.locator(".ranking li:not([hidden]) .what").first).to_have_text("Poor way into the gate port")
    expect(page.locator("#ranking [data-mark]")).to_be_visible()
    expect(page.locator("#with-it li").first).to_have_text("Poor way into the gate port: 76 %")
    wide = page.locator('.ranking li[data-id="port-entry-poor"] .share').get_attribute("width")
    assert float(wide or 0) == pytest.approx(76.4, abs=0.1)
    expect(page.locator("#meaning")).to_contain_text("port diameter")
    took = []
    for bore in ("22", "31", "22", "31", "22"):
        page.evaluate("took.length = 0")
        page.get_by_label("Bore of the port", exact=True).fill(bore)
        took.append(page.evaluate(_TOOK))
        page.wait_for_timeout(300)
    with capsys.disabled():
        print(f" from key to ranking: {min(took):.0f} to {max(took):.0f} ms", end="")  # noqa: T201
    assert sorted(took)[len(took) // 2] < AT_ONCE
    assert first_cause(page) == "Gate port too small for this engine and target"
    page.get_by_label("Bore of the port", exact=True).fill("")
    expect(page.locator("#ranking [data-mark]")).to_be_hidden()


def test_a_reading_kept_is_marked_until_the_full_answer_replaces_it(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/1/verdict")
    page.get_by_label("Bore of the port", exact=True).fill("31")
    page.get_by_role("button", name="Keep this reading").click()
    expect(page.locator("#work")).to_contain_text("The full answer is being worked out and replaces it.")
    assert first_cause(page) == "Poor way into the gate port"
    store = own_shop.store
    first, second, *others = verdict().causes
    full = (replace(second, probability=0.93, confirmed=True), replace(first, probability=0.03), *others)
    store.answers.keep(1, "diagnose", to_kept(verdict(causes=full, next_tests=())), {}, store.content(1))
    own_shop.work.stop(own_shop.work.tasks(1)[0].id)
    expect(page.get_by_role("heading", level=1)).to_contain_text("confirmed by its own test", timeout=5000)
    expect(page.locator("#ranking [data-mark]")).to_be_hidden()


@pytest.mark.parametrize("job", [3, 7])  # without an answer, and with one of before a change
def test_a_first_look_comes_by_itself_and_stays_when_the_page_is_loaded_again(
    own_shop: Server, look_at: LookAt, job: int
) -> None:
    store, work = own_shop.store, own_shop.work
    task = looked_at(store, work, job, None)
    page = look_at(f"{own_shop.address}/jobs/{job}/verdict")
    expect(page.locator("#first-look")).to_be_empty()
    stop = page.get_by_role("button", name="Stop")
    stop.focus()
    looked_at(store, work, job)
    first = page.locator("#first-look .ranking li").first
    expect(first).to_contain_text("Gate port too small for this engine and target")
    expect(first).to_contain_text("probably about 55 %")
    expect(page.locator("[aria-live=polite] #first-look .mark")).to_have_text("Provisional")
    expect(page.locator("[data-says]")).to_have_text("a first look is there")
    expect(page.locator("#stations")).to_contain_text("being ranked; so far gate port too small for this engine")
    expect(stop).to_be_focused()
    page.reload()
    expect(first).to_contain_text("probably about 55 %")
    looked_at(store, work, job, replace(UNSURE, all_pulls=True))
    expect(page.locator("#first-look h2")).to_have_text("Second look Provisional")
    expect(first).to_contain_text("together with charge pipe leaks")
    store.answers.keep(job, "diagnose", to_kept(verdict()), {}, store.content(job, "diagnose"))
    work.stop(task)
    expect(page.locator("#ranking")).to_contain_text("62 %")
    expect(page.locator("#first-look")).to_have_count(0)


def test_reasons_unfold_by_key(verdict_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{verdict_shop.address}/jobs/1/verdict")
    page.locator(".ranking summary").first.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("Seat leak speaks clearly against it.")).to_be_visible()


def test_what_would_help_next_follows_when_the_ranking_is_asked_for(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/3/verdict")
    expect(page.locator("#next")).to_contain_text("let the causes be ranked")
    page.get_by_role("button", name="Rank the causes").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("The causes are being ranked")
    expect(page.locator("#next")).to_contain_text("wait for what is being worked out")


def test_the_ranking_can_be_asked_for_without_a_script(own_shop: Server, look_at: LookAt) -> None:
    page = look_at(f"{own_shop.address}/jobs/3/verdict", script=False)
    page.get_by_role("button", name="Rank the causes").click()
    assert page.get_by_text("The causes are being ranked").is_visible()
    page.goto(f"{own_shop.address}/jobs/1/verdict")
    page.get_by_label("Bore of the port", exact=True).fill("31")
    page.get_by_role("button", name="Keep this reading").click()
    assert first_cause(page) == "Poor way into the gate port"
