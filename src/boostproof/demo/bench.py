"""Bench readings of a car: the rig's true answers, read with a shop's gauge and eyes.

Every test draws its chance from its own stream, so that a car and its sound twin are read by the
same person with the same gauge on the same day.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from zlib import crc32

import numpy as np

from . import looks
from .draw import Car
from .hardware import BALL, BLEED, NONE, SOLENOID, Hardware
from .looks import Array, Reading
from .metrics import PSI
from .people import ShopGauge, length, loudness, plain, seconds
from .rig import LITRES_PER_MINUTE, Sweep, solenoid_at, sweep, vent_flow

Rng = np.random.Generator
FIVE_PSI = 5.0 * PSI


def stream(seed: int, name: str) -> Rng:
    """A stream of chance for one purpose, independent of the others."""
    return np.random.default_rng([seed, crc32(name.encode())])


def _chosen(seed: int, name: str, share: float) -> bool:
    return bool(stream(seed, f"do {name}").random() < share)


def _up_to(pressure: float, *, most: float = 8) -> float:
    return min(max(5.0, float(np.ceil(pressure / FIVE_PSI))), most) * FIVE_PSI


def _ceilings(sound: Hardware, found: Hardware) -> tuple[float, float]:
    """Supply limits (Pa gauge) for air on the actuator and through the controller."""
    a = sound.actuator
    need = sound.bench_opening + a.stiffness * a.stroke / a.area
    direct = _up_to(need + 2.0e4)
    s = sound.signal
    through = need
    if s.kind == BALL:
        through = need + max(s.offset, min(found.signal.offset, s.offset + 4e4)) + 1e4
    elif s.kind == BLEED:
        through = need * (1.0 + (s.bleed_area / s.path_area) ** 2) + 5e3
    return direct, _up_to(through + 2.0e4)


def _sweep_reading(test: str, result: Sweep, up_to: float, gauge: ShopGauge, rng: Rng, vent: bool) -> Reading:
    reading: Reading = {"test": test, "supply_up_to": gauge.set_to(up_to)}
    jitter = 1.2e3
    reading["first_movement"] = (
        "none" if result.first is None else gauge.reads(result.first + float(rng.normal(0.0, jitter)), rng)
    )
    reading["full_travel"] = (
        "none" if result.full is None else gauge.reads(result.full + float(rng.normal(0.0, jitter)), rng)
    )
    if result.last_return is not None and rng.random() < 0.35:
        reading["last_return"] = gauge.reads(result.last_return + float(rng.normal(0.0, jitter)), rng)
    reading["travel"] = length(result.travel if result.first is not None else 0.0, rng)
    if result.follows is not None:
        reading["follows"] = seconds(result.follows, rng)
    if vent and result.vent_after is not None:
        after = result.vent_after
        reading["vent"] = {
            "held": length(result.held, rng),
            "after_1_s": length(after[0], rng),
            "after_5_s": length(after[1], rng),
            "after_30_s": length(after[2], rng),
            "returned": seconds(result.returned, rng),
        }
    start, ten, sixty = result.leak
    reading["leak"] = {
        "start": gauge.reads(start, rng),
        "after_10_s": gauge.reads(ten, rng),
        "after_60_s": gauge.reads(sixty, rng),
    }
    return reading


def _heard(reading: Reading, result: Sweep, rng: Rng) -> None:
    """Note a hiss at the part that leaks most, if it can be heard."""
    diaphragm, hose = result.diaphragm_flow * LITRES_PER_MINUTE, result.hose_flow * LITRES_PER_MINUTE
    word = loudness(max(diaphragm, hose), rng)
    if word != "none" and rng.random() < 0.92:
        reading["loudness"] = word
        reading["heard_at"] = "actuator" if diaphragm >= hose else "hose"


def _controller_vent(car: Car, ceiling: float, gauge: ShopGauge, rng: Rng) -> Reading:
    h = car.hardware
    steady = max(h.bench_opening * rng.uniform(0.85, 1.0), 4e4)
    if car.kind == BALL:
        steady = max(steady, h.signal.offset * 0.9)
    step = 1.0 * PSI
    steady = round(min(steady, ceiling) / step) * step
    with_flow, with_line = rng.random() < 0.35, rng.random() < 0.4
    rows: list[Reading] = []
    for turns in (0.0, 1.0, 2.0, 3.0, 4.0, None):
        there = h if turns is None else car.at_turns(turns)
        flow, line = vent_flow(there, steady)
        row: Reading = {
            "turns_in": "as found" if turns is None else int(turns),
            "loudness": loudness(flow, rng),
        }
        if with_flow:
            shown = flow * float(rng.normal(1.0, 0.06)) + float(rng.normal(0.0, 0.08))
            row["flow"] = f"{plain(max(shown, 0.0), 1)} L/min"
        if with_line:
            row["line_pressure"] = gauge.reads(line, rng)
        rows.append(row)
    return {"test": "controller-vent", "supply": gauge.set_to(steady), "rows": rows}


def _solenoid(car: Car, gauge: ShopGauge, rng: Rng) -> Reading:
    h = car.hardware
    supply = round(max(h.bench_opening, 5.5e4) / PSI) * PSI
    rows: list[Reading] = []
    dead = h.signal.stuck >= 0.0
    silent = dead and rng.random() < 0.6
    for duty in (0.0, 0.5, 1.0):
        line, flow = solenoid_at(h, supply, duty)
        rows.append(
            {
                "duty": f"{plain(duty * 100)} %",
                "line_pressure": gauge.reads(line, rng),
                "loudness": loudness(flow, rng),
                "clicks": duty == 0.5 and not silent,
            }
        )
    return {"test": "solenoid-check", "supply": gauge.set_to(supply), "rows": rows}


# how often a shop does each test, unless it is told which to do
SHARES = {
    "cold-look": 0.25,
    "sensor-check": 0.68,
    "actuator-sweep": 1.0,
    "controller-sweep": 0.97,
    "line-sweep": 0.97,
    "controller-vent": 0.95,
    "solenoid-check": 0.92,
    "hose-flow": 0.12,
    "free-travel": 0.52,
    "intake-pressurise": 0.62,
    "exhaust-back-pressure": 0.42,
    "shaft-check": 0.52,
    "port-measure": 0.4,
    "seat-leak": 0.4,
}


def readings(
    car: Car, sound: Car, last_pull: Array, seed: int, *, only: Collection[str] | None = None
) -> list[Reading]:
    """The bench tests done on this car, in the order done.

    ``sound`` is the same car without its fault (only what is dialled in and a new hose come from
    it), ``last_pull`` true values of the last full pull, ``seed`` the person and the day. ``only``
    names the tests done; without it they are drawn by :data:`SHARES`.
    """
    h = car.hardware
    gauge = gauge_of(seed)
    direct, through = _ceilings(sound.hardware, h)
    controlled = "line-sweep" if car.kind == NONE else "controller-sweep"

    def swept(test: str, up_to: float, rng: Rng) -> Reading:
        where = {"actuator-sweep": "actuator", "line-sweep": "line"}.get(test, "controller")
        result = sweep(h, where, up_to, seen=rng.uniform(2e-4, 7e-4))
        vent = where == "actuator" or bool(rng.random() < 0.9)
        reading = _sweep_reading(test, result, up_to, gauge, rng, vent=vent)
        if car.kind == SOLENOID and test == "controller-sweep":
            reading["solenoid"] = "unpowered"
        _heard(reading, result, rng)
        return reading

    tests: dict[str, Callable[[Rng], Reading]] = {
        "cold-look": lambda rng: looks.cold_look(car, rng),
        "sensor-check": lambda rng: looks.sensor_check(car, gauge, rng),
        "actuator-sweep": lambda rng: swept("actuator-sweep", direct, rng),
        controlled: lambda rng: swept(controlled, through, rng),
        "hose-flow": lambda rng: looks.hose_flow(car, sound, rng),
        "free-travel": lambda rng: looks.by_hand(car, rng),
        "intake-pressurise": lambda rng: looks.pressurised(car, rng),
        "exhaust-back-pressure": lambda rng: looks.back_pressure(car, last_pull, rng),
        "shaft-check": lambda rng: looks.shaft(car, sound, rng),
        "port-measure": lambda rng: looks.port_measure(car, sound, rng),
        "seat-leak": lambda rng: looks.seat_leak(car, rng),
    }
    if car.kind in (BALL, BLEED):
        tests["controller-vent"] = lambda rng: _controller_vent(car, through, gauge, rng)
    if car.kind == SOLENOID:
        tests["solenoid-check"] = lambda rng: _solenoid(car, gauge, rng)
    done: list[Reading] = []
    for name, share in SHARES.items():
        # port and seat are looked at in one go, with the housing off
        chance = "port-measure" if name == "seat-leak" else name
        wanted = _chosen(seed, chance, share) if only is None else name in only
        if name in tests and wanted:
            done.append(tests[name](stream(seed, name)))
    return done


def gauge_of(seed: int) -> ShopGauge:
    """The gauge that the readings of this seed were taken with."""
    return ShopGauge.draw(stream(seed, "gauge"))
