"""Where compiled kernels are kept on disk, and the key that says which text they were compiled from.

Free of numba. A kernel is found again only if the text of the equations, this package's own machinery,
the sizes and the versions are the same, so an edited equation never answers from an old kernel.
"""

from __future__ import annotations

import contextlib
import hashlib
import inspect
import os
import sys
import tempfile
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from types import ModuleType
from typing import Any

_KEEP = 12  # compiled texts kept on disk for each kernel name


def cache_folder() -> Path:
    """Folder for compiled kernels, made if need be; always one that can be written.

    ``BOOSTPROOF_CACHE`` if set, else the platform's folder for caches, else a temporary folder of this
    user (home may be read-only or missing).
    """
    for folder in _candidates():
        if _writable(folder):
            return folder
    return Path(tempfile.mkdtemp(prefix="boostproof-"))


def _candidates() -> Iterable[Path]:
    chosen = os.environ.get("BOOSTPROOF_CACHE")
    if chosen:
        yield Path(chosen) / "kernels"
    with contextlib.suppress(RuntimeError, OSError):  # no home folder known
        yield _user_cache() / "boostproof" / "kernels"
    # The user's number is part of the name, since a temporary folder is shared by all users.
    user = str(os.getuid()) if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")
    yield Path(tempfile.gettempdir()) / f"boostproof-{user}" / "kernels"


def _user_cache() -> Path:
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA")
        return Path(base) if base else Path.home() / "AppData" / "Local"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    base = os.environ.get("XDG_CACHE_HOME")
    return Path(base) if base and os.path.isabs(base) else Path.home() / ".cache"


def _writable(folder: Path) -> bool:
    try:
        # Compiled code is executed when loaded, so no one else may be able to write it.
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if hasattr(os, "getuid") and folder.stat().st_uid != os.getuid():
            return False
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def source_files(
    sources: Sequence[ModuleType | str | Path], functions: Iterable[Callable[..., Any]]
) -> list[Path]:
    """Files whose text decides what a kernel computes, sorted: the given modules, files, folders (all
    ``*.py`` below), the files that *functions* come from, and the kernel machinery beside this file.

    Raises FileNotFoundError for a source that is not there.
    """
    found: set[Path] = set()
    for source in sources:
        name = source.__file__ if isinstance(source, ModuleType) else source
        if name is None:  # a namespace package
            name = next(iter(source.__path__))  # type: ignore[union-attr]
        path = Path(name)
        if isinstance(source, ModuleType) and path.name == "__init__.py":
            path = path.parent
        if path.is_dir():
            found.update(path.rglob("*.py"))
        elif path.is_file():
            found.add(path)
        else:
            raise FileNotFoundError(f"source of a kernel not found: {path}")
    for function in functions:
        name = inspect.getsourcefile(inspect.unwrap(function))
        if name and Path(name).is_file():
            found.add(Path(name))
    here = Path(__file__).parent
    found.update(here / name for name in ("ops.py", "lanes.py", "lanes_cache.py", "lanes_compile.py"))
    return sorted(path.resolve() for path in found)


def digest(files: Iterable[Path], *more: object) -> str:
    """SHA-256 (hex) over the bytes of *files* and the text of *more* (sizes, versions)."""
    sha = hashlib.sha256()
    for path in files:
        data = path.read_bytes()
        sha.update(f"{path.name} {len(data)}\n".encode())
        sha.update(data)
    sha.update(repr(more).encode())
    return sha.hexdigest()


def prune(folder: Path, prefix: str) -> None:
    """Keep only the newest compiled texts whose file names start with *prefix*. Never raises."""
    try:
        files = [p for p in folder.iterdir() if p.name.startswith(prefix)]
        ages: dict[str, float] = {}
        for path in files:
            text = path.name.split(".")[0]
            ages[text] = max(ages.get(text, 0.0), path.stat().st_mtime)
        old = set(sorted(ages, key=lambda text: ages[text], reverse=True)[_KEEP:])
        for path in files:
            if path.name.split(".")[0] in old:
                path.unlink(missing_ok=True)
    except OSError:
        pass
