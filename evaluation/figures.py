"""Reliability diagrams: how often the leader was right against how sure the tool was of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from boostproof.report.panel import INK, PAPER
from evaluation.metrics import Table, equal_mass

_MARKS = (("#94480c", "o", "log alone"), ("#1d625e", "s", "after the tests"))


def draw_reliability(path: Path, title: str, tables: tuple[Table, Table]) -> None:
    """Write the diagram of a suite as SVG.

    Parameters
    ----------
    path : of the picture
    title : of the suite
    tables : scores on the log alone and after the tests
    """
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    figure = Figure(figsize=(5.2, 5.2), facecolor=PAPER, layout="constrained")
    FigureCanvasSVG(figure)
    ax = figure.add_subplot()
    ax.set_facecolor(PAPER)
    ax.plot([0, 1], [0, 1], color=INK, linewidth=0.9, linestyle=(0, (1, 2)))
    for table, (colour, marker, name) in zip(tables, _MARKS, strict=True):
        sure, right, low, high = [], [], [], []
        for rows in equal_mass(table.confidence, table.weight):
            w = table.weight[rows]
            size = float(w.sum() ** 2 / (w @ w))
            p, hit = float(w @ table.confidence[rows] / w.sum()), float(w @ table.correct[rows] / w.sum())
            spread = 2.0 * float(np.sqrt((hit * (1 - hit) + 0.5 / (size + 2)) / (size + 2)))
            sure.append(p)
            right.append(hit)
            low.append(min(spread, hit))
            high.append(min(spread, 1.0 - hit))
        ax.errorbar(
            sure, right, yerr=[low, high], color=colour, marker=marker, markersize=5, linewidth=1.1,
            elinewidth=0.8, capsize=2, label=f"{name}, {table.size} cars",
        )  # fmt: skip
    ax.set_xlim(0, 1)
    ax.set_ylim(0, 1)
    ax.set_aspect("equal")
    ax.set_xlabel("how sure of the first cause", color=INK)
    ax.set_ylabel("how often it was right", color=INK)
    ax.set_title(title, loc="left", color=INK, fontsize=12, fontweight="bold", pad=10)
    ax.tick_params(colors=INK)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    ax.legend(loc="upper left", frameon=False, labelcolor=INK, fontsize=9)
    path.parent.mkdir(parents=True, exist_ok=True)
    with mpl.rc_context({"svg.hashsalt": "boostproof"}):  # the same numbers give the same file
        figure.savefig(path, format="svg", facecolor=PAPER, metadata={"Date": None})
