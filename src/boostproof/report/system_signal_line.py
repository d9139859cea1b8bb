"""Signal line of a boost system as drawn: hoses, take-off, boost controller and what leaks from them."""

from __future__ import annotations

from collections.abc import Sequence

from boostproof.report import drawing_symbols as symbols
from boostproof.report import system_symbols as moving
from boostproof.report.drawing_symbols import THICK, THIN, Point
from boostproof.report.svg_pen import SvgPen
from boostproof.report.system_layout import (
    CAN,
    COLD,
    DOME,
    LINE,
    System,
    line_in,
    line_out,
    mirrored,
    take_off_x,
    vent_at,
)

_SIGNAL = 260.0  # pixels by which a gram moves the dashes


def draw_signal_line(pen: SvgPen, system: System) -> None:
    """Draw the line from the take-off through the controller to the actuator, or to both."""
    if system.take_off is None:
        x = take_off_x(system)
        pen.disc(x, COLD - 3.2, 0.8, class_="unknown")
    onward = line_out(system)
    if system.gates > 1:  # to the second actuator, branching off before the first
        down = mirrored(onward[-1][1])
        _hose(pen, [(3.5, LINE - 4.0), (3.5, down), (onward[-1][0], down)], "line_chamber", "actuator_flow")
    if system.controller == "none":
        _hose(pen, [*line_in(system)[:2], *onward], "line_chamber", "actuator_flow", unknown=system.take_off is None)
    else:
        _hose(pen, line_in(system), "take_off", "controller_flow", unknown=system.take_off is None)
        _hose(pen, onward, "behind_controller", "actuator_flow")
    _second_hose(pen, system)
    moving.leaving(pen, 3.5, -26.0, "line_leak_flow", 0.05, left=True)
    _controller(pen, system)


def _hose(pen: SvgPen, points: Sequence[Point], pressure: str, flow: str = "", *, unknown: bool = False) -> None:
    pen.curve(points, "halo", 0.0, 1.2, stroke_width="11")
    pen.curve(
        points, "ink hose", THICK, 1.2, data_pressure=pressure, class_="unknown" if unknown else "in-line",
    )  # fmt: skip
    if flow:
        pen.curve(points, "flow", 0.0, 1.2, stroke_width="", data_flow=f"{flow} {_SIGNAL:g}", class_="of-line")


def _second_hose(pen: SvgPen, system: System) -> None:
    """Nipple of the spring side, and the hose of a 4-port valve that reaches it."""
    if system.fed_above is False:
        return
    x, top = (CAN[0] + 3.4, CAN[1] + 5.0) if not system.external else (DOME[0] + 3.6, DOME[1] + 4.0)
    with pen.group(**moving.dashed(system.fed_above is None)):
        pen.line([(x, top), (x, top + 1.0)], pen.colours.ink, 5.0, solid_capstyle="butt")
    if system.controller == "solenoid 4-port":
        out = (24.4, LINE - 3.5)
        _hose(pen, [out, (24.4, top + 2.2), (x, top + 2.2), (x, top + 1.0)], "other_chamber", "upper_flow")
        if system.gates > 1:
            pen.line([(x, mirrored(top)), (x, mirrored(top) - 1.0)], pen.colours.ink, 5.0, solid_capstyle="butt")


def _controller(pen: SvgPen, system: System) -> None:
    x, y = 26.0, LINE
    vent = vent_at(system)
    if system.ball:
        moving.ball_and_spring(pen, x, y)
        if system.bleed is not False:
            with pen.group(**moving.dashed(system.bleed is None)):
                pen.disc(vent[0], y - 3.5, 0.45, facecolor=pen.colours.paper)
                symbols.hiss(pen, vent[0], y - 4.1)
            moving.leaving(pen, vent[0], y - 4.1, "bleed_flow", 0.05)
    elif system.controller == "bleed valve":
        moving.bleed_valve(pen, x, y)
        moving.leaving(pen, vent[0], y - 3.8, "bleed_flow", 0.05)
    elif system.controller == "solenoid 2-port":
        pen.line([(33.0, y), (19.0, y)], pen.colours.ink, THICK)
        moving.solenoid_beside_line(pen, x, y + 4.4, y)
        moving.leaving(pen, vent[0] + 1.4, y + 4.4, "valve_flow", 0.05, left=True)
    elif system.solenoid:
        moving.solenoid_in_line(pen, x, y)
        moving.leaving(pen, vent[0], y - 3.8, "valve_flow", 0.05)
    if system.controller == "solenoid 2-port":
        wire = [(46.5, -28.0), (35.6, -28.0), (35.6, y + 4.4), (33.0, y + 4.4)]
        pen.line(wire, pen.colours.ink, THIN, class_="wire")
    elif system.solenoid:
        pen.line([(46.5, -28.0), (30.0, -28.0), (30.0, y - 3.5)], pen.colours.ink, THIN, class_="wire")
