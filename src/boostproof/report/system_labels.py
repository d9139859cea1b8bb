"""What is written on the drawing of a boost system: names, numbers of the moment, and what is suspected."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import wrap

from boostproof.report import system_symbols as moving
from boostproof.report.svg_pen import UNIT, SvgPen
from boostproof.report.system_layout import (
    CAN,
    COOLER,
    DOME,
    ENGINE,
    HOT,
    LINE,
    PASSAGE,
    PORT,
    SENSOR,
    TURBO,
    VALVE,
    System,
    places,
    take_off_x,
)

_CHARACTERS = 18  # of a line of what is suspected, which stands between shaft and engine


def _named(system: System) -> list[tuple[str, float, float, str]]:
    """Word, place and side of every name; the order gives the numbers of the narrow drawing."""
    left, right, middle = "left", "right", "center"
    names = [
        ("filter", 2.5, -15.4, left),
        ("compressor", TURBO + 1.4, -15.5, left),
        ("throttle", 61.6, -6.5, middle),
        ("engine", ENGINE, -8.6, middle),
        ("control-unit", 54.0, -28.7, middle),
        ("manifold-sensor", SENSOR - 0.8, -18.5, right),
        ("turbine", TURBO + 2.9, HOT - 3.8, left),
        ("exhaust", 1.2 if system.gates < 2 else 4.6, HOT - 3.6, left),
    ]
    if system.cooler is not False:
        names.insert(2, ("cooler", COOLER + 2.2, -2.7, middle))
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
_BADGES = {"signal-line": (4.2, 3.0), "cooler": (-1.0, 1.6), "recirculation-valve": (-1.6, 0.9), "throttle": (1.2, 0.3)}


def draw_names(pen: SvgPen, system: System) -> tuple[tuple[int, str], ...]:
    """Write the name of every part and its number, which stands for it where the drawing is narrow; number and name."""
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


def draw_numbers(pen: SvgPen, system: System, shown: Mapping[str, str]) -> None:
    """Write the numbers of the moment; a script may write others."""
    hose = 16.0 if system.controller != "none" else 30.0
    at = [
        ("compressor_outlet", 48.1, -13.2, "center"),
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


def draw_suspected(
    pen: SvgPen, system: System, parts: Sequence[str], key: str, said: Mapping[str, Mapping[str, str]]
) -> None:
    """Hatch the parts that are suspected, and name them; parameters as of `draw_system`, ``said`` are its words."""
    there = places(system)
    with pen.group(class_="suspects"):
        for part in parts:
            place = there[part]
            moving.hatched(pen, place.shape, place.points, place.size, f"url(#{key}-hatch)", data_part=part)
        if parts:
            named = wrap(", ".join(said["parts"][p] for p in parts), _CHARACTERS)
            text = said["says"]["suspect"].format(part="\n".join(named))
            pen.text(text, TURBO + 2.6, -34.4, at="left", kind="suspected")
