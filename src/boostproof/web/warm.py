"""What the first one to ask would wait for, loaded beside the requests as soon as the server runs.

Starting stays quick because nothing is loaded that need not be: the readers of logs, what measures pulls, and the
pages' templates come when they are first used. Here they are used once, for a small made-up log that nobody sees.
"""

from __future__ import annotations

import gc
import importlib
import logging
import tempfile
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from starlette.routing import BaseRoute

WAIT, LONGEST_WAIT = 0.05, 2.0  # s; so long at the most does a step wait for those who are being answered

_MODULES = (
    "boostproof.workflows.bench",
    "boostproof.bench.meaning",
    "boostproof.workflows.open_case",
    "boostproof.workflows.explained",
    "boostproof.casefolder.readings_edit",
)  # pages import these at first use
_CAR = 'format = 1\n[car]\nname = "Made up"\n[engine]\ndisplacement = "2 L"\ncylinders = 4\nredline = "6800 rpm"\n'
_NOWHERE = "/nowhere"  # no page is there, so that all are tried
_LOG, _RATE, _PULLS = "recordings/log.csv", 50, 2  # samples a second

_log = logging.getLogger("boostproof.web")


def warm_up(busy: Callable[[], bool], over: Callable[[], bool], routes: Iterable[BaseRoute] = ()) -> None:
    """Load what pages and dropped logs need, one thing after another.

    Parameters
    ----------
    busy : whether somebody is being answered; each step waits for a quiet moment
    over : whether the server ends
    routes : of the application, which are made out when they are first tried
    """
    for step in (_a_log, _templates, _modules, lambda: _routes(routes), _stays):
        wait_for_quiet(busy, over)
        if over():
            return
        try:
            step()
        except Exception:  # whoever needs it meets the same, and is told
            _log.exception("not loaded ahead: %s", step)


def wait_for_quiet(busy: Callable[[], bool], over: Callable[[], bool] = lambda: False) -> None:
    """Wait while somebody is being answered, not longer than `LONGEST_WAIT`; parameters as of `warm_up`."""
    waited = 0.0
    while busy() and waited < LONGEST_WAIT and not over():
        time.sleep(WAIT)
        waited += WAIT


def _a_log() -> None:
    """A log as one that is dropped: read, measured, kept as a table, and a window of it thinned."""
    from boostproof.jobs.tables import files_in, keep_table
    from boostproof.workflows.recording_look import look
    from boostproof.workflows.recording_window import KeptChannels, window

    with tempfile.TemporaryDirectory(prefix="boostproof-", ignore_cleanup_errors=True) as place:
        case, tables = Path(place) / "case", Path(place) / "tables"
        (case / _LOG).parent.mkdir(parents=True)
        (case / "car.toml").write_text(_CAR, encoding="utf-8")
        (case / _LOG).write_text(made_log(), encoding="utf-8")
        kept: list[Path] = []
        look(case, _LOG, keep=lambda read: kept.append(keep_table(tables, case, files_in(case), _LOG, read)))
        window(kept[0], ["boost", "engine_speed"], kept=KeptChannels())


def made_log() -> str:
    """An invented log of a few channels with two pulls through the gears, as text."""
    lines = ["time (s),engine speed (rpm),throttle (%),boost gauge (kPa),lambda"]
    for sample in range(15 * _PULLS * _RATE):
        now = sample / _RATE
        since = now % 15.0 - 3.0
        pulling = 0.0 <= since < 8.0
        speed = 2000.0 + 500.0 * since if pulling else max(2000.0, 6000.0 - 1500.0 * max(since - 8.0, 0.0))
        boost = min(30.0 * since - 10.0, 80.0) if pulling else -50.0
        wobble = (sample * 37 % 11 - 5) / 10.0
        opening, mixture = (98, 0.82) if pulling else (12, 1.0)
        lines.append(f"{now:.2f},{speed + 5.0 * wobble:.0f},{opening},{boost + wobble:.1f},{mixture:.2f}")
    return "\n".join(lines) + "\n"


def _templates() -> None:
    from boostproof.report.document import html
    from boostproof.web.page import load_templates

    load_templates()
    html.load()


def _stays() -> None:
    """What is loaded by now stays, so no search for garbage goes over it again: one took longer than ten pages."""
    gc.collect()
    gc.freeze()


def _routes(routes: Iterable[BaseRoute]) -> None:
    for route in routes:
        route.matches({"type": "http", "method": "GET", "path": _NOWHERE, "root_path": "", "headers": []})


def _modules() -> None:
    from boostproof.bench.procedures import procedure
    from boostproof.bench.tests import BY_ID
    from boostproof.web.kept_parts import prepare

    for name in _MODULES:
        importlib.import_module(name)
    prepare()
    for test in BY_ID.values():
        procedure(test.id)
