"""Logs made dirty as they come in practice, and logs of engines without a turbo."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rng = np.random.Generator
_TIME = re.compile(r"^(time|elapsed|log time|t)\b", re.IGNORECASE)
_MANIFOLD = re.compile(r"^(map|manifold|intake pressure|boost pressure|boost(?![a-z])|gauge boost)", re.IGNORECASE)
_NOT_MANIFOLD = re.compile(r"target|solenoid|ctrl|duty", re.IGNORECASE)
_UNITS = {"kPa": 1e3, "psi": 6894.757, "bar": 1e5, "mbar": 1e2}


@dataclass(frozen=True)
class Sheet:
    """A log as text: lines above the header, header cells, rows of cells, and how they are parted."""

    above: tuple[str, ...]
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    separator: str
    comma: bool

    def column(self, what: re.Pattern[str]) -> int:
        """Number of the first column with such a header."""
        for k, name in enumerate(self.header):
            if what.search(name.strip('"')) and not _NOT_MANIFOLD.search(name):
                return k
        raise ValueError(f"no column like {what.pattern} among {self.header}")

    def renamed(self, column: int, name: str) -> Sheet:
        """The sheet with another header over a column."""
        return replace(self, header=(*self.header[:column], name, *self.header[column + 1 :]))

    def numbers(self, column: int) -> Array:
        """A column as numbers."""
        return np.array([float(r[column].replace(",", ".")) for r in self.rows])

    def with_numbers(self, column: int, values: Array) -> Sheet:
        """The sheet with other numbers in a column, with as many decimals as before."""
        decimals = max(len(re.split("[.,]", r[column])[1]) if re.search("[.,]", r[column]) else 0 for r in self.rows)
        texts = [f"{v:.{decimals}f}" for v in values]
        if self.comma:
            texts = [t.replace(".", ",") for t in texts]
        rows = [(*r[:column], t, *r[column + 1 :]) for r, t in zip(self.rows, texts, strict=True)]
        return replace(self, rows=tuple(rows))


def read_sheet(path: Path) -> Sheet:
    """A log as the demo's simulator writes it."""
    lines = path.read_text(encoding="utf-8").splitlines()
    first = next(k for k, line in enumerate(lines) if not line.startswith("#"))
    separator = next(s for s in ";\t," if s in lines[first] and s in lines[first + 1])
    header = tuple(_cells(lines[first], separator))
    rows = tuple(tuple(line.split(separator)) for line in lines[first + 1 :])
    return Sheet(tuple(lines[:first]), header, rows, separator, separator == ";" and any("," in c for c in rows[0]))


def _cells(line: str, separator: str) -> list[str]:
    """Cells of a header line; one that holds the separator stands in quotes."""
    return re.findall(rf'"[^"]*"|[^{re.escape(separator)}]+', line)


def write_sheet(path: Path, sheet: Sheet) -> None:
    """Write it back."""
    lines = [*sheet.above, sheet.separator.join(sheet.header), *(sheet.separator.join(r) for r in sheet.rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def gaps(sheet: Sheet, rng: Rng) -> Sheet:
    """A logger that drops out: three holes of up to half a second, and single rows."""
    keep = rng.random(len(sheet.rows)) > 0.03
    for start in rng.integers(len(sheet.rows), size=3):
        keep[start : start + int(rng.integers(4, 12))] = False
    return replace(sheet, rows=tuple(r for r, k in zip(sheet.rows, keep, strict=True) if k))


def wrong_unit(sheet: Sheet, rng: Rng) -> Sheet:
    """The manifold's header names another unit than its numbers are in."""
    k = sheet.column(_MANIFOLD)
    said = next((u for u in _UNITS if re.search(rf"\b{u}\b|_{u}\b", sheet.header[k])), None)
    other = str(rng.choice([u for u in _UNITS if u != said]))
    name = sheet.header[k]
    name = re.sub(rf"(?<![A-Za-z]){said}\b", other, name) if said else f"{name} ({other})"
    return sheet.renamed(k, name)


def other_reference(sheet: Sheet, rng: Rng) -> Sheet:
    """Gauge numbers written as absolute ones or the other way round, and the header says nothing."""
    k = sheet.column(_MANIFOLD)
    values = sheet.numbers(k)
    scale = _scale_of(values)
    atmosphere = 101325.0 / scale
    shifted = values - atmosphere if np.median(values[:5]) > 0.5 * atmosphere else values + atmosphere
    name = re.sub(r"\s*\b(abs|gauge)\b", "", sheet.header[k], flags=re.IGNORECASE)
    return sheet.renamed(k, name).with_numbers(k, shifted)


def _scale_of(values: Array) -> float:
    """Pa per unit, guessed from the range of a log that holds a pull."""
    span = float(np.ptp(values))
    return min(_UNITS.values(), key=lambda scale: abs(np.log(span * scale / 1.8e5)))


def clock_jumps(sheet: Sheet, rng: Rng) -> Sheet:
    """The clock is set on by half a minute once and back by a few seconds once."""
    k = sheet.column(_TIME)
    time = sheet.numbers(k)
    per_second = 1e3 if "ms" in sheet.header[k] else 1.0
    n = len(time)
    time[int(rng.integers(n // 5, n // 2)) :] += 30.0 * per_second
    time[int(rng.integers(n // 2, 4 * n // 5)) :] -= 4.0 * per_second
    return sheet.with_numbers(k, time)


def wrong_sign(sheet: Sheet, rng: Rng) -> Sheet:
    """The manifold sensor's scale was entered with the wrong sign."""
    k = sheet.column(_MANIFOLD)
    return sheet.with_numbers(k, -sheet.numbers(k))


def clipped(sheet: Sheet, rng: Rng) -> Sheet:
    """The manifold sensor ends at 70 to 90 % of the highest pressure."""
    k = sheet.column(_MANIFOLD)
    values = sheet.numbers(k)
    low, high = float(values.min()), float(values.max())
    return sheet.with_numbers(k, np.minimum(values, low + float(rng.uniform(0.7, 0.9)) * (high - low)))


SPOILS: dict[str, Callable[[Sheet, Rng], Sheet]] = {
    "gaps": gaps,
    "wrong unit": wrong_unit,
    "gauge and absolute": other_reference,
    "clock jumps": clock_jumps,
    "wrong sign": wrong_sign,
    "clipped": clipped,
}


_ASPIRATED_CAR = """format = 1
[car]
name = "the grey estate"
[engine]
displacement = "{displacement} L"
cylinders = 4
redline = "{redline} rpm"
[wastegate]
kind = "internal flapper"
[controller]
kind = "none"
[limits]
target = "60 kPa"
"""


def write_aspirated(folder: Path, rng: Rng) -> Path:
    """A case whose log comes from an engine without a turbo.

    At full load the manifold stands a little below the air around: by the loss of filter and throttle,
    which grows with the square of the speed, with tuning waves on it (common practice, no source).
    """
    redline = float(rng.choice([6200.0, 6600.0, 7200.0]))
    displacement = float(rng.choice([1.6, 2.0, 2.5]))
    (folder / "recordings").mkdir(parents=True)
    text = _ASPIRATED_CAR.format(displacement=displacement, redline=f"{redline:.0f}")
    (folder / "car.toml").write_text(text, encoding="utf-8")
    rate = float(rng.choice([10.0, 20.0, 50.0]))
    around = float(rng.uniform(97.0, 102.5))  # kPa
    time, speed, throttle = _aspirated_drive(redline, rate, int(rng.integers(1, 4)), rng)
    share = speed / redline
    full = around - float(rng.uniform(1.0, 5.0)) * share**2 + 0.6 * np.sin(9.0 * share + rng.uniform(0.0, 6.0))
    shut = around * (0.33 + 0.05 * share)
    pressure = np.where(throttle > 50.0, full, shut) + rng.normal(0.0, 0.4, len(time))
    unit = str(rng.choice(["kPa", "psi", "bar"]))
    gauge = bool(rng.random() < 0.5)
    scale, digits = {"kPa": (1.0, 1), "psi": (1.0 / 6.894757, 2), "bar": (0.01, 3)}[unit]
    shown = (pressure - (around if gauge else 0.0)) * scale
    header = f"Time (s),RPM,TPS (%),{'Boost' if gauge else 'MAP'} ({unit} {'gauge' if gauge else 'abs'}),Baro (kPa)"
    rows = [
        f"{t:.3f},{n:.0f},{p:.1f},{v:.{digits}f},{around:.1f}"
        for t, n, p, v in zip(time, speed, throttle, shown, strict=True)
    ]
    (folder / "recordings" / "log.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return folder


def _aspirated_drive(redline: float, rate: float, pulls: int, rng: Rng) -> tuple[Array, Array, Array]:
    """Time [s], engine speed [rpm] and throttle [%] of a few pulls with cruise between them."""
    speeds, plates = [], []
    for _ in range(pulls):
        low, high = float(rng.uniform(1800.0, 2600.0)), float(rng.uniform(0.93, 0.98)) * redline
        cruise, pull = int(4.0 * rate), int((high - low) / 500.0 * rate)
        speeds += [np.full(cruise, low), np.linspace(low, high, pull), np.linspace(high, low, int(3.0 * rate))]
        plates += [np.full(cruise, 9.0), np.full(pull, 100.0), np.full(int(3.0 * rate), 3.0)]
    speed, plate = np.concatenate(speeds), np.concatenate(plates)
    return np.arange(len(speed)) / rate, speed + rng.normal(0.0, 6.0, len(speed)), plate
