"""The picture of a verdict: measured boost over what the leading causes predict."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from boostproof.report.panel import INK, dress, new_figure
from boostproof.report.words import percent
from boostproof.units import from_si, get_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from boostproof.workflows.verdict import Band, Verdict

# fill, middle line and hatch of the bands: told apart without colour too; the line is dark enough to be
# seen on its own fill and on the others'
_LOOKS = (("#d98f4e", "#94480c", ""), ("#6fa3a0", "#1d625e", "///"), ("#b9a3c4", "#68467d", "\\\\\\"))
_TITLE_WIDTH = 72  # characters of the title that fit on one line of the figure
SIZE = (9.0, 5.4)


def draw_verdict(verdict: Verdict, ax: Axes | None = None, *, units: str = "psi") -> Axes:
    """Measured pulls as lines, the leading causes' 5-95 % bands behind them, the target across.

    Parameters
    ----------
    verdict : finished result
    ax : axes to draw on; a new figure of 9 by 5.4 inches where there are none
    units : of boost
    """
    if ax is None:
        ax = new_figure(SIZE).add_subplot()
    unit = get_unit(units, "pressure")

    def boost(values: np.ndarray) -> np.ndarray:
        return np.asarray(from_si(values, unit))

    dress(ax)
    for band, (colour, dark, hatch) in zip(verdict.bands, _LOOKS, strict=False):
        ax.fill_between(
            band.rpm, boost(band.low), boost(band.high), facecolor=colour, alpha=0.38, hatch=hatch,
            edgecolor=dark, linewidth=0.0, label=_label(band, verdict),
        )  # fmt: skip
        ax.plot(band.rpm, boost(band.middle), color=dark, linewidth=1.7, linestyle=(0, (5, 2)), zorder=3)
    longest = max((c.rpm[-1] for c in verdict.curves), default=0.0)
    named = others = False
    for curve in verdict.curves:
        last = curve.rpm[-1] == longest and not named
        label = "measured" if last else None if others else "measured, other pulls"
        named, others = named or last, others or not last
        ax.plot(
            curve.rpm, boost(curve.boost), color=INK, linewidth=1.8 if last else 0.8, alpha=1.0 if last else 0.6,
            zorder=4, label=label,
        )  # fmt: skip
    if verdict.target is not None:
        level = float(from_si(verdict.target, unit))
        ax.axhline(level, color=INK, linewidth=1.0, linestyle=(0, (1, 2)))
        left = ax.get_xlim()[0]
        ax.annotate(
            f"wanted {level:.1f} {unit.name}", (left, level), xytext=(6, 4), textcoords="offset points",
            color=INK, fontsize=9,
        )  # fmt: skip
    ax.xaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
    ax.set_xlabel("engine speed, rpm", color=INK)
    ax.set_ylabel(f"boost at the manifold, {unit.name}", color=INK)
    title = _title(verdict)
    if len(title) > _TITLE_WIDTH:  # the car on a line of its own reads better than a stray last word
        finding = title.removeprefix(f"{verdict.car}: ")
        finding = finding[0].upper() + finding[1:]
        title = "\n".join(textwrap.wrap(verdict.car, _TITLE_WIDTH) + textwrap.wrap(finding, _TITLE_WIDTH))
    ax.set_title(title, loc="left", color=INK, fontsize=12, fontweight="bold", pad=10)
    ax.set_ylim(bottom=min(0.0, ax.get_ylim()[0]))
    _legend(ax, bool(verdict.bands))
    return ax


def _legend(ax: Axes, bands: bool) -> None:
    if not ax.get_legend_handles_labels()[0]:
        return
    # "best" keeps it off the curves; the ones that fall back early need another corner than the rising ones
    title = "shaded: nine in ten predictions, dashed: their middle" if bands else None
    legend = ax.legend(
        loc="best", frameon=False, labelcolor=INK, fontsize=9, title=title, title_fontsize=9, alignment="left"
    )
    legend.get_title().set_color(INK)


def _label(band: Band, verdict: Verdict) -> str:
    said = percent(min(band.probability, _cap(band, verdict)), verdict.fit.trust)
    return f"{band.title}, {said}" if said else band.title


def _cap(band: Band, verdict: Verdict) -> float:
    from boostproof.report.words import UNCONFIRMED_CAP

    confirmed = band.id == "healthy" or any(c.id == band.id and c.confirmed for c in verdict.causes)
    return 1.0 if confirmed else UNCONFIRMED_CAP


def _title(verdict: Verdict) -> str:
    if verdict.healthy >= max(verdict.leader.probability, verdict.none_of_these):
        return f"{verdict.car}: nothing found wrong"
    if verdict.none_of_these >= verdict.leader.probability:
        return f"{verdict.car}: none of the known causes fits"
    word = "" if verdict.leader.confirmed else ", not yet confirmed"
    return f"{verdict.car}: {verdict.leader.title.lower()}{word}"
