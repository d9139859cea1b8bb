"""The pages on causes and tests are what the code makes, hang together, and show what they name."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tools import catalogue_pages

from boostproof.bench.procedures import procedures
from boostproof.diagnosis.causes import CATALOGUE


def test_the_committed_pages_and_drawings_are_what_the_code_makes(repository: Path) -> None:
    assert catalogue_pages.stale(repository / "docs") == [], "run: python -m tools.catalogue_pages"


def test_what_is_not_current_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    catalogue_pages.write(tmp_path)
    page, picture = tmp_path / "tests.md", tmp_path / catalogue_pages.image("hose-flow")
    page.write_text(page.read_text(encoding="utf-8").replace("at most", "at least"), encoding="utf-8")
    picture.write_text(picture.read_text(encoding="utf-8").replace("#a34a06", "#a34a07"), encoding="utf-8")
    assert catalogue_pages.stale(tmp_path) == ["tests.md", "images/set-up-hose-flow.svg"]


def test_every_cause_and_test_has_its_section_and_its_drawing(repository: Path) -> None:
    causes = (repository / "docs" / "causes.md").read_text(encoding="utf-8")
    tests = (repository / "docs" / "tests.md").read_text(encoding="utf-8")
    assert re.findall(r"^### (\S+)$", causes, re.MULTILINE) == [cause.id for cause in CATALOGUE]
    assert re.findall(r"^## (\S+)$", tests, re.MULTILINE) == [one.id for one in procedures()]
    pictures = re.findall(r"\]\((images/[^)]+)\)", tests)
    assert pictures == [catalogue_pages.image(one.figure) for one in procedures() if one.figure]


def test_cautions_stand_before_everything_else_of_a_test(repository: Path) -> None:
    text = (repository / "docs" / "tests.md").read_text(encoding="utf-8")
    for section in re.split(r"^## ", text, flags=re.MULTILINE)[1:]:
        bold = re.findall(r"^\*\*(.+?)\*\*", section, re.MULTILINE)
        assert bold[1] == "Cautions" and bold.index("Steps") > bold.index("Set-up") > 1


@pytest.mark.parametrize("page", ["causes.md", "tests.md"])
def test_links_to_sections_lead_to_one(repository: Path, page: str) -> None:
    docs = repository / "docs"
    for name, anchor in re.findall(r"\]\(([\w.]*)#([\w-]+)\)", (docs / page).read_text(encoding="utf-8")):
        there = (docs / (name or page)).read_text(encoding="utf-8")
        assert re.search(rf"^##+ {anchor}$", there, re.MULTILINE), (name, anchor)
