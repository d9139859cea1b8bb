"""Draws and fits of earlier diagnoses, kept by content: in memory, and in the user's cache folder.

The key is a hash over all that decides the result: the case's files, the choices made, the text of the
computing packages and the library versions. So a stale answer cannot come back, and any file may be
deleted at any time; the only loss is the time to compute it again.
"""

from __future__ import annotations

import hashlib
import importlib
import json
import os
from collections import OrderedDict
from collections.abc import Mapping
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.physics.lanes_cache import cache_folder
from boostproof.version import __version__

Arrays = dict[str, NDArray[np.float64]]

LARGEST = 200e6  # bytes on disk; the oldest files go first
_IN_MEMORY = 8
_COMPUTING = (
    "physics", "diagnosis", "bench", "car", "recording", "sources", "casefolder", "units", "quantity", "uncertainty",
    "keys", "observation", "workflows.driven", "workflows.reading", "workflows.told", "workflows.open_case",
)  # fmt: skip
_ABOUT = "about"  # array of a kept file that says what it was made from
_memory: OrderedDict[str, Arrays] = OrderedDict()


def key_of(content_hash: str, *choices: object) -> str:
    """Key of a result: the case's content, the choices, the code and the versions."""
    text = "\n".join([content_hash, *map(repr, choices), _code(), __version__, np.__version__, version("scipy")])
    return hashlib.sha256(text.encode()).hexdigest()


@lru_cache(maxsize=1)
def _code() -> str:
    """Hash over the text of everything that computes or reads."""
    digest = hashlib.sha256()
    for name in _COMPUTING:
        module = importlib.import_module(f"boostproof.{name}")
        here = Path(str(module.__file__))
        files = sorted(here.parent.rglob("*.py")) if here.name == "__init__.py" else [here]
        for path in files:
            digest.update(path.read_bytes())
    return digest.hexdigest()


def recall(key: str) -> Arrays | None:
    """The arrays kept under a key, None where there are none (or the file is damaged)."""
    if key in _memory:
        _memory.move_to_end(key)
        return _memory[key]
    path = _folder() / f"{key}.npz"
    try:
        with np.load(path, allow_pickle=False) as kept:
            arrays = {name: kept[name] for name in kept.files if name != _ABOUT}
    except (OSError, ValueError, EOFError):
        return None
    os.utime(path)
    _remember(key, arrays)
    return arrays


def about(key: str) -> dict[str, Any]:
    """What the arrays kept on disk under a key were made from; empty where there are none."""
    try:
        with np.load(_folder() / f"{key}.npz", allow_pickle=False) as kept:
            return dict(json.loads(kept[_ABOUT].tobytes()))
    except (OSError, ValueError, EOFError, KeyError):
        return {}


def keep(key: str, arrays: Arrays, made_from: Mapping[str, Any] | None = None) -> None:
    """Keep arrays under a key. Never raises: a full or read-only disk costs only time later.

    Parameters
    ----------
    key : of the result
    arrays : to keep
    made_from : inputs, seed and versions, so that the result can be made again
    """
    _remember(key, arrays)
    folder = _folder()
    part = folder / f"{key}.{os.getpid()}.part"
    try:
        with part.open("wb") as file:
            said = np.frombuffer(json.dumps(dict(made_from or {})).encode(), np.uint8)
            np.savez(file, allow_pickle=False, **arrays, **{_ABOUT: said})
        part.replace(folder / f"{key}.npz")
        _prune(folder)
    except OSError:
        part.unlink(missing_ok=True)


def _remember(key: str, arrays: Arrays) -> None:
    _memory[key] = arrays
    _memory.move_to_end(key)
    while len(_memory) > _IN_MEMORY:
        _memory.popitem(last=False)


def _folder() -> Path:
    kernels = Path(cache_folder())
    folder = (kernels.parent if kernels.name == "kernels" else kernels) / "draws"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _prune(folder: Path) -> None:
    files = sorted(folder.glob("*.npz"), key=lambda p: p.stat().st_mtime, reverse=True)
    total = 0
    for path in files:
        total += path.stat().st_size
        if total > LARGEST:
            path.unlink(missing_ok=True)
