"""Every page of a job that is done: first paint and weight in a browser, and twenty people at once who each work on one.

Weight is what goes over the wire with headers, uncompressed, until the page has come to rest: its plots' numbers too.
Each of the twenty jobs has a car and numbers of its own, so that nothing made for one serves another. Only the first was
worked out; the answers of the others are its answers with other numbers, and what the worker makes of an answer for the
pages is made for them as for it, but for the last figure, of jobs that were brought in from elsewhere.

A real server and a real browser on this machine; the job is the demo's, judged, forecast, mended and proved for real.
"""

from __future__ import annotations

import http.client
import os
import shutil
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.figure import Figure
from benchmarks.uploads import CLIENTS, browser, server

PAGES = ("car", "pulls", "bench", "verdict", "repair", "repair/ladder", "proof", "report")
LOOKS = 5  # at each page, of which the quickest counts: others may use this machine
AGAIN = 2  # rounds of each person through all pages, once these were shown
_SETTLES = 5.0  # s
_PAINTED, _WEIGHT, _ANSWERED = 0.5, 200.0, 0.3  # s, kB, s
_CURVE = 8  # numbers
_AFTER = "recordings/after.csv"
_PAINT = """() => new Promise((done) => {
  const look = () => {
    const [paint] = performance.getEntriesByName('first-contentful-paint');
    const busy = document.readyState !== 'complete' || document.querySelector('[aria-busy]');
    if (!paint || busy) { setTimeout(look, 20); return; }
    const all = [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')];
    done([paint.startTime / 1000, all.reduce((sum, one) => sum + one.transferSize, 0) / 1000]);
  };
  look();
})"""


def finished_job(data: Path) -> None:
    """A store whose jobs 1 to `CLIENTS` are the demo job, done to its end."""
    from boostproof.demo.case import write_job
    from boostproof.demo.shop import CHANNELS, demo_job
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work
    from boostproof.web.demo_job import open_demo_job

    with tempfile.TemporaryDirectory() as place, Store.open(data) as store:
        folder = Path(place)
        job = open_demo_job(store).id
        write_job(folder / "sound", demo_job(1)[1], 1, fixed=CHANNELS)
        store.write(job, _AFTER, folder / "sound" / "recordings" / "log.csv")
        with Work(store) as work:
            _work_through(store, work, job)
        store.export_case(job, folder / "done")
        (folder / "done" / "job.json").unlink()
        for number in range(1, CLIENTS):
            _alike(store, job, store.import_case(folder / "done").id, number)


def _alike(store: Any, first: int, job: int, number: int) -> None:
    """Another car in the same files, and answers with numbers of their own for it."""
    store.write(job, "car.toml", store.text(job, "car.toml").replace('name = "', f'name = "Number {number}, ', 1))
    store.settings.of_job(job).set("report", store.settings.of_job(first).get("report"))
    kept = store.answers.of_job(first)
    for one in sorted(kept, key=lambda one: (one.kind != "prove", one.id)):  # it says what was made after the repair
        answer = _moved(one.answer, 1.0 + 1e-3 * number)
        store.answers.keep(job, one.kind, answer, one.choices, store.keep_content(job, one.kind))


def _moved(value: Any, by: float) -> Any:
    """JSON whose curves, rows of more than a few decimals, are multiplied."""
    if isinstance(value, dict):
        return {name: _moved(one, by) for name, one in value.items()}
    if not isinstance(value, list):
        return value
    if len(value) > _CURVE and all(isinstance(one, float) for one in value):
        return [one * by for one in value]
    return [_moved(one, by) for one in value]


def make_ready(data: Path) -> None:
    """Make of every job's answers what the worker makes of them when they come."""
    from boostproof.jobs.store import Store
    from boostproof.web import ahead

    with Store.open(data) as store:
        jobs = [job.id for job in store.jobs()]
    for job in jobs:
        ahead.make_ready(data, {"job": job}, lambda says, share, so_far=None: None)


def _work_through(store: Any, work: Any, job: int) -> None:
    def done(kind: str, **choices: Any) -> dict[str, Any]:
        task = work.wait(work.start(job, kind, choices).id)
        if task.state != "done":
            raise RuntimeError(f"{kind}: {task.error}")
        found: dict[str, Any] = store.answers.latest(job, kind, choices).answer
        return found

    for path in ("recordings/log.csv", _AFTER):
        done("inspect", path=path)
    done("diagnose")
    first = done("repair_options")["options"][0]
    store.answers.keep(job, "forecast", first["forecast"], {"repairs": list(first["repairs"])}, store.content(job))
    done("plan")
    done("scene")
    done("prove", before=["log.csv#4"], after=["after.csv#4"])
    report = {"customer": True, "done": ["Port enlarged"], "by": "A. Mender"}
    store.settings.of_job(job).set("report", report)
    done("report", **report)


def _painted(address: str) -> dict[str, tuple[float, float]]:
    """First paint [s] and weight [kB] of every page, seen for the first time; empty without a browser."""
    found: dict[str, tuple[float, float]] = {}
    with browser() as chromium:
        if chromium is None:
            return found
        for name, path in {"jobs": "/", "settings": "/settings", **{p: f"/jobs/1/{p}" for p in PAGES}}.items():
            seen = []
            for _ in range(LOOKS):
                context = chromium.new_context(viewport={"width": 1280, "height": 800})
                page = context.new_page()
                page.goto(address + path)
                seen.append(page.evaluate(_PAINT))
                context.close()
            found[name] = (min(paint for paint, _ in seen), max(weight for _, weight in seen))
    return found


def _at_once(address: str, rounds: int = 1) -> list[float]:
    """Seconds that each page took while all clients ask for one after another, each in a job of its own."""
    taken: list[float] = []
    host = address.removeprefix("http://")

    def look(job: int) -> None:
        connection = http.client.HTTPConnection(host)
        order = np.random.default_rng(job)
        for _ in range(rounds):
            for page in order.permutation(PAGES):
                begun = time.perf_counter()
                connection.request("GET", f"/jobs/{job}/{page}")
                reply = connection.getresponse()
                reply.read()
                taken.append(time.perf_counter() - begun)
                if reply.status != 200:
                    raise RuntimeError(f"{page}: {reply.status}")
        connection.close()

    threads = [threading.Thread(target=look, args=(job,)) for job in range(1, CLIENTS + 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return taken


def _settled(address: str) -> None:
    """What a server loads beside its first requests is loaded."""
    with urllib.request.urlopen(address) as reply:
        reply.read()
    time.sleep(_SETTLES)


@contextmanager
def _somebody_writes(data: Path) -> Iterator[None]:
    """Beside, the store is written to as often as by work that tells how far it is."""
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import WRITE_EVERY

    over = threading.Event()

    def write() -> None:
        with Store.open(data) as store:
            number = 0
            while not over.wait(WRITE_EVERY):
                number += 1
                store.settings.set("benchmark", number)

    thread = threading.Thread(target=write)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def pages(*, table: bool = False) -> dict[str, Figure]:
    """The slowest and the heaviest page, and pages for twenty people at once; with ``table`` every page."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "store"
        finished_job(data)
        brought = Path(folder) / "brought"
        shutil.copytree(data, brought)
        make_ready(data)
        with server(brought) as address:
            _settled(address)
            bare = _at_once(address)
        with server(data) as address:
            _settled(address)
            first = _at_once(address)
            again = _at_once(address, rounds=AGAIN)
            with _somebody_writes(data):
                written = _at_once(address, rounds=AGAIN)
            painted = _painted(address)
    figures = {
        "pages_first_p95_s": Figure(
            f"pages for {CLIENTS} people at once, never shown before, 95 of 100 within", float(np.quantile(first, 0.95)), "s",
            _ANSWERED,
        ),
        "pages_brought_p95_s": Figure(
            "… never shown before, of jobs just brought in with their answers", float(np.quantile(bare, 0.95)), "s"
        ),
        "pages_p95_s": Figure("… once shown, 95 of 100 within", float(np.quantile(again, 0.95)), "s", _ANSWERED),
        "pages_written_p95_s": Figure(
            "… while work tells twice a second how far it is", float(np.quantile(written, 0.95)), "s"
        ),
    }
    if painted:
        slowest, heaviest = (max(painted, key=lambda name, k=k: painted[name][k]) for k in (0, 1))  # type: ignore[misc]
        figures |= {
            "paint_s": Figure(f"first paint of the slowest page ({slowest})", painted[slowest][0], "s", _PAINTED),
            "page_kb": Figure(f"weight of the heaviest page ({heaviest})", painted[heaviest][1], "kB", _WEIGHT),
        }
    if table:
        for name, (paint, weight) in painted.items():
            figures[f"paint {name}"] = Figure(f"{name}: first paint", paint, "s", _PAINTED)
            figures[f"weight {name}"] = Figure(f"{name}: weight", weight, "kB", _WEIGHT)
    return figures


if __name__ == "__main__":
    os.environ.setdefault("PYTHONUNBUFFERED", "1")
    for figure in pages(table=True).values():
        print(f"{figure.name:62} {figure.value:12,.4g} {figure.unit}")  # noqa: T201
