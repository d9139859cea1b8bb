"""A pen that writes SVG with classes only: no style attribute, colours from the page that shows it.

One unit of the sheet is 10 pixels. What moves, flows or shows a number carries ``data-`` attributes that a script
reads; `moved` applies the same ones here for a still picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import escape
from typing import Any

from boostproof.report.drawing_symbols import Palette, Pen, Point, corners

UNIT = 10.0  # pixels of a unit of the sheet
_POINT = 1.389  # pixels of a point, at the size for which symbols are made
CLASSES = Palette("paper", "ink", "metal", "shop", "tint", "gas")  # colours of a page, by the classes that name them
_ANCHOR = {"center": "middle", "left": "start", "right": "end"}


@dataclass(frozen=True)
class SvgPen(Pen):
    """Writes elements of an SVG document.

    Attributes
    ----------
    parts : what was written, in order
    values : of what moves, by name; empty leaves everything at rest
    """

    parts: list[str] = field(default_factory=list, repr=False)
    values: Mapping[str, float] = field(default_factory=dict)

    def element(self, name: str, inside: str = "", **attributes: Any) -> None:
        """One element; ``data_flow`` becomes ``data-flow``, ``class_`` becomes ``class``; None is left out."""
        self.parts.append(f"<{name}{_attributes(attributes)}" + (f">{inside}</{name}>" if inside else "/>"))

    @contextmanager
    def group(self, **attributes: Any) -> Iterator[None]:
        """A group; one that turns, slides or is squeezed stands where the values put it."""
        change = moved(attributes, self.values)
        if change and "transform" not in attributes:
            attributes = {**attributes, "transform": change}
        self.parts.append(f"<g{_attributes(attributes)}>")
        yield
        self.parts.append("</g>")

    def line(self, points: Sequence[Point], colour: str, width: float, **more: Any) -> None:
        """A line with round corners and ends."""
        butt = "butt" if more.get("solid_capstyle") == "butt" else ""
        extra = {key: value for key, value in more.items() if key.startswith(("data_", "stroke_", "class_"))}
        kind = extra.pop("class_", "")
        self.element(
            "path", d=path_of(points), class_=" ".join(f"drawn {colour} {kind} {butt}".split()),
            stroke_width=_short(_POINT * width), **extra,
        )  # fmt: skip

    def curve(self, points: Sequence[Point], colour: str, width: float, radius: float, **more: Any) -> None:
        """A line along the points whose corners are rounded with a radius."""
        kind = more.pop("class_", "")
        width_ = more.pop("stroke_width", _short(_POINT * width))
        self.element(
            "path", d=path_of(points, radius), class_=f"drawn {colour} {kind}".strip(), stroke_width=width_, **more
        )

    def shape(self, points: Sequence[Point], *, shop: bool = False, zorder: float = 3, **more: Any) -> None:
        """A filled outline."""
        self.element("path", d=path_of(points) + "Z", **self._filled(shop, more))

    def disc(self, x: float, y: float, r: float, *, shop: bool = False, **more: Any) -> None:
        """A filled circle."""
        self.element("circle", cx=_x(x), cy=_y(y), r=_short(UNIT * r), **self._filled(shop, more))

    def box(self, x: float, y: float, w: float, h: float, *, shop: bool = False, **more: Any) -> None:
        """A filled box with round corners, about its centre."""
        self.element(
            "rect", x=_x(x - w / 2), y=_y(y + h / 2), width=_short(UNIT * w), height=_short(UNIT * h),
            rx=_short(UNIT * min(0.6, 0.25 * min(w, h))), **self._filled(shop, more),
        )  # fmt: skip

    def say(self, key: str, x: float, y: float, *, at: str = "center", shop: bool = False, **more: Any) -> None:
        """A word beside its symbol; ``at`` is the side of the text that lies on x."""
        self.text(self.word(key), x, y, at=at, kind=more.get("kind", "name"))

    def text(self, words: str, x: float, y: float, *, at: str = "center", kind: str = "name", **more: Any) -> None:
        """Words as they are, line by line."""
        rows = words.split("\n")
        inside = escape(rows[0]) if len(rows) == 1 else "".join(
            f'<tspan x="{_x(x)}" dy="{0 if i == 0 else 1.15}em">{escape(row)}</tspan>' for i, row in enumerate(rows)
        )  # fmt: skip
        self.element("text", inside or " ", x=_x(x), y=_y(y), class_=kind, text_anchor=_ANCHOR[at], **more)

    def arrow(self, start: Point, end: Point, colour: str, width: float = 1.7) -> None:
        """A plain arrow."""
        (ax, ay), (bx, by) = start, end
        length = max(((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5, 1e-9)
        ux, uy = (bx - ax) / length, (by - ay) / length
        head = [(bx, by), (bx - 1.1 * ux + 0.55 * uy, by - 1.1 * uy - 0.55 * ux),
                (bx - 1.1 * ux - 0.55 * uy, by - 1.1 * uy + 0.55 * ux)]  # fmt: skip
        self.line([start, (bx - 0.8 * ux, by - 0.8 * uy)], colour, width)
        self.element("path", d=path_of(head) + "Z", class_=f"head {colour}")

    def _filled(self, shop: bool, more: Mapping[str, Any]) -> dict[str, Any]:
        edge, face = self.pair(shop)
        extra = {key: value for key, value in more.items() if key.startswith(("data_", "stroke_"))}
        face = more.get("facecolor", face)
        kind = f"fill-{face} {more.get('edgecolor', edge)} {more.get('class_', '')}".strip()
        return {"class_": kind, "stroke_width": _short(_POINT * more.get("linewidth", 1.7)), **extra}


def moved(attributes: Mapping[str, Any], values: Mapping[str, float]) -> str:
    """The transform of a group that turns, slides or is squeezed, for values by name; empty at rest.

    >>> moved({"data_turn": "gate_open 38 296 380"}, {"gate_open": 0.5})
    'rotate(19 296 380)'
    >>> moved({"data_slide": "ball_open -20 0 0.5"}, {"ball_open": 0.25})
    'translate(-10 0)'
    """
    for name, make in _MOVES.items():
        if name in attributes:
            quantity, *numbers = str(attributes[name]).split()
            share = min(max(values.get(quantity, 0.0), 0.0), 1.0)
            return make(share, [float(n) for n in numbers]) if share else ""
    return ""


def _turned(share: float, n: Sequence[float]) -> str:
    return f"rotate({_short(share * n[0])} {_short(n[1])} {_short(n[2])})"


def _slid(share: float, n: Sequence[float]) -> str:
    along = share ** (n[2] if len(n) > 2 else 1.0)
    return f"translate({_short(along * n[0])} {_short(along * n[1])})"


def _squeezed(share: float, n: Sequence[float]) -> str:
    """Towards x (or y) = n[0], to the share n[1] of its length at full travel; n[2] is 1 where along y."""
    left = 1.0 - share * (1.0 - n[1])
    shift = _short(n[0] * (1.0 - left))
    return f"translate(0 {shift}) scale(1 {_short(left)})" if n[2] else f"translate({shift} 0) scale({_short(left)} 1)"


_MOVES: dict[str, Callable[[float, Sequence[float]], str]] = {
    "data_turn": _turned, "data_slide": _slid, "data_squeeze": _squeezed,
}  # fmt: skip


def path_of(points: Sequence[Point], radius: float = 0.0) -> str:
    """Path data through points, with rounded corners where a radius is given.

    >>> path_of([(0.0, 0.0), (1.0, -2.0)])
    'M0 0L10 20'
    """
    if not radius:
        return "M" + "L".join(f"{_x(x)} {_y(y)}" for x, y in points)
    out = [f"M{_x(points[0][0])} {_y(points[0][1])}"]
    for begin, corner, end in corners(points, radius):
        out.append(f"L{_x(begin[0])} {_y(begin[1])}Q{_x(corner[0])} {_y(corner[1])} {_x(end[0])} {_y(end[1])}")
    return "".join(out) + f"L{_x(points[-1][0])} {_y(points[-1][1])}"


def _x(x: float) -> str:
    return _short(UNIT * x)


def _y(y: float) -> str:
    return _short(-UNIT * y)


def _short(number: float) -> str:
    """A number without needless digits, never "-0"."""
    return f"{round(number, 2) + 0.0:g}"


def _attributes(attributes: Mapping[str, Any]) -> str:
    return "".join(
        f' {name.rstrip("_").replace("_", "-")}="{escape(str(value))}"'
        for name, value in attributes.items()
        if value is not None and value != ""
    )
