"""Set-up drawings of the tests, as pages show them."""

from __future__ import annotations

import io
from functools import lru_cache

from fastapi import APIRouter
from starlette.responses import Response

router = APIRouter()
_DRAWING_FOR = "private, max-age=86400"


@router.get("/drawings/{name}.svg", response_class=Response, include_in_schema=False)
def drawing(name: str, bay: str = "bright") -> Response:
    """The set-up drawing of a test."""
    return Response(
        _drawn(name, bay == "dark"), media_type="image/svg+xml", headers={"Cache-Control": _DRAWING_FOR}
    )


@lru_cache(maxsize=64)
def _drawn(name: str, dark: bool) -> bytes:
    import matplotlib

    from boostproof.report.panel import new_figure
    from boostproof.report.setup_drawing import draw_setup, setup_size

    with matplotlib.rc_context({"svg.hashsalt": "boostproof", "svg.fonttype": "path"}):
        figure = new_figure(setup_size(name))
        draw_setup(name, figure, dark=dark)
        out = io.BytesIO()
        figure.savefig(out, format="svg", metadata={"Date": None})
    return out.getvalue()
