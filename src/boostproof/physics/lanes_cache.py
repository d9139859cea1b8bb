"""Where compiled kernels are kept on disk, and the key that says which text they were compiled from.

Free of numba. A kernel is found again only if the text of the equations, this package's own machinery,
the sizes and the versions are the same, so an edited equation never answers from an old kernel.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.util
import inspect
import os
import sys
import tempfile
from collections.abc import Callable, Iterable, Sequence
from types import ModuleType
from typing import Any, TypeAlias

Source: TypeAlias = ModuleType | str | os.PathLike[str]

_KEEP = 12  # files kept on disk for each kernel name
_HERE = os.path.dirname(os.path.abspath(__file__))


def cache_folder() -> str:
    """Folder for compiled kernels, made if need be; always one that can be written.

    ``BOOSTPROOF_CACHE`` if set, else the platform's folder for caches, else a temporary folder of this
    user (home may be read-only or missing).
    """
    for folder in _candidates():
        if _usable(folder):
            return folder
    return tempfile.mkdtemp(prefix="boostproof-")


def _candidates() -> Iterable[str]:
    chosen = os.environ.get("BOOSTPROOF_CACHE")
    if chosen:
        yield os.path.join(os.path.abspath(chosen), "kernels")
    base = _user_cache()
    if os.path.isabs(base):  # no home is known where "~" stays as it is
        yield os.path.join(base, "boostproof", "kernels")
    # The user's number is part of the name, since a temporary folder is shared by all users.
    user = str(os.getuid()) if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")
    yield os.path.join(tempfile.gettempdir(), f"boostproof-{user}", "kernels")


def _user_cache() -> str:
    if sys.platform == "win32":
        return os.environ.get("LOCALAPPDATA") or os.path.expanduser(r"~\AppData\Local")
    if sys.platform == "darwin":
        return os.path.expanduser("~/Library/Caches")
    base = os.environ.get("XDG_CACHE_HOME", "")
    return base if os.path.isabs(base) else os.path.expanduser("~/.cache")


def _usable(folder: str) -> bool:
    """Made, ours, and open for writing. What lies there is run as code, so it must be nobody else's."""
    try:
        os.makedirs(folder, mode=0o700, exist_ok=True)
        if hasattr(os, "getuid"):
            found = os.stat(folder)
            if found.st_uid != os.getuid() or found.st_mode & 0o022:
                return False
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def source_files(sources: Sequence[Source], functions: Iterable[Callable[..., Any]]) -> list[str]:
    """Files whose text decides what a kernel computes, sorted: the given modules, files, packages and
    folders (all ``*.py`` below), the files that *functions* come from, and the kernel machinery here.

    Raises FileNotFoundError for a source that is not there.
    """
    found: set[str] = set()
    for source in sources:
        path = _location(source)
        if os.path.isdir(path):
            for folder, _, names in os.walk(path):
                found.update(os.path.join(folder, name) for name in names if name.endswith(".py"))
        elif os.path.isfile(path):
            found.add(path)
        else:
            raise FileNotFoundError(f"source of a kernel not found: {path}")
    for function in functions:
        name = inspect.getsourcefile(inspect.unwrap(function))
        if name and os.path.isfile(name):
            found.add(name)
    found.update(os.path.join(_HERE, name) for name in os.listdir(_HERE) if _is_machinery(name))
    return sorted({os.path.realpath(path) for path in found})


def _is_machinery(name: str) -> bool:
    return name.endswith(".py") and name.startswith(("ops", "lanes"))


def _location(source: Source) -> str:
    if not isinstance(source, ModuleType):
        return os.fspath(source)
    if hasattr(source, "__path__"):  # a package: everything below its folder
        return str(next(iter(source.__path__)))
    return str(source.__file__)


def digest(files: Iterable[str], *more: object) -> str:
    """SHA-256 (hex) over the bytes of *files* and the text of *more* (sizes, versions)."""
    sha = hashlib.sha256()
    for path in files:
        with open(path, "rb") as file:
            data = file.read()
        sha.update(f"{os.path.basename(path)} {len(data)}\n".encode())
        sha.update(data)
    sha.update(repr(more).encode())
    return sha.hexdigest()


def compiler_versions() -> list[str]:
    """Python's version and those of numba and llvmlite, read without importing these (which is slow)."""
    versions = [sys.version]
    for name in ("numba", "llvmlite"):
        spec = importlib.util.find_spec(name)
        origin = spec.origin if spec else None
        if origin:
            file = os.path.join(os.path.dirname(origin), "_version.py")
            with open(file if os.path.exists(file) else origin, encoding="utf-8") as text:
                versions.append(text.read())
    return versions


def prune(folder: str, name: str) -> None:
    """Keep only the newest files of the kernel *name*. Never raises."""
    with contextlib.suppress(OSError):
        paths = [os.path.join(folder, n) for n in os.listdir(folder) if n.startswith(f"{name}-")]
        paths.sort(key=lambda path: os.stat(path).st_mtime, reverse=True)
        for path in paths[_KEEP:]:
            os.unlink(path)
