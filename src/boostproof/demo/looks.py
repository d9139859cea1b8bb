"""Tests done with eyes, hands and simple tools, as somebody would write them down."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from . import loop
from .draw import Car
from .gas import R_AIR
from .metrics import PSI
from .people import ShopGauge, length, plain
from .rig import LITRES_PER_MINUTE

Rng = np.random.Generator
Reading = dict[str, object]
Array = NDArray[np.float64]


def pressurised(car: Car, rng: Rng) -> Reading:
    """Charge side at 15 psi: what the leaks pass against what the supply can give."""
    ch, air = car.hardware.charge, car.hardware.air
    supply = 15.0 * PSI
    top = air.pressure + supply

    def passes(area: float) -> float:
        return 0.0404 * area * top / sqrt(air.temperature)

    lifted = min(max((supply - ch.bypass_lift) / 15e3, 0.0), 1.0)
    by_pipe, by_valve = passes(ch.leak_area), passes(ch.bypass_area * lifted)
    reading: Reading = {"test": "intake-pressurise", "supply": "15 psi"}
    total = by_pipe + by_valve
    if total > 1.5e-3:
        reading["held"] = "cannot reach" if total > 14e-3 else "flows"
        place = (
            "bypass valve"
            if by_valve > by_pipe
            else str(rng.choice(["pipe after cooler", "pipe before cooler", "cooler end tank"]))
        )
        if rng.random() < 0.9:
            reading["heard_at"] = place
        return reading
    # what the rings and valves of a sound engine let by
    rate = passes(rng.uniform(0.03e-6, 0.12e-6)) + total
    drop = min(rate * 30.0 * R_AIR * air.temperature / (ch.pipe_volume + ch.manifold_volume + 4e-3), supply)
    reading["held"] = "seeps"
    reading["drop_in_30_s"] = f"{plain(drop / PSI, 1)} psi"
    return reading


def by_hand(car: Car, rng: Rng) -> Reading:
    h = car.hardware
    needed = h.actuator.static_friction / h.actuator.area  # Pa at the actuator that the friction eats
    if needed > 100e3:
        return {"test": "free-travel", "arm": "will not move", "swing": "0 mm"}
    arm = "binds" if needed > 18e3 and rng.random() < 0.8 else "swings freely"
    return {"test": "free-travel", "arm": arm, "swing": length(h.gate.free_travel, rng)}


def shaft(car: Car, sound: Car, rng: Rng) -> Reading:
    worse = car.hardware.shaft.drag / sound.hardware.shaft.drag
    shaft = "spins freely"
    if worse > 3.5 and rng.random() < 0.85:
        shaft = str(rng.choice(["drags", "rough"]))
    reading: Reading = {"test": "shaft-check", "shaft": shaft}
    if rng.random() < 0.4:
        reading["play"] = (
            "excessive" if worse > 6.0 and rng.random() < 0.7 else str(rng.choice(["none", "slight"]))
        )
    return reading


def hose_flow(car: Car, sound: Car, rng: Rng) -> Reading:
    """Open-ended take-off hose at 100 kPa, against a new one."""
    air = car.hardware.air

    def litres(area: float) -> float:
        return 0.0404 * area * (air.pressure + 1e5) / sqrt(air.temperature) * LITRES_PER_MINUTE

    both = (car.hardware.signal.supply_area**-2 + car.hardware.signal.hose_area**-2) ** -0.5
    new = (sound.hardware.signal.supply_area**-2 + sound.hardware.signal.hose_area**-2) ** -0.5
    return {
        "test": "hose-flow",
        "supply": "100 kPa",
        "passes": bool(both > 0.5 * new),
        "flow": f"{plain(litres(both) * float(rng.normal(1.0, 0.05)), 0)} L/min",
        "flow_new_hose": f"{plain(litres(new) * float(rng.normal(1.0, 0.05)), 0)} L/min",
    }


def cold_look(car: Car, rng: Rng) -> Reading:
    """T1: what can be seen with the engine cold."""
    signal = car.hardware.signal
    look: Reading = {"test": "cold-look", "hoses": "no damage seen"}
    if signal.leak_area > 2e-6 and rng.random() < 0.8:
        look["hoses"] = "off" if rng.random() < 0.5 else "split"
    elif signal.leak_area > 4e-7 and rng.random() < 0.4:
        look["hoses"] = "split"
    if signal.reversed > 0.5 and rng.random() < 0.5:
        look["routing"] = "in and out swapped"
    if signal.take_off == 2.0 and rng.random() < 0.7:
        look["take_off_seen"] = "intake manifold"
    return look


def sensor_check(car: Car, gauge: ShopGauge, rng: Rng) -> Reading:
    """T17: manifold sensor against the barometer, and mostly against 15 psi on the gauge too."""
    ambient, ecu = car.hardware.air.pressure, car.hardware.ecu
    rows: list[Reading] = []
    for applied in ("0 psi", "15 psi")[: 2 if rng.random() < 0.6 else 1]:
        true = ambient + float(applied.split()[0]) * PSI * gauge.slope
        reads = true * ecu.sensor_gain + ecu.sensor_offset + float(rng.normal(0.0, 150.0))
        row: Reading = {"applied": applied, "reads": f"{plain(reads / 1e3, 1)} kPa abs"}
        if applied == "0 psi":
            row["barometer"] = f"{plain((ambient + float(rng.normal(0.0, 120.0))) / 1e3, 1)} kPa"
        rows.append(row)
    return {"test": "sensor-check", "rows": rows}


def back_pressure(car: Car, last_pull: Array, rng: Rng) -> Reading:
    """T16: behind the turbine at the top of the last pull."""
    top = last_pull[-max(len(last_pull) // 40, 1) :]
    rpm = round(float(top[-1, loop.RPM]) / 100.0) * 100
    behind = (float(np.mean(top[:, loop.P_BACK])) - car.hardware.air.pressure) / PSI
    shown = f"{plain(behind * float(rng.normal(1.0, 0.05)), 1)} psi"
    return {"test": "exhaust-back-pressure", "rows": [{"rpm": f"{rpm} rpm", "pressure": shown}]}


def port_measure(car: Car, sound: Car, rng: Rng) -> Reading:
    """T6: bore of the port, and its entry where that was looked at."""
    gate = car.hardware.gate
    read: Reading = {
        "test": "port-measure",
        "port": f"{plain(gate.port * 1e3 + float(rng.normal(0.0, 0.25)), 1)} mm",
    }
    if gate.discharge < 0.8 * sound.hardware.gate.discharge and rng.random() < 0.7:
        read["entry"] = str(rng.choice(["step", "gasket over edge"]))
    elif rng.random() < 0.3:
        read["entry"] = "clean"
    return read


def seat_leak(car: Car, rng: Rng) -> Reading:
    """T5: light past the shut valve."""
    gate = car.hardware.gate
    gap = gate.gap_area / (pi * gate.port)
    seen: Reading = {"test": "seat-leak", "light": bool(gap > 4e-5 and rng.random() < 0.93)}
    if seen["light"] and rng.random() < 0.5:
        seen["gap"] = f"{plain(gap * 1e3 * float(rng.normal(1.2, 0.15)), 1)} mm"
    return seen
