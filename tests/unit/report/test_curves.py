"""Shapes over axes: where numbers lie, round ticks, gaps, areas."""

from __future__ import annotations

import re

import pytest

from boostproof.report.curves import Axis, Band, Level, Line, line_path, picture, round_step


def test_numbers_lie_where_the_ticks_beside_them_do() -> None:
    drawn = picture(
        "boost", [2000, 4000, 6000], says="", x_says="rpm", y_says="psi",
        lines=[Line("now", "found", "as found", [10.0, 20.0, 30.0])], levels=[Level("wanted", "wanted", "", 20.0)],
        y_range=(0.0, 40.0),
    )  # fmt: skip
    points = [tuple(map(float, p)) for p in re.findall(r"[ML]([\d.]+) ([\d.]+)", drawn.lines[0].path)]
    ticks = {t.says: t.at for t in drawn.y.ticks}
    assert [y for _, y in points] == [ticks["10"], ticks["20"], ticks["30"]]
    assert drawn.levels[0].at == ticks["20"]
    assert {t.says: t.at for t in drawn.x.ticks}["4,000"] == points[1][0]
    assert points[0][1] > points[1][1]  # more is further up


def test_a_band_runs_along_its_upper_edge_and_back_along_its_lower_one() -> None:
    drawn = picture(
        "b", [0, 10], says="", x_says="", y_says="", bands=[Band("one", "after", "", [1, 2], [2, 3], [3, 4])],
        y_range=(0, 4), size=(100 + 72, 100 + 76),
    )  # fmt: skip
    points = [tuple(map(float, p)) for p in re.findall(r"([\d.]+) ([\d.]+)", drawn.bands[0].area)]
    assert drawn.bands[0].area.endswith("Z")
    left, right = drawn.x.begin, drawn.x.end
    assert [x for x, _ in points] == [left, right, right, left]
    assert [drawn.y.at(v) for v in (3, 4, 2, 1)] == [pytest.approx(y, abs=0.06) for _, y in points]


def test_what_is_no_number_leaves_a_gap() -> None:
    axis = Axis(0.0, 4.0, 0.0, 4.0, (), "")
    assert line_path(axis, axis, [0, 1, 2, 3], [0, 1, float("nan"), 3]) == "M0 0L1 1M3 3"


@pytest.mark.parametrize(("least", "step"), [(0.11, 0.2), (0.9, 1.0), (2.2, 2.5), (60.0, 100.0), (1001.0, 2000.0)])
def test_steps_are_round(least: float, step: float) -> None:
    assert round_step(least) == pytest.approx(step)


@pytest.mark.parametrize("high", [0.3, 1.37, 5.0, 26.0, 180.0, 7100.0])
def test_an_axis_has_four_to_seven_ticks_that_can_be_told_apart(high: float) -> None:
    axis = picture("a", [0, 1], says="", x_says="", y_says="", y_range=(0.0, high)).y
    said = [t.says for t in axis.ticks]
    assert 3 <= len(said) <= 7 and len(set(said)) == len(said)
