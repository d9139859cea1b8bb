"""What disk and database refuse, said for people."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from boostproof.errors import BoostproofError, InputError

# Primary result codes of SQLite (sqlite.org/rescode.html) that a person can do something about.
_DATABASE = {
    sqlite3.SQLITE_FULL: "full",
    sqlite3.SQLITE_READONLY: "read-only",
    sqlite3.SQLITE_CANTOPEN: "read-only",
    sqlite3.SQLITE_PERM: "read-only",
    sqlite3.SQLITE_BUSY: "busy",
    sqlite3.SQLITE_CORRUPT: "damaged",
    sqlite3.SQLITE_NOTADB: "damaged",
    sqlite3.SQLITE_IOERR: "unreadable",
}
_FILES = {
    errno.ENOSPC: "full",
    errno.EDQUOT: "full",
    errno.EROFS: "read-only",
    errno.EACCES: "read-only",
    errno.EPERM: "read-only",
    errno.EIO: "unreadable",
}
_SAYS = {
    "full": (
        "The disk is full; nothing of this was kept, and what was kept before is whole.",
        "Free some space on that disk and save again.",
    ),
    "read-only": (
        "The jobs cannot be written here.",
        "Allow writing in this folder, or set BOOSTPROOF_DATA to a folder that can be written.",
    ),
    "busy": (
        "Another program held the jobs for too long; nothing of this was kept.",
        "Close other programs that have this folder open, and save again.",
    ),
    "damaged": (
        "The list of jobs is damaged and cannot be read. The files themselves lie beside it, in the folder 'files'.",
        "Keep a copy of the whole folder, then put a backup in its place, or move the damaged file away to "
        "start with an empty list.",
    ),
    "unreadable": (
        "The disk answered with an error.",
        "Copy the whole folder to another disk, and set BOOSTPROOF_DATA to the copy.",
    ),
}


def said(kind: str, where: Path | str) -> InputError:
    """The error of one kind of trouble."""
    says, do = _SAYS[kind]
    return InputError(says, kind=f"store-{kind}", where=str(where), do=do)


@contextmanager
def explained(where: Path) -> Iterator[None]:
    """Raise what disk and database refuse as an `InputError` that says what to do; the rest goes through."""
    try:
        yield
    except BoostproofError:
        raise
    except (DBAPIError, sqlite3.Error) as error:
        kind = _kind_of(error.orig if isinstance(error, DBAPIError) else error)
        if kind is None:
            raise
        raise said(kind, where) from error
    except OSError as error:
        kind = _FILES.get(error.errno or 0)
        if kind is None:
            raise
        raise said(kind, error.filename or where) from error


def _kind_of(error: BaseException | None) -> str | None:
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:  # not a database at all is told before there is a code
        return "damaged" if isinstance(error, sqlite3.DatabaseError) and "not a database" in str(error) else None
    return _DATABASE.get(code & 0xFF)
