"""An operating line on the map of its compressor: efficiency, shaft speed and margins, each with its doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import FloatArray, Metric

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from boostproof.physics.compressor_table import CompressorTable
    from boostproof.recording.pulls.air_flow import Doubtful

_FAR = 2.0  # sd: within these a point may as well lie
_RPM = 30.0 / np.pi


@dataclass(frozen=True)
class Beyond:
    """A stretch of the line that lies off the map: engine speeds [rpm], and on which side, in words."""

    rpm_from: float
    rpm_to: float
    side: str

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {"rpm_from": self.rpm_from, "rpm_to": self.rpm_to, "side": self.side}


@dataclass(frozen=True)
class OnMap:
    """The operating line on a compressor's table; NaN where a point lies outside it, shapes (n,).

    Attributes
    ----------
    rpm : engine speed [rpm]
    speed, speed_sd : corrected shaft speed [rad/s]
    shaft_speed : as it turns in the air of that moment [rad/s]
    efficiency, efficiency_sd : isentropic [1]
    surge_margin, surge_margin_sd, choke_margin, choke_margin_sd : as
        `boostproof.physics.compressor_table.OperatingPoint` [1]
    beyond : stretches that the table does not hold
    surge_near, too_far : points that lie left of the surge line, or beyond the choke ends or the fastest line,
        or may do so within the doubt in flow and pressure ratio
    """

    rpm: FloatArray = field(repr=False)
    speed: FloatArray = field(repr=False)
    speed_sd: FloatArray = field(repr=False)
    shaft_speed: FloatArray = field(repr=False)
    efficiency: FloatArray = field(repr=False)
    efficiency_sd: FloatArray = field(repr=False)
    surge_margin: FloatArray = field(repr=False)
    surge_margin_sd: FloatArray = field(repr=False)
    choke_margin: FloatArray = field(repr=False)
    choke_margin_sd: FloatArray = field(repr=False)
    beyond: tuple[Beyond, ...]
    surge_near: NDArray[np.bool_] = field(repr=False)
    too_far: NDArray[np.bool_] = field(repr=False)

    @property
    def outside(self) -> tuple[tuple[float, str], ...]:
        """Points (engine speed, where) that the table does not hold."""
        return tuple(
            (rpm, beyond.side)
            for rpm in self.rpm.tolist()
            for beyond in self.beyond
            if beyond.rpm_from <= rpm <= beyond.rpm_to
        )

    def nearest(self, name: str) -> tuple[float, Metric] | None:
        """Engine speed and value of the least "surge_margin" or "choke_margin"; None where all is outside."""
        values = getattr(self, name)
        if np.isnan(values).all():
            return None
        at = int(np.nanargmin(values))
        return float(self.rpm[at]), Metric(float(values[at]), float(getattr(self, f"{name}_sd")[at]))

    def efficiency_at_end(self) -> Metric | None:
        """At the highest engine speed; None where that lies outside."""
        value = float(self.efficiency[-1])
        return Metric(value, float(self.efficiency_sd[-1])) if np.isfinite(value) else None

    def as_json(self) -> dict[str, Any]:
        """The ``on_map`` object of an operating line in ``inspect --json``; null where a point is outside."""
        end = self.efficiency_at_end()
        return {
            "nearest_surge": _nearest(self.nearest("surge_margin")),
            "nearest_choke": _nearest(self.nearest("choke_margin")),
            "efficiency_at_end": None if end is None else end.as_json(),
            "corrected_shaft_speed_rpm": _listed(self.speed * _RPM),
            "corrected_shaft_speed_sd": _listed(self.speed_sd * _RPM),
            "shaft_speed_rpm": _listed(self.shaft_speed * _RPM),
            **{
                name: _listed(getattr(self, name))
                for name in (
                    "efficiency", "efficiency_sd", "surge_margin", "surge_margin_sd", "choke_margin",
                    "choke_margin_sd",
                )
            },
            "outside": [stretch.as_json() for stretch in self.beyond],
        }  # fmt: skip

    def findings(self, where: str) -> tuple[Finding, ...]:
        """What a person should know: near or beyond surge, and off the map on the other sides."""
        return tuple(_findings(self, where))


def place_on_map(
    rpm: FloatArray, ratio: Doubtful, flow: Doubtful, inlet: Metric, table: CompressorTable
) -> OnMap:
    """Efficiency, shaft speed and margins along an operating line.

    Parameters
    ----------
    rpm : engine speed, shape (n,) [rpm]
    ratio : pressure ratio [1]
    flow : corrected flow of one compressor, in the reference of the table [kg/s]
    inlet : temperature before the compressor [K]
    table : the map

    Notes
    -----
    The sd follows the doubt in flow and pressure ratio by a step of its own size to either side, each by itself
    (JCGM 100, 5.1.3); where one of the two steps leaves the table, the other one tells. What the map itself is
    off by is not in it.
    """
    from boostproof.physics.compressor_points import ABOVE, CHOKE, INSIDE, SIDES, SURGE, operating_points

    n = len(rpm)
    steps = [(0.0, 0.0)] + [(s * k, t * k) for k in (1.0, _FAR) for s, t in ((1, 0), (-1, 0), (0, 1), (0, -1))]
    points = operating_points(
        table,
        np.concatenate([np.maximum(ratio.value + s * ratio.sd, 1e-3) for s, _ in steps]),
        np.concatenate([np.maximum(flow.value + t * flow.sd, 1e-9) for _, t in steps]),
    )
    side = points.side.reshape(len(steps), n)

    def with_sd(values: FloatArray) -> tuple[FloatArray, FloatArray]:
        middle, *shifted = values.reshape(len(steps), n)[:5]
        pairs = (_half_step(middle, shifted[i], shifted[i + 1]) for i in (0, 2))
        return middle, np.asarray(np.hypot(*pairs))

    speed, speed_sd = with_sd(points.corrected_speed)
    to_shaft = np.sqrt(inlet.value / table.reference.temperature)
    # A line just inside an end of the map may leave it by less than two steps: every step is looked at.
    return OnMap(
        rpm, speed, speed_sd, speed * to_shaft, *with_sd(points.efficiency), *with_sd(points.surge_margin),
        *with_sd(points.choke_margin), tuple(_stretches(rpm, side[0], INSIDE, SIDES)),
        np.asarray((side == SURGE).any(axis=0)), np.asarray(((side == CHOKE) | (side == ABOVE)).any(axis=0)),
    )  # fmt: skip


def _half_step(middle: FloatArray, up: FloatArray, down: FloatArray) -> FloatArray:
    """Change for one sd: from both sides, or from the one that stays on the table; 0 where neither does."""
    # Root mean square of both, not half their difference: at a top of efficiency both steps lead down.
    both = np.sqrt(0.5 * ((up - middle) ** 2 + (down - middle) ** 2))
    one = np.where(np.isfinite(up), np.abs(up - middle), np.abs(down - middle))
    return np.nan_to_num(np.where(np.isfinite(both), both, one), nan=0.0) + 0.0 * middle


def _stretches(
    rpm: FloatArray, side: NDArray[np.intp], inside: int, words: Sequence[str]
) -> list[Beyond]:
    """Neighbouring points on one side of the table, together."""
    edges = np.flatnonzero(np.diff(side)) + 1
    found = []
    for part in np.split(np.arange(len(side)), edges):
        if side[part[0]] != inside:
            found.append(Beyond(float(rpm[part[0]]), float(rpm[part[-1]]), words[int(side[part[0]])]))
    return found


def _findings(line: OnMap, where: str) -> list[Finding]:
    found: list[Finding] = []
    over = [b for b in line.beyond if b.side.startswith("left")]
    if over:
        found.append(
            Finding(
                "near-surge", where,
                f"The compressor works left of the surge line of its map {_speeds(over)}.",
                "Listen for a flutter there, and lower boost at these engine speeds before the next pull.",
            )
        )  # fmt: skip
    elif line.surge_near.any():
        at = line.rpm[line.surge_near]
        found.append(
            Finding(
                "near-surge", where,
                "The compressor comes so near the surge line of its map that it may lie left of it "
                f"{_between(float(at[0]), float(at[-1]))}.",
                "Listen for a flutter there; logged air flow makes this surer.",
            )
        )  # fmt: skip
    out = [b for b in line.beyond if b.side.startswith(("beyond", "above"))]
    if out:
        sides = " and ".join(dict.fromkeys(b.side for b in out))
        found.append(
            Finding(
                "beyond-the-map", where, f"The compressor works {sides} of its map {_speeds(out)}.",
                "Nothing is said of it there; check that the map is that of this compressor.",
            )
        )  # fmt: skip
    elif line.too_far.any():
        at = line.rpm[line.too_far]
        found.append(
            Finding(
                "beyond-the-map", where,
                "The compressor works so near the choke side or the fastest speed line of its map that it may "
                f"lie beyond it {_between(float(at[0]), float(at[-1]))}.",
                "Logged air flow makes this surer.",
            )
        )  # fmt: skip
    return found


def _speeds(stretches: Sequence[Beyond]) -> str:
    return " and ".join(_between(b.rpm_from, b.rpm_to) for b in stretches)


def _between(first: float, last: float) -> str:
    return f"at {first:,.0f} rpm" if first == last else f"from {first:,.0f} to {last:,.0f} rpm"


def _nearest(found: tuple[float, Metric] | None) -> dict[str, Any] | None:
    return None if found is None else {"rpm": found[0], **found[1].as_json()}


def _listed(values: FloatArray) -> list[float | None]:
    return [value if np.isfinite(value) else None for value in values.tolist()]
