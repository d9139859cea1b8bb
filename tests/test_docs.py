"""What the pages say is true of the code: links, commands, variables and examples."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path

import pytest

from boostproof.casefolder import read_case
from boostproof.cli.commands import boostproof

PAGES = (
    "README.md", "CONTRIBUTING.md", "CHANGELOG.md", "docs/index.md", "docs/formats.md", "docs/safety.md",
    "docs/causes.md", "docs/tests.md", "docs/inference.md", "docs/verdict.md", "docs/history.md", "docs/model.md",
    "docs/confusability.md", "docs/practice.md", "docs/causes-signatures.md", "docs/keeping.md",
    "docs/worksheet.md", "docs/api.md", "docs/report.md",
)  # fmt: skip


def text_of(repository: Path, page: str) -> str:
    return (repository / page).read_text(encoding="utf-8")


def blocks(text: str) -> list[str]:
    """The indented examples of a page."""
    found = re.findall(r"(?:^(?: {4}.*)?\n)+", text, re.MULTILINE)
    return [block for block in (textwrap.dedent(part).strip("\n") for part in found) if block]


@pytest.mark.parametrize("page", PAGES)
def test_every_link_leads_somewhere(repository: Path, page: str) -> None:
    links = re.findall(r"\]\(([^)#]+)[^)]*\)", text_of(repository, page))
    for link in links:
        assert ((repository / page).parent / link).exists(), link


def test_every_command_is_documented_and_every_documented_command_exists(repository: Path) -> None:
    told = " ".join(text_of(repository, page) for page in PAGES)
    code = " ".join(re.findall(r"`[^`\n]+`| {4}boostproof.*", told))
    named = set(re.findall(r"\bboostproof ([a-z]+)\b", code))
    assert named == set(boostproof.commands)


def test_every_variable_that_is_read_is_documented(repository: Path) -> None:
    read: set[str] = set()
    for path in [repository / "dev.py", *(repository / "src").rglob("*.py")]:
        read.update(re.findall(r'"(BOOSTPROOF_[A-Z]+)"', path.read_text(encoding="utf-8")))
    assert read == set(re.findall(r"`(BOOSTPROOF_[A-Z]+)`", text_of(repository, "docs/index.md")))


def test_the_files_of_the_page_on_formats_can_be_read(repository: Path, tmp_path: Path) -> None:
    page = blocks(text_of(repository, "docs/formats.md"))
    car, readings, pulls = (text for text in page if text.startswith("format = 1"))
    (tmp_path / "recordings").mkdir()
    (tmp_path / "recordings" / "log.csv").write_text("time,rpm\n0,1\n", encoding="utf-8")
    for name, text in (("car", car), ("readings", readings), ("pulls", pulls)):
        (tmp_path / f"{name}.toml").write_text(text + "\n", encoding="utf-8")
    case = read_case(tmp_path)
    assert case.car.car.name == "the blue hatchback"
    assert [row.test for row in case.readings.reading] == ["actuator-sweep", "seat-leak"]
    assert [row.file for row in case.pulls.recording] == ["recordings/log.csv"]


def test_the_library_example_of_the_readme_is_python(repository: Path) -> None:
    (example,) = [text for text in blocks(text_of(repository, "README.md")) if "import diagnose" in text]
    compile(example, "README.md", "exec")
