"""How large a log may be: far above any drive, far below what fills a workshop's laptop."""

from __future__ import annotations

import stat
from pathlib import Path

from boostproof.errors import InputError

SMALLER = "Cut the log to the part with the pull, or export fewer channels."
MOST_NUMBERS = 60_000_000  # rows times columns: half a gigabyte of float64
MOST_BYTES = 1 << 30  # of a file, and of what a packed file unpacks to


def check_numbers(rows: int, columns: int, where: str) -> None:
    """Refuse a table of more than 60 million numbers.

    Raises
    ------
    InputError
        If ``rows`` times ``columns`` is more than that.
    """
    if rows * columns > MOST_NUMBERS:
        raise InputError(
            f"The table has {rows:,} rows and {columns:,} columns; that is more than this program holds "
            f"({MOST_NUMBERS:,} numbers).",
            kind="too-large",
            where=where,
            do=SMALLER,
        )


def open_problem(path: Path, error: OSError) -> InputError:
    """The error for a file that cannot be opened."""
    return InputError(
        f"The file cannot be opened ({error.strerror or error}).",
        kind="no-file",
        where=str(path),
        do="Check the path and that the file may be read.",
    )


def check_file(path: Path) -> int:
    """Size of a file in bytes.

    Raises
    ------
    InputError
        If it does not exist, is no file, or is larger than a gigabyte.
    """
    try:
        about = path.stat()
    except OSError as error:
        raise open_problem(path, error) from error
    if not stat.S_ISREG(about.st_mode):
        what = "a folder" if stat.S_ISDIR(about.st_mode) else "a device"
        raise InputError(
            f"This is {what}, not a file.", kind="no-file", where=str(path), do="Name the log itself."
        )
    size = about.st_size
    if size > MOST_BYTES:
        raise InputError(
            f"The file is {size / 2**30:.1f} GB large; logs of up to {MOST_BYTES >> 30} GB are read.",
            kind="too-large",
            where=path.name,
            do=SMALLER,
        )
    return size
