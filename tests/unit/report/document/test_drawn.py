"""A figure in few characters shows what it showed: every point, letter and word stands where it was drawn."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as tree

import numpy as np
import pytest

from boostproof.report.document.drawn import plain_svg

NUMBER = re.compile(r"[A-Za-z]|-?(?:\d+\.\d+|\.\d+|\d+)")  # of the grammar of path data; exponents are not written
TRANSFORM = re.compile(r"(\w+)\(([^)]*)\)")


def points(path: str) -> list[tuple[float, float]]:
    """End points of a path of moves and straight lines, absolute or by steps."""
    words, found = NUMBER.findall(path), []
    letter, at, x, y = "", 0, 0.0, 0.0
    while at < len(words):
        if words[at].isalpha():
            letter, at = words[at], at + 1
            if letter in "zZ":
                continue
        step = letter == "l"
        x, y = float(words[at]) + step * x, float(words[at + 1]) + step * y
        found.append((x, y))
        at += 2
        letter = "L" if letter == "M" else letter
    return found


def placed(root: tree.Element) -> list[tuple[float, float]]:
    """Where every use of a shape stands, through all groups around it [points of the page]."""
    found: list[tuple[float, float]] = []

    def walk(element: tree.Element, matrix: np.ndarray) -> None:
        for kind, text in TRANSFORM.findall(element.get("transform", "")):
            values = [float(v) for v in re.split(r"[ ,]+", text.strip())]
            here = np.eye(3)
            if kind == "translate":
                here[:2, 2] = values + [0.0] * (2 - len(values))
            elif kind == "scale":
                here[0, 0], here[1, 1] = values[0], values[-1]
            elif kind == "rotate":
                turn = np.radians(values[0])
                here[:2, :2] = [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
            matrix = matrix @ here
        if element.tag.rpartition("}")[2] == "use":
            at = matrix @ [float(element.get("x", 0)), float(element.get("y", 0)), 1.0]
            found.append((at[0], at[1]))
        for child in element:
            walk(child, matrix)

    walk(root, np.eye(3))
    return found


@pytest.fixture(scope="module")
def drawings() -> tuple[tree.Element, tree.Element]:
    """One figure as it was drawn, and in few characters."""
    import matplotlib
    from matplotlib.figure import Figure

    with matplotlib.rc_context({"svg.hashsalt": "x", "svg.fonttype": "path"}):
        figure = Figure(figsize=(5.0, 3.0))
        ax = figure.subplots()
        x = np.linspace(0.0, 6.3, 120)
        ax.plot(x, np.sin(x), label="boost, 14.7 psi")
        ax.fill_between(x, np.sin(x) - 0.3, np.cos(x) + 0.3, alpha=0.4, hatch="//")
        ax.set_ylabel("upwards $x^2$")
        ax.legend()
        file = io.BytesIO()
        figure.savefig(file, format="svg", metadata={"Date": None})
    return tree.fromstring(file.getvalue()), tree.fromstring(plain_svg(file.getvalue(), "one"))


def lines(root: tree.Element) -> list[list[tuple[float, float]]]:
    """Every path of moves and straight lines on the page itself, those of shapes left out."""
    hidden = [one for one in root.iter() if one.tag.endswith(("defs", "pattern"))]
    shapes = {id(path) for one in hidden for path in one.iter()}
    paths = [e.get("d", "") for e in root.iter() if e.tag.endswith("path") and id(e) not in shapes and not e.get("transform")]
    return [points(d) for d in paths if not set("QCcqVvHh") & set(d)]


def test_every_point_of_a_line_is_where_it_was(drawings: tuple[tree.Element, tree.Element]) -> None:
    before, after = (lines(root) for root in drawings)
    # the whole page's ground is left out of neither; hatches and letters are shapes
    assert len(before) == len(after) >= 5
    for old, new in zip(before, after, strict=True):
        assert np.abs(np.array(old) - np.array(new)).max() <= 0.051  # a tenth of a point, rounded


def test_every_letter_is_where_it_was(drawings: tuple[tree.Element, tree.Element]) -> None:
    before, after = (np.array(placed(root)) for root in drawings)
    assert len(before) == len(after) > 40
    assert np.abs(before - after).max() <= 0.15


def test_nothing_that_says_nothing_is_left(drawings: tuple[tree.Element, tree.Element]) -> None:
    groups = [element for element in drawings[1].iter() if element.tag.endswith("g") and not element.tag.endswith("svg")]
    assert all(group.attrib for group in groups)
    assert "translate(0 0)" not in tree.tostring(drawings[1], encoding="unicode")
