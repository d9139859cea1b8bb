"""The document as PDF: tagged, with its fonts inside, the same bytes from the same document."""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

_SHEET = "document.typ"
# what the accessible form asks of every character; a script that no font here holds is no reason to refuse a report
_NO_SUCH_LETTER = "could not be displayed"


def pdf(document: Mapping[str, Any]) -> bytes:
    """Lay the document out.

    It reaches the sheet as JSON, so that no text in it can be markup; no font of the system, no file and no network
    is used. It is PDF/UA-1 (accessible) wherever every letter has a font; with other letters it is tagged all the same.

    Parameters
    ----------
    document : as in docs/schemas/report-answer.schema.json
    """
    import typst

    sheet = files("boostproof.report.document").joinpath(_SHEET).read_bytes()
    asked: dict[str, Any] = {
        "format": "pdf", "sys_inputs": {"document": json.dumps(document)}, "font_paths": [_fonts()],
        "ignore_system_fonts": True, "timestamp": 0,
    }  # fmt: skip
    try:
        made = typst.compile(sheet, pdf_standards=["ua-1"], **asked)
    except typst.TypstError as error:
        if _NO_SUCH_LETTER not in str(error):
            raise
        made = typst.compile(sheet, **asked)
    assert isinstance(made, bytes)  # one file, handed back
    return made


def _fonts() -> Path:
    """The fonts that the figures are drawn with, for letters that the sheet's own font does not have."""
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"
