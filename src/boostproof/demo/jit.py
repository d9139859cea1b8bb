"""Compile the scalar loops where numba is installed; without it they run as plain Python, slowly.

The compiler keeps a loop on disk until the file it stands in changes, though a loop takes up what it calls in
other files. Here a change of any file of this package makes it new.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

F = TypeVar("F", bound=Callable[..., object])

if TYPE_CHECKING:

    def compiled(function: F) -> F: ...

else:
    try:
        import numba
    except ImportError:  # the generator works without the compiler, only slower
        numba = None

    def _package_text() -> str:
        """One number for the text of all files of this package."""
        digest = hashlib.blake2b(digest_size=16)
        for file in sorted(Path(__file__).parent.glob("*.py")):
            digest.update(file.name.encode() + b"\0" + file.read_bytes())
        return digest.hexdigest()

    try:
        _TEXT = None if numba is None else _package_text()
    except OSError:  # run from where files cannot be read by themselves
        _TEXT = None

    def compiled(function):
        """``numba.njit`` with the on-disk cache where one can be written, else the function itself."""
        if numba is None:
            return function
        try:
            kept = numba.njit(cache=True)(function)
            index = kept._cache._cache_file
            index._source_stamp = (index._source_stamp, _TEXT)
        except (RuntimeError, AttributeError):  # no folder to write to, or a compiler that keeps loops another way
            return numba.njit(function)
        return kept if _TEXT is not None else numba.njit(function)
