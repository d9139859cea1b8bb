"""The boost system of a car as one drawing: air, exhaust, gate, signal line, boost controller and actuator.

An SVG document with classes only: the page that shows it gives the colours (``system.css``). What moves in the
moving picture carries ``data-`` attributes. Names give way to numbers where the drawing is narrow.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape

from boostproof.report.svg_pen import CLASSES, UNIT, SvgPen
from boostproof.report.system_labels import draw_names, draw_numbers, draw_suspected
from boostproof.report.system_layout import WIDTH, System, parts_of, system_of, words
from boostproof.report.system_pipes import draw_pipes
from boostproof.report.system_signal_line import draw_signal_line


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
    draw_pipes(pen, system)
    draw_signal_line(pen, system)
    legend = draw_names(pen, system)
    draw_numbers(pen, system, shown or {})
    draw_suspected(pen, system, parts, key, said)
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
