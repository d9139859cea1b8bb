"""A real server on a free port with a store of its own, and a real browser that looks at it.

Servers: ``shop`` (an empty store), ``demo_shop`` (job 1 is the invented demo car; shared by the session: read it, do
not change it), ``own_demo_shop`` (the same, to be changed), ``program`` (a process of its own, to be killed). Pages:
``look_at(address, viewport, bay)``; ``accessible(page)`` asserts that axe finds nothing, ``small_parts(page)`` lists
what is too small to read or to tap.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.web.app import create_app

WIDE, TABLET = (1280, 800), (820, 1180)
VIEWPORTS = pytest.mark.parametrize("viewport", [WIDE, TABLET], ids=["wide", "tablet"])
# Both sizes and both lights, without their product: what depends on size does not depend on colour.
_BOTH = {"wide bright": (WIDE, "light"), "tablet dark": (TABLET, "dark")}
SCREENS = pytest.mark.parametrize(("viewport", "bay"), list(_BOTH.values()), ids=list(_BOTH))

_PROGRAMS = ("chromium", "chromium-browser")
_ARGUMENTS = [
    "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--no-first-run", "--disable-dev-shm-usage",
]  # fmt: skip
_NONE_FOUND = (
    "no chromium was found: install it (on Debian: apt-get install chromium) or name one with BOOSTPROOF_BROWSER"
)
_LEFT_OUT = "BOOSTPROOF_NO_BROWSER=1"


def _program() -> str | None:
    """The browser to drive; None where there is none."""
    wanted = os.environ.get("BOOSTPROOF_BROWSER")
    return wanted or next((path for name in _PROGRAMS if (path := shutil.which(name))), None)


def _left_out() -> str:
    """Why these tests are left out; empty where they run. Before a change lands they always run, or fail."""
    if os.environ.get("BOOSTPROOF_NO_BROWSER") == "1":
        return _LEFT_OUT
    return _NONE_FOUND if _program() is None and not os.environ.get("CI") else ""


NO_BROWSER = _left_out()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """On a machine without a browser these tests are left out, and say so."""
    if NO_BROWSER:
        here = Path(__file__).parent
        for item in items:
            if here in item.path.parents:
                item.add_marker(pytest.mark.skip(reason=NO_BROWSER))


def ask(address: str) -> Any:
    """A page as JSON."""
    request = urllib.request.Request(address, headers={"Accept": "application/json"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        return json.load(answer)


class Server:
    """A server in a thread of this process: quick to start, over a store of its own."""

    def __init__(self, data: Path, *, works: bool = True) -> None:
        self._open = contextlib.ExitStack()
        self.store = self._open.enter_context(Store.open(data))
        self.work = self._open.enter_context(contextlib.closing(Work(self.store, works=works)))
        listener = self._open.enter_context(contextlib.closing(socket.create_server(("127.0.0.1", 0))))
        self.address = f"http://127.0.0.1:{listener.getsockname()[1]}"
        self.app = create_app(self.store, self.work)
        config = uvicorn.Config(self.app, log_level="warning", lifespan="off",
                                timeout_graceful_shutdown=2)  # fmt: skip
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, args=([listener],), daemon=True)
        self._thread.start()
        self.get("/alive")

    def get(self, path: str) -> Any:
        """A page as JSON."""
        return ask(self.address + path)

    def stop(self) -> None:
        """Stop serving and close the store."""
        self._server.should_exit = True
        self._thread.join(timeout=20)
        self._open.close()


@contextlib.contextmanager
def serving(data: Path, *, works: bool = True) -> Iterator[Server]:
    """A server over a store, for as long as it is needed; without ``works`` what is asked of it waits."""
    server = Server(data, works=works)
    try:
        yield server
    finally:
        server.stop()


@dataclass
class Program:
    """`boostproof serve` as a program of its own, which can be killed and started again on the same port."""

    data: Path
    port: int = 0
    process: subprocess.Popen[str] | None = field(default=None, repr=False)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> Program:
        """Start it, on the same port as before if it ran, and wait until it answers."""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "boostproof", "serve", "--json", "--no-browser",
             "--port", str(self.port), "--data", str(self.data)],
            stdout=subprocess.PIPE, text=True, encoding="utf-8",
        )  # fmt: skip
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert line, "the server ended before it said its address"
        self.port = int(json.loads(line)["address"].rstrip("/").rpartition(":")[2])
        self.get("/alive")
        return self

    def get(self, path: str) -> Any:
        """A page as JSON."""
        return ask(self.address + path)

    def kill(self) -> None:
        """End it as a power cut would."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def stop(self) -> int:
        """End it as a person would; its exit code."""
        assert self.process is not None
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM if sys.platform == "win32" else signal.SIGINT)
        try:
            return self.process.wait(timeout=20)
        finally:
            self.process.kill()


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Server]:
    """A server over an empty store."""
    with serving(tmp_path / "store") as server:
        yield server


@pytest.fixture
def program(tmp_path: Path) -> Iterator[Program]:
    """The program over an empty store, for tests of what a crash leaves."""
    started = Program(tmp_path / "store").start()
    yield started
    started.stop()


@pytest.fixture(scope="session")
def demo_case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The case folder of the invented demo car."""
    from boostproof.demo import write_demo_case

    folder = tmp_path_factory.mktemp("demo") / "case"
    write_demo_case(folder)
    return folder


@pytest.fixture(scope="session")
def demo_store(demo_case: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with the demo case as job 1, to be copied by tests that change it."""
    folder = tmp_path_factory.mktemp("demo-store") / "store"
    with Store.open(folder) as store:
        store.import_case(demo_case)
    return folder


@pytest.fixture(scope="session")
def demo_shop(demo_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server whose job 1 is the demo case, shared: it is read only."""
    copy = tmp_path_factory.mktemp("demo-shop") / "store"
    shutil.copytree(demo_store, copy)
    with serving(copy) as server:
        yield server


@pytest.fixture
def own_demo_shop(demo_store: Path, tmp_path: Path) -> Iterator[Server]:
    """A server whose job 1 is the demo case, for one test to change."""
    shutil.copytree(demo_store, tmp_path / "store")
    with serving(tmp_path / "store") as server:
        yield server


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests."""
    program = _program()
    if program is None:
        pytest.fail(_NONE_FOUND, pytrace=False)
    as_root = sys.platform != "win32" and os.geteuid() == 0
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=program, args=[*_ARGUMENTS, *(["--no-sandbox"] if as_root else [])]
        )
        yield chromium
        chromium.close()


@dataclass
class Watched:
    """What a page did that it must not do: messages of the browser, requests to elsewhere."""

    told: list[str] = field(default_factory=list)


LookAt = Callable[..., Page]


@pytest.fixture
def look_at(browser: Browser) -> Iterator[LookAt]:
    """Opens an address; at the end nothing may have been asked of elsewhere, nor a script have failed.

    ``look_at(address, viewport=WIDE, bay="light", expected=())``: ``expected`` are parts of messages that the test
    provokes itself (a server that is away).
    """
    watched: list[tuple[Watched, tuple[str, ...]]] = []
    contexts = []

    def open_page(
        address: str, viewport: tuple[int, int] = WIDE, bay: str = "light", *,
        expected: tuple[str, ...] = (), script: bool = True,
    ) -> Page:
        context = browser.new_context(
            viewport={"width": viewport[0], "height": viewport[1]}, color_scheme=bay,  # type: ignore[arg-type]
            reduced_motion="reduce", java_script_enabled=script,
        )  # fmt: skip
        contexts.append(context)
        page = context.new_page()
        seen = Watched()
        own = address.split("/")[2]

        def message(one: ConsoleMessage) -> None:
            if one.type in {"error", "warning"}:
                seen.told.append(one.text)

        page.on("console", message)
        page.on("pageerror", lambda error: seen.told.append(str(error)))
        page.on("request", lambda one: None if one.url.split("/")[2] in {own, ""} else seen.told.append(one.url))
        watched.append((seen, expected))
        page.goto(address)
        return page

    yield open_page
    for context in contexts:
        context.close()
    for seen, expected in watched:
        assert [text for text in seen.told if not any(part in text for part in expected)] == []


@pytest.fixture
def accessible() -> Callable[[Page], None]:
    """Asserts that the rules of accessibility find nothing on a page."""

    def check(page: Page) -> None:
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()

    return check


@pytest.fixture
def usable(accessible: Callable[[Page], None]) -> Callable[[Page], None]:
    """Asserts that everybody can use a page: with all of it unfolded, no rule of accessibility finds anything, nothing
    is too small to read or to tap, and nothing is wider than the window."""

    def check(page: Page) -> None:
        for fold in page.locator("details:not([open]) > summary").all():
            if fold.is_visible():
                fold.click()
        accessible(page)
        assert small_parts(page) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")

    return check


def small_parts(page: Page) -> list[str]:
    """What is too small on a page: text under 16 px, in pictures too, and what is tapped under 44 px in height."""
    return page.evaluate(_SMALL)  # type: ignore[no-any-return]


# Letters of a drawing are text, or paths of a hundred units to the size of the font (as Matplotlib writes them). What a
# canvas shows is not seen from here: plot_look.js sets it in 16 px.
_SMALL = """async () => {
  const shown = (e) => e.checkVisibility({ visibilityProperty: true }) && !e.closest('.unseen, .skip')
    && e.getClientRects().length > 0;
  const found = [];
  const scale = (e) => {
    const m = e.getScreenCTM();
    return Math.sqrt(Math.abs(m.a * m.d - m.b * m.c));
  };
  for (const e of document.querySelectorAll('body *')) {
    if (!shown(e)) continue;
    const text = [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
    if (!text) continue;
    const size = parseFloat(getComputedStyle(e).fontSize) * (e instanceof SVGTextContentElement ? scale(e) : 1);
    if (size < 15.99) {
      const where = e.ownerSVGElement || e;
      const name = `${where.tagName.toLowerCase()}.${where.getAttribute('class')}`;
      found.push(`${name} text ${size.toFixed(1)}px: ${e.textContent.trim().slice(0, 40)}`);
    }
  }
  for (const e of document.querySelectorAll('svg g[transform*="scale("]:has(> use)')) {
    const size = 100 * scale(e);
    if (shown(e) && size < 15.99) found.push(`drawn letters ${size.toFixed(1)}px`);
  }
  for (const e of document.querySelectorAll('img')) {
    if (!shown(e)) continue;
    e.loading = 'eager';
    await e.decode();
    const drawing = await (await fetch(e.currentSrc)).text();
    const wide = e.getBoundingClientRect().width / Number(/viewBox="0 0 ([\\d.]+)/.exec(drawing)[1]);
    for (const [, one] of drawing.matchAll(/scale\\(([\\d.]+) -[\\d.]+\\)/g)) {
      if (100 * one * wide < 15.99) found.push(`letters of ${e.getAttribute('src')} ${(100 * one * wide).toFixed(1)}px`);
    }
  }
  for (const e of document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex="0"]')) {
    if (!shown(e)) continue;
    const inText = e.tagName === 'A' && getComputedStyle(e).display === 'inline' && e.closest('p, li, dd, td');
    if (inText) continue;
    const target = (e.type === 'radio' || e.type === 'checkbox') ? e.closest('label') : e;
    const box = target ? target.getBoundingClientRect() : e.getBoundingClientRect();
    const size = `${Math.round(box.width)}x${Math.round(box.height)}`;
    const text = (e.textContent || e.name || '').trim().slice(0, 40);
    if (box.height < 43.5) found.push(`${e.tagName.toLowerCase()}.${e.className} ${size}: ${text}`);
  }
  return found;
}"""
