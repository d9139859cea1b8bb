"""Figures for the document: SVG that needs no style sheet, no font and no other file."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as tree
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from boostproof.report.panel import new_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from boostproof.workflows.report_answers import FigureAnswer

# inches: somewhat less than the width of the text on the page, so that letters are no smaller there than beside
# the figure
WIDE, HIGH, TALL = (5.7, 3.2), (5.7, 4.2), (5.7, 4.9)
_SMALLEST = 9.4  # points of a letter: 16 px on a tablet
_SVG = "http://www.w3.org/2000/svg"
_LINK = "{http://www.w3.org/1999/xlink}href"
_FONT = "DejaVuSans-"  # before each letter's id; there is one font, and a figure has a thousand letters
_PLACES = 1  # of a coordinate: a tenth of a point is finer than any printer draws
_MOVED = re.compile(r"translate\(([-\d.]+)(?: ([-\d.]+))?\)")  # and nothing else


def figure(
    draw: Callable[[Figure], object], title: str, alt: str, size: tuple[float, float], *, name: str,
    legend_above: bool = False,
) -> FigureAnswer:
    """Draw a figure without its own headline, which is the caption here.

    Parameters
    ----------
    draw : draws on the figure that it is handed
    title : caption
    alt : what it shows, for those who do not see it
    size : [inches]
    name : before the ids inside, so that several figures can stand in one page
    legend_above : the legend of the first panel stands above it
    """
    import matplotlib
    from matplotlib.text import Text

    with matplotlib.rc_context({"svg.hashsalt": "boostproof", "svg.fonttype": "path"}):
        drawn = new_figure(size)
        draw(drawn)
        for words in drawn.findobj(Text):
            words.set_fontsize(max(_SMALLEST, words.get_fontsize()))
        drawn.patch.set_visible(False)
        for place, ax in enumerate(drawn.axes):
            ax.patch.set_visible(False)
            if place == 0:
                ax.set_title("", loc="left")
                if legend_above:
                    _above(ax)
        file = io.BytesIO()
        drawn.savefig(file, format="svg", metadata={"Date": None})
    width, height = (round(72.0 * inches) for inches in size)
    return {
        "kind": "figure", "title": title, "alt": alt, "svg": plain_svg(file.getvalue(), name), "width": width,
        "height": height,
    }  # fmt: skip


def _above(ax: Axes) -> None:
    """Move a legend off the panel, where curves may be anywhere."""
    legend = ax.get_legend()
    if legend is not None:
        legend.set_loc("lower left")
        legend.set_bbox_to_anchor((0.0, 1.0), ax.transAxes)


def plain_svg(drawing: bytes, name: str) -> str:
    """A drawing as it may stand within a page whose content policy allows no inline style.

    Styles become attributes, comments and metadata go (they would repeat texts), groups that say nothing go, ids get
    a name before them, and coordinates are rounded.
    """
    root = tree.fromstring(drawing)
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{{{_SVG}}}metadata", f"{{{_SVG}}}style"):
                parent.remove(child)
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]
        element.text = element.tail = None  # only blanks: letters are paths
        _plain(element, name)
    _unwrap(root)
    for pattern in root.iter("pattern"):
        for line in pattern.iter("path"):
            line.attrib.pop("stroke-opacity", None)  # what the pattern fills is pale already
    root.attrib.pop("version", None)
    for size in ("width", "height"):
        root.attrib.pop(size, None)
    # what the removed sheet said of every element; both are inherited
    root.attrib = {"xmlns": _SVG, **root.attrib, "stroke-linejoin": "round", "stroke-linecap": "butt"}
    return tree.tostring(root, encoding="unicode").replace(" />", "/>")  # ">" of a text is escaped


def _unwrap(root: tree.Element) -> None:
    """Put what stands in groups without attributes in their places."""
    for parent in list(root.iter()):
        inside: list[tree.Element] = []
        todo = list(parent)
        while todo:
            child = todo.pop(0)
            if child.tag == "g" and not child.attrib:
                todo[:0] = list(child)
            else:
                inside.append(child)
        parent[:] = inside


def _plain(element: tree.Element, name: str) -> None:
    attributes = element.attrib
    if element.tag == "g":
        attributes.pop("id", None)  # nothing points at a group
    link = attributes.pop(_LINK, None)
    if link is not None:
        attributes["href"] = f"#{name}-{link.removeprefix('#').removeprefix(_FONT)}"
    if "id" in attributes:
        attributes["id"] = f"{name}-{attributes['id'].removeprefix(_FONT)}"
    for key, value in _declared(attributes.pop("style", "")):
        attributes[key] = value
    for key, value in list(attributes.items()):
        if value.startswith("url(#"):
            attributes[key] = value.replace("url(#", f"url(#{name}-")
    if element.tag == "path" and "transform" not in attributes and "d" in attributes:
        attributes["d"] = _path(_by_steps([_rounded(word) for word in attributes["d"].split()]))
    elif "d" in attributes:
        attributes["d"] = _path(attributes["d"].split())
    for key in ("x", "y"):
        if key in attributes:
            attributes[key] = _rounded(attributes[key])
    if "transform" in attributes:
        _place(element)


def _place(element: tree.Element) -> None:
    """Where a letter or a word stands, in few figures."""
    attributes = element.attrib
    moved = _MOVED.fullmatch(attributes["transform"])
    if element.tag == "use" and moved is not None and not {"x", "y"} & set(attributes):
        # of a letter, in parts of a hundredth of the font's size: "x" and "y" move it just so
        del attributes["transform"]
        for key, value in zip(("x", "y"), moved.groups(), strict=True):
            if value is not None and round(float(value)):
                attributes[key] = f"{round(float(value))}"
    else:
        attributes["transform"] = _MOVED.sub(
            lambda found: f"translate({' '.join(f'{round(float(v), _PLACES + 1):g}' for v in found.groups() if v)})",
            attributes["transform"],
        )


def _declared(style: str) -> list[tuple[str, str]]:
    found = [part.partition(":") for part in style.split(";") if part.strip()]
    return [(key.strip(), value.strip()) for key, _, value in found]


def _by_steps(words: list[str]) -> list[str]:
    """A path of lines with each point told from the one before, which takes fewer figures; others as they are.

    >>> _by_steps("M 62.9 185.7 L 62.9 188.7 L 64.2 187.6".split())
    ['M', '62.9', '185.7', 'l', '0', '3', 'l', '1.3', '-1.1']
    >>> _by_steps("M 1 1 L 2 1 L 2 2 z".split())
    ['M', '1', '1', 'l', '1', '0', 'l', '0', '1', 'z']
    """
    letters = [word for word in words if word.isalpha()]
    if set(letters) == {"M", "L", "z"} and letters.index("z") == len(letters) - 1:
        return [*_by_steps(words[:-1]), "z"]
    if set(letters) != {"M", "L"}:
        return words
    found, x, y = [], 0.0, 0.0
    for letter, right, down in zip(words[::3], words[1::3], words[2::3], strict=True):
        to_x, to_y = float(right), float(down)
        found += [letter, right, down] if letter == "M" else ["l", _rounded(str(to_x - x)), _rounded(str(to_y - y))]
        x, y = to_x, to_y
    return found


def _path(words: Iterable[str]) -> str:
    """A path without what is understood: a letter that repeats, a line after a move, a nought before a point, and
    blanks beside letters and signs (SVG 2, Paths, the grammar for path data).

    >>> _path("M 0 0 L 1 1 L -2 0.5 Z M 5 -0.5 Q 6 6 7 5 Q 8 4 9 5".split())
    'M0 0 1 1-2 .5ZM5-.5Q6 6 7 5 8 4 9 5'
    """
    kept, last = [], ""
    for word in words:
        if word.isalpha():
            understood = word == last != "M" or (last, word) == ("M", "L")
            last = word
            if understood:
                continue
            kept.append(word)
            continue
        number = word.replace("0.", ".", 1) if word.startswith(("0.", "-0.")) else word
        kept.append(f" {number}" if kept and kept[-1][-1].isdigit() and number[0] != "-" else number)
    return "".join(kept)


def _rounded(word: str) -> str:
    try:
        return f"{round(float(word), _PLACES):g}"
    except ValueError:  # a letter of the path
        return word
