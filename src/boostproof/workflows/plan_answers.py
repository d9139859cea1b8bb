"""Types and making of the answer of ``plan``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, TypedDict

import numpy as np

from boostproof.workflows.answer_parts import FindingAnswer

if TYPE_CHECKING:
    from boostproof.pullplan.ladder import Halt
    from boostproof.pullplan.outlook import Driven
    from boostproof.pullplan.rungs import Rung
    from boostproof.workflows.plan import Plan

_RPM = 30.0 / np.pi
_KPA = 1e-3
_UNITS = {"Pa gauge": ("kPa gauge", _KPA, 0.0), "K": ("degC", 1.0, -273.15), "1": ("1", 1.0, 0.0)}


class CardAnswer(TypedDict):
    """One point of the go/no-go card; a no stops everything."""

    key: str
    asks: str


class RefusalAnswer(TypedDict):
    """What stands against pulls: against every one, or against those above the lowest boost."""

    kind: str
    says: str
    do: str
    every: bool


class StopLineAnswer(TypedDict):
    """Where a pull is stopped at once; told where the value comes from the car's file. Only what is measured."""

    what: str
    value: float
    unit: str
    told: bool


class RungAnswer(TypedDict):
    """One pull. Only the first may be driven: the others are foreseen and change with what it shows. The driver
    lifts at the ceiling or at the stop boost, whichever comes first; most is the boost above which the pull is not as
    expected at that engine speed."""

    set_up: Literal["least boost", "as found"]
    says: str
    foreseen: bool
    rpm_from: float
    ceiling_rpm: float
    stop_kpa_gauge: float
    expected_kpa_gauge: float
    low_kpa_gauge: float
    high_kpa_gauge: float
    chance_of_passing: float
    held_by: Literal["chance", "slope", "low ceiling", "redline"]
    slope_kpa_per_1000_rpm: float
    rpm: list[float]
    most_kpa_gauge: list[float]
    look_at: list[str]
    cool_down: str


class BlameAnswer(TypedDict):
    """A cause with which the next pull would pass the limit, its chance of doing so, and its own test."""

    id: str
    chance: float
    test: str


class HaltAnswer(TypedDict):
    """What ends the ladder."""

    why: Literal["done", "unsafe"]
    set_up: Literal["least boost", "as found"]
    says: str
    do: str
    causes: list[BlameAnswer]


class DrivenAnswer(TypedDict):
    """A pull that the plan rests on."""

    set_up: Literal["least boost", "as found"]
    ceiling_rpm: float
    highest_kpa_gauge: float


class DriverAnswer(TypedDict):
    """How it is driven: rise of engine speed, time from a stop to boost falling, and from the ceiling, which the
    driver expects."""

    rpm_per_s: float
    reaction_s: float
    lift_s: float
    gear: int | None


class PlanInputsAnswer(TypedDict):
    """What the answer was made from: hash of all that was read, and what was said beside it; whether a repair was done,
    which, and what was made after it."""

    case: str
    closed_road: bool
    mixture: bool
    repaired: bool
    repairs: list[str]
    after: list[str]


class PlanAnswer(TypedDict):
    """The answer of ``boostproof plan CASE --json``."""

    format: Literal[1]
    seed: int
    inputs: PlanInputsAnswer
    car: str
    cautions: list[str]
    card: list[CardAnswer]
    refusals: list[RefusalAnswer]
    own_gauge: bool
    sensor_doubt: float
    hard_kpa_gauge: float
    hard_told: bool
    gauge_error_kpa: float
    driver: DriverAnswer
    stop_lines: list[StopLineAnswer]
    log: list[str]
    driven: list[DrivenAnswer]
    rungs: list[RungAnswer]
    halt: HaltAnswer | None
    findings: list[FindingAnswer]
    seconds: float


def plan_answer(plan: Plan) -> dict[str, Any]:
    """A plan as JSON."""
    terms = plan.terms
    return {
        "format": 1,
        "seed": plan.seed,
        "inputs": plan.inputs,
        "car": plan.car,
        "cautions": list(plan.cautions),
        "card": [{"key": i.key, "asks": i.asks} for i in plan.card],
        "refusals": [{"kind": r.kind, "says": r.says, "do": r.do, "every": r.every} for r in plan.refusals],
        "own_gauge": plan.own_gauge,
        "sensor_doubt": plan.sensor_doubt,
        "hard_kpa_gauge": terms.hard * _KPA,
        "hard_told": terms.told,
        "gauge_error_kpa": terms.gauge_error * _KPA,
        "driver": {
            "rpm_per_s": terms.ramp * _RPM, "reaction_s": terms.reaction, "lift_s": terms.lift, "gear": plan.gear,
        },
        "stop_lines": [_line(s.what, s.value, s.unit, s.told) for s in plan.stop_lines],
        "log": list(plan.log),
        "driven": [_pull(p) for p in plan.driven],
        "rungs": [_rung(r, plan, k > 0) for k, r in enumerate(plan.rungs)],
        "halt": None if plan.halt is None else _halt(plan.halt, "repaired" if plan.repaired else "found"),
        "findings": [f.as_dict() for f in plan.findings],
        "seconds": plan.seconds,
    }  # fmt: skip


def _line(what: str, value: float, unit: str, told: bool) -> dict[str, Any]:
    name, factor, offset = _UNITS[unit]
    return {"what": what, "value": round(value * factor + offset, 6), "unit": name, "told": told}


def _pull(pull: Driven) -> dict[str, Any]:
    return {
        "set_up": pull.set_up, "ceiling_rpm": pull.ceiling * _RPM, "highest_kpa_gauge": float(pull.boost.max()) * _KPA,
    }  # fmt: skip


def _rung(rung: Rung, plan: Plan, foreseen: bool) -> dict[str, Any]:
    from boostproof.pullplan.card import COOL_DOWN, look_at, set_up_says

    upto = rung.speed <= rung.ceiling + plan.terms.surprise
    return {
        "set_up": rung.set_up,
        "says": set_up_says(rung.set_up, plan.controller, repaired=plan.repaired),
        "foreseen": foreseen,
        "rpm_from": plan.terms.start * _RPM,
        "ceiling_rpm": rung.ceiling * _RPM,
        "stop_kpa_gauge": rung.stop * _KPA,
        "expected_kpa_gauge": rung.expected * _KPA,
        "low_kpa_gauge": rung.low * _KPA,
        "high_kpa_gauge": rung.high * _KPA,
        "chance_of_passing": rung.chance,
        "held_by": rung.held_by,
        "slope_kpa_per_1000_rpm": rung.slope * 1000.0 / _RPM * _KPA,
        "rpm": (rung.speed[upto] * _RPM).tolist(),
        "most_kpa_gauge": (rung.most[upto] * _KPA).tolist(),
        "look_at": list(look_at()),
        "cool_down": COOL_DOWN,
    }


def _halt(halt: Halt, stands: str) -> dict[str, Any]:
    from boostproof.diagnosis.causes import BY_ID

    causes = [{"id": i, "chance": p, "test": BY_ID[i].direct_test} for i, p in halt.causes]
    if halt.why == "done":
        says, do = f"The car as {stands} was driven to the redline: no further pull is asked for.", ""
    else:
        says = f"No further pull ({halt.set_up}) is safe enough, by what is known so far."
        tests = ", ".join(dict.fromkeys(str(c["test"]) for c in causes if c["test"]))
        do = f"Stop. Test at rest first ({tests}), or mend what lets boost run away." if tests else "Stop, and test at rest."
    return {"why": halt.why, "set_up": halt.set_up, "says": says, "do": do, "causes": causes}
