"""Which text encoding a log file is in, or that it is no text at all."""

from __future__ import annotations

import re

from boostproof.errors import InputError
from boostproof.recording.columns.words import fold, word_concepts

_EXPORT = "Export it from the logging software as CSV (text, separated)."
# Western, Central European, Cyrillic, Greek, Turkish; Japanese, Chinese, Korean. The likelier first.
_PAGES = ("cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "cp932", "gb18030", "cp949")
_NOTHING = b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"
_CONTROL = bytes(set(range(32)) - {9, 10, 12, 13, 26, 27})


def find_encoding(data: bytes, where: str) -> str:
    """Encoding of a text file from its bytes: utf-8, utf-16 (-le, -be), or a code page.

    "utf-8-sig" is UTF-8 with a mark before it, or with a few broken bytes.

    Raises
    ------
    InputError
        If the file is empty or not text; the message says what it looks like and what to do.
    """
    head = data[:65536]
    if not head.strip(_NOTHING) and not data.strip(_NOTHING):
        raise InputError(
            "The file is empty.", kind="empty-file", where=where, do="Record or export the log again."
        )
    if data.startswith(b"\xef\xbb\xbf"):
        return "utf-8-sig"
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    if b"\x00" in head:
        return _utf16_without_mark(head, where)
    if len(head.translate(None, _CONTROL)) < 0.98 * len(head):
        raise InputError(
            "This is a binary file, not a text log.", kind="binary-file", where=where, do=_EXPORT
        )
    if data.isascii():
        return "utf-8"
    if is_utf8(data):
        return "utf-8"
    return "utf-8-sig" if _nearly_utf8(data) else _code_page(head)


def is_utf8(data: bytes) -> bool:
    """Whether every byte is part of a sign in UTF-8."""
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _nearly_utf8(data: bytes) -> bool:
    """A few bytes are broken, as at the end of a log that was cut; in a code page hardly any sign fits."""
    text = data.decode("utf-8", errors="replace")
    broken = text.count("\ufffd")
    return broken * 10 <= len(text) - len(text.encode("ascii", "ignore")) - broken


def _code_page(head: bytes) -> str:
    """The code page in which most words with accents or of other alphabets are words of log headers."""
    lines = [line for line in head.splitlines() if not line.isascii()][:20]
    best, most = _PAGES[0], 0
    for page in _PAGES:
        try:
            words = re.findall(r"[^\W\d_]{2,}", b"\n".join(lines).decode(page))
        except UnicodeDecodeError:
            continue
        known = sum(not word.isascii() and word_concepts(fold(word)) is not None for word in words)
        if known > most:
            best, most = page, known
    return best


def _utf16_without_mark(head: bytes, where: str) -> str:
    """Text of our alphabets in two-byte units has a zero in nearly every second byte, on one side only."""
    even, odd = head[0::2], head[1::2]
    zeros = (even.count(0) / len(even), odd.count(0) / max(len(odd), 1))
    if zeros[1] > 0.7 and zeros[0] < 0.05:
        return "utf-16-le"
    if zeros[0] > 0.7 and zeros[1] < 0.05:
        return "utf-16-be"
    raise InputError("This is a binary file, not a text log.", kind="binary-file", where=where, do=_EXPORT)


def decode(data: bytes, encoding: str) -> str:
    """Text with one kind of line end; bytes that the encoding does not know become U+FFFD."""
    text = data.decode(encoding, errors="replace")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text
