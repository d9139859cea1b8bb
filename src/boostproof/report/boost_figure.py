"""The picture of a recording's pulls: boost over engine speed, one of them with its band, knee and plateau."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from boostproof.report.panel import INK, PAPER, dress
from boostproof.report.panel import shown as in_unit
from boostproof.units import Unit, from_si, get_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

LINE, BAND = "#1d625e", "#6fa3a0"
_OTHERS = "#7d8a94"
_CHARACTERS = 8.0  # of a title to an inch of its panel
_LETTER, _HANDLE, _PAD, _ROW = 5.2, 42.0, 26.0, 13.0  # points: of a legend's letters and marks, above it, of its rows


@dataclass(frozen=True)
class BoostLine:
    """One pull to draw.

    Attributes
    ----------
    number : as inspect numbers it
    rpm, boost, sd : engine speed [rpm], boost and its sd [kPa gauge], shapes (n,)
    knee : engine speed [rpm] and boost [kPa gauge], None where there is none
    plateau : boost [kPa gauge]
    peak : engine speed and boost
    """

    number: int
    rpm: NDArray[np.float64] = field(repr=False)
    boost: NDArray[np.float64] = field(repr=False)
    sd: NDArray[np.float64] = field(repr=False)
    knee: tuple[float, float] | None = None
    plateau: float | None = None
    peak: tuple[float, float] | None = None

    @property
    def span(self) -> float:
        """Engine speeds that it covers [rpm]."""
        return float(self.rpm[-1] - self.rpm[0])


def longest(lines: Sequence[BoostLine]) -> BoostLine:
    """The line over most engine speeds, the first of equals: the one that is drawn with its marks."""
    return max(lines, key=lambda line: (round(line.span, -2), -line.number))


def draw_boost(
    lines: Sequence[BoostLine], ax: Axes, *, name: str, units: str = "psi", number: int | None = None
) -> Axes:
    """Boost over engine speed of every pull.

    Parameters
    ----------
    lines : at least one
    ax : axes to draw on
    name : of the recording, for the title
    units : of boost
    number : of the pull to draw with its marks; left out, the one over most engine speeds
    """
    unit = get_unit(units, "pressure")
    shown = next((line for line in lines if line.number == number), None) or longest(lines)
    others = [line for line in lines if line is not shown]
    for i, line in enumerate(others):
        ax.plot(
            line.rpm, in_unit(line.boost, unit), color=_OTHERS, linewidth=0.9, zorder=2,
            label=None if i else "other pulls" if len(others) > 1 else f"pull {line.number}",
        )  # fmt: skip
    low, high = shown.boost - 2.0 * shown.sd, shown.boost + 2.0 * shown.sd
    ax.fill_between(
        shown.rpm, in_unit(low, unit), in_unit(high, unit), facecolor=BAND, alpha=0.35, linewidth=0.0,
        label="where the true boost lies", zorder=1,
    )  # fmt: skip
    ax.plot(shown.rpm, in_unit(shown.boost, unit), color=LINE, linewidth=1.9, label=f"pull {shown.number}", zorder=3)
    _marks(ax, shown, unit)
    style(ax, f"{name}: {_headline(shown, unit)}")
    ax.set_xlabel("engine speed, rpm", color=INK)
    ax.set_ylabel(f"boost at the manifold, {unit.name}", color=INK)
    low_end, high_end = ax.get_ylim()
    ax.set_ylim(min(0.0, low_end), high_end + 0.04 * (high_end - low_end))  # room for words on the plateau
    ax.xaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
    legend_above(ax)
    return ax


def legend_above(ax: Axes) -> None:
    """Above the panel, which may be full: the pull first, then its band, then what lies behind.

    Three in a row, or fewer where the panel is too narrow; a title that is there already moves up.
    """
    handles, words = ax.get_legend_handles_labels()
    columns = 3 if _LETTER * sum(map(len, words[-3:])) + 3 * _HANDLE <= _points(ax) else 2
    if columns == 2 and _LETTER * 2 * max(map(len, words), default=0) > 1.5 * _points(ax):
        columns = 1
    rows = -(-len(words) // columns)
    ax.legend(
        handles[::-1], words[::-1], loc="lower left", bbox_to_anchor=(0.0, 1.0), borderaxespad=0.0, frameon=False,
        labelcolor=INK, fontsize=9, ncols=columns, columnspacing=1.2, handlelength=1.6,
    )  # fmt: skip
    title = ax.get_title(loc="left")
    if title and rows > 1:
        ax.set_title(title, loc="left", color=INK, fontsize=12, fontweight="bold", pad=_PAD + _ROW * (rows - 1))


def _points(ax: Axes) -> float:
    """About how wide a panel is. [points]"""
    figure = ax.get_figure(root=True)
    assert figure is not None  # an axes stands on one
    grid = ax.get_subplotspec()
    return 0.86 * 72.0 * float(figure.get_size_inches()[0]) / (1 if grid is None else grid.get_gridspec().ncols)


def style(ax: Axes, title: str) -> None:
    """What every panel has in common; the title, above the legend, is broken where the panel ends."""
    dress(ax)
    figure = ax.get_figure(root=True)
    assert figure is not None  # an axes stands on one
    grid = ax.get_subplotspec()
    columns = 1 if grid is None else grid.get_gridspec().ncols
    room = max(24, int(_CHARACTERS * figure.get_size_inches()[0] / columns))
    ax.set_title(
        "\n".join(textwrap.wrap(title, room)), loc="left", color=INK, fontsize=12, fontweight="bold", pad=_PAD
    )


def _marks(ax: Axes, line: BoostLine, unit: Unit) -> None:
    """Knee and plateau, their words outside the band."""
    if line.knee is None:
        return
    rpm, boost = line.knee
    after = line.rpm >= rpm
    if line.plateau is not None and after.any():
        level = float(in_unit(np.array(line.plateau), unit))
        ax.plot([rpm, line.rpm[-1]], [level, level], color=INK, linewidth=1.0, linestyle=(0, (1, 2)), zorder=4)
        last = line.rpm >= line.rpm[-1] - 0.25 * line.span
        top = float(in_unit((line.boost + 2.0 * line.sd)[last].max(), unit))
        ax.annotate(
            f"plateau {_text(line.plateau, unit)}", (line.rpm[-1], top), xytext=(0, 4), textcoords="offset points",
            ha="right", va="bottom", color=INK, fontsize=9,
        )  # fmt: skip
    ax.plot(
        [rpm], [float(in_unit(np.array(boost), unit))], "o", markersize=7, markerfacecolor=PAPER, markeredgecolor=LINE,
        markeredgewidth=1.6, zorder=5,
    )  # fmt: skip
    near = after & (line.rpm <= rpm + 0.25 * line.span)
    under = float(in_unit((line.boost - 2.0 * line.sd)[near].min() if near.any() else np.array(boost), unit))
    ax.annotate(
        f"knee {_text(boost, unit)}\nat {round(rpm, -1):,.0f} rpm", (rpm, under), xytext=(9, -6),
        textcoords="offset points", ha="left", va="top", color=INK, fontsize=9,
    )  # fmt: skip


def _headline(line: BoostLine, unit: Unit) -> str:
    if line.plateau is not None and line.knee is not None:
        return f"{_text(line.plateau, unit)} held from {round(line.knee[0], -1):,.0f} rpm"
    if line.peak is not None:
        return f"at most {_text(line.peak[1], unit)}, at {round(line.peak[0], -1):,.0f} rpm"
    return "boost over engine speed"


def _text(kilopascal: float, unit: Unit) -> str:
    digits = {"bar": 2, "kPa": 0}.get(unit.name, 1)
    return f"{float(from_si(1e3 * kilopascal, unit)):.{digits}f} {unit.name}"
