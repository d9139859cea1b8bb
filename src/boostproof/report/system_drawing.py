"""The boost system of a car as one drawing: air, exhaust, gate, signal line, boost controller and actuator.

An SVG document with classes only: the page that shows it gives the colours (``system.css``). What moves in the
moving picture carries ``data-`` attributes. Names give way to numbers where the drawing is narrow.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from textwrap import wrap

from boostproof.report import drawing_symbols as symbols
from boostproof.report import system_symbols as moving
from boostproof.report.drawing_symbols import MEDIUM, THICK, THIN, Point
from boostproof.report.svg_pen import CLASSES, UNIT, SvgPen
from boostproof.report.system_layout import (
    CAN,
    COLD,
    COOLER,
    DOME,
    ENGINE,
    HOT,
    LINE,
    OUTLET,
    PASSAGE,
    PORT,
    SENSOR,
    THROTTLE,
    TURBO,
    UNDER_VALVE,
    VALVE,
    WIDTH,
    System,
    line_in,
    line_out,
    mirrored,
    parts_of,
    places,
    system_of,
    take_off_x,
    vent_at,
    words,
)

_AIR, _GAS, _SIGNAL = 0.5, 0.5, 260.0  # pixels by which a gram moves the dashes
_BORE, _HOT_BORE = 2.4, 2.8
_CHARACTERS = 18  # of a line of what is suspected, which stands between shaft and engine
_LIFT = 2.6  # by which the valve of an external gate is drawn wide open


@dataclass(frozen=True)
class Drawing:
    """A drawing and what stands beside it.

    Attributes
    ----------
    svg : the document, to be put into a page as it is
    legend : number and name of every part named on it, for where it is narrow
    says : sentences: what is drawn, what is not known, what is suspected
    parts : those that are suspected, by name
    """

    svg: str = field(repr=False)
    legend: tuple[tuple[int, str], ...]
    says: tuple[str, ...]
    parts: tuple[str, ...]


def draw_system(
    system: System,
    *,
    car: str = "",
    causes: Sequence[str] = (),
    values: Mapping[str, float] | None = None,
    shown: Mapping[str, str] | None = None,
    key: str = "boost-system",
    language: str = "en",
) -> Drawing:
    """Draw a boost system.

    Parameters
    ----------
    system : what is fitted
    car : its name, for the title
    causes : ids of the suspected cause, or of both of a pair
    values : of what moves, 0 to 1 by name ("gate_open", "other_gate_open", "ball_open", "valve_share"); at rest
        where left out
    shown : numbers of the moment as written, by name ("compressor_outlet", "take_off", "behind_controller",
        "turbine_inlet", "turbine_outlet", "shaft", "gate_open")
    key : of ids within the document; two drawings on one page need two
    language : of its words

    Raises
    ------
    KeyError
        If an id is no cause.
    """
    said = words(language)
    pen = SvgPen(CLASSES, lambda word: str(said["labels"][word]), values=values or {})
    parts = parts_of(list(causes), system)
    symbols.pipes(pen, _ways(system))
    _air(pen, system)
    _exhaust(pen, system)
    _gates(pen, system)
    _turbo(pen)
    _signal(pen, system)
    legend = _names(pen, system)
    _numbers(pen, system, shown or {})
    _suspected(pen, system, parts, key, said)
    says = _sentences(system, parts, said)
    title = said["says"]["title"].format(car=car or said["labels"]["turbine"])
    head = (
        f'<svg class="boost-system" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {UNIT * WIDTH:g} '
        f'{UNIT * system.height:g}" role="img" aria-labelledby="{key}-title {key}-desc">'
        f'<title id="{key}-title">{escape(title)}</title><desc id="{key}-desc">{escape(" ".join(says))}</desc>'
        f'<defs><pattern id="{key}-hatch" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V7" class="suspect-hatch"/></pattern></defs>'
    )
    return Drawing(head + "".join(pen.parts) + "</svg>", legend, says, tuple(said["parts"][p] for p in parts))


def draw_car(car: object, **more: object) -> Drawing:
    """Draw the boost system of a car.toml as read (`casefolder.read_case(...).car`); arguments as `draw_system`."""
    name = car.car.name  # type: ignore[attr-defined]
    return draw_system(system_of(car), car=name, **more)  # type: ignore[arg-type]


def _dashed(unknown: bool) -> dict[str, str]:
    return {"class_": "unknown"} if unknown else {}


def _flow(pen: SvgPen, points: Sequence[Point], flows: str, scale: float, kind: str, pressure: str = "") -> None:
    """What moves in a pipe, along its points: dashes, on a line as thick as the pressure is high."""
    if pressure:
        pen.curve(points, "pressure", 0.0, 0.8, stroke_width="2", data_pressure=pressure, class_=f"in-{kind}")
    pen.curve(points, "flow", 0.0, 0.8, stroke_width="", data_flow=f"{flows} {scale:g}", class_=f"of-{kind}")


# -- air and exhaust --------------------------------------------------------------------------------


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
        with pen.group(**_dashed(system.cooler is None)):
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
    with pen.group(**_dashed(system.bypass is None)):
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


# -- gates ------------------------------------------------------------------------------------------


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


# -- signal line ------------------------------------------------------------------------------------


def _hose(pen: SvgPen, points: Sequence[Point], pressure: str, flow: str = "", *, unknown: bool = False) -> None:
    pen.curve(points, "halo", 0.0, 1.2, stroke_width="11")
    pen.curve(
        points, "ink hose", THICK, 1.2, data_pressure=pressure, class_="unknown" if unknown else "in-line",
    )  # fmt: skip
    if flow:
        pen.curve(points, "flow", 0.0, 1.2, stroke_width="", data_flow=f"{flow} {_SIGNAL:g}", class_="of-line")


def _signal(pen: SvgPen, system: System) -> None:
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


def _second_hose(pen: SvgPen, system: System) -> None:
    """Nipple of the spring side, and the hose of a 4-port valve that reaches it."""
    if system.fed_above is False:
        return
    x, top = (CAN[0] + 3.4, CAN[1] + 5.0) if not system.external else (DOME[0] + 3.6, DOME[1] + 4.0)
    with pen.group(**_dashed(system.fed_above is None)):
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
            with pen.group(**_dashed(system.bleed is None)):
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


# -- words and numbers ------------------------------------------------------------------------------


def _named(system: System) -> list[tuple[str, float, float, str]]:
    """Word, place and side of every name; the order gives the numbers of the narrow drawing."""
    left, right, middle = "left", "right", "center"
    names = [
        ("filter", 2.5, -15.4, left),
        ("compressor", TURBO + 1.4, -16.0, left),
        ("throttle", 61.6, -6.2, middle),
        ("engine", ENGINE, -8.6, middle),
        ("control-unit", 54.0, -28.7, middle),
        ("manifold-sensor", SENSOR - 0.8, -18.4, right),
        ("turbine", TURBO + 2.9, HOT - 3.8, left),
        ("exhaust", 1.2 if system.gates < 2 else 4.6, HOT - 3.6, left),
    ]
    if system.cooler is not False:
        names.insert(2, ("cooler", COOLER + 2.2, -3.4, middle))
    if system.bypass != "none":
        names.append(("recirculation-valve", 34.2, -3.6, right))
    if system.controller == "none":
        names.append(("none", 20.8, -18.4, left))
    else:
        names.append((system.kind, 18.6, -11.9 if system.controller == "solenoid 2-port" else -14.6, left))
    names.append(("signal-line", 6.2, -18.4, left))
    if system.external:
        names += [("gate-external", DOME[0] + 6.8, DOME[1] + 1.4, left), ("dump-pipe", 12.0, -45.0, right)]
    else:
        names += [("actuator", CAN[0], CAN[1] - 6.9, middle), ("gate", PORT + 1.8, PASSAGE + 4.6, left)]
    return names


# Where a number would touch another one, or the edge: how far right of its name's place, and how far below.
_BADGES = {"signal-line": (4.2, 3.0), "cooler": (-1.0, 0.9), "recirculation-valve": (-1.6, 0.9), "throttle": (1.2, 0.6)}


def _names(pen: SvgPen, system: System) -> tuple[tuple[int, str], ...]:
    legend = []
    for number, (word, x, y, at) in enumerate(_named(system), 1):
        pen.say(word, x, y, at=at)
        beside, lower = _BADGES.get(word, ({"left": 1.6, "right": -1.6, "center": 0.0}[at], 0.0))
        across, up = x + beside, y - lower
        with pen.group(class_="badge"):
            pen.element("circle", cx=f"{UNIT * across:g}", cy=f"{-UNIT * (up + 0.6):g}", r="19")
            pen.text(str(number), across, up - 0.55, kind="number")
        legend.append((number, pen.word(word).replace("\n", " ")))
    return tuple(legend)


def _numbers(pen: SvgPen, system: System, shown: Mapping[str, str]) -> None:
    """The numbers of the moment; a script may write others."""
    hose = 16.0 if system.controller != "none" else 30.0
    at = [
        ("compressor_outlet", 48.1, -13.7, "center"),
        ("turbine_inlet", 49.6, HOT + 1.9, "center"),
        ("turbine_outlet", 31.0, HOT - 3.6, "center"),
        ("behind_controller" if system.controller != "none" else "take_off", hose - 6.0, LINE - 3.0, "center"),
        ("shaft", TURBO + 1.4, -22.6, "left"),
        ("gate_open", *((PORT + 1.8, PASSAGE + 2.3) if not system.external else (VALVE + 5.2, -40.0)), "left"),
    ]
    if system.controller != "none" and take_off_x(system) < TURBO:
        at.append(("take_off", 38.6, LINE + 1.6, "right"))
    for name, x, y, side in at:
        pen.text(shown.get(name, ""), x, y, at=side, kind="value", data_value=name)


def _suspected(pen: SvgPen, system: System, parts: Sequence[str], key: str, said: Mapping[str, Mapping[str, str]]) -> None:
    there = places(system)
    with pen.group(class_="suspects"):
        for part in parts:
            place = there[part]
            moving.hatched(pen, place.shape, place.points, place.size, f"url(#{key}-hatch)", data_part=part)
        if parts:
            named = wrap(", ".join(said["parts"][p] for p in parts), _CHARACTERS)
            text = said["says"]["suspect"].format(part="\n".join(named))
            pen.text(text, TURBO + 2.6, -34.4, at="left", kind="suspected")


def _sentences(system: System, parts: Sequence[str], said: Mapping[str, Mapping[str, str]]) -> tuple[str, ...]:
    say, name = said["says"], said["parts"]
    out = [
        say["controller-none"] if system.controller == "none"
        else say["controller"].format(kind=said["labels"][system.kind]),
        say["external"] if system.external else say["internal"],
    ]  # fmt: skip
    if system.gates > 1:
        out.append(say["two-gates"])
    if system.turbos > 1:
        out.append(say["two-turbos"])
    if system.operated_by != "pressure":
        out.append(say["operated-by"].format(by=system.operated_by))
    if system.unknown:
        out.append(say["unknown"].format(parts=", ".join(said["unknown"][key] for key in system.unknown)))
    if parts:
        out.append(say["suspected"].format(parts=", ".join(name[part] for part in parts)))
    return tuple(out)
