"""The picture of a comparison: both set-ups above, their difference with its band below."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from boostproof.report.panel import INK, dress, new_figure, shown
from boostproof.report.words import pressure
from boostproof.units import Unit, get_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from boostproof.recording.pulls.comparison import Comparison

SIZE = (9.0, 6.6)
_BEFORE, _AFTER, _BAND = "#1d625e", "#94480c", "#d98f4e"
_TITLE_WIDTH = 78


def draw_comparison(
    comparison: Comparison,
    figure: Figure | None = None,
    *,
    names: tuple[str, str] = ("before", "after"),
    units: str = "psi",
) -> tuple[Axes, Axes]:
    """Mean curves of both set-ups, and the difference with the band that holds it.

    Parameters
    ----------
    comparison : finished result
    figure : to draw on; a new one of 9 by 6.6 inches where there is none
    names : of the two, for the legend
    units : of boost

    Returns
    -------
    tuple of Axes
        The curves, and the difference.
    """
    if figure is None:
        figure = new_figure(SIZE)
    unit = get_unit(units, "pressure")
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
    _curves(above, comparison, unit, names)
    _difference(below, comparison, unit, names)
    title = "\n".join(textwrap.wrap(headline(comparison, names, units), _TITLE_WIDTH))
    above.set_title(title, loc="left", color=INK, fontsize=12, fontweight="bold", pad=10)
    for ax in (above, below):
        dress(ax)
    return above, below


def headline(comparison: Comparison, names: tuple[str, str], units: str) -> str:
    """What came of it, in one line and the chosen unit."""
    if comparison.verdict == "no different":
        return f"{names[1]} against {names[0]}: no difference that matters"
    if comparison.verdict == "cannot tell":
        return f"{names[1]} against {names[0]}: cannot be told apart yet"
    span = max(comparison.spans, key=lambda s: (s.rpm_to - s.rpm_from, abs(s.mean)))
    word = "more" if span.mean > 0.0 else "less"
    return (
        f"{names[1]}: {pressure(1e3 * abs(span.mean), units)} {word} boost than {names[0]} from {span.rpm_from:,.0f} to "
        f"{span.rpm_to:,.0f} rpm"
    )


def _curves(ax: Axes, comparison: Comparison, unit: Unit, names: tuple[str, str]) -> None:
    for boost, colour, style, name in (
        (comparison.before, _BEFORE, (0, (6, 2)), names[0]),
        (comparison.after, _AFTER, "-", names[1]),
    ):
        ax.plot(comparison.rpm, shown(boost, unit), color=colour, linestyle=style, linewidth=1.9, label=name)
    ax.set_ylabel(f"boost, {unit.name}", color=INK)
    ax.set_ylim(bottom=min(0.0, ax.get_ylim()[0]))
    ax.legend(loc="lower right", frameon=False, labelcolor=INK, fontsize=9)


def _difference(ax: Axes, comparison: Comparison, unit: Unit, names: tuple[str, str]) -> None:
    low, high = shown(comparison.band_low, unit), shown(comparison.band_high, unit)
    ax.fill_between(
        comparison.rpm, low, high, facecolor=_BAND, alpha=0.35, linewidth=0.0,
        label="where the true difference lies",
    )  # fmt: skip
    ax.plot(comparison.rpm, shown(comparison.difference, unit), color=_AFTER, linewidth=1.7, label="measured")
    ax.axhline(0.0, color=INK, linewidth=1.0, linestyle=(0, (1, 2)))
    for number, span in enumerate(comparison.spans):
        ax.axvspan(
            span.rpm_from, span.rpm_to, facecolor=INK, alpha=0.07, linewidth=0.0, zorder=0,
            label="they differ" if number == 0 else None,
        )  # fmt: skip
    ax.set_ylim(*_limits(shown(comparison.difference, unit), low, high))
    ax.set_xlim(comparison.rpm[0], comparison.rpm[-1])
    ax.set_xlabel("engine speed, rpm", color=INK)
    ax.set_ylabel(f"difference, {unit.name}", color=INK)
    # Above the panel: the band may fill all of it.
    ax.legend(
        loc="lower left", bbox_to_anchor=(0.0, 1.0), borderaxespad=0.0, frameon=False, labelcolor=INK,
        fontsize=9, ncols=3,
    )  # fmt: skip


def _limits(
    difference: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64]
) -> tuple[float, float]:
    """Limits of the lower panel: the whole band, unless a few engine speeds would dwarf the rest."""
    half = 0.5 * (high - low)
    usual = 1.6 * float(np.median(half))
    bottom = float(np.min(difference - np.minimum(half, usual)))
    top = float(np.max(difference + np.minimum(half, usual)))
    room = 0.06 * (top - bottom)
    return min(bottom, 0.0) - room, max(top, 0.0) + room
