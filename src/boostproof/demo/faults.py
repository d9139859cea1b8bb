"""What can be wrong with a car, each with a severity from 0 (hardly there) to 1 (gross).

A fault is a pure edit of the hardware. ``accepts`` names every cause that is right for it because
physics makes them the same; the first one is the cause itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from .draw import Car, choking_air, hole_area, most_air
from .hardware import BALL, BLEED, NONE, SOLENOID, Hardware

Rng = np.random.Generator
Edit = Callable[[Car, float, Rng], Car]


@dataclass(frozen=True)
class Fault:
    """One cause: who it is, which cars can have it, and what it does to them."""

    id: str
    group: str
    accepts: tuple[str, ...]
    edit: Edit
    kinds: tuple[float, ...] = (NONE, BALL, BLEED, SOLENOID)


def _blend(severity: float, mild: float, gross: float) -> float:
    """Between ``mild`` and ``gross`` in equal ratios."""
    return float(mild * (gross / mild) ** severity)


def _with(car: Car, part: str, **values: float) -> Car:
    return replace(car, hardware=car.hardware.changed(part, **values))


def _port_small(car: Car, s: float, rng: Rng) -> Car:
    """A smaller port, with a smaller valve on it or still with the old one."""
    gate, share = car.hardware.gate, _blend(s, 0.8, 0.52)
    valve = gate.valve * (share if rng.random() < 0.6 else 1.0)
    return _with(car, "gate", port=gate.port * share, valve=valve)


def _entry_poor(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "gate", discharge=car.hardware.gate.discharge * _blend(s, 0.62, 0.27))


def _exhaust_freed(car: Car, s: float, rng: Rng) -> Car:
    # a gate that was just large enough with the old pipe, then the pipe
    tight = _with(car, "gate", port=car.hardware.gate.port * _blend(s, 0.82, 0.6))
    return _with(tight, "exhaust", loss=car.hardware.exhaust.loss * _blend(s, 0.6, 0.2))


def _travel(car: Car, s: float, rng: Rng) -> Car:
    full = car.hardware.travel
    return _with(car, "gate", free_travel=full * _blend(s, 0.38, 0.08))


def _spring_strong(car: Car, s: float, rng: Rng) -> Car:
    a = car.hardware.actuator
    return _with(car, "actuator", preload=a.preload + a.area * _blend(s, 9e3, 75e3))


def _spring_weak(car: Car, s: float, rng: Rng) -> Car:
    a = car.hardware.actuator
    return _with(car, "actuator", preload=a.preload * (1.0 - _blend(s, 0.13, 0.65)))


def _droop(car: Car, s: float, rng: Rng) -> Car:
    a = car.hardware.actuator
    return _with(car, "actuator", stiffness=a.stiffness * _blend(s, 1.8, 5.0))


def _controller_high(car: Car, s: float, rng: Rng) -> Car:
    signal = car.hardware.signal
    if car.kind == BALL:
        extra = _blend(s, 8e3, 75e3)
        more = max(round(extra / car.offset_per_turn * 4.0) / 4.0, 0.25)
        turned = _with(car, "signal", offset=signal.offset + more * car.offset_per_turn)
        return replace(turned, turns=car.turns + more, offset_slack=turned.hardware.signal.offset)
    more = max(round(car.turns * (_blend(s, 1.12, 2.2) - 1.0) * 4.0) / 4.0, 0.25)
    turned = _with(car, "signal", bleed_area=car.bleed_per_turn * (car.turns + more))
    return replace(turned, turns=car.turns + more)


def _line_leak(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "signal", leak_area=hole_area(_blend(s, 0.5e-3, 2.2e-3)))


def _line_open(car: Car, s: float, rng: Rng) -> Car:
    signal = car.hardware.signal
    return _with(
        car, "signal", leak_area=signal.hose_area * 3.0, hose_area=signal.hose_area * _blend(s, 0.3, 0.02)
    )


def _line_blocked(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "signal", hose_area=hole_area(_blend(s, 0.12e-3, 0.02e-3)))


def _line_restricted(car: Car, s: float, rng: Rng) -> Car:
    if car.kind in (BALL, BLEED) and rng.random() < 0.4:
        return _supply_restricted(car, s, rng)
    return _with(car, "signal", hose_area=hole_area(_blend(s, 0.7e-3, 0.3e-3)))


def _supply_restricted(car: Car, s: float, rng: Rng) -> Car:
    """Pinched before the controller, so that a bleed behind it pulls the line down."""
    return _with(car, "signal", supply_area=hole_area(_blend(s, 1.1e-3, 0.5e-3)))


def _diaphragm(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "actuator", leak_area=hole_area(_blend(s, 0.7e-3, 4.0e-3)))


def _after_cooler(car: Car, s: float, rng: Rng) -> Car:
    moved = _with(car, "signal", take_off=2.0)
    return _with(moved, "charge", cooler_loss=car.hardware.charge.cooler_loss * _blend(s, 0.9, 2.4))


def _solenoid_stuck(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "signal", stuck=0.0)


def _solenoid_at_vent(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "signal", stuck=1.0)


def _solenoid_reversed(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "signal", reversed=1.0)


def _seized(car: Car, s: float, rng: Rng) -> Car:
    force = car.hardware.actuator.area * _blend(s, 130e3, 600e3)
    return _with(car, "actuator", friction=force * 0.8, static_friction=force)


def _stiction(car: Car, s: float, rng: Rng) -> Car:
    force = car.hardware.actuator.area * _blend(s, 10e3, 55e3)
    return _with(car, "actuator", friction=force * 0.7, static_friction=force)


def _sensor(car: Car, s: float, rng: Rng) -> Car:
    # a sensor of another range: slope and zero both move; or a plain zero shift
    sign = 1.0 if rng.random() < 0.6 else -1.0
    if rng.random() < 0.6:
        return _with(
            car, "ecu", sensor_gain=1.0 + sign * _blend(s, 0.04, 0.25), sensor_offset=rng.uniform(-4e3, 4e3)
        )
    return _with(car, "ecu", sensor_offset=sign * _blend(s, 5e3, 32e3))


def _charge_leak(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "charge", leak_area=car.hardware.engine.displacement * _blend(s, 0.012, 0.085))


def _bypass_leak(car: Car, s: float, rng: Rng) -> Car:
    return _with(
        car,
        "charge",
        bypass_area=car.hardware.engine.displacement * _blend(s, 0.016, 0.12),
        bypass_lift=car.target * rng.uniform(0.2, 0.7),
    )


def _exhaust_restricted(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "exhaust", loss=car.hardware.exhaust.loss * _blend(s, 2.2, 9.0))


def _worn(car: Car, s: float, rng: Rng) -> Car:
    h = car.hardware
    first = h.changed(
        "compressor",
        efficiency=h.compressor.efficiency * (1.0 - 0.02 - 0.14 * s),
        head_zero_flow=h.compressor.head_zero_flow * (1.0 - 0.01 - 0.08 * s),
    )
    second = first.changed("turbine", efficiency=h.turbine.efficiency * (1.0 - 0.02 - 0.14 * s))
    return replace(car, hardware=second.changed("shaft", drag=h.shaft.drag * _blend(s, 1.8, 18.0)))


def _choked(car: Car, s: float, rng: Rng) -> Car:
    """A compressor whose choking flow is about what the engine asks for at the redline, or less."""
    h = car.hardware
    most = most_air(h.engine, h.air, car.target, car.redline)
    wanted = most * _blend(s, 1.12, 0.78) / choking_air(h.compressor, h.air, car.target)
    return _with(car, "compressor", flow_scale=h.compressor.flow_scale * min(wanted, 0.95))


def _not_seating(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "gate", gap_area=0.25 * np.pi * car.hardware.gate.port**2 * _blend(s, 0.035, 0.3))


def _bleed_blocked(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "signal", bleed_area=hole_area(_blend(s, 0.09e-3, 0.015e-3)))


def _bleed_oversize(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "signal", bleed_area=car.hardware.signal.bleed_area * _blend(s, 2.0, 12.0))


def _ball_shut(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "signal", ball_stuck=1.0)


def _ball_sticky(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "signal", ball_stick=_blend(s, 6e3, 30e3))


def _passing(car: Car, s: float, rng: Rng) -> Car:
    return _with(car, "signal", ball_leak=hole_area(_blend(s, 0.7e-3, 2.5e-3)))


def _healthy(car: Car, s: float, rng: Rng) -> Car:
    return car


CAPACITY = ("port-too-small", "port-entry-poor", "engine-outgrew-gate", "dump-pipe-poor", "exhaust-freed")
SAME_SOLENOID = ("solenoid-stuck", "solenoid-reversed", "controller-passing", "vent-plugged")


def _accepting(first: str, ids: tuple[str, ...]) -> tuple[str, ...]:
    return (first, *(i for i in ids if i != first))


FAULTS: dict[str, Fault] = {
    f.id: f
    for f in (
        Fault("healthy", "healthy", ("healthy",), _healthy),
        Fault("port-too-small", "gate capacity", CAPACITY, _port_small),
        Fault("port-entry-poor", "gate capacity", _accepting("port-entry-poor", CAPACITY), _entry_poor),
        Fault("exhaust-freed", "gate capacity", _accepting("exhaust-freed", CAPACITY), _exhaust_freed),
        Fault("gate-travel-limited", "gate travel", ("gate-travel-limited",), _travel),
        Fault("spring-droop", "spring", ("spring-droop",), _droop, (NONE, BALL, BLEED)),
        Fault("spring-too-strong", "spring", ("spring-too-strong",), _spring_strong, (NONE, BALL, BLEED)),
        Fault("spring-weak", "spring", ("spring-weak",), _spring_weak),
        Fault("controller-set-high", "controller", ("controller-set-high",), _controller_high, (BALL, BLEED)),
        Fault("signal-line-leak", "line", ("signal-line-leak", "signal-line-open"), _line_leak),
        Fault("signal-line-open", "line", ("signal-line-open", "signal-line-leak"), _line_open),
        Fault(
            "line-blocked",
            "line",
            ("line-blocked", "signal-line-restricted", "signal-line-open"),
            _line_blocked,
        ),
        Fault("signal-line-restricted", "line", ("signal-line-restricted", "line-blocked"), _line_restricted),
        Fault("diaphragm-leak", "actuator", ("diaphragm-leak",), _diaphragm),
        Fault(
            "reference-after-cooler", "line", ("reference-after-cooler",), _after_cooler, (NONE, BALL, BLEED)
        ),
        Fault("solenoid-stuck", "controller", SAME_SOLENOID, _solenoid_stuck, (SOLENOID,)),
        Fault(
            "solenoid-stuck-at-vent",
            "controller",
            ("solenoid-stuck", "solenoid-reversed"),
            _solenoid_at_vent,
            (SOLENOID,),
        ),
        Fault(
            "solenoid-reversed",
            "controller",
            ("solenoid-reversed", "solenoid-stuck"),
            _solenoid_reversed,
            (SOLENOID,),
        ),
        Fault("gate-seized-shut", "gate motion", ("gate-seized-shut", "actuator-stiction"), _seized),
        Fault("actuator-stiction", "gate motion", ("actuator-stiction", "gate-seized-shut"), _stiction),
        Fault("gate-not-seating", "gate motion", ("gate-not-seating", "gate-debris"), _not_seating),
        Fault("sensor-scale-wrong", "sensor", ("sensor-scale-wrong",), _sensor),
        Fault("charge-leak", "charge side", ("charge-leak",), _charge_leak),
        Fault("recirculation-valve-leak", "charge side", ("recirculation-valve-leak",), _bypass_leak),
        Fault("exhaust-restricted", "exhaust", ("exhaust-restricted",), _exhaust_restricted),
        Fault("turbo-worn", "turbo", ("turbo-worn",), _worn),
        Fault("compressor-choked", "turbo", ("compressor-choked",), _choked),
        Fault("bleed-blocked", "controller", ("bleed-blocked", "vent-plugged"), _bleed_blocked, (BALL,)),
        Fault("bleed-oversize", "controller", ("bleed-oversize",), _bleed_oversize, (BALL,)),
        Fault(
            "controller-ball-stuck-shut",
            "controller",
            ("controller-ball-stuck-shut", "controller-ball-sticky"),
            _ball_shut,
            (BALL,),
        ),
        Fault(
            "controller-ball-sticky",
            "controller",
            ("controller-ball-sticky", "controller-ball-stuck-shut"),
            _ball_sticky,
            (BALL,),
        ),
        Fault("controller-passing", "controller", ("controller-passing",), _passing, (BALL,)),
    )
}


def apply(car: Car, cause: str, severity: float, rng: Rng) -> Car:
    """The car with a fault, or with two joined by `` + `` (a pair); the sound car for ``healthy``.

    Raises KeyError for a cause that is not in :data:`FAULTS`.
    """
    for part in cause.split(" + "):
        car = FAULTS[part].edit(car, severity, rng)
    return car


def suits(cause: str, kind: float) -> bool:
    """Whether a car with this kind of controller can have the cause (or all of a pair)."""
    return all(kind in FAULTS[part].kinds for part in cause.split(" + "))


def controlled(hardware: Hardware) -> bool:
    """Whether the engine management closes the loop on boost."""
    return hardware.ecu.active > 0.5
