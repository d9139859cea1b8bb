"""Symbols of a boost system that move: valves, springs, diaphragm, ball; each a plain function of a pen and a place.

The first column of a ``data-turn``, ``data-slide`` or ``data-squeeze`` names what moves it, from 0 to 1.
"""

from __future__ import annotations

import math
from typing import Any

from boostproof.report import drawing_symbols as symbols
from boostproof.report.drawing_symbols import MEDIUM, THICK, THIN, Point
from boostproof.report.svg_pen import UNIT, SvgPen

FULL_TURN = 38.0  # degrees by which a flapper is drawn wide open
LEAN = 0.5 * FULL_TURN  # degrees by which its lever leans back when shut, so that the rod ends where it began
LEVER = 6.0
LEVER_HEIGHT = LEVER * math.cos(math.radians(LEAN))  # of the pin above the pivot, shut and wide open
_STROKE = 2.0 * LEVER * math.sin(math.radians(LEAN))  # of the rod


def _px(x: float, y: float) -> str:
    return f"{UNIT * x:g} {-UNIT * y:g}"


def dashed(unknown: bool) -> dict[str, str]:
    """Attributes of a group that is drawn in dashes where it is not known whether it is fitted."""
    return {"class_": "unknown"} if unknown else {}


def spring(pen: SvgPen, start: Point, end: Point, half: float, turns: int = 7) -> None:
    """A coil between two points, along x or along y."""
    (ax, ay), (bx, by) = start, end
    points = []
    for i in range(turns + 1):
        share, side = i / turns, half if i % 2 else -half
        x, y = ax + share * (bx - ax), ay + share * (by - ay)
        points.append((x, y + side) if ay == by else (x + side, y))
    pen.line(points, pen.colours.ink, THIN, class_="spring")


def wave(pen: SvgPen, start: Point, end: Point) -> None:
    """A diaphragm between two points, along x or along y."""
    points = []
    for i in range(25):
        share = i / 24
        x, y = start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])
        swing = 0.32 * math.sin(4.0 * math.pi * share)
        points.append((x + swing, y) if start[0] == end[0] else (x, y + swing))
    pen.line(points, pen.colours.ink, MEDIUM, class_="diaphragm")


def leaving(pen: SvgPen, x: float, y: float, flow: str = "", scale: float = 0.0, *, left: bool = False) -> None:
    """Air that leaves, downwards or to the left; ``flow`` names what fades it in."""
    shown = {"data_leak": f"{flow} {scale:g}"} if flow else {}
    with pen.group(class_="hiss", **shown):
        if left:
            for slope in (-0.55, 0.0, 0.55):
                pen.line([(x, y + 0.5 * slope), (x - 1.5, y + 1.7 * slope)], pen.colours.ink, THIN)
        else:
            symbols.hiss(pen, x, y)


def air_filter(pen: SvgPen, x: float, y: float) -> None:
    """An air filter, 6 by 8, with its pleats."""
    pen.box(x, y, 6.0, 8.0)
    pen.line([(x - 2.0 + 0.5 * i, y + (3.2 if i % 2 else -3.2)) for i in range(9)], pen.colours.ink, THIN)


def cooler(pen: SvgPen, x: float, y: float) -> None:
    """A charge cooler, 6.4 by 8, with its fins."""
    pen.box(x, y, 6.4, 8.0)
    for i in range(5):
        pen.line([(x - 2.2 + 1.1 * i, y + 3.3), (x - 2.2 + 1.1 * i, y - 3.3)], pen.colours.ink, THIN)


def throttle(pen: SvgPen, x: float, y: float) -> None:
    """A throttle plate, open, in a pipe."""
    pen.line([(x - 0.9, y - 0.25), (x + 0.9, y + 0.25)], pen.colours.ink, THICK)
    pen.disc(x, y, 0.3, facecolor=pen.colours.paper, linewidth=THIN)


def engine(pen: SvgPen, x: float, top: float, bottom: float, cylinders: int) -> None:
    """An engine seen from above: its cylinders in a row."""
    pen.box(x, 0.5 * (top + bottom), 10.0, top - bottom)
    first, last = top - 8.0, bottom + 5.5
    pitch = (first - last) / cylinders
    r = min(3.0, 0.4 * pitch)
    for i in range(cylinders):
        y = first - (i + 0.5) * pitch
        pen.disc(x, y, r, facecolor=pen.colours.paper)
        pen.disc(x, y, 0.72 * r, facecolor=pen.colours.metal, linewidth=THIN)


def sensor_below(pen: SvgPen, x: float, y: float) -> None:
    """A pressure sensor under a pipe whose lower wall is at y."""
    pen.line([(x, y), (x, y - 0.9)], pen.colours.ink, MEDIUM)
    pen.box(x, y - 1.9, 2.2, 2.0)
    pen.box(x, y - 3.4, 1.3, 1.0, linewidth=THIN)


def relieving_valve(pen: SvgPen, x: float, y: float) -> None:
    """A small spring-loaded valve on top of a pipe whose upper wall is at y."""
    pen.line([(x - 0.9, y), (x + 0.9, y)], pen.colours.ink, THICK)
    pen.box(x, y + 1.8, 2.6, 2.6)
    spring(pen, (x, y + 0.7), (x, y + 2.9), 0.7, turns=5)


# -- actuators and gates ----------------------------------------------------------------------------


def can(pen: SvgPen, x: float, y: float, moves: str) -> None:
    """An actuator, 11 by 10: nipple on the left, rod on the right with all that moves along it."""
    pen.line([(x - 7.2, y), (x - 5.5, y)], pen.colours.ink, 6.0, solid_capstyle="butt")
    pen.box(x, y, 11.0, 10.0)
    with pen.group(data_squeeze=f"{moves} {UNIT * (x + 5.2):g} 0.52 0"):
        spring(pen, (x - 1.9, y), (x + 5.2, y), 2.4, turns=9)
    with pen.group(data_slide=f"{moves} {UNIT * _STROKE:.4g} 0"):
        wave(pen, (x - 2.6, y - 4.7), (x - 2.6, y + 4.7))
        pen.line([(x - 2.2, y - 3.0), (x - 2.2, y + 3.0)], pen.colours.ink, THICK)


def rod(pen: SvgPen, x: float, pivot: float, y: float, moves: str) -> None:
    """The rod of an actuator from its diaphragm at x to the pin of a lever whose pivot lies under ``pivot``."""
    end = pivot - 0.5 * _STROKE
    with pen.group(data_slide=f"{moves} {UNIT * _STROKE:.4g} 0"):
        pen.line([(x, y), (end, y)], pen.colours.ink, 3.2)


def flapper(pen: SvgPen, x: float, pivot: float, port: float, moves: str) -> None:
    """Lever, pivot and flapper on its port, which lies to the right of x.

    Parameters
    ----------
    x : of the pivot
    pivot, port : heights of the pivot and of the port's middle
    moves : what opens it
    """
    for low, high in ((port - 3.0, port - 1.6), (port + 1.6, pivot + 0.4)):
        pen.shape([(x + 0.3, low), (x + 1.5, low), (x + 1.5, high), (x + 0.3, high)])
    with pen.group(data_turn=f"{moves} {FULL_TURN:g} {_px(x, pivot)}"):
        pin = (x - 0.5 * _STROKE, pivot + LEVER_HEIGHT)
        pen.line([(x, pivot), pin], pen.colours.ink, 4.0)
        pen.line([(x, pivot), (x - 0.4, port)], pen.colours.ink, MEDIUM)
        pen.shape([(x - 0.6, port - 2.3), (x + 0.2, port - 2.3), (x + 0.2, port + 2.3), (x - 0.6, port + 2.3)])
        pen.disc(*pin, 0.5, facecolor=pen.colours.paper)
    pen.disc(x, pivot, 0.7, facecolor=pen.colours.paper)


def dome(pen: SvgPen, x: float, y: float, moves: str, lift: float) -> None:
    """The actuator of an external gate, 12 by 8: nipple on the left of the lower chamber, spring above."""
    pen.line([(x - 7.6, y - 2.2), (x - 6.0, y - 2.2)], pen.colours.ink, 6.0, solid_capstyle="butt")
    pen.box(x, y, 12.0, 8.0)
    with pen.group(data_squeeze=f"{moves} {-UNIT * (y + 3.8):g} 0.3 1"):
        spring(pen, (x, y + 0.4), (x, y + 3.8), 2.4, turns=7)
    with pen.group(data_slide=f"{moves} 0 {-UNIT * lift:g}"):
        wave(pen, (x - 5.8, y), (x + 5.8, y))
        pen.line([(x - 3.6, y), (x + 3.6, y)], pen.colours.ink, THICK)


def poppet(pen: SvgPen, x: float, top: float, seat: float, moves: str, lift: float) -> None:
    """Stem and valve of an external gate on its seat; the gas comes from below."""
    for side in (-1, 1):
        inner, outer = x + side * 2.0, x + side * 4.4
        pen.shape([(inner, seat - 0.6), (outer, seat - 0.6), (outer, seat + 0.5), (x + side * 2.6, seat + 0.5)])
    with pen.group(data_slide=f"{moves} 0 {-UNIT * lift:g}"):
        pen.line([(x, top), (x, seat + 0.9)], pen.colours.ink, 3.2)
        pen.shape([(x - 1.9, seat - 0.4), (x + 1.9, seat - 0.4), (x + 2.6, seat + 0.6), (x - 2.6, seat + 0.6)])


# -- boost controllers ------------------------------------------------------------------------------


def ball_and_spring(pen: SvgPen, x: float, y: float) -> None:
    """A boost controller, 14 by 7: seat and ball on the right, spring and adjuster on the left."""
    pen.box(x, y, 14.0, 7.0)
    for side in (-1, 1):
        pen.shape([(x + 5.2, y + side * 0.8), (x + 7.0, y + side * 0.8), (x + 7.0, y + side * 3.0),
                   (x + 5.2, y + side * 3.0)])  # fmt: skip
    with pen.group(data_squeeze=f"ball_open {UNIT * (x - 4.4):g} 0.72 0"):
        spring(pen, (x - 4.4, y), (x + 2.9, y), 1.5, turns=9)
    with pen.group(data_slide=f"ball_open {-2.2 * UNIT:g} 0 0.5", class_="ball"):
        pen.disc(x + 4.1, y, 1.25, facecolor=pen.colours.paper)
    pen.line([(x - 4.5, y - 1.9), (x - 4.5, y + 1.9)], pen.colours.ink, THICK)
    pen.box(x - 3.2, y + 4.0, 3.2, 1.2, linewidth=THIN)


def restrictor(pen: SvgPen, x: float, y: float) -> None:
    """A narrow place in a line."""
    for side in (-1, 1):
        pen.shape([(x - 0.9, y + side * 1.1), (x + 0.9, y + side * 1.1), (x, y + side * 0.25)])


def bleed_valve(pen: SvgPen, x: float, y: float) -> None:
    """A needle valve on a T-piece, behind a restrictor; 14 by 7."""
    pen.box(x, y, 14.0, 7.0)
    pen.line([(x - 7.0, y), (x + 7.0, y)], pen.colours.ink, MEDIUM)
    restrictor(pen, x + 4.0, y)
    down = x - 4.4
    pen.line([(down, y), (down, y - 3.5)], pen.colours.ink, MEDIUM)
    pen.shape([(down - 0.5, y - 1.1), (down + 0.5, y - 1.1), (down, y - 2.3)])
    pen.line([(down, y - 1.0), (down, y + 3.5)], pen.colours.ink, THIN)
    pen.box(down, y + 4.0, 3.2, 1.2, linewidth=THIN)


def solenoid_in_line(pen: SvgPen, x: float, y: float) -> None:
    """A solenoid, 14 by 7: supply right, actuator left, vent below; its plunger slides as it vents."""
    pen.box(x, y, 14.0, 7.0)
    _coil(pen, x + 1.0, y + 1.9, 9.0)
    with pen.group(data_slide=f"valve_share {-4.0 * UNIT:g} 0"):
        pen.box(x + 2.6, y - 1.5, 5.2, 2.4, facecolor=pen.colours.paper)
        pen.line([(x + 1.2, y - 0.8), (x + 4.0, y - 2.2)], pen.colours.ink, THIN)
    pen.box(x, y + 4.0, 3.0, 1.2, linewidth=THIN)


def solenoid_beside_line(pen: SvgPen, x: float, y: float, line: float) -> None:
    """A 2-port solenoid, 14 by 4.2, on a T-piece of the line below it, behind a restrictor."""
    pen.line([(x - 3.6, line), (x - 3.6, y - 2.1)], pen.colours.ink, THICK)
    pen.box(x, y, 14.0, 4.2)
    _coil(pen, x + 3.0, y, 6.0)
    with pen.group(data_slide=f"valve_share 0 {-0.9 * UNIT:g}"):
        pen.box(x - 3.6, y - 0.6, 2.2, 1.8, facecolor=pen.colours.paper)
    pen.box(x + 3.0, y + 2.6, 3.0, 1.0, linewidth=THIN)
    restrictor(pen, x + 4.6, line)


def _coil(pen: SvgPen, x: float, y: float, width: float) -> None:
    for i in range(7):
        at = x - 0.5 * width + width * (i + 0.5) / 7
        pen.line([(at - 0.35, y - 0.75), (at + 0.35, y + 0.75)], pen.colours.ink, THIN)


def hatched(pen: SvgPen, shape: str, points: tuple[Point, ...], size: tuple[float, float], fill: str, **more: Any) -> None:
    """A suspected part: hatch and outline over it."""
    if shape == "line":
        width = UNIT * size[0]
        pen.curve(points, "suspect-edge", 0.0, 1.2, stroke_width=f"{width + 5:g}", **more)
        pen.curve(points, "suspect-ground", 0.0, 1.2, stroke_width=f"{width:g}", **more)
        pen.curve(points, "", 0.0, 1.2, stroke_width=f"{width:g}", stroke=fill, **more)
        return
    (x, y), (w, h) = points[0], size
    place: dict[str, Any]
    if shape == "disc":
        kind, place = "circle", {"cx": f"{UNIT * x:g}", "cy": f"{-UNIT * y:g}", "r": f"{UNIT * w:g}"}
    else:
        kind = "rect"
        place = {"x": f"{UNIT * (x - w / 2):g}", "y": f"{-UNIT * (y + h / 2):g}", "width": f"{UNIT * w:g}",
                 "height": f"{UNIT * h:g}", "rx": "6"}  # fmt: skip
    pen.element(kind, **place, fill=fill, class_="suspect-outline", **more)
