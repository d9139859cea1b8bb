"""Types of the answer of the moving picture: a pull of one candidate beside the same car when sound."""

from __future__ import annotations

from typing import Literal, TypedDict

from boostproof.workflows.answer_parts import FindingAnswer, InputsAnswer


class SceneCarAnswer(TypedDict):
    """One car through the pull, a number for each moment. Openings are shares: 0 shut, 1 at the stop, or all of the
    way past the ball free. `line_chamber` is the actuator chamber that the line feeds, `other_chamber` the one
    across the diaphragm; flows are positive the usual way."""

    boost_kpa_gauge: list[float]
    boost_shown_kpa_gauge: list[float]
    compressor_outlet_kpa_gauge: list[float]
    take_off_kpa_gauge: list[float]
    behind_controller_kpa_gauge: list[float]
    line_chamber_kpa_gauge: list[float]
    other_chamber_kpa_gauge: list[float]
    turbine_inlet_kpa_gauge: list[float]
    turbine_outlet_kpa_gauge: list[float]
    shaft_rpm: list[float]
    ball_open: list[float]
    duty: list[float]
    valve_share: list[float]
    controller_flow_g_per_s: list[float]
    bleed_flow_g_per_s: list[float]
    valve_flow_g_per_s: list[float]
    actuator_flow_g_per_s: list[float]
    line_leak_flow_g_per_s: list[float]
    diaphragm_flow_g_per_s: list[float]
    upper_flow_g_per_s: list[float]
    gate_travel_mm: list[float]
    gate_lift_mm: list[float]
    gate_open: list[float]
    other_gate_open: list[float]
    gate_area_mm2: list[float]
    compressor_flow_g_per_s: list[float]
    engine_flow_g_per_s: list[float]
    charge_leak_flow_g_per_s: list[float]
    bypass_leak_flow_g_per_s: list[float]
    exhaust_flow_g_per_s: list[float]
    turbine_flow_g_per_s: list[float]
    gates_flow_g_per_s: list[float]
    exhaust_leak_flow_g_per_s: list[float]


class SceneMeasuredAnswer(TypedDict):
    """Boost as it was measured in that pull; empty on a ramp that was not driven."""

    rpm: list[float]
    boost_kpa_gauge: list[float]


class SceneAnswer(TypedDict):
    """The moving picture of one answer: the candidate that fits best, moment by moment, and the same car without
    the fault. `cause` is a cause, a pair or "healthy"; `parts` the causes that it is made of."""

    format: Literal[1]
    seed: int
    versions: dict[str, str]
    inputs: InputsAnswer
    car: str
    cause: str
    parts: list[str]
    titles: list[str]
    probability: float
    driven: Literal["pull", "ramp"]
    target_kpa_gauge: float | None
    stop_kpa_gauge: float | None
    time_s: list[float]
    rpm: list[float]
    suspected: SceneCarAnswer
    sound: SceneCarAnswer
    measured: SceneMeasuredAnswer
    findings: list[FindingAnswer]
    seconds: float
