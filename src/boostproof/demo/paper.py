"""car.toml and readings.toml, with much left out as people leave it out."""

from __future__ import annotations

from math import pi

from .bench import gauge_of
from .draw import Car
from .drive import Drive
from .hardware import BALL, BLEED, KINDS, SOLENOID, TAKE_OFFS
from .looks import Reading
from .people import Rng, plain, pressure_text
from .sensors import KELVIN
from .toml import array_entry, section


def car_text(car: Car, sound: Car, drive: Drive, said: list[str], name: str, rng: Rng, unit: str) -> str:
    """car.toml, with much left out at random as people leave it out."""
    h, s = car.hardware, sound.hardware

    def maybe(share: float) -> bool:
        return bool(rng.random() < share)

    def fair(pressure: float, sd: float = 0.02) -> str:
        return pressure_text(
            pressure * float(rng.normal(1.0, sd)), unit, digits={"psi": 1, "bar": 2, "kPa": 0}[unit]
        )

    external = h.gate.external > 0.5
    engine: dict[str, object] = {
        "displacement": f"{plain(h.engine.displacement * 1e3, 1)} L",
        "cylinders": int(h.engine.cylinders),
        "redline": f"{plain(car.redline, 0)} rpm",
        "fuel": "petrol",
    }
    if maybe(0.75):
        engine["fuel_metering"] = str(rng.choice(["air meter", "speed density"]))
    if maybe(0.45):
        engine["full_load_lambda"] = h.engine.rich
    turbo: dict[str, object] = {"count": 1}
    if maybe(0.35):
        turbo["compressor_inducer"] = (
            f"{plain(car.inducer * 1e3 + float(rng.normal(0.0, 0.4)), 0)} mm +/- 1 mm"
        )
    gate: dict[str, object] = {"kind": "external poppet" if external else "internal flapper", "count": 1}
    if maybe(0.25):
        gate["port"] = f"{plain(h.gate.port * 1e3, 0)} mm"
    if maybe(0.5):
        gate["full_travel"] = f"{plain(s.travel * 1e3, 0)} mm"
    actuator: dict[str, object] = {}
    opening = s.bench_opening + s.actuator.static_friction / s.actuator.area
    if maybe(0.6):
        actuator["opening_pressure"] = fair(opening)
    actuator["chambers"] = "single"
    controller: dict[str, object] = {"kind": KINDS[car.kind]}
    if car.kind == BALL and maybe(0.5):
        controller["opening_pressure"] = fair(opening + s.signal.offset + 3e3)
    if car.kind in (BALL, BLEED) and maybe(0.6):
        controller["turns_in"] = car.turns
    if car.kind == BALL and maybe(0.15):
        controller["bleed_hole"] = f"{plain(1e3 * (s.signal.bleed_area / 0.7 * 4.0 / pi) ** 0.5, 1)} mm"
    if car.kind == SOLENOID:
        controller["closed_loop"] = True
        if maybe(0.4):
            controller["frequency"] = f"{plain(h.signal.frequency, 0)} Hz"
        if maybe(0.3):
            controller |= {
                "plumbing": "interrupt",
                "unpowered": "spring boost",
                "duty_sense": "more is more boost",
            }
    line: dict[str, object] = {}
    if maybe(0.55):
        line["take_off"] = TAKE_OFFS[int(h.signal.take_off)]
        if h.signal.take_off != s.signal.take_off and maybe(0.5):
            line["take_off_meant"] = TAKE_OFFS[int(s.signal.take_off)]
    intake = {"bypass_valve": str(rng.choice(["recirculates", "vents"]))} if maybe(0.55) else {}
    sensors = {"manifold_range": "300 kPa abs"} if maybe(0.6) else {}
    weather: dict[str, object] = {}
    if maybe(0.75):
        weather["barometer"] = f"{plain((h.air.pressure + float(rng.normal(0.0, 120.0))) / 1e3, 1)} kPa"
    if maybe(0.8):
        weather["temperature"] = f"{plain(h.air.temperature - KELVIN, 0)} C"
    place: dict[str, object] = {"kind": drive.place}
    if drive.gear is not None:
        place["gear"] = drive.gear
    if drive.ramp is not None:
        place["ramp"] = f"{plain(drive.ramp, 0)} rpm/s"
    return "format = 1\n\n" + "".join(
        section(title, keys)
        for title, keys in (
            ("car", {"name": name, "complaint": said}),
            ("engine", engine),
            ("turbo", turbo),
            ("wastegate", gate),
            ("actuator", actuator),
            ("controller", controller),
            ("signal_line", line),
            ("intake", intake),
            ("sensors", sensors),
            ("limits", {"target": pressure_text(car.target, unit)}),
            ("weather", weather),
            ("pull_place", place),
        )
    )


def readings_text(done: list[Reading], seed: int) -> str:
    """readings.toml."""
    gauge = gauge_of(seed)
    text = "format = 1\n\n" + section("gauge", {"smallest_mark": f"{plain(gauge.mark)} {gauge.unit}"})
    return text + "".join(array_entry("reading", r) for r in done)
