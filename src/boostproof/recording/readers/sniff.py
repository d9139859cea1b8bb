"""Which reader a file needs, by what is in it; what its name ends in is never asked."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from typing import Literal

from boostproof.errors import InputError
from boostproof.recording.readers.foreign import refuse_foreign
from boostproof.recording.readers.limits import open_problem

Kind = Literal["text", "candump", "parquet", "spreadsheet", "measurement", "gzip", "zip"]

_HEAD_BYTES = 65_536
_HEAD_LINES = 40
_ODS = b"application/vnd.oasis.opendocument.spreadsheet"
# The two forms of can-utils (lib.c, sprint_canframe and sprint_long_canframe), with or without a time before.
_FRAME = re.compile(
    r"\s*(?:\([^)]*\)\s+)?[A-Za-z]\S*\s+(?:[RT]X [-B] [-E]\s+)?"
    r"[0-9A-Fa-f]{3,8}(?:#(?:R\d?|#?[0-9A-Fa-f._]*)|\s+\[\d+\])(?:\s.*)?"
)


def sniff(path: Path) -> Kind:
    """What kind of log a file is.

    Parameters
    ----------
    path : the file

    Returns
    -------
    Kind
        "text" for a table in text and for all that is not known: its reader refuses what is none.

    Raises
    ------
    InputError
        If the file cannot be opened, or is of a kind that is not read; the message says which and what to do.
    """
    where = path.name
    try:
        with path.open("rb") as handle:
            head = handle.read(_HEAD_BYTES)
    except OSError as error:
        raise open_problem(path, error) from error
    if head.startswith(b"PAR1"):
        return "parquet"
    if head.startswith((b"MDF     ", b"UnFinMF ")):
        return "measurement"
    if head.startswith(b"\x1f\x8b"):
        return "gzip"
    if head.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return _kind_of_archive(path, where)
    refuse_foreign(head, where)
    return "candump" if _holds_frames(head) else "text"


def _holds_frames(head: bytes) -> bool:
    lines = head.decode("ascii", errors="replace").splitlines()
    some = [line for line in lines[:_HEAD_LINES] if line.strip()]
    return bool(some) and sum(_FRAME.fullmatch(line) is not None for line in some) >= 0.5 * len(some)


def _kind_of_archive(path: Path, where: str) -> Kind:
    """Spreadsheets and much else are zip archives; what they hold tells them apart."""
    try:
        with zipfile.ZipFile(path) as archive:
            names = set(archive.namelist())
            is_ods = "mimetype" in names and archive.open("mimetype").read(len(_ODS)) == _ODS
    except (zipfile.BadZipFile, OSError, NotImplementedError, RuntimeError, EOFError, ValueError) as error:
        raise InputError(
            "This is a spreadsheet or zip archive, and it is damaged or incomplete.",
            kind="binary-file",
            where=where,
            do="Copy or export it again.",
        ) from error
    if is_ods or any(name.startswith("xl/workbook.") for name in names):
        return "spreadsheet"
    for folder, what in (("word/", "a text document"), ("ppt/", "a set of slides"), ("META-INF/", "a document")):
        if any(name.startswith(folder) for name in names):
            raise InputError(
                f"This is {what}, not a log.",
                kind="binary-file",
                where=where,
                do="Export the log itself as CSV (text, separated).",
            )
    return "zip"
