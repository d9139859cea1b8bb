"""The picture of a forecast: boost as found and after the repair over engine speed, gate area needed and there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from boostproof.diagnosis.causes import BY_ID
from boostproof.report.boost_figure import BAND, LINE, legend_above, style
from boostproof.report.panel import INK
from boostproof.report.words import pressure
from boostproof.units import from_si, get_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from boostproof.workflows.forecast import RepairForecast

SIZE = (9.0, 7.2)
_LOOKS = ((BAND, LINE, ""), ("#d98f4e", "#94480c", "///"), ("#b9a3c4", "#68467d", "\\\\\\"))
_FOUND = "#7d8a94"


def draw_forecast(found: RepairForecast, figure: Figure, *, units: str = "psi") -> None:
    """Boost above, gate area below.

    Parameters
    ----------
    found : finished result
    figure : empty
    units : of boost
    """
    above, below = figure.subplots(2, 1, sharex=True, gridspec_kw={"height_ratios": (1.7, 1.0)})
    _boost(found, above, units)
    _area(found, below)


def _boost(found: RepairForecast, ax: Axes, units: str) -> None:
    unit = get_unit(units, "pressure")
    r = found.result
    rpm = r.ramp.speeds * 30.0 / np.pi
    ax.plot(
        rpm, from_si(r.found.middle, unit), color=_FOUND, linewidth=1.4, linestyle=(0, (5, 2)), label="as found"
    )
    bands = [("after the repair", r.after)] if r.after is not None else [
        (f"after, if it is {_title_of(c.id)}", c.band) for c in r.by_cause
    ]  # fmt: skip
    for (name, band), (fill, dark, hatch) in zip(bands, _LOOKS, strict=False):
        ax.fill_between(
            rpm, np.asarray(from_si(band.low, unit)), np.asarray(from_si(band.high, unit)), facecolor=fill, alpha=0.38,
            hatch=hatch, edgecolor=dark, linewidth=0.0,
        )  # fmt: skip
        ax.plot(rpm, np.asarray(from_si(band.middle, unit)), color=dark, linewidth=1.9, label=name)
    ax.axhline(
        float(from_si(r.ramp.target, unit)), color=INK, linewidth=1.0, linestyle=(0, (1, 2)),
        label=f"wanted {pressure(r.ramp.target, units)}",
    )  # fmt: skip
    style(ax, f"{found.car}: {', '.join(c.written for c in found.repairs)}")
    ax.set_ylabel(f"boost at the manifold, {unit.name}", color=INK)
    ax.set_ylim(bottom=min(0.0, ax.get_ylim()[0]))
    legend_above(ax)


def _title_of(cause: str) -> str:
    if cause == "healthy":
        return "a sound car"
    return BY_ID[cause].title.lower() if cause in BY_ID else cause


def _area(found: RepairForecast, ax: Axes) -> None:
    a = found.result.area
    rpm = a.speeds * 30.0 / np.pi
    ax.fill_between(rpm, a.needed[0] * 1e6, a.needed[2] * 1e6, facecolor=BAND, alpha=0.38, linewidth=0.0)
    ax.plot(rpm, a.needed[1] * 1e6, color=LINE, linewidth=1.7, label="gate area that the target needs")
    for level, name, dash in ((a.there[1], "there after the repair", "-"), (a.found[1], "there as found", (0, (5, 2)))):
        ax.axhline(level * 1e6, color=INK, linewidth=1.2, linestyle=dash, label=name)
    ax.xaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
    style(ax, "Effective gate area")
    ax.set_xlabel("engine speed, rpm", color=INK)
    ax.set_ylabel("mm²", color=INK)
    ax.set_ylim(0.0, 1.12e6 * max(a.there[1], a.found[1], float(np.nanmax(a.needed[2]))))
    legend_above(ax)
