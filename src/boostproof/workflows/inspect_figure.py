"""The picture of an inspection: its pulls, and where the compressor's map is known the operating line on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from boostproof.errors import InputError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from boostproof.recording.model import Pull
    from boostproof.report.boost_figure import BoostLine
    from boostproof.workflows.inspect import Inspection

ONE, TWO = (9.0, 5.4), (14.0, 5.8)  # inches, of one panel and of two side by side
_SIDE_BY_SIDE = 1.3  # width over height from which two panels stand side by side


def write_figure(inspection: Inspection, file: str | Path, *, units: str = "psi") -> Path:
    """Draw an inspection into an SVG, PNG or PDF file.

    Parameters
    ----------
    inspection : finished
    file : where to, by its ending
    units : of boost

    Raises
    ------
    InputError
        If no pull holds boost, the name ends in none of these, or the file cannot be written.
    """
    from boostproof.report.picture import save_picture

    size = TWO if _line_to_show(inspection) is not None else ONE
    return save_picture(lambda figure: draw_inspection(inspection, figure, units=units), file, size)


def draw_inspection(inspection: Inspection, figure: Figure, *, units: str = "psi") -> list[Axes]:
    """Boost over engine speed, and beside it (below it on a narrow figure) the compressor's map.

    Parameters
    ----------
    inspection : finished
    figure : to draw on
    units : of boost

    Returns
    -------
    list of Axes
        One panel, or two where a map is known.

    Raises
    ------
    InputError
        If no full-load pull holds boost.
    """
    from boostproof.report.boost_figure import draw_boost
    from boostproof.report.compressor_figure import draw_compressor

    lines = boost_lines(inspection)
    name = inspection.recording.file
    if not lines:
        raise InputError(
            "No full-load pull with boost was found, so there is nothing to draw.", kind="no-pull", where=name,
            do="See what it holds with 'boostproof inspect'.",
        )  # fmt: skip
    number = _line_to_show(inspection)
    table = inspection.figures.compressor
    if number is None or table is None:
        return [draw_boost(lines, figure.add_subplot(), name=name, units=units)]
    from boostproof.physics.compressor_points import map_mesh

    wide, high = figure.get_size_inches()
    beside = wide >= _SIDE_BY_SIDE * high
    left, right = figure.subplots(1, 2) if beside else figure.subplots(2, 1)
    draw_boost(lines, left, name=name, units=units, number=number)
    line = inspection.figures.pulls[number - 1].operating_line
    assert line is not None  # or it would not be the one to show
    draw_compressor(map_mesh(table), map_mesh(table, between=6), line, right, number=number)
    return [left, right]


def boost_lines(inspection: Inspection) -> list[BoostLine]:
    """The full-load pulls that hold boost, each ready to draw."""
    found = []
    for number, pull in enumerate(inspection.pulls, 1):
        line = _boost_line(number, pull) if pull.full_load else None
        if line is not None:
            found.append(line)
    return found


def _boost_line(number: int, pull: Pull) -> BoostLine | None:
    from boostproof.recording.pulls.curve import curve_of
    from boostproof.recording.pulls.measured import sensor_doubt
    from boostproof.report.boost_figure import BoostLine

    try:
        curve = curve_of(pull)
    except InputError:  # no boost, or too little of it
        return None
    doubt = sensor_doubt(pull.recording)
    sd = np.sqrt(curve.noise**2 + doubt.offset**2 + (doubt.scale * curve.boost) ** 2)
    m = pull.metrics
    plateau = m.get("plateau_kpa_gauge")
    return BoostLine(
        number, curve.rpm, curve.boost, sd, _point(pull, "knee"), None if plateau is None else plateau.value,
        _point(pull, "peak"),
    )  # fmt: skip


def _point(pull: Pull, name: str) -> tuple[float, float] | None:
    rpm, boost = pull.metrics.get(f"{name}_rpm"), pull.metrics.get(f"{name}_kpa_gauge")
    return None if rpm is None or boost is None else (rpm.value, boost.value)


def _line_to_show(inspection: Inspection) -> int | None:
    """Number of the pull whose operating line is drawn: that of the boost panel; None without a map."""
    from boostproof.report.boost_figure import longest

    figures = inspection.figures.pulls
    lines = [
        line
        for line in boost_lines(inspection)
        if (drawn := figures[line.number - 1].operating_line) is not None and drawn.on_map is not None
    ]
    return longest(lines).number if lines else None
