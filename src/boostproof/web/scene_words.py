"""What happens at a moment of the moving picture, in one sentence."""

from __future__ import annotations

from collections.abc import Mapping

from boostproof.web import shown
from boostproof.web.words import t

_LOSING = 0.3  # share of what enters the line from which its leak is worth a word
_VENTING = 0.02
_BUILDING, _NEAR = 0.88, 0.04  # of the boost wanted
_LEAST = 3.0  # kPa that a difference must have to be worth a word
_DIFFERENT = 0.08  # share of travel between two gates
# from which share of its travel a gate is said to be so
_OPENINGS = (
    (0.985, "gate_full"), (0.8, "gate_nearly"), (0.585, "gate_two_thirds"), (0.42, "gate_half"), (0.29, "gate_third"),
    (0.18, "gate_quarter"), (0.01, "gate_begins"), (-1.0, "gate_shut"),
)  # fmt: skip


def sentence(
    moment: Mapping[str, float], rpm: float, units: str, controller: str, target: float | None, *, rises: bool
) -> str:
    """What happens now.

    Parameters
    ----------
    moment : numbers of one car by their names in the scene's answer
    rpm : engine speed
    units : of the shop
    controller : kind of boost controller
    target : boost wanted [kPa gauge], None where not known
    rises : boost is still on its way up
    """
    return t(
        "scene.now.sentence", rpm=shown.rpm(rpm), line=_line(moment, units, controller), gate=_gate(moment),
        boost=_boost(moment["boost_kpa_gauge"], target, units, rises),
    )  # fmt: skip


def _line(moment: Mapping[str, float], units: str, controller: str) -> str:
    pressure = shown.kpa(max(moment["line_chamber_kpa_gauge"], 0.0), units)
    if moment["line_leak_flow_g_per_s"] > _LOSING * max(moment["controller_flow_g_per_s"], 1e-6):
        return t("scene.now.losing", pressure=pressure)
    if controller == "ball and spring":
        return t("scene.now.ball_lifted", pressure=pressure) if moment["ball_open"] > 0.0 else t("scene.now.ball_sits")
    if controller == "bleed valve":
        return t("scene.now.bleed", pressure=pressure)
    if controller.startswith("solenoid"):
        if moment["valve_share"] < _VENTING:
            return t("scene.now.valve_rests", pressure=pressure)
        return t("scene.now.valve_vents", pressure=pressure, share=shown.share(moment["valve_share"]))
    return t("scene.now.none", pressure=pressure)


def _gate(moment: Mapping[str, float]) -> str:
    one, other = moment["gate_open"], moment["other_gate_open"]
    if abs(one - other) > _DIFFERENT:
        return t("scene.now.gates_differ", one=shown.share(one), other=shown.share(other))
    return t(f"scene.now.{next(word for least, word in _OPENINGS if one >= least)}")


def _boost(boost: float, target: float | None, units: str, rises: bool) -> str:
    said = shown.kpa(boost, units)
    if target is None:
        return t("scene.now.untold", boost=said)
    if rises and boost < _BUILDING * target:
        return t("scene.now.building", boost=said)
    difference = boost - target
    if abs(difference) <= max(_NEAR * target, _LEAST):
        return t("scene.now.holding", boost=said)
    much = shown.kpa_difference(abs(difference), units)
    return t("scene.now.over" if difference > 0.0 else "scene.now.under", boost=said, difference=much)
