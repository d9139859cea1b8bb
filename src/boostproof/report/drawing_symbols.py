"""Symbols of all line drawings: what the shop brings in colour, what is on the car in ink.

One unit of a sheet is 10 pixels at the size for which it is made; a set-up drawing is 40 units wide. Every
symbol is a plain function of a pen and a place; pens draw on a figure or write an SVG document.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Point = tuple[float, float]

WIDTH = 40.0
FONT = 8.3  # points; 11.5 pixels at a width of 400
THIN, MEDIUM, THICK = 1.1, 1.7, 2.8


@dataclass(frozen=True)
class Palette:
    """Colours of one background.

    Attributes
    ----------
    paper : background
    ink, metal : lines and filling of what is on the car
    shop, tint : lines and filling of what the shop brings
    gas : exhaust gas
    """

    paper: str
    ink: str
    metal: str
    shop: str
    tint: str
    gas: str


LIGHT = Palette("#fbfaf6", "#22303c", "#e3e6e3", "#a34a06", "#f6dfc8", "#1d625e")
DARK = Palette("#171d23", "#e8e6df", "#333e47", "#f2a65f", "#4d3218", "#7fc4be")


@dataclass(frozen=True)
class Pen(ABC):
    """What draws: colours, and the words of a language by their keys. Places are in units of the sheet, y upwards."""

    colours: Palette
    word: Callable[[str], str]

    @abstractmethod
    def line(self, points: Sequence[Point], colour: str, width: float, **more: Any) -> None:
        """A line with round corners and ends."""

    @abstractmethod
    def curve(self, points: Sequence[Point], colour: str, width: float, radius: float) -> None:
        """A line along the points whose corners are rounded with a radius."""

    @abstractmethod
    def shape(self, points: Sequence[Point], *, shop: bool = False, zorder: float = 3, **more: Any) -> None:
        """A filled outline."""

    @abstractmethod
    def disc(self, x: float, y: float, r: float, *, shop: bool = False, **more: Any) -> None:
        """A filled circle."""

    @abstractmethod
    def box(self, x: float, y: float, w: float, h: float, *, shop: bool = False, **more: Any) -> None:
        """A filled box with round corners, about its centre."""

    @abstractmethod
    def say(self, key: str, x: float, y: float, *, at: str = "center", shop: bool = False, **more: Any) -> None:
        """A word beside its symbol; ``at`` is the side of the text that lies on x."""

    @abstractmethod
    def arrow(self, start: Point, end: Point, colour: str, width: float = MEDIUM) -> None:
        """A plain arrow."""

    def pair(self, shop: bool) -> tuple[str, str]:
        """Line and filling."""
        c = self.colours
        return (c.shop, c.tint) if shop else (c.ink, c.metal)


@dataclass(frozen=True)
class FigurePen(Pen):
    """Draws on the axes of a figure."""

    ax: Axes

    def line(self, points: Sequence[Point], colour: str, width: float, **more: Any) -> None:
        """A line with round corners and ends."""
        x, y = zip(*points, strict=True)
        style: dict[str, Any] = {"solid_capstyle": "round", "solid_joinstyle": "round", "zorder": 2} | more
        self.ax.plot(x, y, color=colour, linewidth=width, **style)

    def shape(self, points: Sequence[Point], *, shop: bool = False, zorder: float = 3, **more: Any) -> None:
        """A filled outline."""
        from matplotlib.patches import Polygon

        edge, face = self.pair(shop)
        style: dict[str, Any] = {"edgecolor": edge, "facecolor": face, "linewidth": MEDIUM} | more
        self.ax.add_patch(Polygon(list(points), closed=True, zorder=zorder, joinstyle="round", **style))

    def disc(self, x: float, y: float, r: float, *, shop: bool = False, **more: Any) -> None:
        """A filled circle."""
        from matplotlib.patches import Circle

        edge, face = self.pair(shop)
        style: dict[str, Any] = {"edgecolor": edge, "facecolor": face, "linewidth": MEDIUM, "zorder": 3} | more
        self.ax.add_patch(Circle((x, y), r, **style))

    def box(self, x: float, y: float, w: float, h: float, *, shop: bool = False, **more: Any) -> None:
        """A filled box with round corners, about its centre."""
        from matplotlib.patches import FancyBboxPatch

        edge, face = self.pair(shop)
        style: dict[str, Any] = {"edgecolor": edge, "facecolor": face, "linewidth": MEDIUM, "zorder": 3} | more
        corner = f"round,pad=0,rounding_size={min(0.6, 0.25 * min(w, h)):.2f}"
        self.ax.add_patch(FancyBboxPatch((x - w / 2, y - h / 2), w, h, boxstyle=corner, **style))

    def say(self, key: str, x: float, y: float, *, at: str = "center", shop: bool = False, **more: Any) -> None:
        """A word beside its symbol; ``at`` is the side of the text that lies on x."""
        edge, _ = self.pair(shop)
        place: dict[str, Any] = {"ha": at, "va": "center_baseline", "linespacing": 1.1, "zorder": 6}
        style: dict[str, Any] = {"fontsize": FONT, "color": edge} | place | more
        self.ax.text(x, y, self.word(key), **style)

    def arrow(self, start: Point, end: Point, colour: str, width: float = MEDIUM) -> None:
        """A plain arrow."""
        style: dict[str, Any] = {
            "arrowstyle": "-|>,head_width=0.22,head_length=0.42", "color": colour, "linewidth": width,
            "shrinkA": 0, "shrinkB": 0, "mutation_scale": 14,
        }  # fmt: skip
        self.ax.annotate("", end, start, zorder=4, arrowprops=style)

    def curve(self, points: Sequence[Point], colour: str, width: float, radius: float) -> None:
        """A line along the points whose corners are rounded with a radius."""
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path

        where, codes = [points[0]], [Path.MOVETO]
        for turn in corners(points, radius):
            where += turn
            codes += [Path.LINETO, Path.CURVE3, Path.CURVE3]
        path = Path([*where, points[-1]], [*codes, Path.LINETO])
        self.ax.add_patch(
            PathPatch(path, facecolor="none", edgecolor=colour, linewidth=width, zorder=2, capstyle="round")
        )


# -- lines ------------------------------------------------------------------------------------------


def hose(pen: Pen, points: Sequence[Point], *, shop: bool = True, radius: float = 1.2) -> None:
    """A hose along the points, its corners rounded."""
    pen.curve(points, pen.pair(shop)[0], THICK, radius)


def corners(points: Sequence[Point], radius: float) -> list[tuple[Point, Point, Point]]:
    """Every inner corner with where its rounding begins and ends."""
    out = []
    for before, corner, after in zip(points, points[1:], points[2:], strict=False):
        r = min(radius, math.dist(before, corner) / 2, math.dist(corner, after) / 2)
        out.append((_toward(corner, before, r), corner, _toward(corner, after, r)))
    return out


def _toward(start: Point, end: Point, length: float) -> Point:
    share = length / math.dist(start, end)
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def pipe(pen: Pen, points: Sequence[Point], *, bore: float = 1.6) -> None:
    """A wide pipe of the car: two walls and the space between."""
    pipes(pen, [(points, bore)])


def pipes(pen: Pen, ways: Sequence[tuple[Sequence[Point], float]]) -> None:
    """Wide pipes that open into each other where they meet: points and bore of each."""
    edge, face = pen.pair(False)
    # a unit is 7.2 points at the size for which a sheet is made
    for more, colour in ((3.2, edge), (0.0, face)):
        for points, bore in ways:
            pen.line(points, colour, 7.2 * bore + more, solid_capstyle="butt", zorder=2.2)


def hiss(pen: Pen, x: float, y: float, *, shop: bool = False) -> None:
    """Air that leaves: three short strokes downwards."""
    edge, _ = pen.pair(shop)
    for slope in (-0.55, 0.0, 0.55):
        pen.line([(x + 0.5 * slope, y), (x + 1.7 * slope, y - 1.3)], edge, THIN)


# -- what the shop brings ---------------------------------------------------------------------------


def supply(pen: Pen, x: float, y: float) -> None:
    """Shop air, 6.4 wide, its outlet on the right."""
    pen.box(x, y, 6.4, 2.8, shop=True)
    pen.say("shop-air", x, y, shop=True, fontweight="bold")


def shut_off(pen: Pen, x: float, y: float, *, label: bool = True) -> None:
    """A shut-off in the line."""
    for side in (-1, 1):
        pen.shape([(x, y), (x + side * 1.2, y + 0.85), (x + side * 1.2, y - 0.85)], shop=True)
    pen.line([(x, y), (x, y + 1.5)], pen.colours.shop, MEDIUM, zorder=4)
    pen.line([(x - 0.9, y + 1.5), (x + 0.9, y + 1.5)], pen.colours.shop, THICK, zorder=4)
    if label:
        pen.say("shut-off", x, y - 2.1, shop=True)


def regulator(pen: Pen, x: float, y: float) -> None:
    """A pressure regulator with its handle."""
    pen.box(x, y, 3.2, 2.6, shop=True)
    pen.line([(x, y + 1.3), (x, y + 2.5)], pen.colours.shop, MEDIUM)
    pen.line([(x - 1.0, y + 2.5), (x + 1.0, y + 2.5)], pen.colours.shop, THICK)
    pen.arrow((x - 1.0, y), (x + 1.15, y), pen.colours.shop, THIN)
    pen.say("regulator", x, y - 2.1, shop=True)


def relief_valve(pen: Pen, x: float, y: float) -> None:
    """A relief valve on a tee: spring above its seat, air out at the side."""
    c = pen.colours.shop
    pen.line([(x, y), (x, y + 1.4)], c, THICK)
    pen.box(x, y + 2.2, 1.9, 1.6, shop=True)
    zigzag = [(x + (0.6 if i % 2 else -0.6), y + 3.0 + 0.32 * i) for i in range(6)]
    pen.line(zigzag, c, THIN, zorder=4)
    pen.arrow((x + 0.95, y + 2.2), (x + 2.7, y + 2.2), c, THIN)
    pen.say("relief-valve", x + 0.4, y - 2.1, shop=True)


def gauge(pen: Pen, x: float, y: float, key: str = "gauge", *, side: str = "right", stem: float = 1.3) -> None:
    """A pressure gauge on a tee; its word on the right, on the left, or above."""
    c, r = pen.colours.shop, 1.65
    top = y + stem + r
    pen.line([(x, y), (x, y + stem)], c, THICK)
    pen.disc(x, top, r, shop=True, facecolor=pen.colours.paper)
    for angle in (225, 180, 135, 90, 45, 0, -45):
        cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        inner, outer = 0.72 * r, 0.9 * r
        pen.line([(x + inner * cos, top + inner * sin), (x + outer * cos, top + outer * sin)], c, 0.9, zorder=4)
    pen.line([(x, top), (x + 0.62 * r * math.cos(2.2), top + 0.62 * r * math.sin(2.2))], c, MEDIUM, zorder=4)
    dx, dy, at = {"right": (r + 0.5, 0.0, "left"), "left": (-r - 0.5, 0.0, "right"), "above": (0.0, 2.5, "center")}[side]
    pen.say(key, x + dx, top + dy, at=at, shop=True)


def ruler(pen: Pen, x: float, y: float, length: float) -> None:
    """A ruler that lies along something."""
    c = pen.colours.shop
    pen.shape([(x, y), (x + length, y), (x + length, y + 1.3), (x, y + 1.3)], shop=True, linewidth=THIN)
    for i in range(1, int(length / 0.6)):
        pen.line([(x + 0.6 * i, y), (x + 0.6 * i, y + (0.8 if i % 5 == 0 else 0.45))], c, 0.8, zorder=4)
    pen.say("ruler", x + length / 2, y + 2.3, shop=True)


def sensor(pen: Pen, x: float, y: float, key: str, *, shop: bool, at: str = "left") -> None:
    """A pressure sensor with its plug, entered from below; its word beside it."""
    edge, _ = pen.pair(shop)
    pen.box(x, y, 2.6, 2.2, shop=shop)
    pen.box(x, y + 1.75, 1.5, 1.1, shop=shop, linewidth=THIN)
    for dx in (-0.35, 0.35):
        pen.line([(x + dx, y + 2.3), (x + dx, y + 3.4)], edge, THIN)
    pen.say(key, x + (1.9 if at == "left" else -1.9), y, at=at, shop=shop)


def stand_off(pen: Pen, x: float, y: float, height: float) -> None:
    """A steel stand-off tube that rises from a pipe, with a loop that cools the gas."""
    c = pen.colours.shop
    middle, r = y + 0.5 * height, 1.0
    turn = [math.radians(a) for a in range(-90, 271, 15)]
    loop = [(x + r * math.cos(a), middle + r * math.sin(a)) for a in turn]
    pen.line([(x, y), (x, middle - r)], c, THICK)
    pen.line(loop, c, THICK)
    pen.line([(x, middle + r), (x, y + height)], c, THICK)


# -- what is on the car -----------------------------------------------------------------------------


def actuator(pen: Pen, x: float, y: float, *, label: bool = True) -> None:
    """An actuator, 8 by 5, nipple on the right at x + 5.2, rod to the left."""
    c = pen.colours
    pen.box(x, y, 8.0, 5.0)
    wave = [(x + 1.7 + 0.35 * math.cos(math.pi * i / 6), y - 2.3 + 4.6 * i / 24) for i in range(25)]
    pen.line(wave, c.ink, MEDIUM, zorder=4)
    coils = [(x + 1.0 - 0.62 * i, y + (1.5 if i % 2 else -1.5)) for i in range(8)]
    pen.line(coils, c.ink, THIN, zorder=4)
    pen.line([(x + 4.0, y), (x + 5.2, y)], c.ink, 5.0, solid_capstyle="butt")
    if label:
        pen.say("actuator", x, y - 3.5)


def rod_and_gate(pen: Pen, x_rod: float, y: float, x_pivot: float, *, opened: float = 0.0, rod: bool = True) -> None:
    """Rod to the lever's pin, lever, pivot, flapper on its port. ``opened`` is the angle [deg]."""
    c, down = pen.colours, 4.6
    pivot = (x_pivot, y - down)
    turn = math.radians(opened)
    pin = (x_pivot - down * math.sin(turn), pivot[1] + down * math.cos(turn))
    if rod:
        pen.line([(x_rod, y), pin], c.ink, 3.2, zorder=3)
    pen.line([pivot, pin], c.ink, 4.6, zorder=4)
    pen.disc(*pin, 0.55, facecolor=c.paper, zorder=5)
    pen.disc(*pivot, 0.75, facecolor=c.paper, zorder=5)
    wall, port = pivot[1] - 1.35, (x_pivot + 2.2, x_pivot + 5.8)
    for left, right in ((x_pivot - 1.2, port[0]), (port[1], x_pivot + 8.0)):
        pen.shape([(left, wall), (right, wall), (right, wall - 0.9), (left, wall - 0.9)])
    disc = [_turned(pivot, (dx, dy), turn) for dx, dy in ((1.7, -1.3), (6.3, -1.3), (6.3, -0.6), (1.7, -0.6))]
    pen.shape(disc, zorder=4)
    pen.line([pivot, _turned(pivot, (4.0, 0.0), turn), _turned(pivot, (4.0, -0.6), turn)], c.ink, 3.2, zorder=4)
    for dx in (-0.9, 0.9):
        start = (0.5 * (port[0] + port[1]) + dx, wall - 3.2)
        pen.arrow(start, (start[0], wall - 1.2), c.gas, MEDIUM)


def _turned(about: Point, offset: Point, angle: float) -> Point:
    cos, sin = math.cos(angle), math.sin(angle)
    return about[0] + offset[0] * cos - offset[1] * sin, about[1] + offset[0] * sin + offset[1] * cos


def controller(pen: Pen, x: float, y: float, *, vent: bool = True) -> None:
    """A boost controller, 6 by 3.6: inlet right, outlet left, adjuster above, vent below."""
    pen.box(x, y, 6.0, 3.6)
    pen.disc(x + 0.7, y, 0.55, facecolor=pen.colours.paper, linewidth=THIN, zorder=4)
    coils = [(x + 0.1 - 0.38 * i, y + (0.65 if i % 2 else -0.65)) for i in range(6)]
    pen.line(coils, pen.colours.ink, THIN, zorder=4)
    pen.box(x, y + 2.4, 2.0, 1.2, linewidth=THIN)
    if vent:
        hiss(pen, x - 1.8, y - 2.1)


def solenoid(pen: Pen, x: float, y: float) -> None:
    """A solenoid, 6 by 3.6: supply right, actuator left, vent below, plug above."""
    pen.box(x, y, 6.0, 3.6)
    for i in range(5):
        pen.line([(x - 1.7 + 0.7 * i, y - 0.8), (x - 1.1 + 0.7 * i, y + 0.8)], pen.colours.ink, THIN, zorder=4)
    pen.box(x, y + 2.4, 2.4, 1.2, linewidth=THIN)
    hiss(pen, x - 1.8, y - 2.1)


def wheel_housing(pen: Pen, x: float, y: float, key: str) -> None:
    """A compressor or turbine, radius 3, its wheel in it, its word below."""
    pen.disc(x, y, 3.0)
    wheel(pen, x, y)
    pen.say(key, x, y - 4.1)


def wheel(pen: Pen, x: float, y: float, *, size: float = 1.0) -> None:
    """The wheel of a compressor or turbine, radius 1.55."""
    pen.disc(x, y, 1.55 * size, facecolor=pen.colours.paper, linewidth=THIN, zorder=4)
    for angle in range(0, 360, 45):
        a = math.radians(angle)
        root = (x + 0.4 * size * math.cos(a), y + 0.4 * size * math.sin(a))
        tip = (x + 1.4 * size * math.cos(a + 0.4), y + 1.4 * size * math.sin(a + 0.4))
        pen.line([root, tip], pen.colours.ink, THIN, zorder=5)
