"""Files that never change under their address: ``/static/<hash>/<name>``.

One hash stands for all of them together, so that a script can import its neighbour by a plain relative
name. The plots' script and style come from an installed package, so that no request leaves the machine.
"""

from __future__ import annotations

import hashlib
import importlib.util
import mimetypes
import time
from functools import lru_cache
from pathlib import Path

from fastapi import APIRouter
from starlette.responses import FileResponse, Response

from boostproof.report import document
from boostproof.report.document.html import STYLE

_FOLDER = Path(__file__).parent / "static"
_PLOT_PACKAGE = "youplot"
_FOR_EVER = "public, max-age=31536000, immutable"
_LOOK_EVERY = 1.0  # s; a page names a dozen of them, and they change only while somebody works on them

router = APIRouter(include_in_schema=False)


@lru_cache(maxsize=1)
def _from_packages() -> dict[str, Path]:
    spec = importlib.util.find_spec(_PLOT_PACKAGE)  # finds it without running it
    if spec is None or not spec.submodule_search_locations:
        raise RuntimeError(f"the package {_PLOT_PACKAGE} is not installed")
    folder = Path(next(iter(spec.submodule_search_locations)))
    found = {name: next(folder.rglob(pattern), None) for name, pattern in
             (("uplot.js", "uplot.iife.min.js"), ("uplot.css", "uplot.min.css"))}
    found["document.css"] = Path(document.__file__).parent / STYLE  # the report's own, wherever it is shown
    return {name: path for name, path in found.items() if path is not None}


def files() -> dict[str, Path]:
    """Every static file by name."""
    own = {path.name: path for path in sorted(_FOLDER.iterdir()) if path.suffix in {".css", ".js", ".svg"}}
    return own | _from_packages()


def _state() -> tuple[tuple[str, int, int], ...]:
    return tuple(
        (name, status.st_mtime_ns, status.st_size)
        for name, path in files().items()
        if (status := path.stat())
    )


@lru_cache(maxsize=4)
def _hash(state: tuple[tuple[str, int, int], ...]) -> str:
    digest = hashlib.sha256()
    present = files()
    for name, _, _ in state:
        digest.update(name.encode() + b"\0" + present[name].read_bytes())
    return digest.hexdigest()[:16]


@lru_cache(maxsize=1)
def _seen(look: int) -> tuple[frozenset[str], str]:
    """Names and hash of the files at one look."""
    return frozenset(files()), _hash(_state())


def _now() -> tuple[frozenset[str], str]:
    return _seen(int(time.monotonic() / _LOOK_EVERY))


def address(name: str) -> str:
    """Where a static file is served.

    Raises
    ------
    KeyError
        If there is no such file.
    """
    names, version = _now()
    if name not in names:
        raise KeyError(f"no static file {name}")
    return f"/static/{version}/{name}"


@router.get("/static/{version}/{name}")
def static_file(version: str, name: str) -> Response:
    """One static file; only under its present hash may it be kept for ever."""
    path = files().get(name)
    if path is None:
        return Response(status_code=404)
    kind = "text/javascript" if path.suffix == ".js" else mimetypes.guess_type(name)[0]
    current = version == _hash(_state())
    return FileResponse(path, media_type=kind, headers={"Cache-Control": _FOR_EVER if current else "no-cache"})
