"""Small pure pieces of the store."""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Iterable, Mapping
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

from boostproof.version import __version__

if TYPE_CHECKING:
    from boostproof.jobs.files import Entry
    from boostproof.jobs.records import StoredFile


def packed(value: Any) -> str:
    """JSON that is the same for the same value; NaN and infinity are a fault of ours and raise ValueError."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))


def content_of(files: Iterable[StoredFile | Entry]) -> str:
    """Hash over the paths and sha256 of files, in whatever order."""
    total = hashlib.sha256()
    for path, digest in sorted((file.path, file.sha256) for file in files):
        total.update(f"{path}\0{digest}\n".encode())
    return total.hexdigest()


def versions_of(answer: Mapping[str, Any]) -> dict[str, str]:
    """Versions that an answer says it was made with, else those here."""
    told = answer.get("versions")
    if isinstance(told, Mapping):
        return {str(name): str(number) for name, number in told.items()}
    here = {name: version(name) for name in ("numpy", "scipy")}
    return {"boostproof": __version__, "python": platform.python_version(), **here}
