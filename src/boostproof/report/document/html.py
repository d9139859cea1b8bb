"""The document as HTML: its body for a page of the worksheet, and one page of its own that needs nothing else."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import jinja2

STYLE = "document.css"  # beside this file
_TEMPLATES = ("body.html", "page.html")


def body(document: Mapping[str, Any], *, top: int = 1) -> str:
    """The document as one element, without style; ``top`` is the level of its title."""
    return _template("body.html").render(document=document, top=top)


def page(document: Mapping[str, Any]) -> str:
    """The document as a whole page, which its own content policy keeps from loading anything."""
    style = _read(STYLE)
    allowed = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return _template("page.html").render(document=document, body=body(document), style=style, allowed=allowed)


def load() -> None:
    """Have the templates ready, so that nobody waits for them."""
    for name in _TEMPLATES:
        _template(name)


@lru_cache(maxsize=4)
def _template(name: str) -> jinja2.Template:
    import jinja2

    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(_read(name))


def _read(name: str) -> str:
    return files("boostproof.report.document").joinpath(name).read_text(encoding="utf-8")
