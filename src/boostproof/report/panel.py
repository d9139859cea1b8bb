"""What the pictures have in common: colours of ink and paper, an empty figure, the look of a panel, boost in a unit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from boostproof.units import Unit, from_si

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

INK, PAPER = "#22303c", "#fbfaf6"


def new_figure(size: tuple[float, float]) -> Figure:
    """An empty figure that belongs to no window, size in inches."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, facecolor=PAPER, layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def dress(ax: Axes) -> None:
    """Paper behind the panel, ink for its ticks, no frame above and on the right."""
    ax.set_facecolor(PAPER)
    ax.tick_params(colors=INK)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)


def shown(kilopascal: NDArray[np.float64], unit: Unit) -> NDArray[np.float64]:
    """Boost given in kPa, in the unit that is drawn."""
    return np.asarray(from_si(1e3 * kilopascal, unit))
