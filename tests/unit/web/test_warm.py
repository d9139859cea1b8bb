"""What is loaded ahead: what the first dropped log needs is there then, and nobody who is being answered waits for it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from boostproof.web import warm
from boostproof.workflows.inspect import inspect

_AHEAD = """
import sys
import boostproof.web.app
from boostproof.web.warm import warm_up
assert "polars" not in sys.modules
warm_up(lambda: False, lambda: False)
loaded = set(sys.modules)
from pathlib import Path
from boostproof.workflows.recording_look import look
place = Path(sys.argv[1])
assert look(place, "recordings/log.csv")["pulls"]
late = sorted(name for name in set(sys.modules) - loaded if name.startswith(("boostproof", "polars")))
assert not late, late
"""


def test_nothing_is_loaded_any_more_when_the_first_log_comes(tmp_path: Path) -> None:
    (tmp_path / "recordings").mkdir()
    (tmp_path / "recordings" / "log.csv").write_text(warm.made_log())
    (tmp_path / "car.toml").write_text('format = 1\n[car]\nname = "Another"\n')
    done = subprocess.run([sys.executable, "-c", _AHEAD, str(tmp_path)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_the_made_log_has_two_pulls_at_full_load(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(warm.made_log())
    assert [pull.full_load for pull in inspect(path).pulls] == [True, True]


def test_each_step_waits_for_those_who_are_answered_and_none_begins_when_the_server_ends(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    happened: list[str] = []
    answers = iter([True, True, False, False, False, False, False])
    monkeypatch.setattr(warm, "_a_log", lambda: happened.append("log"))
    monkeypatch.setattr(warm, "_templates", lambda: happened.append("templates"))
    monkeypatch.setattr(warm, "_modules", lambda: happened.append("modules"))
    monkeypatch.setattr(warm, "_stays", lambda: happened.append("stays"))
    monkeypatch.setattr(warm.time, "sleep", lambda seconds: happened.append("waited"))
    warm.warm_up(lambda: next(answers), lambda: False)
    assert happened == ["waited", "waited", "log", "templates", "modules", "stays"]
    happened.clear()
    warm.warm_up(lambda: True, lambda: True)
    assert happened == []


def test_what_cannot_be_loaded_is_left_to_those_who_need_it(monkeypatch: pytest.MonkeyPatch) -> None:
    happened: list[str] = []

    def full() -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(warm, "_a_log", full)
    monkeypatch.setattr(warm, "_templates", lambda: happened.append("templates"))
    monkeypatch.setattr(warm, "_modules", lambda: happened.append("modules"))
    monkeypatch.setattr(warm, "_stays", lambda: happened.append("stays"))
    warm.warm_up(lambda: False, lambda: False)
    assert happened == ["templates", "modules", "stays"]


_PAGES = """
import asyncio, sys, time
from pathlib import Path
from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.web import kept_parts
from boostproof.web.app import create_app
from boostproof.web.warm import warm_up
from pydantic import TypeAdapter
made = []
init = TypeAdapter.__init__
TypeAdapter.__init__ = lambda self, shape, **how: (made.append(shape), init(self, shape, **how))[1]
with Store.open(Path(sys.argv[1])) as store:
    app = create_app(store, Work(store, works=False))
    warm_up(lambda: False, lambda: False, app.routes)
    assert made and all(shape in kept_parts._adapters for shape in kept_parts._shapes)
    made.clear()
    for route in app.routes:
        route.matches({"type": "http", "method": "GET", "path": "/jobs/1/proof", "root_path": "", "headers": []})
assert not made, made
"""


def test_nothing_is_made_out_any_more_when_the_first_page_is_asked_for(tmp_path: Path) -> None:
    done = subprocess.run([sys.executable, "-c", _PAGES, str(tmp_path)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
