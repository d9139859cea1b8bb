"""Compile the scalar loops where numba is installed; without it they run as plain Python, slowly."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

F = TypeVar("F", bound=Callable[..., object])

if TYPE_CHECKING:

    def compiled(function: F) -> F: ...

else:
    try:
        import numba
    except ImportError:  # the generator works without the compiler, only slower
        numba = None

    def compiled(function):
        """``numba.njit`` with the on-disk cache where one can be written, else the function itself."""
        if numba is None:
            return function
        try:
            return numba.njit(cache=True)(function)
        except RuntimeError:  # no folder to keep the cache in (read-only install and home)
            return numba.njit(function)
