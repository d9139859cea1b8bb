"""What takes long to make of a page, kept beside the store so that it is made once, also for those who come later.

A part is found by a hash over all that decides it: what its page names, its shape, and the text of this program. So
none is ever shown old. Any file may be damaged or deleted at any time; the only loss is the time to make it again.
"""

from __future__ import annotations

import contextlib
import hashlib
import logging
import os
import uuid
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import TypeAdapter

from boostproof.jobs.files import LEFT_BEHIND_AFTER, remove_if_older
from boostproof.version import __version__

if TYPE_CHECKING:
    from boostproof.jobs.records import KeptAnswer
    from boostproof.jobs.store import Store

FOLDER = "parts"  # of the store
LARGEST = 100e6  # bytes on disk: of more than a thousand jobs; those that nobody asked for longest go first
_SWEEP_EVERY = 100  # parts made
_DECIDES = {".py", ".toml"}

T = TypeVar("T")
_log = logging.getLogger("boostproof.web")
_shapes: list[type[Any]] = []
_adapters: dict[type[Any], TypeAdapter[Any]] = {}
_made = 0


def kept_part(store: Store, shape: type[T], of: str, make: Callable[[], T]) -> T:
    """A part of a page: from memory, else from the disk, else made and kept. It is shared, so nobody may change it.

    Parameters
    ----------
    store : beside which it is kept
    shape : a frozen dataclass, which JSON can hold; a part that was just made has gone through JSON too
    of : all that decides it, beside this program
    make : makes it; what it raises is raised, and nothing is kept
    """
    key = hashlib.sha256(f"{_program()}\0{shape.__module__}.{shape.__qualname__}\0{of}".encode()).hexdigest()
    return store.memory.lasting(f"part {key}", lambda: _from_disk(store.root / FOLDER / f"{key}.json", shape, make))


def named(kept: KeptAnswer | None) -> str:
    """A kept answer as one of the things that decide a part: such an answer is never changed."""
    return "" if kept is None else f"{kept.kind} {kept.id} {kept.made} {kept.content}"


def keeps(shape: type[T]) -> type[T]:
    """Say that parts of this shape are kept, so that it is made ready ahead; also as a decorator."""
    _shapes.append(shape)
    return shape


def prepare() -> None:
    """Have what every part is found and read by, so that the first page need not wait for it."""
    _program()
    for shape in _shapes:
        _adapter(shape)


def _from_disk(path: Path, shape: type[T], make: Callable[[], T]) -> T:
    adapter = _adapter(shape)
    try:
        found: T = adapter.validate_json(path.read_bytes())
        with contextlib.suppress(OSError):
            os.utime(path)
        return found
    except FileNotFoundError:
        pass
    except (OSError, ValueError) as error:
        _log.info("a kept part is made again: %s", error)
    text = adapter.dump_json(make())
    _keep(path, text)
    return adapter.validate_json(text)


def _keep(path: Path, text: bytes) -> None:
    global _made
    part = path.with_name(f"part-{uuid.uuid4().hex}")
    try:
        path.parent.mkdir(exist_ok=True)
        try:
            part.write_bytes(text)
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
        if _made % _SWEEP_EVERY == 0:
            sweep_parts(path.parent)
        _made += 1
    except OSError as error:  # a full disk: it is made again the next time
        _log.info("a part is not kept: %s", error)


def sweep_parts(folder: Path, largest: float = LARGEST) -> None:
    """Remove unfinished parts, and of the others those asked for longest ago until the rest is small enough."""
    found = []
    for item in folder.iterdir():
        if item.suffix == ".json":
            status = item.stat()
            found.append((status.st_mtime, status.st_size, item))
        else:
            remove_if_older(item, LEFT_BEHIND_AFTER)
    size = sum(one[1] for one in found)
    for _, less, item in sorted(found):
        if size <= largest:
            return
        item.unlink(missing_ok=True)
        size -= less


def _adapter(shape: type[T]) -> TypeAdapter[T]:
    if shape not in _adapters:
        _adapters[shape] = TypeAdapter(shape)
    return _adapters[shape]


@lru_cache(maxsize=1)
def _program() -> str:
    """Hash over the text of all of this program, its words and its catalogue."""
    package = Path(__file__).parent.parent
    total = hashlib.sha256(__version__.encode())
    for file in sorted(path for path in package.rglob("*") if path.suffix in _DECIDES):
        total.update(f"{file.relative_to(package)}\0".encode() + file.read_bytes())
    return total.hexdigest()
