"""Write a log as loggers write them: their own names, units, separators, order and steps."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .draw import Car
from .metrics import PSI
from .sensors import KELVIN

Array = NDArray[np.float64]
Rng = np.random.Generator
AMBIENT_BY_UNIT = {"kPa": (1e-3, 1), "psi": (1.0 / PSI, 2), "bar": (1e-5, 3), "mbar": (1e-2, 0)}

NAMES: dict[str, tuple[str, ...]] = {
    "time": ("Time", "time", "Elapsed", "Log Time", "t"),
    "rpm": ("RPM", "rpm", "Engine Speed", "Engine RPM", "Eng Spd", "n_engine"),
    "throttle": ("TPS", "Throttle", "Throttle Position", "Throttle Pos", "throttle_pct", "Plate Angle"),
    "map_abs": ("MAP", "Manifold Pressure", "Intake Pressure", "Manifold Abs Press", "MAP abs"),
    "map_gauge": ("Boost", "Boost Pressure", "Manifold Boost", "Gauge Boost"),
    "compressor": ("Compressor Outlet Press", "Comp Out Pressure", "Pressure Before Cooler"),
    "pipe": ("Charge Pipe Pressure", "Pre-Throttle Pressure"),
    "exhaust_in": ("Exhaust Back Pressure", "Pre-Turbine Pressure", "Exh Manifold Press", "EMAP"),
    "exhaust_out": ("Post-Turbine Pressure", "Downpipe Pressure"),
    "iat": ("IAT", "Air Temp", "Intake Air Temp", "Charge Temp"),
    "egt": ("EGT", "Exhaust Gas Temp", "Pre-Turbo Temp"),
    "air_flow": ("MAF", "Airflow", "Mass Air Flow"),
    "lambda": ("Lambda", "lambda", "Wideband Lambda", "Lambda 1"),
    "afr": ("AFR", "Air/Fuel Ratio", "Wideband AFR"),
    "duty": ("WG Duty", "Wastegate Duty", "Boost Ctrl Duty", "Boost Solenoid DC"),
    "target": ("Boost Target", "Target Boost", "Desired Boost"),
    "shaft": ("Turbo Speed", "Shaft Speed"),
    "torque": ("Torque", "Wheel Torque", "Brake Torque"),
    "line": ("Actuator Line Press", "Wastegate Line Pressure"),
    "advance": ("Ign Timing", "Spark Advance", "Timing"),
    "barometer": ("Baro", "Barometric Pressure", "Baro Press"),
    "coolant": ("ECT", "CLT", "Coolant Temp"),
    "battery": ("Battery", "Batt V", "Supply Voltage"),
    "gear": ("Gear", "gear"),
    "speed": ("Vehicle Speed", "VSS", "Speed"),
}


@dataclass(frozen=True)
class Column:
    """One column: its header and how its cells are written."""

    header: str
    cells: Array
    decimals: int


def _stepped(values: Array, step: float) -> Array:
    return np.asarray(np.round(values / step) * step)


def _pressure(values: Array, unit: str, ambient: float | None, rng: Rng) -> tuple[Array, int]:
    """Absolute Pa to ``unit``; gauge when ``ambient`` (Pa) is given."""
    scale, digits = AMBIENT_BY_UNIT[unit]
    shown = (values - (ambient or 0.0)) * scale
    if rng.random() < 0.5:
        shown = _stepped(shown, float(rng.choice([0.5e3, 0.25e3, 1e3])) * scale)
    return shown, digits


def write_log(
    path: Path,
    car: Car,
    seen: dict[str, Array],
    time: Array,
    rng: Rng,
    *,
    gear: int | None,
    rate: float,
    fixed: tuple[str, ...] | None = None,
) -> list[str]:
    """Write ``path`` and return the channels in it.

    ``seen`` SI channels on the grid ``time`` (s); ``rate`` rows per second; ``fixed`` names the
    optional channels instead of drawing them.
    """
    every = np.diff(time, prepend=time[0] - 1.0 / rate)
    # pick the sample nearest to each tick of the logger, restarting after a gap
    ticks, due = [], time[0]
    for k, now in enumerate(time):
        if every[k] > 0.5:
            due = now
        if now >= due - 1e-9:
            ticks.append(k)
            due = max(due + 1.0 / rate, now)
    index = np.array(ticks)
    shown = {k: v[index] for k, v in seen.items()}
    stamps = time[index] + rng.normal(0.0, 6e-4, len(index))
    stamps = np.maximum(np.maximum.accumulate(stamps), 0.0)
    style = str(rng.choice(["round", "square", "underscore", "bare", "comma"], p=[0.42, 0.3, 0.1, 0.1, 0.08]))
    celsius = rng.random() < 0.7
    degree = str(rng.choice(["C", "°C", "degC"] if celsius else ["F", "°F", "degF"]))
    unit = str(rng.choice(["kPa", "psi", "bar", "mbar"], p=[0.42, 0.36, 0.18, 0.04]))
    gauge = bool(rng.random() < 0.55)
    says = bool(rng.random() < 0.6) or unit == "mbar"
    columns: list[Column] = []

    def name(key: str) -> str:
        return str(rng.choice(NAMES[key]))

    def add(key: str, unit_text: str, values: Array, decimals: int, *, word: str = "") -> None:
        base = name(key)
        if word and not base.lower().endswith(word):
            base += f" {word}"
        if base.endswith("_pct") or base.lower() == unit_text:  # the name says its unit already
            columns.append(Column(base, values, decimals))
            return
        shaped = {
            "round": f"{base} ({unit_text})",
            "square": f"{base} [{unit_text}]",
            "underscore": f"{base}_{unit_text}",
            "bare": base,
            "comma": f"{base}, {unit_text}",
        }[style]
        columns.append(Column(shaped if unit_text else base, values, decimals))

    def temperature(values: Array) -> Array:
        c = values - KELVIN
        return c if celsius else c * 1.8 + 32.0

    milliseconds = rng.random() < 0.15
    stamp = Column(
        name("time") + (" (ms)" if milliseconds else str(rng.choice(["", " (s)", " [s]"]))),
        stamps * 1e3 if milliseconds else stamps,
        0 if milliseconds else 3,
    )
    add(
        "rpm",
        "rpm" if rng.random() < 0.6 else "1/min",
        _stepped(shown["rpm"], float(rng.choice([1.0, 10.0, 25.0]))),
        0,
    )
    add("throttle", "%", shown["throttle"] * 100.0, 1)
    ambient = car.hardware.air.pressure
    values, digits = _pressure(shown["map"], unit, ambient if gauge else None, rng)
    add(
        "map_gauge" if gauge else "map_abs",
        unit,
        values,
        digits,
        word=("gauge" if gauge else "abs") if says else "",
    )
    add("iat", degree, temperature(shown["iat"]), 1)
    if rng.random() < 0.55:
        add("lambda", "", shown["lambda"], 3)
    else:
        add("afr", "", shown["lambda"] * 14.6, 2)
    chance = {
        "barometer": 0.5,
        "coolant": 0.5,
        "egt": 0.35,
        "air_flow": 0.35,
        "exhaust_in": 0.3,
        "compressor": 0.15,
        "pipe": 0.15,
        "exhaust_out": 0.08,
        "advance": 0.4,
        "battery": 0.3,
        "gear": 0.35,
        "speed": 0.3,
        "torque": 0.15,
        "shaft": 0.06,
        "line": 0.06,
        "duty": 0.85,
        "target": 0.6,
    }
    n = len(index)
    other = unit if rng.random() < 0.6 else str(rng.choice(["kPa", "psi", "bar"]))
    kept = ["time", "rpm", "throttle", "map", "iat", "lambda"]
    solenoid = car.hardware.ecu.active > 0.5
    for key, odds in chance.items():
        wanted = key in fixed if fixed is not None else rng.random() < odds
        if (
            not wanted
            or (key in ("duty", "target") and not solenoid)
            or (key in ("gear", "speed") and gear is None)
        ):
            continue
        kept.append(key)
        if key in ("exhaust_in", "exhaust_out", "compressor", "pipe", "line"):
            own_gauge = rng.random() < 0.5
            values, digits = _pressure(shown[key], other, ambient if own_gauge else None, rng)
            add(key, other, values, digits, word="gauge" if own_gauge else "abs")
        elif key == "target":
            values, digits = _pressure(
                np.full(n, ambient + car.target), unit, ambient if gauge else None, rng
            )
            add(key, unit, values, digits, word=("gauge" if gauge else "abs") if says else "")
        elif key == "egt":
            add(key, degree, temperature(shown[key]), 0)
        elif key == "air_flow":
            per_hour = rng.random() < 0.4
            add(key, "kg/h" if per_hour else "g/s", shown[key] * (3600.0 if per_hour else 1e3), 1)
        elif key == "duty":
            add(key, "%", shown[key] * 100.0, 1)
        elif key == "shaft":
            add(key, "krpm", shown[key] * 1e-3, 2)
        elif key == "torque":
            pounds = rng.random() < 0.3
            add(key, "lb-ft" if pounds else "Nm", shown[key] * (0.7376 if pounds else 1.0), 1)
        elif key == "advance":
            add(key, "deg", shown[key], 1)
        elif key == "barometer":
            add(key, "kPa", np.round(shown[key], -2) * 1e-3, 1)
        elif key == "coolant":
            warm = 361.0 + 4.0 * np.arange(n) / n
            add(key, degree, _stepped(temperature(warm), 1.0), 0)
        elif key == "battery":
            add(key, "V", np.where(shown["rpm"] > 300.0, 13.8, 12.4) + rng.normal(0.0, 0.06, n), 2)
        elif key == "gear":
            add(key, "", np.full(n, float(gear or 0)), 0)
        elif key == "speed":
            miles = rng.random() < 0.3
            per = {2: 0.0135, 3: 0.0205, 4: 0.0281, 5: 0.036}.get(gear or 4, 0.0281)
            add(key, "mph" if miles else "km/h", shown["rpm"] * per * (0.6214 if miles else 1.0), 1)
    order = [0, *range(1, len(columns))] if rng.random() < 0.6 else list(rng.permutation(len(columns)))
    rows = [stamp, *(columns[int(k)] for k in order)]
    _write(path, rows, rng)
    return kept


def _write(path: Path, columns: list[Column], rng: Rng) -> None:
    separator = str(rng.choice([",", ";", "\t"], p=[0.75, 0.15, 0.1]))
    comma = separator == ";" and rng.random() < 0.25
    lines: list[str] = []
    if rng.random() < 0.15:
        lines.append(
            str(rng.choice(["# session log, channels as set up by the shop", "# rolling road, bay 2"]))
        )

    def cell(text: str) -> str:
        return f'"{text}"' if separator in text else text

    lines.append(separator.join(cell(c.header) for c in columns))
    table = np.column_stack([c.cells for c in columns])
    for row in table:
        texts = [f"{v:.{c.decimals}f}" for c, v in zip(columns, row, strict=True)]
        if comma:
            texts = [t.replace(".", ",") for t in texts]
        lines.append(separator.join(texts))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
