"""From what a person has to the simulator of a case: prior, drives and blocks of evidence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from boostproof.bench.response import Array, Candidates, Response
from boostproof.bench.set_ups import SHUT_TURNS
from boostproof.bench.tests import BY_ID, CarContext, gauge_of
from boostproof.car.prior import STANDARD_TARGET, Prior, build_prior
from boostproof.diagnosis.causes import Cause, applicable
from boostproof.diagnosis.evidence.blocks import (
    COMPLAINT,
    Block,
    EvidenceSet,
    gaussian_block,
    repeated_blocks,
    response_blocks,
)
from boostproof.diagnosis.evidence.drive import (
    SAME_TARGET,
    Driven,
    by_configuration,
    drive_from,
    joined,
    logged_target,
    sound_ramp,
)
from boostproof.diagnosis.evidence.pulls import logger_zero, pulls_block
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.diagnosis.evidence.telling_pulls import telling
from boostproof.observation import reading, word
from boostproof.physics import rigs
from boostproof.recording.checks.limits import upper_limit

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec
    from boostproof.recording.model import Recording

# What a sound car does on a slow ramp against its target, by share of redline: level error common to
# all, tilt over speed, and what is left, with more slack where it may still be spooling.
_SOUND_LEVEL = 2.0e3
_SOUND_TILT = 5.0e3
_SOUND_REST = np.array([2.5e4, 4.0e3, 2.0e3, 2.0e3, 3.0e3])
_TEMPERATURE = 295.0
_ASKED = 5.0e3  # Pa, how exactly a person's word and a log's target can be held against each other
_SAME_END = 1.0e3  # Pa, by which ends of one sensor may seem to differ: noise, rounding, the barometer of another day
NOTICED = 4.0e3  # Pa, change of boost that is as likely noticed as not
UNNOTICED = 0.05  # chance that a car is brought in for a fault that changes nothing on a plain pull


def build(
    car: CarSpec,
    driven: Sequence[Driven],
    readings: Sequence[Any],
    gauge: Any,
) -> tuple[Simulator, tuple[Cause, ...], CarContext]:
    """Everything needed to infer.

    Parameters
    ----------
    car : what is known
    driven : every recording with its full-load pulls or openings at a held speed, and its set-up
    readings : bench readings, in any order
    gauge : the gauge of readings.toml, None where not described

    Returns
    -------
    simulator, causes in play, context for the tests
    """
    driven = telling(by_configuration(driven))
    recordings = [item.recording for item in driven]
    prior = prior_of(car, recordings)
    target = prior.target if prior.target is not None else STANDARD_TARGET
    loop = car.controller.kind.startswith("solenoid") and car.controller.closed_loop is not False
    drive = joined([drive_from(d, target, temperature_of(car, d), loop=loop) for d in driven])
    ambient = recordings[0].barometer.value
    around = temperature_of(car, driven[0])
    sound = sound_ramp(car.engine.redline.value, target, ambient, around, loop=loop)
    context = replace(context_of(car, target), done=tuple(sorted({r.test for r in readings if r.not_done is None})))
    blocks: list[Block] = []
    blocks += [block for r in recordings if (block := _key_on_block(r)) is not None][:1]
    blocks += complaint_blocks(prior.target)
    blocks += _asked_blocks(recordings, target)
    blocks += car_blocks(car)
    for responses in responses_of(readings, gauge, context):
        blocks += repeated_blocks(responses)
    rest = tuple(blocks)
    first_look = _highest(driven)
    scout_drive = drive_from(first_look, target, temperature_of(car, first_look), loop=loop, rough=True)
    scout_ramp = sound_ramp(car.engine.redline.value, target, ambient, around, loop=loop, rough=True)
    scouted = EvidenceSet((pulls_block([first_look.recording], scout_drive), *rest))
    scout = Simulator(prior, scout_drive, scout_ramp, scouted, ambient)
    everything = EvidenceSet((pulls_block(recordings, drive), *rest))
    simulator = Simulator(prior, drive, sound, everything, ambient, scout)
    return simulator, causes_of(car), context


def prior_of(car: CarSpec, recordings: Sequence[Recording]) -> Prior:
    """Sound cars of this kind, with the target where the recordings alone hold it, and the sensor's end that they show."""
    prior = build_prior(car, next((t for r in recordings if (t := logged_target(r)) is not None), None))
    end = sensor_end(car, recordings)
    return prior if end is None else replace(prior, fixed={**prior.fixed, "boost_full_scale": end})


def sensor_end(car: CarSpec, recordings: Sequence[Recording]) -> float | None:
    """Where the manifold sensor or its logger ends: candidates are shown no more than that either. [Pa abs]

    As the logs show it by standing there, else as car.toml tells it, unless a log holds more; None where neither is so.
    """
    highest, ends = [-np.inf], [-np.inf]
    for recording in recordings:
        shown = recording.boost_gauge() + recording.barometer.value
        highest.append(float(np.nanmax(shown, initial=-np.inf)))
        limit = upper_limit(recording, recording.manifold_channel()) if recording.time_known else None
        if limit is not None:
            ends.append(float(np.median(shown[limit.first : limit.last + 1])))
    if max(ends) > max(highest) - _SAME_END:
        return max(ends)
    told = None if car.sensors is None or car.sensors.manifold_range is None else car.sensors.manifold_range.value
    return told if told is not None and max(highest) < told + _SAME_END else None


def complaint_blocks(target: float | None) -> list[Block]:
    """What holds of every car that is brought in: its target when sound, where known, and that it is noticed."""
    known = [] if target is None else [_target_block(target)]
    return [*known, _complaint_block()]


def causes_of(car: CarSpec) -> tuple[Cause, ...]:
    """Causes that a car can have, by what it has fitted."""
    return applicable(
        car.controller.kind,
        car.wastegate.kind == "external poppet",
        gates=car.wastegate.count or 1,
        dual_chambers=car.actuator is not None and car.actuator.chambers == "dual",
        closed_loop=car.controller.closed_loop,
    )


def responses_of(readings: Sequence[Any], gauge: Any, context: CarContext) -> list[list[Response]]:
    """What was read, test by test in canonical order; a test that was repeated has several responses."""
    found: dict[str, list[Response]] = {}
    for item in sorted(readings, key=lambda r: (r.test, repr(r))):
        test = BY_ID.get(item.test)
        if test is None or item.not_done is not None:
            continue
        of = getattr(item, "of", None) or item.test  # a hot repeat is read by the same eye and gauge
        used = item.gauge or gauge
        response = replace(test.respond(item, gauge_of(used), context), gauge=repr(used))
        found.setdefault(of, []).append(response)
    return list(found.values())


def _highest(driven: Sequence[Driven]) -> Driven:
    """The pull that reached the highest engine speed, alone: enough for a first look.

    Of the car as found where it was driven so; without any pull the first opening at a held speed.
    """
    pulled = [d for d in driven if d.pulls]
    if not pulled:
        return driven[0]._replace(held=driven[0].held[:1])
    found = [d for d in pulled if d.configuration.as_found] or pulled
    item, pull = max(
        ((d, p) for d in found for p in d.pulls),
        key=lambda pair: float(np.nanmax(_speed(pair[0].recording)[pair[1].start : pair[1].stop])),
    )
    return item._replace(pulls=(pull,), held=())


def _speed(recording: Recording) -> Array:
    speed = recording.values("engine_speed")
    assert speed is not None  # pulls are found by it
    return np.asarray(speed)


def context_of(car: CarSpec, target: float) -> CarContext:
    """What the tests must know of a car."""
    place = car.pull_place
    keys = (
        "can_hold_speed",
        "second_pressure_sensor",
        "exhaust_tap",
        "lift",
        "smoke",
        "scan_tool",
        "duty_driver",
    )
    can = tuple(
        (k, bool(getattr(place, k))) for k in keys if place is not None and getattr(place, k) is not None
    )
    return CarContext(
        car.controller.kind,
        car.wastegate.kind == "external poppet",
        target,
        car.engine.redline.value,
        can,
        car.engine.compression_ratio,
        car.engine.cylinders,
        car.wastegate.full_travel.value if car.wastegate.full_travel is not None else None,
    )


def temperature_of(car: CarSpec, driven: Driven) -> float:
    """Air around during the pulls: as logged, as written for the recording, as written for the car. [K]"""
    logged = driven.recording.values("ambient_temperature")
    if logged is not None and np.isfinite(logged).any():
        return float(np.nanmedian(logged))
    if driven.temperature is not None:
        return driven.temperature
    if car.weather is not None and car.weather.temperature is not None:
        return float(car.weather.temperature.value)
    return _TEMPERATURE


def _target_block(target: float) -> Block:
    tilt = np.linspace(-1.0, 1.0, len(_SOUND_REST))
    level = float(np.hypot(_SOUND_LEVEL, 0.015 * target))
    covariance = level**2 + np.outer(tilt, tilt) * _SOUND_TILT**2 + np.diag(_SOUND_REST**2)

    def predict(candidates: Candidates) -> Array:
        return candidates.sound_boost[-len(_SOUND_REST) :]

    return gaussian_block("target", predict, np.full(len(_SOUND_REST), target), covariance, group="target")


def _complaint_block() -> Block:
    """Somebody noticed: a fault that changes next to nothing is not why the car is here.

    A difference of a few kPa in boost or its reading, anywhere on a slow ramp, is what a driver or a
    gauge would show (judgement). A sound car has nothing to be noticed and is not held to this.
    """

    def residuals(candidates: Candidates) -> Array:
        seen = UNNOTICED + (1.0 - UNNOTICED) / (1.0 + np.exp((NOTICED - candidates.noticed) / 1.0e3))
        sound = candidates.noticed < 1.0
        return np.asarray(np.where(sound, 0.0, np.sqrt(-2.0 * np.log(seen))))[None, :]

    return Block(COMPLAINT, residuals, 1, 0.0, 1e9, 0.0, "target")


def _key_on_block(recording: Recording) -> Block | None:
    """The manifold sensor with the engine stopped against the barometer."""
    key_on, barometer = recording.key_on, recording.barometer
    if key_on is None or barometer.source == "key-on":
        return None
    absolute = key_on.reference == "abs"
    # a gauge channel may count from the barometer or from the standard atmosphere
    shift = 0.0 if absolute else logger_zero(recording)
    observed = key_on.mean + shift if absolute else key_on.mean + shift + barometer.value
    sd = float(np.hypot(350.0, barometer.sd))

    def predict(candidates: Candidates) -> Array:
        par = candidates.par
        return (rigs.row(par, "boost_gain") * barometer.value + rigs.row(par, "boost_offset"))[None, :]

    return gaussian_block("key-on", predict, np.array([observed]), np.array([[sd**2]]), group="log")


def _asked_blocks(recordings: Sequence[Recording], target: float) -> list[Block]:
    """A control unit that asked for another boost than the one wanted, as its log shows."""
    asked = [a for r in recordings if (a := logged_target(r)) is not None and abs(a - target) > SAME_TARGET]
    if not asked:
        return []

    def features(candidates: Candidates) -> Mapping[str, Array]:
        return {"asked": rigs.row(candidates.par, "target_shift")}

    seen = reading("asked", asked[0] - target, _ASKED)
    return response_blocks(Response("car: target as logged", features, (seen,), {"asked": 1.0e5}))


def car_blocks(car: CarSpec) -> list[Block]:
    """Facts of car.toml that describe the car as found: a group of their own, as no part was tested."""
    blocks: list[Block] = []
    port = car.wastegate.port
    if port is not None:

        def port_features(candidates: Candidates) -> Mapping[str, Array]:
            return {"port": rigs.row(candidates.par, "port_diameter")}

        seen = reading("port", port.value, max(port.sd, 8e-4))
        blocks += response_blocks(Response("car: port as found", port_features, (seen,), {"port": 2.5e-2}))
    turns = car.controller.turns_in
    if isinstance(turns, int | float) and car.controller.kind in ("ball and spring", "bleed valve"):
        blocks += response_blocks(_turns_response(float(turns), car.controller.kind))
    return [replace(block, group="car") for block in blocks]


def _turns_response(turns: float, kind: str) -> Response:
    """The adjuster as found against what the controller does as found."""
    bleed = kind == "bleed valve"

    def features(candidates: Candidates) -> Mapping[str, Array]:
        par = candidates.par
        if bleed:
            by_turns = rigs.row(par, "bleed_per_turn") * (turns + SHUT_TURNS)
            return {"setting": np.log10(rigs.row(par, "bleed_area") / by_turns)}
        return {"setting": rigs.row(par, "offset") - rigs.offset_at(par, turns)}

    if bleed:
        return Response("car: adjuster as found", features, (word("setting", -0.3, 0.3, 0.2, wrong=0.25),))
    return Response("car: adjuster as found", features, (word("setting", -1.2e4, 1.2e4, 8e3, wrong=0.25),))
