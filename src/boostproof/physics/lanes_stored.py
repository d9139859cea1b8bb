"""Compiled kernels on disk: numba's own cache with our folder and our key. Needs numba."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

from numba.core.caching import CompileResultCacheImpl, FunctionCache

from boostproof.physics import lanes_cache

# numba's extension points are only partly typed.
# mypy: disable-error-code="no-untyped-call"


class _Locator:
    """Tells numba's cache where to keep a kernel: a folder of ours, a file name with the key."""

    def __init__(self, key: str) -> None:
        self._key = key
        self._folder = lanes_cache.cache_folder()
        self._py_file = __file__

    def ensure_cache_path(self) -> None:
        os.makedirs(self._folder, exist_ok=True)

    def get_cache_path(self) -> str:
        return self._folder

    def get_source_stamp(self) -> str:
        return self._key

    def get_disambiguator(self) -> str:
        return self._key[:16]


class _Entry(CompileResultCacheImpl):
    """File names and (de)serialising for one kernel."""

    def __init__(self, function: Callable[..., Any], key: str, name: str) -> None:
        self._lineno = function.__code__.co_firstlineno
        self._locator = _Locator(key)
        self._filename_base = self.get_filename_base(name, "")


class StoredKernel(FunctionCache):
    """numba's cache on disk for the one function *function*, keyed by the text of the equations.

    Files are written under another name and then moved, so that processes may share the folder.
    Nothing that is wrong with the disk makes a run fail: the kernel is then compiled anew.
    """

    def __init__(self, function: Callable[..., Any], key: str, name: str) -> None:
        self._key, self._kernel_name = key, name
        self._impl_class: Any = lambda f: _Entry(f, key, name)
        super().__init__(function)

    def _index_key(self, sig: Any, codegen: Any) -> Any:
        # Not numba's own key, which holds pickled functions and so differs from process to process.
        return sig, codegen.magic_tuple(), self._key

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        try:
            return super().load_overload(sig, target_context)
        except Exception:  # whatever a damaged file may raise
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        try:
            try:
                super().save_overload(sig, data)
            except Exception:  # a damaged index is read before it is written
                self.flush()
                super().save_overload(sig, data)
        except OSError:  # disk full or taken away
            return
        lanes_cache.prune(str(self._cache_path), self._kernel_name)
