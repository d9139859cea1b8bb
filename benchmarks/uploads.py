"""A large log dropped on the Pulls page, until its plot is drawn; and many people looking into it at once.

A real server and a real browser, on this machine. What the browser needs to start is left out, what the page needs is not.
Every log is another one, so that none is known from before.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
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
from benchmarks.lanes import ROOT
from benchmarks.logs import write_log

ROWS = 300_000  # 20 MB
DROPS = 3
CLIENTS, EACH = 20, 15  # people at once, and how often each of them moves on
_DRAWN, _WINDOWS = 2.0, 0.3  # s
_CAR = 'format = 1\n[car]\nname = "Benchmark"\n[engine]\ndisplacement = "2 L"\ncylinders = 4\nredline = "6800 rpm"\n'
_BROWSERS = ("chromium", "chromium-browser", "google-chrome")
_ARGUMENTS = ["--disable-gpu", "--disable-background-networking", "--no-first-run", "--disable-dev-shm-usage"]

# Looked for in the page, every 10 ms: a wait from outside looks every half second only.
_UNTIL_DRAWN = """() => new Promise((done, failed) => {
  const drawn = (id) => document.getElementById(id)?.dataset.state === 'drawn';
  const look = () => { drawn('curves') && drawn('whole') ? done() : setTimeout(look, 10); };
  setTimeout(() => failed(new Error('not drawn within a minute')), 60_000);
  look();
})"""


@contextmanager
def server(data: Path) -> Iterator[str]:
    """The address of a server over a store, in a process of its own."""
    path = os.pathsep.join((str(ROOT), str(ROOT / "src")))
    command = [sys.executable, "-m", "boostproof", "serve", "--json", "--no-browser", "--port", "0", "--data", str(data)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": path})
    try:
        assert process.stdout is not None
        yield json.loads(process.stdout.readline())["address"].rstrip("/")
    finally:
        process.terminate()
        process.wait()


@contextmanager
def browser() -> Iterator[Any]:
    """A browser, None where there is none."""
    program = os.environ.get("BOOSTPROOF_BROWSER") or next(filter(None, map(shutil.which, _BROWSERS)), None)
    if program is None:
        yield None
        return
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        arguments = [*_ARGUMENTS, *(["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else [])]
        chromium = playwright.chromium.launch(executable_path=program, args=arguments)
        yield chromium
        chromium.close()


def _dropped(address: str, job: int, log: Path) -> float | None:
    """Seconds from the drop of a log to its drawn plots; None without a browser."""
    with browser() as chromium:
        if chromium is None:
            return None
        page = chromium.new_page(viewport={"width": 1280, "height": 800})
        page.goto(f"{address}/jobs/{job}/pulls")
        start = time.perf_counter()
        page.set_input_files("form[data-drop] input[type=file]", str(log))
        page.evaluate(_UNTIL_DRAWN)
        return time.perf_counter() - start


def _looked_into(address: str, job: int, path: str, seconds: float) -> list[float]:
    """Seconds that each window took while all clients ask at once."""
    taken: list[float] = []

    def look(client: int) -> None:
        rng = np.random.default_rng(client)
        for _ in range(EACH):
            width = seconds * 10.0 ** -rng.uniform(0.0, 2.0)
            start = rng.uniform(0.0, seconds - width)
            ask = f"path={path}&channels=boost,engine_speed&from={start:.2f}&to={start + width:.2f}"
            begun = time.perf_counter()
            with urllib.request.urlopen(f"{address}/jobs/{job}/pulls/window?{ask}") as reply:
                reply.read()
            taken.append(time.perf_counter() - begun)

    threads = [threading.Thread(target=look, args=(client,)) for client in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return taken


def uploads() -> dict[str, Figure]:
    """From drop to plot of a 20 MB log, the best of three and the first, and the windows of twenty people at once."""
    from boostproof.jobs.store import Store

    with tempfile.TemporaryDirectory() as folder:
        logs = [Path(folder) / str(number) / "afternoon.csv" for number in range(DROPS)]
        for number, log in enumerate(logs):
            log.parent.mkdir()
            write_log(log, ROWS, seed=number)
        data = Path(folder) / "store"
        with Store.open(data) as store:
            jobs = [store.new_job(_CAR).id for _ in logs]
        with server(data) as address:
            both = zip(jobs, logs, strict=True)
            drops = [taken for job, log in both if (taken := _dropped(address, job, log)) is not None]
            if not drops:  # no browser on this machine
                return {}
            windows = _looked_into(address, jobs[0], "recordings/afternoon.csv", ROWS / 100.0)
    return {
        "drop_to_plot_s": Figure(f"a log of {ROWS:,} rows from drop to drawn plot", min(drops), "s", _DRAWN),
        "drop_to_plot_first_s": Figure("… the first after the start of the server", drops[0], "s", _DRAWN),
        "window_p95_s": Figure(
            f"windows of it for {CLIENTS} clients at once, 95 of 100 within", float(np.quantile(windows, 0.95)), "s", _WINDOWS
        ),
    }


if __name__ == "__main__":
    for figure in uploads().values():
        print(f"{figure.name:62} {figure.value:12,.4g} {figure.unit}")  # noqa: T201
