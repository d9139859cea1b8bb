"""Set-up drawings: what is connected to what in a test, as one clear line drawing for each.

They are made for a width of 400 pixels, on a light or a dark background.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from boostproof.bench.procedures import fill, label
from boostproof.errors import InputRangeError
from boostproof.report import drawing_symbols as symbols
from boostproof.report.drawing_symbols import DARK, LIGHT, MEDIUM, THICK, WIDTH, FigurePen, Pen, Point

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_TOP = 6.3  # from the upper edge down to the line of the air supply
_ROD = 16.2  # from the upper edge down to the rod
_RIGHT = 37.6  # where a hose turns down


def drawings() -> tuple[str, ...]:
    """Names of the drawings: the tests that have one."""
    return tuple(_DRAWINGS)


def draw_setup(
    name: str, figure: Figure, *, dark: bool = False, length: str = "mm", language: str = "en"
) -> None:
    """Draw one set-up.

    Parameters
    ----------
    name : of the test
    figure : to draw on, of the size that `setup_size` gives
    dark : for a dark background
    length : unit of lengths in its words
    language : of its words

    Raises
    ------
    InputRangeError
        If there is no such drawing.
    """
    height, draw = _drawing(name)
    colours = DARK if dark else LIGHT
    figure.set_facecolor(colours.paper)
    figure.set_layout_engine("none")  # the sheet is the whole figure
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    ax.set(xlim=(0.0, WIDTH), ylim=(-height, 0.0), aspect="equal")
    ax.set_axis_off()
    draw(FigurePen(colours, lambda key: fill(label(key, language=language), length=length), ax))


def setup_size(name: str) -> tuple[float, float]:
    """Width and height of a drawing. [inches]"""
    return WIDTH / 10.0, _drawing(name)[0] / 10.0


def save_setup(
    name: str, file: str | Path, *, dark: bool = False, length: str = "mm", language: str = "en"
) -> Path:
    """Draw a set-up into a file (.svg, .png or .pdf).

    Raises
    ------
    InputError
        If the name ends in none of these, or the file cannot be written.
    InputRangeError
        If there is no such drawing.
    """
    from boostproof.report.picture import save_picture

    def draw(figure: Figure) -> None:
        draw_setup(name, figure, dark=dark, length=length, language=language)

    return save_picture(draw, file, setup_size(name))


def _drawing(name: str) -> tuple[float, Callable[[Pen], None]]:
    if name not in _DRAWINGS:
        raise InputRangeError(
            f"there is no drawing of {name!r}.", where="drawings", do=f"There are: {', '.join(_DRAWINGS)}."
        )
    return _DRAWINGS[name]


# -- parts that several drawings share --------------------------------------------------------------


def _train(pen: Pen, end: list[Point], *, with_gauge: bool = True) -> None:
    """Shop air, shut-off, regulator, relief valve and gauge; the hose goes on to ``end``."""
    y = -_TOP
    symbols.hose(pen, [(7.0, y), (_RIGHT, y), *end])
    symbols.supply(pen, 3.8, y)
    symbols.shut_off(pen, 9.7, y)
    symbols.regulator(pen, 15.8, y)
    symbols.relief_valve(pen, 22.0, y)
    if with_gauge:
        symbols.gauge(pen, 29.4, y)


def _can(pen: Pen, x: float, *, y: float = -_ROD, with_ruler: bool = True) -> None:
    """Actuator at x with rod, lever and gate on the left."""
    symbols.rod_and_gate(pen, x - 4.0, y, 3.6)
    symbols.actuator(pen, x, y)
    if with_ruler:
        symbols.ruler(pen, 6.2, y + 0.8, 6.6)
    else:
        pen.say("rod", 9.0, y + 1.3)
    pen.say("lever", 4.6, y - 2.3, at="left")
    pen.say("gate", 11.9, y - 5.2, at="left")


def _to_log(pen: Pen, x: float, y: float) -> None:
    pen.say("to-log", x, y, shop=True, fontstyle="italic")


# -- air on the signal side -------------------------------------------------------------------------


def _actuator_sweep(pen: Pen) -> None:
    y = -_ROD
    _train(pen, [(_RIGHT, y), (25.7, y)])
    _can(pen, 20.5)
    pen.say("straight", 31.6, y + 1.8, shop=True)


def _leak_down(pen: Pen) -> None:
    top, y = -_TOP, -_ROD
    symbols.hose(pen, [(7.0, top), (_RIGHT, top), (_RIGHT, y), (25.7, y)])
    symbols.supply(pen, 3.8, top)
    symbols.regulator(pen, 11.4, top)
    symbols.relief_valve(pen, 18.0, top)
    symbols.shut_off(pen, 24.6, top)
    symbols.gauge(pen, 30.6, top)
    _can(pen, 20.5, with_ruler=False)
    pen.say("straight", 31.6, y + 1.8, shop=True)


def _through_controller(pen: Pen, y: float) -> None:
    """Controller and actuator as on the car, the hose of the air supply at the controller's inlet."""
    symbols.hose(pen, [(29.6, y), (22.7, y)], shop=False)
    symbols.controller(pen, 32.6, y)
    pen.say("controller", 34.5, y - 4.9)
    pen.say("adjuster", 32.6, y + 4.0)


def _controller_sweep(pen: Pen) -> None:
    y = -_ROD
    _train(pen, [(_RIGHT, y), (35.6, y)])
    _through_controller(pen, y)
    _can(pen, 17.5)
    symbols.gauge(pen, 25.6, y, "gauge-at-actuator", side="above")


def _controller_vent(pen: Pen) -> None:
    y = -_ROD
    _train(pen, [(_RIGHT, y), (35.6, y)])
    _through_controller(pen, y)
    pen.say("listen", 29.3, y - 2.8, at="right", shop=True)
    _can(pen, 17.5, with_ruler=False)


def _bleed_decay(pen: Pen) -> None:
    y = -_ROD
    _train(pen, [(_RIGHT, y), (35.6, y)], with_gauge=False)
    _through_controller(pen, y)
    symbols.hose(pen, [(25.6, y), (25.6, y - 4.2)])
    symbols.gauge(pen, 25.6, y, side="above")
    pen.box(25.6, y - 5.4, 6.6, 2.6, shop=True)
    pen.say("tank", 25.6, y - 5.4, shop=True)
    _can(pen, 17.5, with_ruler=False)


def _line_sweep(pen: Pen) -> None:
    y = -_ROD
    _train(pen, [(_RIGHT, -10.8), (33.8, -10.8)])
    pen.say("take-off-end", 33.0, -10.8, at="right", shop=True)
    symbols.hose(pen, [(33.8, -10.8), (33.8, y), (25.7, y)], shop=False)
    pen.say("signal-line", 30.2, y - 1.3)
    _can(pen, 20.5)


def _hose_flow(pen: Pen) -> None:
    y = -12.8
    _train(pen, [(_RIGHT, y), (34.5, y)])
    symbols.hose(pen, [(34.5, y), (26.0, y), (22.0, y - 2.0), (13.0, y - 2.0)], shop=False, radius=2.0)
    pen.say("hose", 24.0, y + 1.2)
    pen.arrow((12.6, y - 2.0), (10.2, y - 2.0), pen.colours.shop)
    pen.say("flow-gauge", 9.6, y - 2.0, at="right", shop=True)


def _solenoid_check(pen: Pen) -> None:
    y = -17.2
    _train(pen, [(_RIGHT, y), (35.6, y)])
    symbols.hose(pen, [(29.6, y), (22.7, y)], shop=False)
    symbols.solenoid(pen, 32.6, y)
    pen.say("solenoid", 35.4, y - 3.0)
    pen.say("vent", 30.2, y - 4.6)
    for dx in (-0.5, 0.5):
        pen.line([(32.6 + dx, y + 3.0), (32.6 + dx, y + 4.4)], pen.colours.shop, MEDIUM)
    pen.box(31.9, y + 5.9, 9.2, 3.4, shop=True)
    pen.say("fused-supply", 31.9, y + 5.9, shop=True)
    _can(pen, 17.5, y=y, with_ruler=False)
    symbols.gauge(pen, 24.9, y, "gauge-at-actuator", side="left", stem=2.0)


# -- air in the intake, and on the sensor -----------------------------------------------------------


def _intake_pressurise(pen: Pen) -> None:
    y = -16.4
    c = pen.colours
    _train(pen, [(_RIGHT, -11.2), (3.0, -11.2), (3.0, y), (5.2, y)])
    symbols.pipe(pen, [(7.5, y), (10.5, y)], bore=2.6)
    symbols.pipe(pen, [(12.0, y + 2.0), (18.0, y + 2.0)])
    symbols.pipe(pen, [(23.0, y + 2.0), (33.0, y + 2.0)])
    pen.box(6.5, y, 2.2, 4.4, shop=True)
    pen.line([(7.6, y + 2.2), (10.6, y + 2.6)], c.shop, THICK, zorder=5)
    pen.line([(7.6, y - 2.2), (10.6, y - 2.6)], c.shop, THICK, zorder=5)
    pen.say("cap", 5.8, y - 4.3, shop=True)
    symbols.wheel_housing(pen, 13.2, y, "compressor")
    pen.box(20.5, y + 2.0, 5.2, 4.2)
    for i in range(6):
        pen.line([(18.8 + 0.7 * i, y + 0.5), (18.8 + 0.7 * i, y + 3.5)], c.ink, 0.9, zorder=4)
    pen.say("cooler", 20.5, y - 1.2)
    pen.line([(26.4, y + 1.2), (26.4, y - 0.3)], c.ink, THICK)
    pen.box(26.4, y - 1.2, 2.2, 2.0)
    pen.say("bypass-valve", 25.2, y - 3.3)
    pen.line([(30.1, y + 1.35), (31.1, y + 2.65)], c.ink, THICK, zorder=5)
    pen.say("throttle", 30.4, y + 0.1)
    pen.box(35.8, y + 1.0, 5.6, 5.2)
    pen.say("engine", 35.8, y + 1.4)
    pen.say("oil-cap", 33.6, y - 5.3, shop=True)
    pen.line([(36.0, y - 3.9), (36.0, y - 1.9)], c.shop, 0.9)


def _sensor_check(pen: Pen) -> None:
    y = -11.0
    c = pen.colours.shop
    symbols.hose(pen, [(11.5, y), (33.0, y), (33.0, y + 2.0)])
    pen.box(8.0, y, 7.0, 2.6, shop=True)
    pen.line([(4.5, y), (2.4, y)], c, MEDIUM)
    pen.line([(2.4, y + 1.4), (2.4, y - 1.4)], c, THICK)
    pen.line([(7.0, y + 1.25), (7.0, y - 1.25)], c, MEDIUM, zorder=4)
    pen.say("hand-pump", 7.6, y - 2.4, shop=True)
    symbols.gauge(pen, 22.5, y, "reference-gauge", side="left")
    symbols.sensor(pen, 33.0, y + 3.1, "sensor", shop=False, at="right")
    pen.say("read-live", 33.0, y + 8.0)


# -- pulls ------------------------------------------------------------------------------------------


def _floor_pull(pen: Pen) -> None:
    c = pen.colours
    y = -6.4
    pen.say("internal-gate", 9.0, -1.6, fontweight="bold")
    symbols.rod_and_gate(pen, 14.0, y, 8.2, opened=42.0, rod=False)
    wire = (1.2, y - 1.1)
    pen.line([(8.2 - 4.6 * 0.669, y - 4.6 + 4.6 * 0.743), wire], c.shop, THICK, linestyle=(0, (2.2, 1.1)))
    pen.line([(1.2, y + 0.6), (1.2, y - 2.8)], c.shop, 5.0)
    pen.say("tied-open", 8.6, y + 1.7, shop=True)
    pen.line([(20.0, -2.2), (20.0, -16.6)], c.ink, 0.8, linestyle=(0, (1, 3)))
    _open_poppet(pen, 29.0, -9.6)


def _open_poppet(pen: Pen, x: float, y: float) -> None:
    """An external gate without its spring, its valve pushed open by the exhaust gas."""
    c = pen.colours
    pen.say("external-gate", x, -1.6, fontweight="bold")
    pen.box(x, y + 4.2, 9.0, 4.4)
    pen.line([(x - 4.2, y + 3.6), (x + 4.2, y + 3.6)], c.ink, MEDIUM, zorder=4)
    pen.say("spring-out", x, y + 5.0, shop=True)
    pen.line([(x, y + 3.6), (x, y - 2.1)], c.ink, 3.4, zorder=4)
    pen.shape([(x - 2.3, y - 2.2), (x + 2.3, y - 2.2), (x + 1.7, y - 2.9), (x - 1.7, y - 2.9)], facecolor=c.ink)
    for side in (-1, 1):
        near, far = x + side * 2.0, x + side * 5.2
        pen.shape([(near, y - 4.4), (far, y - 4.4), (far, y - 5.3), (near, y - 5.3)])
        pen.arrow((x + side * 0.9, y - 7.4), (x + side * 0.9, y - 4.0), c.gas)
        pen.arrow((x + side * 2.6, y - 3.2), (x + side * 4.8, y - 2.4), c.gas)


def _spring_only(pen: Pen) -> None:
    y = -13.2
    _can(pen, 19.5, y=y, with_ruler=False)
    symbols.pipe(pen, [(34.0, y + 1.0), (34.0, y + 7.0)])
    symbols.hose(pen, [(34.0, y + 4.6), (28.0, y + 4.6), (28.0, y), (24.7, y)])
    symbols.wheel_housing(pen, 34.0, y, "compressor")
    pen.say("short-hose", 24.0, y + 8.4, shop=True)
    pen.line([(26.2, y + 6.6), (28.0, y + 4.6)], pen.colours.shop, 0.9)
    symbols.controller(pen, 9.2, y + 8.6, vent=False)
    for side in (-1, 1):
        pen.line([(9.2 + side * 3.0, y + 8.6), (9.2 + side * 4.4, y + 8.6)], pen.colours.ink, THICK)
        pen.box(9.2 + side * 4.8, y + 8.6, 0.9, 1.7, shop=True)
    pen.say("left-out", 9.2, y + 5.1, shop=True)


def _line_pressure(pen: Pen) -> None:
    y = -13.2
    _can(pen, 17.5, y=y, with_ruler=False)
    symbols.hose(pen, [(22.7, y), (29.8, y)], shop=False)
    symbols.controller(pen, 32.8, y)
    symbols.hose(pen, [(35.8, y), (37.8, y), (37.8, y + 7.0)], shop=False)
    pen.say("from-compressor", 35.6, y + 8.9)
    pen.say("controller", 34.5, y - 4.9)
    symbols.hose(pen, [(25.8, y), (25.8, y + 5.6)])
    pen.disc(25.8, y, 0.65, shop=True, zorder=5)
    pen.say("tee", 25.6, y - 2.8, shop=True)
    for i in range(5):
        pen.line([(25.2, y + 1.5 + 0.7 * i), (26.4, y + 1.9 + 0.7 * i)], pen.colours.shop, 0.9, zorder=4)
    pen.say("heat-sleeve", 24.6, y + 3.6, at="right", shop=True)
    symbols.sensor(pen, 25.8, y + 6.7, "second-sensor", shop=True, at="right")
    _to_log(pen, 25.8, y + 11.0)


def _turbine_side(pen: Pen, y: float) -> None:
    symbols.pipe(pen, [(5.0, y), (17.6, y)], bore=2.0)
    symbols.pipe(pen, [(23.2, y), (36.0, y)], bore=2.0)
    symbols.wheel_housing(pen, 20.4, y, "turbine")
    pen.arrow((6.0, y), (9.4, y), pen.colours.gas)
    pen.arrow((31.6, y), (35.4, y), pen.colours.gas)
    pen.say("exhaust-in", 2.4, y)
    pen.say("exhaust-out", 36.6, y - 2.2)


def _turbine_pressure(pen: Pen) -> None:
    y = -16.2
    _turbine_side(pen, y)
    for x, key, at in ((12.5, "before-turbine", "right"), (28.3, "after-turbine", "left")):
        symbols.stand_off(pen, x, y + 1.2, 7.4)
        symbols.sensor(pen, x, y + 9.7, key, shop=True, at=at)
        _to_log(pen, x, y + 14.0)
    pen.say("stand-off", 20.4, y + 5.0, shop=True)


def _back_pressure(pen: Pen) -> None:
    y = -16.2
    _turbine_side(pen, y)
    symbols.stand_off(pen, 28.3, y + 1.2, 7.4)
    symbols.gauge(pen, 28.3, y + 8.6)
    pen.say("stand-off", 26.4, y + 5.0, at="right", shop=True)


_DRAWINGS: dict[str, tuple[float, Callable[[Pen], None]]] = {
    "actuator-sweep": (26.6, _actuator_sweep),
    "leak-down": (26.6, _leak_down),
    "controller-sweep": (26.6, _controller_sweep),
    "bleed-decay": (26.6, _bleed_decay),
    "hose-flow": (17.6, _hose_flow),
    "solenoid-check": (27.6, _solenoid_check),
    "floor-pull": (18.0, _floor_pull),
    "spring-only-pull": (23.4, _spring_only),
    "line-pressure-log": (23.4, _line_pressure),
    "turbine-pressure-log": (21.6, _turbine_pressure),
    "intake-pressurise": (23.6, _intake_pressurise),
    "exhaust-back-pressure": (21.6, _back_pressure),
    "sensor-check": (14.6, _sensor_check),
    "controller-vent": (26.6, _controller_vent),
    "line-sweep": (26.6, _line_sweep),
}
