"""Whether a drawing from elsewhere only draws: pages put drawings in as they are."""

from __future__ import annotations

import xml.etree.ElementTree as tree

_SVG = "{http://www.w3.org/2000/svg}"
_ELEMENTS = frozenset({
    "svg", "g", "defs", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "use", "clipPath", "pattern",
    "text", "tspan", "title", "desc",
})  # fmt: skip
_LINKS = ("href", "xlink:href")


def only_draws(drawing: str) -> bool:
    """Whether an SVG holds shapes and letters alone: no script, no style, nothing loaded, no link that leads away.

    >>> only_draws('<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0L1 1" /></svg>')
    True
    >>> only_draws('<svg xmlns="http://www.w3.org/2000/svg" onload="x()" />')
    False
    """
    if "<!" in drawing or "<?" in drawing:
        return False
    try:
        root = tree.fromstring(drawing)
    except tree.ParseError:
        return False
    return root.tag == f"{_SVG}svg" and all(_draws(element) for element in root.iter())


def _draws(element: tree.Element) -> bool:
    name = element.tag.removeprefix(_SVG)
    return name in _ELEMENTS and element.tag != name and all(_plain(*item) for item in element.attrib.items())


def _plain(name: str, value: str) -> bool:
    if name in _LINKS:
        return value.startswith("#")
    outside = "url(" in value.replace("url(#", "")
    return name.replace("-", "").isalnum() and not name.lower().startswith("on") and name != "style" and not outside
