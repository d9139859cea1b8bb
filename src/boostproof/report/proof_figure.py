"""The picture of a proof: boost before and after beside what is wanted, and the difference on a standard day."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from boostproof.report.panel import INK, dress, new_figure, shown
from boostproof.units import Unit, get_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from boostproof.proof.band import BandCheck
    from boostproof.proof.model import Proof

SIZE = (9.0, 6.8)
_BEFORE, _AFTER, _WANTED, _FORECAST = "#94480c", "#1d625e", "#6b6b6b", "#5b7fa6"
_HATCH = "#2f5078"
_NARROW = 0.3  # share of the engine speeds that a line of text takes
_TITLE_WIDTH = 92


def draw_proof(
    proof: Proof,
    figure: Figure | None = None,
    *,
    title: str = "",
    band: BandCheck | None = None,
    stop: float | None = None,
    units: str = "psi",
) -> tuple[Axes, Axes]:
    """Mean curves before and after on the target's tolerance, and their difference with its band.

    Parameters
    ----------
    proof : finished result
    figure : to draw on; a new one of 9 by 6.8 inches where there is none
    title : sentence above it
    band : forecast that the curve after was held against
    stop : stop boost [kPa gauge]
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
    _wanted(above, proof, stop, unit)
    if band is not None:
        above.fill_between(
            band.rpm, shown(band.low, unit), shown(band.high, unit), facecolor=_FORECAST, alpha=0.25,
            linewidth=0.0, label="forecast", hatch="///", edgecolor=_HATCH,
        )  # fmt: skip
    for boost, colour, style, name in (
        (proof.before, _BEFORE, (0, (6, 2)), "before"), (proof.after, _AFTER, "-", "after"),
    ):  # fmt: skip
        above.plot(proof.rpm, shown(boost, unit), color=colour, linestyle=style, linewidth=1.9, label=name)
    above.set_ylabel(f"boost, {unit.name}", color=INK)
    above.legend(loc="lower right", frameon=False, labelcolor=INK, fontsize=9)
    above.set_title(
        "\n".join(textwrap.wrap(title, _TITLE_WIDTH)), loc="left", color=INK, fontsize=11, fontweight="bold", pad=10
    )
    _difference(below, proof, unit)
    for ax in (above, below):
        dress(ax)
    return above, below


def _wanted(ax: Axes, proof: Proof, stop: float | None, unit: Unit) -> None:
    if proof.target is not None and proof.tolerance is not None:
        held = proof.rpm >= proof.holds_from
        ax.fill_between(
            proof.rpm[held], shown(proof.target[held] - proof.tolerance, unit),
            shown(proof.target[held] + proof.tolerance, unit), facecolor=_WANTED, alpha=0.18, linewidth=0.0,
            label="wanted",
        )  # fmt: skip
    if stop is not None:
        ax.axhline(
            float(shown(np.array(stop), unit)), color=INK, linewidth=1.3, linestyle=(0, (4, 2, 1, 2)), label="stop"
        )


def _difference(ax: Axes, proof: Proof, unit: Unit) -> None:
    ax.fill_between(
        proof.rpm, shown(proof.band_low, unit), shown(proof.band_high, unit), facecolor=_AFTER, alpha=0.2,
        linewidth=0.0, label="where the true difference lies",
    )  # fmt: skip
    ax.plot(proof.rpm, shown(proof.difference, unit), color=_AFTER, linewidth=1.7, label="after minus before")
    ax.axhline(0.0, color=INK, linewidth=1.0, linestyle=(0, (1, 2)))
    for part in proof.ranges:
        ax.axvline(part.rpm_from, color=INK, linewidth=0.6, alpha=0.4)
        narrow = part.rpm_to - part.rpm_from < _NARROW * (proof.rpm[-1] - proof.rpm[0])
        ax.annotate(
            f"{part.name}:\n{part.change}" if narrow else f"{part.name}: {part.change}", (part.rpm_from, 0.0),
            xycoords=("data", "axes fraction"), xytext=(4, 5), textcoords="offset points", color=INK, fontsize=8,
        )  # fmt: skip
    ax.set_xlim(proof.rpm[0], proof.rpm[-1])
    ax.xaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
    ax.set_xlabel("engine speed, rpm", color=INK)
    ax.set_ylabel(f"difference, {unit.name}", color=INK)
    ax.legend(
        loc="lower left", bbox_to_anchor=(0.0, 1.0), borderaxespad=0.0, frameon=False, labelcolor=INK, fontsize=9,
        ncols=2,
    )  # fmt: skip
