"""Every word on screen comes from the catalogue, every key is used, and no page carries script or style."""

from __future__ import annotations

import re
from pathlib import Path

import jinja2
import pytest

from boostproof.jobs import STATES
from boostproof.web import words
from boostproof.web.page import _environment

WEB = Path(words.__file__).parent
TEMPLATES = sorted(WEB.glob("templates/**/*.html"))
MODULES = sorted(WEB.glob("**/*.py"))

_WHOLE = re.compile(r"""\bt\(\s*["']([a-z_]+(?:\.[\w -]+)+)["']\s*[,)]""")
_KEY_LIKE = re.compile(r"""["']([a-z_]+(?:\.[\w ]+)+)["']""")
# t("frame.titles." ~ name), t(f"frame.titles.{name}"): all below that table count as used.
_TABLE = re.compile(r"""["']([a-z_]+(?:\.[\w]+)*)\.(?:["']\s*~|\{)""")


def _sources() -> str:
    return "\n".join(path.read_text(encoding="utf-8") for path in [*TEMPLATES, *MODULES])


def test_every_key_that_is_used_exists() -> None:
    known = words.keys()
    used = set(_WHOLE.findall(_sources()))
    assert used, "no key was found: the pattern is wrong"
    assert sorted(used - known) == []


def test_every_key_that_exists_is_used() -> None:
    text = _sources()
    used = set(_KEY_LIKE.findall(text))
    tables = set(_TABLE.findall(text))
    every = words.keys()
    unused = [key for key in every if key not in used and not any(key.startswith(f"{one}.") for one in tables)]
    assert sorted(unused) == []


def test_every_table_that_is_used_exists() -> None:
    known = words.keys()
    for table in set(_TABLE.findall(_sources())):
        if table.split(".")[0] in words.catalogue():
            assert any(key.startswith(f"{table}.") for key in known), table


def test_a_wrong_key_is_refused() -> None:
    for key in ("frame.nothing", "nothing.at.all", "frame.titles", "frame.jobs.more"):
        with pytest.raises(KeyError):
            words.t(key)


def test_one_and_many() -> None:
    assert words.t("frame.holds.readings", n=1) == "1 reading"
    assert words.t("frame.holds.readings", n=3) == "3 readings"


def test_every_state_has_its_word() -> None:
    assert set(words.catalogue()["frame"]["states"]) == set(STATES)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.relative_to(WEB / "templates").as_posix())
def test_a_template_is_sound_and_carries_no_script_style_or_words(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    _environment().parse(text)
    bare = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", "\u2060", text, flags=re.DOTALL)
    assert not re.search(r"<style|\sstyle\s*=|\son\w+\s*=|javascript:", bare, re.IGNORECASE)
    for opening, inside in re.findall(r"<script([^>]*)>(.*?)</script>", bare, re.DOTALL):
        assert "src=" in opening and not inside.strip()
    seen = re.sub(r"<[^>]*>", " ", re.sub(r'[\w-]+="[^"]*"', "", bare))  # macros may hold attributes alone
    said = re.findall(r"[A-Za-z]{2,}", seen.replace("&nbsp;", " ").replace("&amp;", "&"))
    assert [word for word in said if word not in {"open", "checked", "selected", "disabled"}] == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.relative_to(WEB / "templates").as_posix())
def test_nothing_is_loaded_from_elsewhere(path: Path) -> None:
    assert not re.search(r"""(?:src|href|action)\s*=\s*["'](?:https?:)?//""", path.read_text(encoding="utf-8"))


def test_templates_escape_and_refuse_what_is_missing() -> None:
    environment = _environment()
    assert environment.autoescape is True
    assert environment.undefined is jinja2.StrictUndefined
    assert not [path for path in TEMPLATES if re.search(r"\|\s*safe\b", path.read_text(encoding="utf-8"))]


def test_words_are_plain() -> None:
    """No statistics words and no log headers on screen."""
    odd = re.compile(r"\b(posterior|prior|ensemble|nats|likelihood|p-value|MAP|WGDC|AFR|mapping)\b")

    def texts(table: object) -> list[str]:
        return [text for one in table.values() for text in texts(one)] if isinstance(table, dict) else [str(table)]

    assert [text for text in texts(words.catalogue()) if odd.search(text)] == []
