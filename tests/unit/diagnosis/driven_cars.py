"""Invented cars of the demo, driven with one set-up or another: another model than the one that judges them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from boostproof.demo import loop
from boostproof.demo.bench import stream
from boostproof.demo.draw import Car, plain_pull, random_car
from boostproof.demo.faults import apply
from boostproof.demo.hardware import BALL, NONE, Hardware
from boostproof.demo.people import plain
from boostproof.demo.run import SAMPLE, Phase, cruise, pull, roll_off, run
from boostproof.demo.sensors import KELVIN, channels

OPEN = 1.0e-5  # m2, effective: a short wide hose
RATE = 10  # of the log, every so many samples of the drive


def sound_car(seed: int, kind: float = BALL) -> Car:
    """A middling car with an internal gate that holds its target."""
    rng = stream(seed, "driven car")

    def fits(hardware: Hardware, redline: float) -> bool:
        return hardware.gate.external < 0.5 and 85e3 <= hardware.ecu.target <= 110e3

    while True:
        car = random_car(rng, kind=kind, fits=fits)
        table = plain_pull(car.hardware, car.redline)
        boost = table[table[:, loop.RPM] > 4000.0, loop.P_MANIFOLD] - car.hardware.air.pressure - car.target
        if np.abs(boost).max() < 8e3:
            return car


def faulty(car: Car, cause: str, severity: float, seed: int = 1) -> Car:
    """The same car with a fault."""
    return apply(car, cause, severity, stream(seed, "fault"))


def controller_out(car: Car) -> Car:
    """A short new hose from the compressor outlet straight to the actuator."""
    h = car.hardware.changed(
        "signal", kind=NONE, take_off=0.0, supply_area=OPEN, path_area=OPEN, hose_area=OPEN, leak_area=0.0,
        bleed_area=0.0, offset=0.0, ball_stick=0.0, ball_stuck=0.0,
    )  # fmt: skip
    return replace(car, hardware=h.changed("ecu", active=0.0))


def gate_tied_open(car: Car) -> Car:
    """The rod held at its stop: a spring that pulls it open."""
    out = controller_out(car)
    area = out.hardware.actuator.area
    h = out.hardware.changed("actuator", preload=-3e5 * area, friction=0.0, static_friction=0.0)
    return replace(out, hardware=h)


def ramps(car: Car, up_to: float | None = None) -> list[Phase]:
    """Cruise and a full-load ramp up to an engine speed, else to the redline. [rpm]"""
    return [
        cruise(2000.0, 3.0, keep=False),
        cruise(2000.0, 1.5),
        pull(up_to or car.redline, 500.0),
        roll_off(2000.0, 2.0, rate=1500.0),
    ]


def write_log(path: Path, car: Car, phases: Sequence[Phase], seed: int = 1) -> None:
    """Drive the car and write what a plain logger keeps: time, engine speed, throttle, boost."""
    true, _ = run(car.hardware, phases)
    seen = channels(car, true, SAMPLE, stream(seed, "sensors"))
    around = car.hardware.air.pressure
    columns = {
        "time [s]": true[:, loop.TIME],
        "engine speed [rpm]": seen["rpm"],
        "throttle [%]": 100.0 * seen["throttle"],
        "boost gauge [kPa]": 1e-3 * (seen["map"] - around),
    }
    table = np.stack(list(columns.values()), axis=1)[::RATE]
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = [",".join(columns), *(",".join(f"{v:.3f}" for v in row) for row in table)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def tip_ins(car: Car) -> list[Phase]:
    """Throttle opened at once at half and at seven tenths of the redline, held there for 2.5 s."""
    phases = []
    for share in (0.5, 0.7):
        rpm = share * car.redline
        phases += [cruise(rpm, 4.0, keep=False), cruise(rpm, 1.5), cruise(rpm, 2.5, pedal=1.0), roll_off(1900.0, 2.0)]
    return phases


def car_text(sound: Car, **controller: object) -> str:
    """car.toml of a car of which a little is known: also what air straight on the actuator does."""
    h = sound.hardware
    kind = {BALL: "ball and spring", NONE: "none"}.get(sound.kind, "solenoid 3-port")
    own = "".join(f"{key} = {value}\n" for key, value in controller.items())
    opening = h.bench_opening + h.actuator.static_friction / h.actuator.area
    return f"""format = 1
[car]
name = "Driven car"
[engine]
displacement = "{plain(h.engine.displacement * 1e3, 1)} L"
cylinders = 4
redline = "{plain(sound.redline, 0)} rpm"
[wastegate]
kind = "internal flapper"
[actuator]
opening_pressure = "{plain(opening / 1e3, 0)} kPa"
[controller]
kind = "{kind}"
{own}[limits]
target = "{plain(sound.target / 1e3, 0)} kPa"
[weather]
barometer = "{plain(h.air.pressure / 1e3, 1)} kPa"
temperature = "{plain(h.air.temperature - KELVIN, 0)} C"
"""


def write_case(
    folder: Path, sound: Car, logs: Mapping[str, tuple[Car, Sequence[Phase]]], pulls: str = "", **controller: object
) -> Path:
    """A case with one recording for each name; ``pulls`` the text of pulls.toml after its format."""
    for number, (name, (car, phases)) in enumerate(logs.items()):
        write_log(folder / "recordings" / name, car, phases, seed=number)
    (folder / "car.toml").write_text(car_text(sound, **controller), encoding="utf-8")
    if pulls:
        (folder / "pulls.toml").write_text(f"format = 1\n{pulls}", encoding="utf-8")
    return folder
