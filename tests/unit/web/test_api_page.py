"""docs/api.md is what the routes make."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tools import api_page

from boostproof.web.app import describe
from boostproof.web.pages.interface import route_rows


def test_the_committed_page_is_what_the_routes_make(repository: Path) -> None:
    page = (repository / "docs" / "api.md").read_text(encoding="utf-8")
    assert page == api_page.page(), "run: python -m tools.api_page"


def test_every_address_and_every_page_is_on_it() -> None:
    rows = route_rows(describe())
    page = api_page.page()
    assert re.findall(r"^- `([A-Z]+) (\S+)`$", page, re.MULTILINE) == [(row.method, row.path) for row in rows]
    assert {row.gives for row in rows if row.gives} <= set(re.findall(r"^- `(\w+)`: ", page, re.MULTILINE))


def test_check_says_when_the_page_is_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(api_page, "PAGE", tmp_path / "api.md")
    monkeypatch.setattr("sys.argv", ["api_page", "--check"])
    assert api_page.main() == 1 and "run: python -m tools.api_page" in capsys.readouterr().err
    monkeypatch.setattr("sys.argv", ["api_page"])
    assert api_page.main() == 0
    monkeypatch.setattr("sys.argv", ["api_page", "--check"])
    assert api_page.main() == 0
