"""The demo: an invented shop, an invented car, one job.

Quarrow Yard is a small dyno shop that never existed; the Norvik Vale estate on its rollers was never
built. The customer says that boost climbs with engine speed and never levels off. What is wrong is
a wastegate port too small for the engine; neither car.toml nor readings.toml says so.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from . import loop
from .bench import stream
from .case import Job, do_job, write_job
from .draw import Car, plain_pull, random_car
from .drive import Drive
from .hardware import BALL, Hardware
from .metrics import PSI
from .people import plain
from .run import cruise, pull, roll_off
from .sensors import KELVIN
from .toml import section
from .truth import truth_text

SHOP = "Quarrow Yard"
CAR = "Norvik Vale Estate"
CAUSE = "port-too-small"
SEVERITY = 0.45
TESTS = (
    "cold-look",
    "sensor-check",
    "actuator-sweep",
    "controller-sweep",
    "controller-vent",
    "intake-pressurise",
)
CHANNELS = ("barometer", "egt", "coolant", "air_flow")
RAMP = 400.0


def _drive(redline: float, target: float) -> Drive:
    """Four pulls on a brake dyno, each 700 rpm higher, the driver ready to lift."""
    start = 2000.0
    stop = target + 75e3
    phases = [cruise(start, 4.0, keep=False), cruise(start, 2.0)]
    full = []
    for end in (redline - 2100.0, redline - 1400.0, redline - 700.0, redline):
        full.append(len(phases))
        phases += [pull(end, RAMP, lift_at=stop, reaction=0.2), roll_off(start, 2.5, rate=1300.0)]
        phases += [roll_off(start, 6.0, rate=1300.0, keep=False), cruise(start, 2.0)]
    return Drive("brake dyno", 4, RAMP, tuple(phases[:-2]), tuple(full), 0.0, 48.0, 20.0)


def _port_for(sound: Car, wanted: float) -> Car | None:
    """The car with the port at which the last pull ends ``wanted`` Pa above target; None if no port does."""
    low, high = 0.5, 1.0  # of the sound port
    for _ in range(9):
        share = 0.5 * (low + high)
        port = round(sound.hardware.gate.port * share, 4)
        car = replace(sound, hardware=sound.hardware.changed("gate", port=port))
        if _creep(car)[1] > wanted:
            low = share
        else:
            high = share
    knee, rise = _creep(car)
    return car if abs(rise - wanted) < 5e3 and knee < 6e3 else None


def _creep(car: Car) -> tuple[float, float]:
    """Boost over target (Pa) a little after the knee and at the end of a pull to the redline."""
    table = plain_pull(car.hardware, car.redline)
    boost = table[:, loop.P_MANIFOLD] - car.hardware.air.pressure - car.target
    early = (table[:, loop.RPM] > 3250.0) & (table[:, loop.RPM] < 3650.0)
    return float(np.median(boost[early])), float(boost[-10:].mean())


def _fits(hardware: Hardware, redline: float) -> bool:
    """A middling car: internal gate, about two litres, a usual target."""
    middling = 0.0019 < hardware.engine.displacement < 0.0023 and 6500.0 <= redline <= 7200.0
    return hardware.gate.external < 0.5 and middling and 85e3 <= hardware.ecu.target <= 112e3


def _find(seed: int) -> tuple[Car, Car]:
    """A sound car and its creeping twin with the textbook curve: on target first, then ever higher."""
    rng = stream(seed, "demo car")
    while True:
        sound = random_car(rng, kind=BALL, fits=_fits)
        level, rise = _creep(sound)
        if abs(level) > 4e3 or abs(rise) > 5e3:
            continue
        found = _port_for(sound, 50e3)
        if found is not None:
            return sound, found


def _car_text(sound: Car) -> str:
    h = sound.hardware
    opening = h.bench_opening + h.actuator.static_friction / h.actuator.area

    def psi(pressure: float, step: float = 0.5) -> str:
        return f"{plain(round(pressure / PSI / step) * step, 1)} psi"

    parts = (
        (
            "car",
            {
                "name": CAR,
                "complaint": ["boost keeps climbing with rpm and never levels off", "worse in the cold"],
                "notes": f"job of {SHOP}: engine rebuilt elsewhere last winter, first time on our rollers",
            },
        ),
        (
            "engine",
            {
                "displacement": f"{plain(h.engine.displacement * 1e3, 1)} L",
                "cylinders": int(h.engine.cylinders),
                "redline": f"{plain(sound.redline, 0)} rpm",
                "fuel": "petrol",
                "fuel_metering": "speed density",
                "full_load_lambda": h.engine.rich,
            },
        ),
        ("turbo", {"count": 1, "compressor_inducer": f"{plain(sound.inducer * 1e3, 0)} mm +/- 1 mm"}),
        (
            "wastegate",
            {"kind": "internal flapper", "count": 1, "full_travel": f"{plain(h.travel * 1e3, 1)} mm"},
        ),
        ("actuator", {"opening_pressure": psi(opening), "chambers": "single"}),
        (
            "controller",
            {
                "kind": "ball and spring",
                "opening_pressure": psi(opening + h.signal.offset + 3e3),
                "turns_in": sound.turns,
            },
        ),
        ("signal_line", {"take_off": "compressor outlet", "bore": "4 mm"}),
        ("intake", {"bypass_valve": "recirculates", "cooler": "air"}),
        ("sensors", {"manifold_range": "300 kPa abs", "manifold_position": "after throttle"}),
        ("limits", {"target": psi(sound.target), "stop": psi(sound.target + 75e3)}),
        ("history", {"started": "from first start", "ever_right": False}),
        (
            "weather",
            {
                "barometer": f"{plain(h.air.pressure / 1e3, 1)} kPa",
                "temperature": f"{plain(h.air.temperature - KELVIN, 0)} C",
            },
        ),
        (
            "pull_place",
            {
                "kind": "brake dyno",
                "gear": 4,
                "ramp": f"{plain(RAMP, 0)} rpm/s",
                "can_hold_speed": True,
                "lift": True,
                "second_pressure_sensor": True,
            },
        ),
    )
    return "format = 1\n\n" + "".join(section(title, keys) for title, keys in parts)


def demo_job(seed: int) -> tuple[Job, Job]:
    """The job and its sound twin, driven and tested alike."""
    sound, found = _find(seed)
    drive = _drive(sound.redline, sound.target)
    job = do_job(found, sound, drive, seed, only=TESTS)
    return job, do_job(sound, sound, drive, seed, only=TESTS)


def write_demo_case(directory: str | Path, *, seed: int = 1) -> Path:
    """Write the demo shop's job as a case folder and return its path; the same seed, the same job."""
    folder = Path(directory)
    job, twin = demo_job(seed)
    logged = write_job(folder, job, seed, fixed=CHANNELS)
    (folder / "car.toml").write_text(_car_text(twin.car), encoding="utf-8")
    pulls = section("recording.set_up", {"controller": "in", "gate": "controlled"})
    (folder / "pulls.toml").write_text(
        'format = 1\n\n[[recording]]\nfile = "recordings/log.csv"\nsource = "dyno"\ngear = 4\n\n'
        + pulls.rstrip()
        + "\n",
        encoding="utf-8",
    )
    (folder / "truth.toml").write_text(truth_text(CAUSE, SEVERITY, job, twin, logged), encoding="utf-8")
    return folder
