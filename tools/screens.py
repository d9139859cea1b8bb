"""Pictures of every page and state, to be looked at: ``python -m tools.screens`` writes docs/screens.

The shop that is photographed is made once (minutes) and kept in out/screens; ``--again`` makes it anew, ``--only
TEXT`` takes only the pictures whose name holds it. Needs a Chromium, as the browser tests do, and Pillow.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tools.screen_jobs import FAILED, JUDGED, LONG, MENDED, NEW, WORKING, fill, serving

from boostproof.jobs.store import Store
from boostproof.jobs.work import Work

_ROOT = Path(__file__).resolve().parent.parent
OUT = _ROOT / "docs" / "screens"
SHOP = _ROOT / "out" / "screens" / "store"
_COLOURS = 16
_ALIKE = 14  # of 765: colours that are nearer to each other count as one
_LONGEST = 6000  # px
_SHARE = 0.6  # of its size that a picture is kept in
_WIDE, _TABLET, _ZOOMED = (1280, 800), (820, 1180), (640, 400)
# name -> size of the window in px, light
_LOOKS = {
    "bright": (_WIDE, "light"),
    "dark": (_WIDE, "dark"),
    "tablet": (_TABLET, "light"),
    "tablet-dark": (_TABLET, "dark"),
    "zoomed": (_ZOOMED, "light"),  # what is left of a window at 200 %
    "print": (_WIDE, "light"),
}
_ALL = ("bright", "dark", "tablet", "tablet-dark")
_BOTH = ("bright", "tablet-dark")
_ONE = ("bright",)
_INTRO = """<!-- Made by tools/screens.py; changes here are lost. -->
# The screens

Every page of the worksheet in the states that it can be in, for a shop whose cars and jobs are invented. A wide window
is 1280 px across, a tablet 820 px; the pictures are six tenths of that. "zoomed" is a wide window at 200 %,
"print" the page as the printer gets it.
"""

Act = Callable[[Any], None]


@dataclass(frozen=True)
class View:
    """A page in one state: its address, what to see on it, and what is done before the picture is taken."""

    name: str
    address: str
    says: str
    looks: tuple[str, ...] = _ONE
    act: Act | None = None
    empty: bool = False
    fits: bool = False  # only what the window shows


def _typed_wrong(page: Any) -> None:
    page.locator("form[action$='/car'] input:not([type=hidden]):not([type=radio]):visible").nth(1).fill("about a lot")
    page.locator("form[action$='/car'] button.main").first.click()
    page.wait_for_timeout(800)


def _server_away(page: Any) -> None:
    page.locator("input[name=car]").fill("Weir Saloon")
    page.route("**/*", lambda route: route.abort())
    page.locator("form[action='/jobs'] button[type=submit]").first.click()
    page.wait_for_timeout(800)


def _opened(page: Any) -> None:
    for one in page.locator("main details:not([open]) > summary").all():
        if one.is_visible():
            one.click()
    page.wait_for_timeout(800)


def _job(number: int, page: str) -> str:
    return f"/jobs/{number}/{page}"


_EVERY = ("car", "pulls", "verdict", "repair")
_PAGES = ("car", "pulls", "bench", "verdict", "repair", "repair/ladder", "proof", "report")
_SHOWN = {
    "car": "the car as it is told, its drawing, and what each unknown costs",
    "pulls": "the pulls of a recording over the boost that is wanted, and how its columns were read",
    "bench": "readings that were taken and what they mean, and the tests that could be done",
    "verdict": "the ranked causes, the curve over their bands, and what to do next",
    "repair": "the repairs side by side, boost as it would be, and the size slider",
    "repair/ladder": "how far the next pull may go, step by step",
    "proof": "the pulls to choose from",
    "report": "the report before it is made",
}

VIEWS = (
    View("shop-empty", "/", "A shop without a job: what to begin with.", _BOTH, empty=True),
    View("shop", "/", "The jobs of the shop, each with its state and how far it is.", _ALL),
    View("shop-none-found", "/?search=nobody", "A search that finds nothing.", _ONE),
    View("shop-server-away", "/", "The server does not answer: what was typed is kept.", _ONE, _server_away, fits=True),
    View("settings", "/settings", "Units, rates, the light of the bay.", _BOTH),
    View("not-there", "/jobs/999", "An address that there is not.", _BOTH),
    View("for-programs", "/api", "The description for programs.", _ONE),
    *(View(p.replace("/", "-"), _job(JUDGED, p), f"A judged car: {_SHOWN[p]}.", _ALL if p in _EVERY else _BOTH)
      for p in _PAGES[:6]),
    View("car-opened", _job(JUDGED, "car"), "The car with every part of the form open.", _ONE, _opened),
    View("bench-opened", _job(JUDGED, "bench"), "The bench with every procedure open.", _ONE, _opened),
    View("pulls-opened", _job(JUDGED, "pulls"), "The pulls with every part open.", _ONE, _opened),
    View("verdict-opened", _job(JUDGED, "verdict"), "The verdict with every reason open.", _ONE, _opened),
    View("repair-opened", _job(JUDGED, "repair"), "The repairs with every part open.", _ONE, _opened),
    View("pulls-two", _job(MENDED, "pulls"), "Recordings from before and after the repair.", _BOTH),
    View("proof", _job(MENDED, "proof"), "Before and after on one plot, the sentence, the sign-off.", _BOTH),
    View("proof-choose", _job(JUDGED, "proof"), "No pulls after the repair yet.", _ONE),
    View("report", _job(MENDED, "report"), "The report, made.", _BOTH),
    View("car-wrong", _job(JUDGED, "car"), "A quantity that cannot be read: the message stands beside it.", _ONE,
         _typed_wrong),
    *(View(f"{p.replace('/', '-')}-empty", _job(NEW, p), f"A new job: {p} before there is anything.", _BOTH)
      for p in _PAGES),
    View("verdict-working", _job(WORKING, "verdict"), "Work in hand: the verdict, with a first look at the causes.", _BOTH),
    *(View(f"{p.replace('/', '-')}-working", _job(WORKING, p), f"Work in hand: {p} while it is worked out.", _ONE)
      for p in ("pulls", "repair", "repair/ladder", "proof", "report")),
    *(View(f"{p.replace('/', '-')}-failed", _job(FAILED, p), f"A log that holds nothing: {p} says what is wrong.", _ONE)
      for p in ("pulls", "verdict", "repair", "repair/ladder", "proof", "report")),
    *(View(f"{p.replace('/', '-')}-long", _job(LONG, p), f"Very long names and complaints: {p}.", ("tablet",))
      for p in ("car", "verdict", "repair")),
    *(View(f"{p.replace('/', '-')}-zoomed", _job(JUDGED, p), f"At 200 %: {p}.", ("zoomed",))
      for p in ("car", "pulls", "verdict", "repair")),
    *(View(f"{p.replace('/', '-')}-print", _job(MENDED if p in ("proof", "report") else JUDGED, p),
           f"Printed: {p}.", ("print",)) for p in ("verdict", "repair", "proof", "report")),
)  # fmt: skip


@contextlib.contextmanager
def _serving(folder: Path) -> Iterator[str]:
    """Serve a store on which nobody works; the address."""
    with Store.open(folder) as store, Work(store, works=False) as work, serving(store, work) as address:
        yield address


@contextlib.contextmanager
def _browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    found = (shutil.which(name) for name in ("chromium", "chromium-browser"))
    program = os.environ.get("BOOSTPROOF_BROWSER") or next((path for path in found if path), None)
    as_root = sys.platform != "win32" and os.geteuid() == 0
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=program, args=["--disable-gpu", *(["--no-sandbox"] if as_root else [])]
        )
        yield browser
        browser.close()


def _shot(browser: Any, address: str, view: View, look: str) -> bytes:
    (width, height), light = _LOOKS[look]
    page = browser.new_page(
        viewport={"width": width, "height": height}, color_scheme=light, reduced_motion="reduce"
    )
    try:
        page.goto(address + view.address)  # its scripts are modules: they have run when it is loaded
        page.wait_for_timeout(300)
        if view.act is not None:
            view.act(page)
        if view.fits:
            return _small(page.screenshot())
        if look == "print":
            page.emulate_media(media="print")
            page.set_viewport_size({"width": 760, "height": 1075})  # what is left of A4
        return _small(_whole(page))
    finally:
        page.close()


def _whole(page: Any) -> bytes:
    """The whole page in a window as long as it is: what sticks to an edge is then at its end."""
    page.wait_for_timeout(200)
    size = page.viewport_size
    height = min(_LONGEST, page.evaluate("document.documentElement.scrollHeight"))
    page.set_viewport_size({"width": size["width"], "height": max(size["height"], height)})
    page.wait_for_timeout(200)
    return bytes(page.screenshot())


def _small(png: bytes) -> bytes:
    from PIL import Image

    whole = Image.open(io.BytesIO(png)).convert("RGB")
    less = whole.resize((round(_SHARE * whole.width), round(_SHARE * whole.height)), Image.Resampling.LANCZOS)
    palette = Image.new("P", (1, 1))
    palette.putpalette([part for colour in _chief(whole) for part in colour])
    few = less.quantize(palette=palette, dither=Image.Dither.NONE)
    kept = io.BytesIO()
    few.save(kept, "PNG", optimize=True)
    return kept.getvalue()


def _chief(picture: Any) -> list[tuple[int, int, int]]:
    """The colours that most of it has, as they are, and none that is much like another."""
    found: list[tuple[int, int, int]] = []
    for _, colour in sorted(picture.getcolors(picture.width * picture.height), reverse=True):
        if all(sum(abs(a - b) for a, b in zip(colour, other, strict=True)) > _ALIKE for other in found):
            found.append(colour)
        if len(found) == _COLOURS:
            break
    return found


def take(out: Path, shop: Path, only: str = "") -> list[Path]:
    """Take the pictures whose name holds ``only`` of the shop in ``shop``; the files written."""
    out.mkdir(parents=True, exist_ok=True)
    written = []
    with tempfile.TemporaryDirectory() as place, _browser() as browser:
        copy = Path(place) / "shop"
        shutil.copytree(shop, copy)
        with _serving(copy) as filled, _serving(Path(place) / "empty") as empty:
            for view in VIEWS:
                for look in view.looks:
                    file = out / f"{_name(view, look)}.png"
                    if only not in file.stem:
                        continue
                    file.write_bytes(_shot(browser, empty if view.empty else filled, view, look))
                    written.append(file)
    return written


def _name(view: View, look: str) -> str:
    return view.name if look in ("zoomed", "print") else f"{view.name}-{look}"


def index(folder: str) -> str:
    """Text of the page that says what each picture shows."""
    return "\n".join([_INTRO, *_rows(folder)]) + "\n"


def _rows(folder: str) -> Iterable[str]:
    for view in VIEWS:
        pictures = ", ".join(f"[{look}]({folder}/{_name(view, look)}.png)" for look in view.looks)
        yield f"- {view.says} {pictures}"


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> int:
    """Make the shop where there is none, take the pictures and write their list."""
    given = argparse.ArgumentParser(prog="python -m tools.screens", description="Pictures of every page and state.")
    given.add_argument("--out", type=Path, default=OUT)
    given.add_argument("--again", action="store_true", help="make the shop anew")
    given.add_argument("--only", default="", help="only pictures whose name holds this")
    said = given.parse_args()
    if said.again:
        shutil.rmtree(SHOP, ignore_errors=True)
    if not SHOP.exists():
        fill(SHOP, _say)
    written = take(said.out, SHOP, said.only)
    said.out.with_suffix(".md").write_text(index(said.out.name), encoding="utf-8")
    _say(f"{len(written)} pictures, {sum(file.stat().st_size for file in written) / 1e6:.1f} MB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
