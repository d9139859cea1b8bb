"""Bands, lines and levels over an axis as plain shapes for an SVG that the page's own colours dress.

Nothing here knows a colour or a font: shapes carry names, and the style sheet says how they look in a bright and in
a dark bay. A script may draw a band anew from the same axes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

Numbers = Sequence[float]
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
LEFT, RIGHT, TOP, BOTTOM = 58.0, 14.0, 30.0, 46.0  # room for words around the drawing [px of the view]


@dataclass(frozen=True)
class Tick:
    """One mark of an axis: where it lies in the view, and what it says."""

    at: float
    says: str


@dataclass(frozen=True)
class Axis:
    """A range of numbers and the stretch of the view that it takes.

    Attributes
    ----------
    low, high : numbers at the ends
    begin, end : where these lie in the view [px]
    ticks : round numbers in between
    says : what is measured, with its unit
    """

    low: float
    high: float
    begin: float
    end: float
    ticks: tuple[Tick, ...]
    says: str

    def at(self, value: float) -> float:
        """Where a number lies. [px]"""
        return self.begin + (value - self.low) / (self.high - self.low) * (self.end - self.begin)


@dataclass(frozen=True)
class BandShape:
    """An area between two curves, and the curve in the middle of it; ``look`` names its dress."""

    id: str
    look: str
    says: str
    area: str
    middle: str


@dataclass(frozen=True)
class LineShape:
    """One curve."""

    id: str
    look: str
    says: str
    path: str


@dataclass(frozen=True)
class LevelShape:
    """A line across at one number of the upright axis."""

    id: str
    look: str
    says: str
    at: float


@dataclass(frozen=True)
class Picture:
    """All shapes of one drawing.

    Attributes
    ----------
    id : unique on its page
    says : what it shows, for those who do not see it
    width, height : of the view [px]
    x, y : axes
    bands, lines, levels : from back to front
    small : without words at the axes
    """

    id: str
    says: str
    width: float
    height: float
    x: Axis
    y: Axis
    bands: tuple[BandShape, ...] = ()
    lines: tuple[LineShape, ...] = ()
    levels: tuple[LevelShape, ...] = ()
    small: bool = False


@dataclass(frozen=True)
class Band:
    """A band as it is told: values at the picture's x, in the unit of its y axis."""

    id: str
    look: str
    says: str
    low: Numbers
    middle: Numbers
    high: Numbers
    x: Numbers | None = None


@dataclass(frozen=True)
class Line:
    """A curve as it is told."""

    id: str
    look: str
    says: str
    values: Numbers
    x: Numbers | None = None


@dataclass(frozen=True)
class Level:
    """A level as it is told."""

    id: str
    look: str
    says: str
    value: float


def picture(
    id: str,
    x: Numbers,
    *,
    says: str,
    x_says: str,
    y_says: str,
    bands: Iterable[Band] = (),
    lines: Iterable[Line] = (),
    levels: Iterable[Level] = (),
    y_range: tuple[float, float] | None = None,
    x_range: tuple[float, float] | None = None,
    size: tuple[float, float] = (700.0, 350.0),
    small: bool = False,
    digits: int = 0,
) -> Picture:
    """Lay everything out over its axes.

    Parameters
    ----------
    id : unique on its page
    x : where bands and lines without an x of their own lie
    says, x_says, y_says : words for the whole and for the axes
    bands, lines, levels : what is drawn
    y_range, x_range : ends of the axes; from what is drawn, and nought upwards, where None
    size : of the view [px]
    small : leave the words at the axes out
    digits : of the numbers on the upright axis, at least
    """
    bands, lines, levels = list(bands), list(lines), list(levels)
    drawn: list[Band | Line] = [*bands, *lines]
    across = [v for one in drawn for v in (x if one.x is None else one.x)] or list(x)
    up = [v for b in bands for v in b.high] + [v for line in lines for v in line.values] + [w.value for w in levels]
    low, high = y_range or (min(0.0, *up, 0.0), 1.06 * max(up, default=1.0))
    left, right = x_range or (min(across), max(across))
    width, height = size
    room = (6.0, 6.0, 6.0, 6.0) if small else (LEFT, RIGHT, TOP, BOTTOM)
    horizontal = _axis(left, right, room[0], width - room[1], x_says, 6, 0)
    vertical = _axis(low, high, height - room[3], room[2], y_says, 6, digits)
    return Picture(
        id, says, width, height, horizontal, vertical,
        tuple(
            BandShape(
                b.id, b.look, b.says, area_path(horizontal, vertical, x if b.x is None else b.x, b.low, b.high),
                line_path(horizontal, vertical, x if b.x is None else b.x, b.middle),
            )
            for b in bands
        ),
        tuple(
            LineShape(w.id, w.look, w.says, line_path(horizontal, vertical, x if w.x is None else w.x, w.values))
            for w in lines
        ),
        tuple(LevelShape(w.id, w.look, w.says, round(vertical.at(w.value), 1)) for w in levels),
        small,
    )  # fmt: skip


def line_path(x_axis: Axis, y_axis: Axis, x: Numbers, y: Numbers) -> str:
    """The path of a curve; a gap where a value is no number.

    >>> a = Axis(0.0, 10.0, 0.0, 100.0, (), "")
    >>> line_path(a, a, [0, 5, 10], [0, 1, 2])
    'M0 0L50 10L100 20'
    """
    out, pen = [], "M"
    for one, other in zip(x, y, strict=True):
        if not (math.isfinite(one) and math.isfinite(other)):
            pen = "M"
            continue
        out.append(f"{pen}{_px(x_axis.at(one))} {_px(y_axis.at(other))}")
        pen = "L"
    return "".join(out)


def area_path(x_axis: Axis, y_axis: Axis, x: Numbers, low: Numbers, high: Numbers) -> str:
    """The path of the area between two curves."""
    there = line_path(x_axis, y_axis, x, high)
    back = line_path(x_axis, y_axis, list(reversed(x)), list(reversed(low)))
    return f"{there}L{back[1:]}Z" if there and back else ""


def _axis(low: float, high: float, begin: float, end: float, says: str, most: int, digits: int) -> Axis:
    if high <= low:
        high = low + 1.0
    bare = Axis(low, high, begin, end, (), says)
    step = round_step((high - low) / most)
    places = max(digits, 0, -math.floor(math.log10(step) + 1e-9)) if step < 1.0 else digits
    if step == 2.5:
        places = max(places, 1)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    ticks = tuple(Tick(round(bare.at(k * step), 1), f"{k * step:,.{places}f}") for k in range(first, last + 1))
    return Axis(low, high, begin, end, ticks, says)


def round_step(least: float) -> float:
    """The smallest of the round steps that is not below a number.

    >>> round_step(0.7), round_step(300.0), round_step(21.0)
    (1.0, 500.0, 25.0)
    """
    decade = 10.0 ** math.floor(math.log10(least))
    return next(s * decade for s in _STEPS if s * decade >= least * (1.0 - 1e-9))


def _px(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
