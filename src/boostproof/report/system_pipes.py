"""Pipes of a boost system as drawn: air, exhaust, turbo and gates, and what flows there."""

from __future__ import annotations

from collections.abc import Sequence

from boostproof.report import drawing_symbols as symbols
from boostproof.report import system_symbols as moving
from boostproof.report.drawing_symbols import MEDIUM, THIN, Point
from boostproof.report.svg_pen import UNIT, SvgPen
from boostproof.report.system_layout import (
    CAN,
    COLD,
    COOLER,
    DOME,
    ENGINE,
    HOT,
    OUTLET,
    PASSAGE,
    PORT,
    SENSOR,
    THROTTLE,
    TURBO,
    UNDER_VALVE,
    VALVE,
    System,
    mirrored,
)

_AIR, _GAS = 0.5, 0.5  # pixels by which a gram moves the dashes
_BORE, _HOT_BORE = 2.4, 2.8
_LIFT = 2.6  # by which the valve of an external gate is drawn wide open


def draw_pipes(pen: SvgPen, system: System) -> None:
    """Draw the pipes, what flows in them, the gates, and the turbo in front of them."""
    symbols.pipes(pen, _ways(system))
    _air(pen, system)
    _exhaust(pen, system)
    _gates(pen, system)
    _turbo(pen)


def _flow(pen: SvgPen, points: Sequence[Point], flows: str, scale: float, kind: str, pressure: str = "") -> None:
    """What moves in a pipe, along its points: dashes, on a line as thick as the pressure is high."""
    if pressure:
        pen.curve(points, "pressure", 0.0, 0.8, stroke_width="2", data_pressure=pressure, class_=f"in-{kind}")
    pen.curve(points, "flow", 0.0, 0.8, stroke_width="", data_flow=f"{flows} {scale:g}", class_=f"of-{kind}")


def _ways(system: System) -> list[tuple[list[Point], float]]:
    """All pipes with their bores, but for what is not known."""
    ways = [
        ([(8.5, COLD), (ENGINE - 5.0, COLD)], _BORE),
        ([(ENGINE - 5.0, HOT), (-0.6, HOT)], _HOT_BORE),
    ]
    gate = _external_ways(system) if system.external else _INTERNAL_WAYS
    ways += gate
    if system.gates > 1:
        ways += [([(x, mirrored(y)) for x, y in points], bore) for points, bore in gate]
    return ways


def _air(pen: SvgPen, system: System) -> None:
    before, behind = [(TURBO + 3.6, COLD), (COOLER - 3.2, COLD)], [(COOLER + 3.2, COLD), (ENGINE - 5.0, COLD)]
    if system.cooler is False:
        before = [before[0], behind[1]]
    _flow(pen, [(1.0, COLD), (TURBO - 3.6, COLD)], "compressor_flow", _AIR, "air")
    _flow(pen, before, "compressor_flow", _AIR, "air", "compressor_outlet")
    if system.cooler is not False:
        _flow(pen, behind, "engine_flow", _AIR, "air", "manifold")
        with pen.group(**moving.dashed(system.cooler is None)):
            moving.cooler(pen, COOLER, COLD)
    moving.air_filter(pen, 5.5, COLD)
    pen.arrow((0.4, COLD), (2.3, COLD), pen.colours.ink)
    _recirculation(pen, system)
    moving.leaving(pen, 46.6, COLD - 1.5, "charge_leak_flow", 4.0)
    moving.throttle(pen, THROTTLE, COLD)
    moving.engine(pen, ENGINE, -4.0, -56.0, system.cylinders)
    moving.sensor_below(pen, SENSOR, COLD - 1.3)
    pen.line([(SENSOR, COLD - 5.2), (SENSOR, -28.0), (61.5, -28.0)], pen.colours.ink, THIN, class_="wire")
    pen.box(54.0, -28.0, 15.0, 5.0)


def _recirculation(pen: SvgPen, system: System) -> None:
    if system.bypass == "none":
        return
    with pen.group(**moving.dashed(system.bypass is None)):
        moving.relieving_valve(pen, 48.6, COLD + 1.3)
        if system.bypass == "vents":
            moving.leaving(pen, 47.0, -5.8, left=True)
        else:
            way = [(48.6, COLD + 4.4), (48.6, -2.6), (35.0, -2.6), (35.0, COLD + 1.3)]
            pen.curve(way, pen.colours.ink, MEDIUM, 1.2)
    moving.leaving(pen, 50.2, COLD + 2.8, "bypass_leak_flow", 4.0)


def _exhaust(pen: SvgPen, system: System) -> None:
    into, past = [(ENGINE - 5.0, HOT), (54.0, HOT)], [(54.0, HOT), (TURBO + 3.6, HOT)]
    out = [(TURBO - 3.6, HOT), (-0.6, HOT)]
    _flow(pen, into, "exhaust_flow", _GAS, "gas", "turbine_inlet")
    _flow(pen, past, "turbine_flow", _GAS, "gas", "turbine_inlet")
    joins = 24.0 if not system.external else 14.0
    _flow(pen, [out[0], (joins, HOT)], "turbine_flow", _GAS, "gas", "turbine_outlet")
    both = "turbine_flow" if system.own_dump else "turbine_flow+gates_flow"
    _flow(pen, [(joins, HOT), out[1]], both, _GAS, "gas", "turbine_outlet")
    moving.leaving(pen, 62.0, HOT - 1.7, "exhaust_leak_flow", 3.0)


def _turbo(pen: SvgPen) -> None:
    """Shaft and wheels, in front of the way past the turbine."""
    pen.line([(TURBO, COLD - 4), (TURBO, HOT + 4)], pen.colours.ink, 7.0)
    pen.box(TURBO, 0.5 * (COLD + HOT), 3.6, 9.0)
    for y in (COLD, HOT):
        pen.disc(TURBO, y, 4.2)
        symbols.wheel(pen, TURBO, y, size=1.5)


def _gates(pen: SvgPen, system: System) -> None:
    draw = _external_gate if system.external else _internal_gate
    draw(pen, system, "gate_open")
    if system.gates > 1:
        with pen.group(transform=f"matrix(1 0 0 -1 0 {-2 * UNIT * HOT:g})"):
            draw(pen, system, "other_gate_open")


_INTERNAL_WAYS: list[tuple[list[Point], float]] = [
    ([(54.0, HOT), (54.0, PASSAGE), (PORT, PASSAGE)], _HOT_BORE),
    ([(PORT, PASSAGE), (24.0, PASSAGE), (24.0, HOT)], 5.4),
]


def _internal_gate(pen: SvgPen, system: System, moves: str) -> None:
    _flow(pen, [(54.0, HOT), (54.0, PASSAGE), (PORT + 1.0, PASSAGE)], "gates_flow", _GAS, "gas", "turbine_inlet")
    _flow(pen, [(PORT, PASSAGE - 1.4), (24.4, PASSAGE - 1.4), (24.4, HOT)], "gates_flow", _GAS, "gas")
    moving.can(pen, *CAN, moves)
    moving.rod(pen, CAN[0] - 2.2, PORT - 0.4, CAN[1], moves)
    moving.flapper(pen, PORT - 0.4, CAN[1] - moving.LEVER_HEIGHT, PASSAGE, moves)


def _external_ways(system: System) -> list[tuple[list[Point], float]]:
    ways: list[tuple[list[Point], float]] = [
        ([(54.0, HOT), (54.0, UNDER_VALVE), (VALVE, UNDER_VALVE), (VALVE, -42.0)], _HOT_BORE)
    ]
    return ways if system.own_dump is None else [*ways, (_outlet(system), 2.6)]


def _outlet(system: System) -> list[Point]:
    """The way of the gas behind an external gate, as far as it is known."""
    return [(VALVE, OUTLET), (-0.6, OUTLET)] if system.own_dump else [(VALVE, OUTLET), (14.0, OUTLET), (14.0, HOT)]


def _external_gate(pen: SvgPen, system: System, moves: str) -> None:
    way = [(54.0, HOT), (54.0, UNDER_VALVE), (VALVE, UNDER_VALVE), (VALVE, -42.0)]
    _flow(pen, way, "gates_flow", _GAS, "gas", "turbine_inlet")
    if system.own_dump is None:
        with pen.group(class_="unknown"):
            symbols.pipe(pen, [*_outlet(system)[:2], (14.0, HOT + 1.6)], bore=2.6)
    pen.box(VALVE, -39.2, 8.8, 3.6)
    _flow(pen, _outlet(system), "gates_flow", _GAS, "gas")
    moving.poppet(pen, VALVE, DOME[1], -41.4, moves, _LIFT)
    moving.dome(pen, *DOME, moves, _LIFT)
