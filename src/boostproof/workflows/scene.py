"""The moving picture's data: the candidate of a cause that fits best, simulated through the pull that was driven."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, cast

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError
from boostproof.findings import Finding

if TYPE_CHECKING:
    from boostproof.diagnosis.evidence.drive import Drive
    from boostproof.diagnosis.evidence.hypotheses import Hypothesis
    from boostproof.diagnosis.inference.posterior import Posterior
    from boostproof.workflows.open_case import OpenCase, Progress
    from boostproof.workflows.scene_answers import SceneAnswer
    from boostproof.workflows.scene_moments import Moments

Array = NDArray[np.float64]
DrivenBy = Literal["pull", "ramp"]

HEALTHY = "healthy"
POINTS = 80  # moments of a picture
_MOST_MEASURED = 160  # points of the measured curve
_FULL = 0.9  # throttle from which on a step belongs to the pull
_RPM = 30.0 / np.pi
_DIGITS = 5  # significant, of what is given out

# name in the answer: (from the model's outputs or from what was found of the states, name there, factor)
_SERIES: dict[str, tuple[Literal["output", "gauge", "found"], str, float]] = {
    "boost_kpa_gauge": ("output", "boost", 1e-3),
    "boost_shown_kpa_gauge": ("output", "boost_measured", 1e-3),
    "compressor_outlet_kpa_gauge": ("gauge", "compressor_outlet_pressure", 1e-3),
    "take_off_kpa_gauge": ("found", "take_off", 1e-3),
    "behind_controller_kpa_gauge": ("found", "behind_controller", 1e-3),
    "line_chamber_kpa_gauge": ("output", "line_pressure", 1e-3),
    "other_chamber_kpa_gauge": ("output", "upper_pressure", 1e-3),
    "turbine_inlet_kpa_gauge": ("gauge", "turbine_inlet_pressure", 1e-3),
    "turbine_outlet_kpa_gauge": ("gauge", "turbine_outlet_pressure", 1e-3),
    "shaft_rpm": ("output", "shaft_speed", _RPM),
    "ball_open": ("found", "ball_open", 1.0),
    "duty": ("output", "duty", 1.0),
    "valve_share": ("found", "valve_share", 1.0),
    "controller_flow_g_per_s": ("found", "controller_flow", 1e3),
    "bleed_flow_g_per_s": ("found", "bleed_flow", 1e3),
    "valve_flow_g_per_s": ("found", "valve_flow", 1e3),
    "actuator_flow_g_per_s": ("found", "actuator_flow", 1e3),
    "line_leak_flow_g_per_s": ("found", "line_leak_flow", 1e3),
    "diaphragm_flow_g_per_s": ("found", "diaphragm_flow", 1e3),
    "upper_flow_g_per_s": ("found", "upper_flow", 1e3),
    "gate_travel_mm": ("output", "travel", 1e3),
    "gate_lift_mm": ("found", "gate_lift", 1e3),
    "gate_open": ("found", "gate_open", 1.0),
    "other_gate_open": ("found", "other_gate_open", 1.0),
    "gate_area_mm2": ("found", "gate_area", 1e6),
    "compressor_flow_g_per_s": ("found", "compressor_flow", 1e3),
    "engine_flow_g_per_s": ("output", "engine_flow", 1e3),
    "charge_leak_flow_g_per_s": ("found", "charge_leak_flow", 1e3),
    "bypass_leak_flow_g_per_s": ("found", "bypass_leak_flow", 1e3),
    "exhaust_flow_g_per_s": ("found", "exhaust_flow", 1e3),
    "turbine_flow_g_per_s": ("found", "turbine_flow", 1e3),
    "gates_flow_g_per_s": ("found", "gates_flow", 1e3),
    "exhaust_leak_flow_g_per_s": ("found", "exhaust_leak_flow", 1e3),
}


@dataclass(frozen=True)
class Scene:
    """A pull of one candidate, moment by moment, and of the same car when sound.

    Attributes
    ----------
    car : its name
    cause : id of the cause or pair, or "healthy"
    titles : of its parts, by cause id
    probability : of this answer
    driven : whether through a pull that was driven, or on a ramp that was not
    target, stop : boost wanted and never to be passed [Pa gauge], None where not known
    seconds_in : since the throttle opened, (moments,) [s]
    suspected, sound : the car with the fault and without
    measured : engine speed [rad/s] and boost [Pa gauge] as logged; empty on a ramp
    findings, seed, versions, inputs, seconds : how it was made
    """

    car: str
    cause: str
    titles: dict[str, str]
    probability: float
    driven: DrivenBy
    target: float | None
    stop: float | None
    seconds_in: Array = field(repr=False)
    suspected: Moments = field(repr=False)
    sound: Moments = field(repr=False)
    measured: tuple[Array, Array] = field(repr=False)
    findings: tuple[Finding, ...]
    seed: int
    versions: dict[str, str]
    inputs: dict[str, Any]
    seconds: float = 0.0

    @property
    def engine_speed(self) -> Array:
        """At every moment. [rad/s]"""
        from boostproof.physics.system import INPUTS

        return np.asarray(self.suspected.inputs[:, INPUTS.index("engine_speed")])

    def as_json(self) -> SceneAnswer:
        """The answer for programs, and for the page."""
        cars = {name: _series(one) for name, one in (("suspected", self.suspected), ("sound", self.sound))}
        speed, boost = self.measured
        answer = {
            "format": 1, "seed": self.seed, "versions": self.versions, "inputs": self.inputs, "car": self.car,
            "cause": self.cause, "parts": list(self.titles), "titles": list(self.titles.values()),
            "probability": self.probability, "driven": self.driven,
            "target_kpa_gauge": None if self.target is None else round(self.target * 1e-3, 3),
            "stop_kpa_gauge": None if self.stop is None else round(self.stop * 1e-3, 3),
            "time_s": _rounded(self.seconds_in), "rpm": _rounded(self.engine_speed * _RPM), **cars,
            "measured": {"rpm": _rounded(speed * _RPM), "boost_kpa_gauge": _rounded(boost * 1e-3)},
            "findings": [f.as_dict() for f in self.findings], "seconds": self.seconds,
        }  # fmt: skip
        return cast("SceneAnswer", answer)


def scene(
    case: str | Path,
    *,
    cause: str | None = None,
    driven: DrivenBy = "pull",
    points: int = POINTS,
    without_readings: bool = False,
    seed: int = 1,
    progress: Progress | None = None,
) -> Scene:
    """Follow the candidate of a cause that fits best, and the same car when sound, through a pull.

    Parameters
    ----------
    case : folder
    cause : id of a cause, a pair ("a + b") or "healthy"; the leading answer where None
    driven : through the highest pull that was driven, or on the ramp that a forecast is made on
    points : moments, 2 or more
    without_readings, seed, progress : as for `diagnose`

    Raises
    ------
    InputError
        If the case cannot be read, or the cause is none that was weighed for it.
    """
    from boostproof.workflows.open_case import open_case

    opened = open_case(case, without_readings=without_readings, seed=seed, progress=progress)
    return scene_of(opened, cause=cause, driven=driven, points=points, seed=seed, progress=progress)


def scene_of(
    opened: OpenCase,
    *,
    cause: str | None = None,
    driven: DrivenBy = "pull",
    points: int = POINTS,
    seed: int = 1,
    progress: Progress | None = None,
) -> Scene:
    """As `scene`, for a case that is open already."""
    from boostproof.diagnosis.inference.posterior import hypothesis_probability
    from boostproof.workflows.open_case import versions
    from boostproof.workflows.scene_moments import follow

    started = time.perf_counter()
    say = progress or (lambda text, share: None)
    posterior = opened.posterior
    answers = _answers(posterior)
    chosen = cause if cause is not None else max(answers, key=lambda name: answers[name])
    index = _hypothesis_of(chosen, posterior, hypothesis_probability(posterior))
    z = best_candidate(posterior, index)
    simulator = posterior.simulator
    sound, actual = simulator.parameters(z[:, None], posterior.hypotheses, np.array([index]))
    inputs, steps, kept, by = _drive(opened, driven, points)

    def tell(start: float) -> Callable[[float], None]:
        return lambda share: say("following the car through the pull", start + 0.015 * share)

    with_fault = follow(actual[:, 0], inputs, steps, kept, tell=tell(0.96))
    as_sound = follow(sound[:, 0], inputs, steps, kept, tell=tell(0.975))
    begins = np.concatenate([[0.0], np.cumsum(steps)])[kept]
    limits = opened.folder.car.limits
    return Scene(
        car=opened.folder.car.car.name, cause=chosen, titles=_titles(chosen, posterior.hypotheses[index]),
        probability=answers.get(chosen, 0.0), driven=by, target=simulator.prior.target,
        stop=None if limits.stop is None else limits.stop.value, seconds_in=begins - begins[0],
        suspected=with_fault, sound=as_sound,
        measured=_measured(opened, simulator.drive) if by == "pull" else (np.empty(0), np.empty(0)),
        findings=opened.findings, seed=seed, versions=versions(), inputs=opened.inputs,
        seconds=round(time.perf_counter() - started, 3),
    )  # fmt: skip


def best_candidate(posterior: Posterior, index: int) -> Array:
    """Numbers of the candidate of a hypothesis that fits best, drawn or fitted. [(dimensions,)]"""
    from boostproof.diagnosis.inference.fit import objective

    everything = np.ones(len(posterior.simulator.evidence.blocks), bool)
    found = [(m.objective, m.z) for m in posterior.modes[index]]
    if index in posterior.draws:
        draws = posterior.draws[index]
        misfit = objective(draws.z, draws.by_block, everything)
        least = int(np.argmin(misfit))
        found.append((float(misfit[least]), draws.z[:, least]))
    return np.asarray(min(found, key=lambda one: one[0])[1])


def _answers(posterior: Posterior) -> dict[str, float]:
    """Probability of everything that a picture can be made of."""
    return {HEALTHY: posterior.healthy, **posterior.cause_probability, **posterior.pair_probability}


def _hypothesis_of(cause: str, posterior: Posterior, share: Array) -> int:
    """The most probable hypothesis that stands for an answer."""
    from boostproof.diagnosis.evidence.hypotheses import answer_id

    standing = [
        i
        for i, h in enumerate(posterior.hypotheses)
        if (h.healthy and cause == HEALTHY) or any(answer_id(some) == cause for some in h.answers)
    ]
    if not standing:
        raise InputError(
            f'"{cause}" is no cause that was weighed for this car.', kind="unknown-cause", where="scene",
            do="Take one of the verdict's.",
        )  # fmt: skip
    return max(standing, key=lambda i: float(share[i]))


def _titles(cause: str, hypothesis: Hypothesis) -> dict[str, str]:
    from boostproof.diagnosis.evidence.hypotheses import answer_id

    return {c.id: c.title for some in hypothesis.answers if answer_id(some) == cause for c in some}


def _drive(opened: OpenCase, asked: DrivenBy, points: int) -> tuple[Array, Array, list[int], DrivenBy]:
    """Inputs, step sizes and the steps to look at; and what is driven: a ramp where no pull was as found."""
    from boostproof.diagnosis.evidence.simulator import highest_pull
    from boostproof.physics.system import INPUTS
    from boostproof.workflows.forecast import ramp_of

    drive = opened.posterior.simulator.drive
    throttle = INPUTS.index("throttle")
    slots = highest_pull(drive) if asked == "pull" else []
    if slots:
        stretch = drive.stretches[drive.bins[slots[0]].configuration]
        recorded = np.flatnonzero(np.isin(drive.record, slots))
        first, last = int(recorded[0]), int(recorded[-1])
        while first > stretch.start and drive.inputs[first - 1, throttle] > _FULL:
            first -= 1
        return (
            drive.inputs[stretch], drive.steps[stretch],
            _even(drive.steps, first, last, points, stretch.start), "pull",
        )  # fmt: skip
    ramp = ramp_of(opened).schedule
    full = np.flatnonzero(ramp.inputs[:, throttle] > _FULL)
    return ramp.inputs, ramp.steps, _even(ramp.steps, int(full[0]), int(full[-1]), points, 0), "ramp"


def _even(steps: Array, first: int, last: int, points: int, origin: int) -> list[int]:
    """Steps from first to last, evenly spaced in time, counted from the origin."""
    begins = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = np.linspace(begins[first], begins[last], points)
    nearest = np.clip(np.searchsorted(begins[: last + 1], wanted - 1e-9), first, last)
    return sorted({int(k) - origin for k in nearest})


def _measured(opened: OpenCase, drive: Drive) -> tuple[Array, Array]:
    """Engine speed [rad/s] and boost [Pa gauge] as logged in the highest pull as found."""
    from boostproof.diagnosis.evidence.drive import by_configuration
    from boostproof.diagnosis.evidence.pulls import logger_zero
    from boostproof.diagnosis.evidence.simulator import highest_pull
    from boostproof.diagnosis.evidence.telling_pulls import telling

    bins = [drive.bins[slot] for slot in highest_pull(drive)]
    recording = telling(by_configuration(opened.driven))[bins[0].recording].recording
    speed = recording.values("engine_speed")
    assert speed is not None  # a pull is found by it
    shift = logger_zero(recording) if recording.manifold_channel().reference == "gauge" else 0.0
    rows = np.arange(min(b.start for b in bins), max(b.stop for b in bins))
    boost = recording.boost_gauge() + shift
    rows = rows[np.isfinite(speed[rows]) & np.isfinite(boost[rows])]
    rows = rows[:: max(1, -(-len(rows) // _MOST_MEASURED))]
    return np.asarray(speed[rows], float), np.asarray(boost[rows], float)


def _series(moments: Moments) -> dict[str, list[float]]:
    from boostproof.physics.system import INPUTS

    ambient = moments.inputs[:, INPUTS.index("ambient_pressure")]
    out = {}
    for name, (source, inner, factor) in _SERIES.items():
        values = moments.found[inner] if source == "found" else moments.output(inner)
        out[name] = _rounded(factor * (values - ambient if source == "gauge" else values))
    return out


def _rounded(values: Array) -> list[float]:
    """To so many significant digits, what is next to nothing as 0."""
    return [0.0 if abs(v) < 1e-9 else float(f"{v:.{_DIGITS}g}") for v in values.tolist()]


