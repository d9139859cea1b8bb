"""The picture of a verdict: what is drawn, what it is called, and the same bytes every time."""

from __future__ import annotations

import io

import matplotlib
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from tests.unit.report.made_up import PSI, band, cause, verdict

from boostproof.report.verdict_figure import draw_verdict
from boostproof.workflows.verdict import Verdict

THREE = (band("hose", 0.97), band("seal", 0.02), band("gate", 0.01))


def a_verdict(count: int = 3, **changes: object) -> Verdict:
    return verdict(cause("hose", 0.97), cause("seal", 0.02), bands=THREE[:count], **changes)  # type: ignore[arg-type]


def fills(ax: Axes) -> list[PolyCollection]:
    return [c for c in ax.collections if isinstance(c, PolyCollection)]


def legend(ax: Axes) -> list[str]:
    found = ax.get_legend()
    return [t.get_text() for t in found.get_texts()] if found else []


@pytest.mark.parametrize("count", [0, 1, 2, 3])
def test_one_filled_band_per_hypothesis(count: int) -> None:
    ax = draw_verdict(a_verdict(count))
    assert len(fills(ax)) == count
    assert len(legend(ax)) == count + 2  # and the two kinds of measured pull


def test_band_spans_its_5_to_95_percent_points_in_psi() -> None:
    (fill,) = fills(draw_verdict(a_verdict(1)))
    corners = np.asarray(fill.get_paths()[0].vertices)
    assert corners[:, 1].min() == pytest.approx(9.0)
    assert corners[:, 1].max() == pytest.approx(17.0)


def test_bands_differ_without_colour() -> None:
    hatches = [fill.get_hatch() for fill in fills(draw_verdict(a_verdict()))]
    assert len({str(h) for h in hatches}) == 3


@pytest.mark.parametrize(("units", "one_psi"), [("psi", 1.0), ("bar", PSI / 1e5), ("kPa", PSI / 1e3)])
def test_axes_target_and_curves_in_the_chosen_unit(units: str, one_psi: float) -> None:
    ax = draw_verdict(a_verdict(), units=units)
    assert ax.get_xlabel() == "engine speed, rpm"
    assert ax.get_ylabel() == f"boost at the manifold, {units}"
    level = [line for line in ax.lines if list(line.get_xdata()) == [0, 1]]  # type: ignore[arg-type]
    assert len(level) == 1
    assert np.asarray(level[0].get_ydata()) == pytest.approx([15.0 * one_psi] * 2)
    assert [t.get_text() for t in ax.texts] == [f"wanted {15.0 * one_psi:.1f} {units}"]
    (measured,) = [line for line in ax.lines if line.get_label() == "measured"]
    assert np.asarray(measured.get_ydata())[-1] == pytest.approx(17.0 * one_psi)


def test_no_target_no_line() -> None:
    ax = draw_verdict(a_verdict(target=None))
    assert not ax.texts
    assert len(ax.lines) == len(draw_verdict(a_verdict()).lines) - 1


def test_unconfirmed_leader_shows_at_most_80_percent() -> None:
    ax = draw_verdict(a_verdict())
    assert legend(ax)[:3] == ["Torn hose, 80 %", "Torn seal, 2 %", "Torn gate, 1 %"]
    assert ax.get_title(loc="left").endswith("not yet confirmed")


def test_confirmed_leader_shows_its_own_number() -> None:
    ax = draw_verdict(verdict(cause("hose", 0.97, confirmed=True), bands=THREE[:1]))
    assert legend(ax)[0] == "Torn hose, 97 %"
    assert "confirmed" not in ax.get_title(loc="left")


def test_order_only_has_no_percent_anywhere() -> None:
    ax = draw_verdict(a_verdict(trust="order only"))
    assert "%" not in svg(a_verdict(trust="order only"), fonttype="none").split("</style>", 1)[1]
    assert legend(ax)[0] == "Torn hose"


def test_about_is_said() -> None:
    assert legend(draw_verdict(a_verdict(trust="about")))[0] == "Torn hose, about 80 %"


def test_title_of_a_sound_car_and_of_one_that_nothing_fits() -> None:
    sound = draw_verdict(verdict(cause("hose", 0.1), healthy=0.9)).get_title(loc="left")
    assert sound == "Testwagen: nothing found wrong"
    unknown = draw_verdict(verdict(cause("hose", 0.2), none_of_these=0.8)).get_title(loc="left")
    assert unknown == "Testwagen: none of the known causes fits"


def test_title_stays_inside_and_legend_off_the_measured_curve() -> None:
    ax = draw_verdict(a_verdict())
    figure = ax.figure
    assert isinstance(figure, Figure)
    figure.draw_without_rendering()
    page = figure.bbox
    title = ax._left_title.get_window_extent()  # type: ignore[attr-defined]
    assert ax.get_title(loc="left").startswith("Testwagen\nTorn hose that opens")
    assert page.x0 <= title.x0 and title.x1 <= page.x1 and title.y1 <= page.y1
    box = ax.get_legend().get_window_extent()  # type: ignore[union-attr]
    for line in ax.lines:
        if str(line.get_label()).startswith("measured"):
            points = ax.transData.transform(np.column_stack([line.get_xdata(), line.get_ydata()]))
            assert not any(box.contains(x, y) for x, y in points)


def test_draws_on_axes_that_are_handed_in_and_verdict_plot_is_the_same_picture() -> None:
    ax = Figure().add_subplot()
    assert draw_verdict(a_verdict(), ax) is ax
    assert legend(a_verdict().plot()) == legend(ax)


def svg(v: Verdict, fonttype: str = "path") -> str:
    out = io.StringIO()
    with matplotlib.rc_context({"svg.hashsalt": "test", "svg.fonttype": fonttype}):
        figure = draw_verdict(v).figure
        figure.savefig(out, format="svg", metadata={"Date": None})  # type: ignore[union-attr,call-arg,unused-ignore]
    return out.getvalue()


def test_same_verdict_same_bytes() -> None:
    first = svg(a_verdict())
    assert first == svg(a_verdict())
    assert first != svg(a_verdict(2))
