"""PDF and page: they say what the document says, nothing in it becomes markup, and both stand alone."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import re
import unicodedata
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from tests.unit.report.document.made_results import COMPLAINT, MARKUP
from tests.unit.report.document.words import words_of

from boostproof.errors import InputError
from boostproof.report.document.html import body, page
from boostproof.report.document.pdf import pdf
from boostproof.workflows.report import in_form, write_report

NAMES = ["shop", "customer", "begun"]


def bare(text: str) -> str:
    """Letters only: where a line ends is each form's own."""
    return re.sub(r"\s+", "", unicodedata.normalize("NFKC", text))


class Seen(HTMLParser):
    """What a browser would show and do."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.texts: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self._within: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag in ("style", "svg"):
            self._within.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._within and self._within[-1] == tag:
            self._within.pop()

    def handle_data(self, data: str) -> None:
        if not self._within:
            self.texts.append(data)


@pytest.fixture(scope="session")
def files(documents: dict[str, Any]) -> dict[str, bytes]:
    return {name: pdf(documents[name]) for name in NAMES}


def text_of(file: bytes, title: str) -> str:
    """Of all pages one after the other, without their feet."""
    pages = PdfReader(io.BytesIO(file)).pages
    texts = [bare(one.extract_text()) for one in pages]
    feet = [bare(f"{title}{number}/{len(pages)}") for number in range(1, len(pages) + 1)]
    assert all(foot in text for foot, text in zip(feet, texts, strict=True))
    return "".join(text.replace(foot, "") for foot, text in zip(feet, texts, strict=True))


@pytest.mark.parametrize("name", NAMES)
def test_all_forms_say_the_same(documents: dict[str, Any], files: dict[str, bytes], name: str) -> None:
    document = documents[name]
    on_paper = text_of(files[name], document["title"])
    on_screen = bare("".join(Seen(page(document)).texts))
    assert json.loads(in_form(document, ".json")) == document
    for said in words_of(document):
        assert bare(said) in on_paper, said
        assert bare(said) in on_screen, said


def test_figures_stand_in_both(documents: dict[str, Any], files: dict[str, bytes]) -> None:
    drawn = [b for one in documents["shop"]["sections"] for b in one["blocks"] if b["kind"] == "figure"]
    shown = [attributes for tag, attributes in Seen(page(documents["shop"])).tags if attributes.get("role") == "img"]
    assert [one["aria-label"] for one in shown] == [figure["alt"] for figure in drawn]
    told = [str(node["/Alt"]) for node in nodes(files["shop"]) if "/Alt" in node]
    assert set(told) >= {figure["alt"] for figure in drawn}


def nodes(file: bytes) -> list[Any]:
    """The tags of a PDF."""
    found, left = [], [PdfReader(io.BytesIO(file)).trailer["/Root"]["/StructTreeRoot"]]
    while left:
        node = left.pop().get_object()
        if hasattr(node, "get"):
            found.append(node)
            inside = node.get("/K", [])
            inside = inside.get_object() if hasattr(inside, "get_object") else inside
            left += [one for one in (inside if isinstance(inside, list) else [inside]) if hasattr(one, "get_object")]
    return found


@pytest.mark.parametrize("name", NAMES)
def test_the_pdf_is_tagged_titled_and_holds_its_fonts(documents: dict[str, Any], files: dict[str, bytes], name: str) -> None:
    reader = PdfReader(io.BytesIO(files[name]))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and root["/StructTreeRoot"]["/K"] and root["/Lang"] == "en"
    assert reader.metadata is not None and reader.metadata.title == documents[name]["title"]
    assert "/CreationDate" not in reader.metadata
    assert b"pdfuaid" in files[name] or "pdfuaid" in root["/Metadata"].get_data().decode()
    kinds = {str(node.get("/S")) for node in nodes(files[name])}
    assert {"/H1", "/H2", "/L", "/LI"} <= kinds and (name == "begun" or {"/Table", "/TH", "/Figure"} <= kinds)
    fonts = [font.get_object() for one in reader.pages for font in one["/Resources"]["/Font"].values()]
    assert fonts
    for font in fonts:
        descriptor = font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)


def foot(page: Any) -> float:
    """How much of a page is empty between its last line and its footer. [mm]"""
    lines: list[float] = []

    def seen(text: str, cm: list[float], tm: list[float], *_: Any) -> None:
        if text.strip():
            lines.append(cm[3] * tm[5] + cm[5])

    page.extract_text(visitor_text=seen)
    margin = 20.0 / 25.4 * 72.0
    return (min(y for y in lines if y > margin) - margin) / 72.0 * 25.4


@pytest.mark.parametrize("name", NAMES)
def test_a_figure_leaves_no_hole_in_a_page(files: dict[str, bytes], name: str) -> None:
    *full, _ = PdfReader(io.BytesIO(files[name])).pages
    assert [round(foot(page)) for page in full if foot(page) > 60.0] == []  # what stays together is lower than that


def test_the_same_document_gives_the_same_bytes(documents: dict[str, Any], files: dict[str, bytes]) -> None:
    assert pdf(documents["shop"]) == files["shop"]
    assert page(documents["shop"]) == page(documents["shop"])


def test_no_text_becomes_markup(documents: dict[str, Any], files: dict[str, bytes]) -> None:
    """The car's name and the complaint are read as they were typed; none of it is run, loaded or laid out."""
    document = documents["shop"]
    seen = Seen(page(document))
    texts = "".join(seen.texts)
    assert MARKUP in texts and COMPLAINT in texts and "{{ 7*7 }}" in texts
    allowed = {
        "html", "head", "meta", "title", "style", "body", "main", "article", "header", "section", "h1", "h2", "h3", "p",
        "ul", "ol", "li", "dl", "dt", "dd", "div", "span", "table", "caption", "thead", "tbody", "tr", "th", "td",
        "figure", "figcaption", "svg", "g", "path", "defs", "use", "rect", "clippath", "pattern",
    }  # fmt: skip
    for tag, attributes in seen.tags:
        assert tag in allowed
        assert not [name for name in attributes if name.startswith("on") or name in ("src", "style", "srcset", "action")]
        assert all((value or "").startswith("#") for name, value in attributes.items() if name == "href")
    raw = files["shop"]
    assert b"/URI" not in raw and b"/JavaScript" not in raw and b"/OpenAction" not in raw
    assert b"root:x:" not in raw and bare(MARKUP) in text_of(raw, document["title"])


def test_the_page_allows_itself_nothing_but_its_own_style(documents: dict[str, Any]) -> None:
    text = page(documents["shop"])
    (style,) = re.findall(r"<style>(.*?)</style>", text, re.S)
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]*)"', text)
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    own = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert rules == {"default-src": "'none'", "style-src": f"'sha256-{own}'", "base-uri": "'none'", "form-action": "'none'"}
    assert "url(" not in style and "@import" not in style
    assert "<html" not in body(documents["shop"]) and "<style" not in body(documents["shop"])


def test_letters_without_a_font_stop_no_report(documents: dict[str, Any]) -> None:
    document = {**documents["begun"], "title": "Boost report: 大切な車"}
    root = PdfReader(io.BytesIO(pdf(document))).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and root["/StructTreeRoot"]["/K"]


def test_only_pdf_html_and_json_are_written(documents: dict[str, Any], tmp_path: Path) -> None:
    document = documents["begun"]
    for ending, start in ((".pdf", b"%PDF-"), (".html", b"<!doctype html>"), (".JSON", b"{")):
        assert write_report(document, tmp_path / f"out{ending}").read_bytes().startswith(start)
    with pytest.raises(InputError, match="no name of a report"):
        write_report(document, tmp_path / "out.docx")
    with pytest.raises(InputError, match="cannot be written"):
        write_report(document, tmp_path / "absent" / "out.pdf")
