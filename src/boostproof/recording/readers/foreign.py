"""Files that people drop in by mistake: what each looks like, and what to do about it."""

from __future__ import annotations

import re

from boostproof.errors import InputError

_CSV = "Export the log itself as CSV (text, separated)."
_UNPACK = "Unpack it first, then read the log inside."
_SAVE = "Open it in a spreadsheet program and save it as .xlsx or as CSV (text, separated)."
# First bytes, what the file is, what to do.
_MAGIC: tuple[tuple[bytes, str, str], ...] = (
    (b"\xd0\xcf\x11\xe0", "an old office file, or one with a password", _SAVE),
    (b"%PDF", "a PDF document", _CSV),
    (b"\x89PNG", "a picture", _CSV),
    (b"\xff\xd8\xff", "a picture", _CSV),
    (b"GIF8", "a picture", _CSV),
    (b"II*\x00", "a picture", _CSV),
    (b"MM\x00*", "a picture", _CSV),
    (b"SQLite format 3", "a database", _CSV),
    (b"\x89HDF", "a file of scientific data (HDF5)", _CSV),
    (b"MATLAB ", "a file of matrices", _CSV),
    (b"PARE", "a Parquet file with encrypted contents", "Export it without encryption."),
    (b"7z\xbc\xaf\x27\x1c", "a compressed archive", _UNPACK),
    (b"Rar!", "a compressed archive", _UNPACK),
    (b"BZh", "a compressed file", _UNPACK),
    (b"\xfd7zXZ", "a compressed file", _UNPACK),
    (b"\x28\xb5\x2f\xfd", "a compressed file", _UNPACK),
    (b"{\\rtf", "a text document with formatting", _CSV),
    (b"MZ\x90", "a program", "Choose the log that it recorded."),
    (b"\x7fELF", "a program", "Choose the log that it recorded."),
)
_FILM = re.compile(rb"....ftyp", re.DOTALL)
_SOUND_OR_PICTURE = re.compile(rb"RIFF....(?:WEBP|WAVE|AVI )", re.DOTALL)
_WEB_PAGE = re.compile(rb"\s*(?:<!--.*?-->\s*)?<(?:!doctype\s+html|html|head|body|table|meta|style)\b", re.I | re.S)
_MARKED_UP = re.compile(rb"\s*<\?xml\b", re.I)
_OBJECT = re.compile(rb'\s*(?:\{\s*"|\[\s*[{\["])')


def refuse_foreign(head: bytes, where: str) -> None:
    """Say what a file is that is no log.

    Parameters
    ----------
    head : the first bytes of the file, some thousands
    where : for the error

    Raises
    ------
    InputError
        If the first bytes are those of a kind of file that is not read.
    """
    for magic, what, do in _MAGIC:
        if head.startswith(magic):
            raise _refusal(what, where, do)
    if _FILM.match(head):
        raise _refusal("a film or a picture", where, _CSV)
    if _SOUND_OR_PICTURE.match(head):
        raise _refusal("a film, a picture or a sound", where, _CSV)
    # Marked-up text may be in two-byte units, with a mark before it.
    plain = head.removeprefix(b"\xef\xbb\xbf").removeprefix(b"\xff\xfe").replace(b"\x00", b"")
    if _WEB_PAGE.match(plain):
        raise _refusal("a web page, whatever its name ends in", where, _SAVE)
    if _MARKED_UP.match(plain):
        sheet = b"<Workbook" in plain or b":spreadsheet" in plain
        what = "a spreadsheet in an old text form (XML)" if sheet else "a file of marked-up text (XML)"
        raise _refusal(what, where, _SAVE if sheet else _CSV)
    if _OBJECT.match(plain):
        raise _refusal("a file of nested records (JSON)", where, _CSV)


def _refusal(what: str, where: str, do: str) -> InputError:
    return InputError(f"This is {what}, not a log.", kind="binary-file", where=where, do=do)
