"""A drawn figure into a file: SVG, PNG or PDF, the same bytes on every machine."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from boostproof.errors import InputError
from boostproof.report.panel import new_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_ENDINGS = {".svg", ".png", ".pdf"}


def save_picture(draw: Callable[[Figure], object], file: str | Path, size: tuple[float, float]) -> Path:
    """Draw into a file.

    Parameters
    ----------
    draw : draws on the figure that it is handed
    file : ending in .svg, .png or .pdf
    size : of the figure [inches]

    Raises
    ------
    InputError
        If the name ends in none of these, or the file cannot be written.
    """
    import matplotlib

    path = Path(file)
    if path.suffix.casefold() not in _ENDINGS:
        raise InputError(
            f'"{path.name}" is no name of a picture.', kind="figure-name", where=str(path),
            do="Let it end in .svg, .png or .pdf.",
        )  # fmt: skip
    # Paths for letters and a fixed salt: the same picture on every machine.
    with matplotlib.rc_context({"svg.hashsalt": "boostproof", "svg.fonttype": "path"}):
        figure = new_figure(size)
        draw(figure)
        undated = {"Date": None} if path.suffix.casefold() == ".svg" else {}
        try:
            figure.savefig(path, dpi=150, metadata=undated or None)
        except OSError as error:
            raise InputError(
                f"{path.name} cannot be written ({error.strerror or 'no access'}).", kind="cannot-write",
                where=str(path), do="Name a folder that is there and that you may write to.",
            ) from None  # fmt: skip
    return path
