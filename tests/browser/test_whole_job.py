"""The whole job of the demo car, as its technician would do it: from an empty shop to the report in hand.

Nothing is prepared: the car is told by hand, the log is dropped, the causes are ranked for real, the test that the verdict
asks for is read on the demo's own car, a repair is forecast and done, the mended car is driven and compared, and the report
is taken away as PDF. Work goes on through a reload and through a power cut.
"""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import TABLET, WIDE, LookAt, Program, small_parts

Check = Callable[[Page], None]
pytestmark = pytest.mark.slow

AWAY = ("net::ERR",)  # what the browser says itself of a server that is not there
LONG = 120_000  # ms; a diagnosis on a busy machine
WEIGHT = 200_000  # bytes of any page
PORT_TOO_SMALL = "Gate port too small for this engine and target"
POOR_ENTRY = "Poor way into the gate port"
REPAIRS = {PORT_TOO_SMALL: "Port and flapper enlarged", POOR_ENTRY: "Way into the port blended"}
# Answers in the order of the page: what a technician knows of the demo car from its papers and from looking at it.
FIRST = {
    "engine.displacement": "2 L", "engine.cylinders": "4", "engine.redline": "6900 rpm",
    "wastegate.kind": "internal flapper", "controller.kind": "ball and spring", "limits.target": "15 psi",
}  # fmt: skip
FOLDED = {
    "turbo": {"turbo.compressor_inducer": "47 mm +/- 1 mm"},
    "gate": {"wastegate.full_travel": "12 mm"},
    "actuator": {"actuator.opening_pressure": "14 psi"},
    "controller": {"controller.turns_in": "2", "controller.opening_pressure": "19 psi"},
    "sensors": {"sensors.manifold_range": "300 kPa abs", "sensors.manifold_position": "after throttle"},
    "limits": {"limits.stop": "26 psi"},
    "place": {"pull_place.kind": "brake dyno", "pull_place.lift": "yes"},
}
_WEIGHT = """() => [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]
  .reduce((sum, one) => sum + one.transferSize, 0)"""


@functools.cache
def read_at_the_bench(test: str) -> dict[str, Any]:
    """What the demo's own car reads in a test."""
    from boostproof.demo.bench import readings
    from boostproof.demo.shop import demo_job

    job, sound = demo_job(1)
    (reading,) = readings(job.car, sound.car, job.pulls[-1], 1, only=(test,))
    return reading


def log_of_the_mended_car(folder: Path) -> Path:
    """The demo car as it is when it is sound, driven once more on another day of the sensors."""
    from boostproof.demo.case import do_job, write_job
    from boostproof.demo.shop import demo_job

    _, sound = demo_job(1)
    (folder / "recordings").mkdir(parents=True)
    write_job(folder, do_job(sound.car, sound.car, sound.drive, 2, only=("free-travel",)), 2, fixed=("barometer", "coolant"))
    return (folder / "recordings" / "log.csv").rename(folder / "after.csv")


def told(name: str, value: Any) -> Iterator[tuple[str, str]]:
    """A reading as fields of its form: name and what is put in."""
    rows = value.items() if isinstance(value, Mapping) else enumerate(value) if isinstance(value, list) else ()
    if not isinstance(value, Mapping | list):
        yield name, str(value)
    for inner, one in rows:
        yield from told(f"{name}.{inner}" if name else str(inner), one)


def put_in(page: Page, name: str, value: str) -> None:
    """Answer one question: type where there is a field, else tap the word."""
    page.locator(f"[name='{name}']").first.wait_for(state="attached")
    field = page.locator(f"input[name='{name}']:is([type=text], :not([type]))").first
    if field.count():
        field.fill(value)
    else:
        page.locator(f"label:has([name='{name}'][value='{value}'])").click()


def tell_the_car(page: Page) -> None:
    for name, value in FIRST.items():
        put_in(page, name, value)
    for part, answers in FOLDED.items():
        page.locator(f"#part-{part} > summary").click()
        for name, value in answers.items():
            put_in(page, name, value)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#save")).to_contain_text("Enough for a verdict")


def drop(page: Page, log: Path) -> None:
    page.set_input_files("form[data-drop] input[type=file]", str(log))
    expect(page.locator("#curves[data-state='drawn']")).to_be_visible(timeout=30_000)
    expect(page.locator("#stations")).to_contain_text("4 pulls to 6,8")


def go_on(page: Page, says: str) -> None:
    """Follow what would help most next."""
    link = page.locator("#next a").first
    expect(link).to_contain_text(says)
    with page.expect_navigation():  # until it is loaded: a file given before its script runs waits for "Bring in"
        link.click()


def runs(page: Page) -> None:
    """The work in view has begun, and says what it does and how far it is."""
    bar = page.locator("#main [data-task] progress")
    expect(bar).to_be_visible()
    expect(bar).not_to_have_attribute("value", "0.0", timeout=30_000)
    assert page.locator("#main [data-task] [data-says]").inner_text().strip()


def ranked(program: Program) -> list[dict[str, Any]]:
    """The diagnoses that were asked for."""
    return [task for task in program.get("/jobs/1/tasks")["tasks"] if task["kind"] == "diagnose"]


def try_and_keep_the_reading(page: Page, program: Program) -> None:
    """Do the test that is asked for: the ranking moves while it is typed, then the full answer replaces it."""
    asked = program.get("/jobs/1/verdict")["test"]["id"]
    reading = read_at_the_bench(asked)
    expect(page.locator("[data-instant-says]")).to_be_hidden(timeout=60_000)
    before = page.locator("#ranking").inner_text()
    fields = [(name, value) for name, value in told("", reading) if name != "test"]
    for name, value in fields:
        fold = page.locator(f"#reading-form details:not([open]):has([name='{name}']) > summary")
        if fold.count():
            fold.click()
        put_in(page, name, value)
    expect(page.locator("#ranking [data-mark]")).to_be_visible()
    assert page.locator("#ranking").inner_text() != before
    page.get_by_role("button", name="Keep this reading").click()
    expect(page.locator("#work")).to_contain_text("The full answer is being worked out and replaces it.")
    expect(page.locator("#stations")).to_contain_text("1 reading")
    expect(page.locator("#ranking [data-mark]")).to_be_hidden(timeout=LONG)
    expect(page.locator("#work")).to_be_empty()


def choose_a_repair(page: Page, leading: str = PORT_TOO_SMALL) -> None:
    repair = REPAIRS[leading]
    page.locator("#do-next").get_by_role("link", name="See what a repair would do").click()
    page.get_by_role("button", name="Forecast the repairs that fit").click()
    expect(page.locator("#boost-sheet .band").first).to_be_visible(timeout=LONG)
    expect(page.locator("#options li.here h3")).to_contain_text(repair)
    if leading == PORT_TOO_SMALL:  # the other comes in no sizes
        expect(page.locator("#size-says li").first).to_contain_text("Nowhere more than")
    page.get_by_role("button", name="Decide on this repair").click()
    expect(page.locator("#decide")).to_contain_text(f"Decided on: {repair}")
    expect(page.locator("#stations")).to_contain_text("1 repair forecast")


def repair_and_prove(page: Page, program: Program, log: Path) -> None:
    """The repair is done, the car driven again and compared; the verdict stays the one from before."""
    judged = program.get("/jobs/1/verdict")["view"]["ranking"]
    page.get_by_role("button", name="It has been done").click()
    expect(page.get_by_role("heading", name="Before and after")).to_be_visible()
    go_on(page, "drive again, and drop the log")
    page.set_input_files("form[data-drop] input[type=file]", str(log))
    expect(page.locator("#stations")).to_contain_text("8 pulls to 6,9", timeout=30_000)
    expect(page.locator("#stations")).to_contain_text("4 after the repair")
    go_on(page, "compare the pulls from before and after the repair")
    ticked = page.locator("#f-after input:checked")
    expect(ticked).to_have_count(2)  # of each side the one pull to the redline
    assert [box.get_attribute("name") for box in ticked.all()] == ["before", "after"]
    expect(page.locator("#repeated input:checked")).to_have_count(0)
    page.get_by_role("button", name="Compare them").click()
    expect(page.locator("#verdict-heading")).to_have_text("Cured", timeout=LONG)
    page.locator("#stations").get_by_role("link", name="Verdict").click()
    expect(page.locator("#headline")).to_contain_text("1 recording made after the repair is left out of the ranking.")
    expect(page.locator("#do-next")).to_contain_text("The repair is done")
    expect(page.locator("#work")).to_be_empty()
    assert program.get("/jobs/1/verdict")["view"]["ranking"] == judged
    assert len(ranked(program)) == 2  # nothing was ranked again


def take_the_report(page: Page) -> None:
    page.locator("#next").get_by_role("link", name="Report", exact=True).click()
    page.get_by_label("What was done on the car").fill("Port bore measured")
    page.get_by_role("button", name="Make the report").click()
    expect(page.locator("#document")).to_contain_text("Port bore measured", timeout=LONG)
    expect(page.locator("#document")).to_contain_text(PORT_TOO_SMALL)
    with page.expect_download() as taken:
        page.get_by_role("link", name="PDF", exact=True).click()
    content = Path(taken.value.path()).read_bytes()
    assert content.startswith(b"%PDF") and len(content) > 20_000


def test_a_new_car_from_its_papers_to_the_report(
    program: Program, look_at: LookAt, accessible: Check, demo_case: Path, tmp_path: Path
) -> None:
    page = look_at(program.address, WIDE)
    page.get_by_role("textbox", name="Car").fill("Norvik Vale Estate")
    page.get_by_role("textbox", name="What the owner says").fill("boost keeps climbing with rpm and never levels off")
    with page.expect_navigation():
        page.get_by_role("button", name="Open the job").click()
    tell_the_car(page)
    go_on(page, "drop the log of a pull")
    drop(page, demo_case / "recordings" / "log.csv")
    go_on(page, "let the causes be ranked")
    page.get_by_role("button", name="Rank the causes").click()
    runs(page)
    page.reload()  # in the midst of it
    runs(page)
    expect(page.locator("#verdict .ranking .what").first).to_have_text(PORT_TOO_SMALL, timeout=LONG)
    assert len(ranked(program)) == 1  # the reload asked for nothing again
    accessible(page)
    try_and_keep_the_reading(page, program)
    expect(page.locator("#verdict .ranking .what").first).to_have_text(PORT_TOO_SMALL)
    choose_a_repair(page)
    repair_and_prove(page, program, log_of_the_mended_car(tmp_path / "mended"))
    accessible(page)
    take_the_report(page)
    expect(page.locator("#document")).to_contain_text("Boost in after.csv, after the repair")
    expect(page.locator("#document")).to_contain_text("The repair cured the car")
    kept = program.get("/jobs/1/car")["file"]
    assert tomllib.loads(kept)["limits"] == {"target": "15 psi", "stop": "26 psi"}
    for name in ("", "car", "pulls", "bench", "verdict", "repair", "repair/ladder", "proof", "report"):
        light(look_at, f"{program.address}/jobs/1/{name}" if name else program.address)


def light(look_at: LookAt, address: str) -> None:
    """Weight of a page that was never seen."""
    page = look_at(address)
    weight = page.evaluate(_WEIGHT)
    page.context.close()
    assert 0 < weight < WEIGHT, f"{address}: {weight} bytes"


def test_a_power_cut_while_the_causes_are_ranked_on_a_tablet(program: Program, look_at: LookAt) -> None:
    page = look_at(program.address, TABLET, "dark", expected=AWAY)
    page.get_by_role("button", name="Open the demo job").click()
    go_on(page, "let the causes be ranked")
    page.get_by_role("button", name="Rank the causes").click()
    runs(page)
    program.kill()
    expect(page.locator("#away")).to_be_visible(timeout=20_000)
    program.start()
    expect(page.locator("#away")).to_be_hidden(timeout=20_000)
    (task,) = ranked(program)
    assert task["state"] in ("waiting", "running")
    # by the log alone these two look the same
    either = re.compile(f"^({PORT_TOO_SMALL}|{POOR_ENTRY})$")
    expect(page.locator("#verdict .ranking .what").first).to_have_text(either, timeout=LONG)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert small_parts(page) == []
    choose_a_repair(page, page.locator("#verdict .ranking .what").first.inner_text())
    take_the_report(page)
