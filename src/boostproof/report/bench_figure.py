"""The picture of the sweeps: pressure over travel, up and down, over the band of sound actuators."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from boostproof.report.panel import INK, PAPER, dress, new_figure
from boostproof.units import Unit, from_si, get_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from boostproof.workflows.bench import Bench, SweepCurve

SIZE = (9.0, 5.4)
_BAND, _DIRECT, _THROUGH = "#6fa3a0", "#22303c", "#94480c"
_MARKS = ("o", "s", "D", "^", "v")
_TITLE_WIDTH = 72


def draw_sweeps(result: Bench, figure: Figure | None = None, *, units: str = "psi") -> Axes:
    """Each sweep as a line from first movement to full travel, dashed on the way back where that was read.

    Bars are two standard deviations of a reading.

    Parameters
    ----------
    result : with at least one sweep
    figure : to draw on; a new one of 9 by 5.4 inches where there is none
    units : of pressure
    """
    if figure is None:
        figure = new_figure(SIZE)
    unit = get_unit(units, "pressure")
    ax = figure.add_subplot()
    dress(ax)
    band = result.band
    ax.fill_between(
        1e3 * band.travel, _shown(band.low, unit), _shown(band.high, unit), facecolor=_BAND, alpha=0.35,
        linewidth=0.0, label="sound actuators of this kind, straight on",
    )  # fmt: skip
    for place, sweep in enumerate(result.sweeps):
        _draw(ax, sweep, _MARKS[place % len(_MARKS)], unit)
    ax.set_xlabel("travel at the rod, mm", color=INK)
    ax.set_ylabel(f"pressure, {unit.name} gauge", color=INK)
    ax.set_title(
        "\n".join(textwrap.wrap(f"{result.car}: {_opens(result)}", _TITLE_WIDTH)), loc="left", color=INK,
        fontsize=12, fontweight="bold", pad=10,
    )  # fmt: skip
    ax.set_xlim(left=-0.4)
    ax.set_ylim(0.0, 1.04 * ax.get_ylim()[1])
    ax.legend(loc="lower right", frameon=False, labelcolor=INK, fontsize=9)
    return ax


def _opens(result: Bench) -> str:
    """What the picture shows first: whether the actuator opens where it should."""
    said = next((m.verdict for m in result.meanings if m.id == "opening-pressure"), "cannot tell")
    return {
        "low": "the actuator opens at less pressure than it should",
        "high": "the actuator opens at more pressure than it should",
        "as it should be": "the actuator opens where it should",
    }.get(said, "pressure over travel")


def _draw(ax: Axes, sweep: SweepCurve, mark: str, unit: Unit) -> None:
    colour = _DIRECT if sweep.direct else _THROUGH
    travel = 1e3 * sweep.travel
    first, full = (float(from_si(p, unit)) for p in (sweep.first, sweep.full))
    ax.errorbar(
        [0.0, travel], [first, full], yerr=float(from_si(sweep.doubt, unit)), color=colour, linewidth=1.9, marker=mark,
        markersize=6, elinewidth=1.1, capsize=3.0, label=sweep.name, zorder=4,
    )  # fmt: skip
    if sweep.home is None:
        return
    home = float(from_si(sweep.home, unit))
    # on the way down the arm lets go as much lower at its stop as at its seat
    ax.plot(
        [travel, travel, 0.0], [full, full - (first - home), home], color=colour, linewidth=1.3,
        linestyle=(0, (5, 2)), marker=mark, markevery=[2], markersize=6, markerfacecolor=PAPER, zorder=3,
        label=f"{sweep.name}, on the way home",
    )  # fmt: skip


def _shown(pascal: NDArray[np.float64], unit: Unit) -> NDArray[np.float64]:
    return np.asarray(from_si(pascal, unit))
