"""The picture of a compressor map with the operating line of a pull: the map in thin grey, the line with its band."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from boostproof.report.boost_figure import LINE, legend_above, style
from boostproof.report.panel import INK, PAPER

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import QuadContourSet
    from numpy.typing import NDArray

    from boostproof.physics.compressor_points import MapMesh
    from boostproof.recording.pulls.air_flow import OperatingLine

_BAND = "#cfe0dc"  # opaque: overlapping parts of the band must not show
_SPEED, _EFFICIENCY, _WORDS = "#98a1a7", "#b4babd", "#6b757c"
_LEVELS = np.array([0.50, 0.60, 0.65, 0.70, 0.75, 0.80, 0.85])  # the lower ones crowd at choke
_RPM = 30.0 / np.pi


def draw_compressor(lines: MapMesh, mesh: MapMesh, line: OperatingLine, ax: Axes, *, number: int = 1) -> Axes:
    """A compressor's map in corrected flow and pressure ratio, and an operating line on it.

    Parameters
    ----------
    lines : the map's speed lines
    mesh : the same with more lines between them, for its efficiency
    line : of one pull, its band two sd in flow and in pressure ratio
    ax : axes to draw on
    number : of the pull, for the legend
    """
    from matplotlib.collections import PolyCollection

    _map(ax, lines, mesh)
    flow, ratio = line.corrected_flow, line.pressure_ratio
    pieces = band_pieces(flow.value, ratio.value, 2.0 * flow.sd, 2.0 * ratio.sd)
    band = PolyCollection(pieces, facecolors=_BAND, edgecolors=_BAND, linewidths=0.3, zorder=1)
    band.set_label("where it may lie")
    ax.add_collection(band)
    edge = np.concatenate(pieces)
    ax.plot(flow.value, ratio.value, color=LINE, linewidth=1.9, zorder=4, label=f"pull {number}")
    _marks(ax, line)
    style(ax, _headline(line))
    air = line.reference
    ax.set_xlabel(f"corrected flow, kg/s (at {air.temperature:.0f} K, {air.pressure / 1e3:.1f} kPa)", color=INK)
    ax.set_ylabel("pressure ratio, outlet over inlet", color=INK)
    right = max(float(lines.flow.max()), float(edge[:, 0].max()))
    top = max(float(lines.pressure_ratio.max()), float(edge[:, 1].max()))
    ax.set_xlim(0.0, 1.16 * right)
    ax.set_ylim(1.0 - 0.02 * (top - 1.0), top + 0.06 * (top - 1.0))
    legend_above(ax)
    return ax


def band_pieces(
    x: NDArray[np.float64], y: NDArray[np.float64], half_x: NDArray[np.float64], half_y: NDArray[np.float64]
) -> list[NDArray[np.float64]]:
    """What ellipses cover whose middles walk along a line: one convex piece from each point to the next.

    Parameters
    ----------
    x, y : the line, shape (n,)
    half_x, half_y : half axes of the ellipse at each point, shape (n,)

    Returns
    -------
    list of ndarray
        Corners of n - 1 pieces that overlap, each of shape (k, 2).
    """
    angle = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
    ellipses = np.stack(
        [x[:, None] + half_x[:, None] * np.cos(angle), y[:, None] + half_y[:, None] * np.sin(angle)], axis=2
    )
    return [_hull(np.concatenate(pair)) for pair in pairwise(ellipses)]


def _hull(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners of the convex hull, by Andrew's chains: from left to right below, and back above."""
    ordered = points[np.lexsort((points[:, 1], points[:, 0]))].tolist()

    def chain(along: list[list[float]]) -> list[list[float]]:
        kept: list[list[float]] = []
        for px, py in along:
            while len(kept) > 1:
                (ax, ay), (bx, by) = kept[-2], kept[-1]
                if (bx - ax) * (py - ay) - (by - ay) * (px - ax) > 0.0:
                    break
                kept.pop()
            kept.append([px, py])
        return kept[:-1]

    return np.array(chain(ordered) + chain(ordered[::-1]))


def _map(ax: Axes, lines: MapMesh, mesh: MapMesh) -> None:
    """Speed lines, the surge line across their ends, and efficiency."""
    reached = _LEVELS[(mesh.efficiency.min() < _LEVELS) & (mesh.efficiency.max() > _LEVELS)]
    if reached.size:
        drawn = ax.contour(
            mesh.flow, mesh.pressure_ratio, mesh.efficiency, levels=reached, colors=_EFFICIENCY, linewidths=0.7,
            linestyles=[(0, (4, 2))], zorder=2,
        )  # fmt: skip
        _efficiency_words(ax, mesh, reached, drawn)
    last = len(lines.speed) - 1
    for i, speed in enumerate(lines.speed):
        ax.plot(lines.flow[i], lines.pressure_ratio[i], color=_SPEED, linewidth=0.8, zorder=2)
        ax.annotate(
            f"{round(speed * _RPM, -2):,.0f}{' rpm' if i == last else ''}",
            (lines.flow[i, -1], lines.pressure_ratio[i, -1]), xytext=(3, -2), textcoords="offset points",
            va="top", color=_WORDS, fontsize=7,
        )  # fmt: skip
    ax.plot(
        lines.flow[:, 0], lines.pressure_ratio[:, 0], color=_WORDS, linewidth=1.1, linestyle=(0, (1, 1)), zorder=2,
        label="surge line of the map",
    )  # fmt: skip


def _efficiency_words(ax: Axes, mesh: MapMesh, levels: NDArray[np.float64], drawn: QuadContourSet) -> None:
    """Per cent outside the fastest line, where it falls through them towards choke; the others on their own lines."""
    best = int(np.argmax(mesh.efficiency[-1]))
    falling, flow, ratio = (
        values[-1, best:][::-1] for values in (mesh.efficiency, mesh.flow, mesh.pressure_ratio)
    )
    outside = [float(level) for level in levels if falling[0] < level < falling[-1]]
    for level in outside:
        ax.annotate(
            _percent(level), (np.interp(level, falling, flow), np.interp(level, falling, ratio)), xytext=(4, 3),
            textcoords="offset points", color=_WORDS, fontsize=7,
        )  # fmt: skip
    within = [float(level) for level in levels if float(level) not in outside]
    if within:
        ax.clabel(drawn, levels=within, fmt=_percent, fontsize=7, colors=_WORDS)


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _marks(ax: Axes, line: OperatingLine) -> None:
    """Engine speed at both ends, and where surge is nearest."""
    from matplotlib.patheffects import withStroke

    flow, ratio = line.corrected_flow.value, line.pressure_ratio.value
    room = flow[0] > 0.15 * flow.max()  # left of the line, where the map has no words
    at = {0: (-6 if room else 6, -12), len(flow) - 1: (6, 6)}
    nearest = None if line.on_map is None else line.on_map.nearest("surge_margin")
    if nearest is not None:
        place = int(np.argmin(np.abs(line.rpm - nearest[0])))
        if all(abs(place - end) > 2 for end in at):
            at[place] = (-6, 8)
    for place, offset in at.items():
        ax.plot(
            flow[place], ratio[place], "o", markersize=5, markerfacecolor=PAPER, markeredgecolor=LINE,
            markeredgewidth=1.4, zorder=5,
        )  # fmt: skip
        ax.annotate(
            f"{round(float(line.rpm[place]), -1):,.0f} rpm", (flow[place], ratio[place]), xytext=offset,
            textcoords="offset points", ha="right" if offset[0] < 0 else "left", color=INK, fontsize=9, zorder=6,
            path_effects=[withStroke(linewidth=2.5, foreground=PAPER)],
        )  # fmt: skip


def _headline(line: OperatingLine) -> str:
    nearest = None if line.on_map is None else line.on_map.nearest("surge_margin")
    if line.on_map is None or nearest is None:
        return "Compressor: the pull lies off the map"
    for start, says in (("left", "left of the surge line"), ("beyond", "beyond the map"), ("above", "above the map")):
        stretch = next((b for b in line.on_map.beyond if b.side.startswith(start)), None)
        if stretch is not None:
            return f"Compressor: {says} from {round(stretch.rpm_from, -1):,.0f} to {round(stretch.rpm_to, -1):,.0f} rpm"
    rpm, margin = nearest
    return f"Compressor: nearest to surge {100 * margin.value:.0f} ± {200 * margin.sd:.0f} % at {round(rpm, -1):,.0f} rpm"
