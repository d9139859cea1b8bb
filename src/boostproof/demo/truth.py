"""truth.toml: what was wrong, and which evidence shows it at all beside the sound twin."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from . import loop
from .faults import FAULTS
from .looks import Reading
from .metrics import PSI
from .people import UNITS
from .toml import section, value

if TYPE_CHECKING:
    from .case import Job

Array = NDArray[np.float64]
Driven = tuple[Array, dict[str, Array]]

# readings that are looks or measures of one thing, by the name the practice cases give their evidence
NAMED = {
    "free-travel": "gate_by_hand",
    "port-measure": "gate_port_mm",
    "shaft-check": "turbo_shaft_by_hand",
    "intake-pressurise": "charge_pipe_pressure_test",
    "seat-leak": "gate_seat_light",
    "exhaust-back-pressure": "exhaust_back_pressure",
    "hose-flow": "hose_flow",
    "cold-look": "cold_look",
}
BENCH = ("actuator-sweep", "controller-sweep", "line-sweep", "controller-vent", "solenoid-check")
# what a change must exceed to be seen in a log: three kinds of channel, SI
LOG_LIMITS = {
    "map": 3.5e3,
    "duty": 0.07,
    "exhaust_in": 6e3,
    "exhaust_out": 4e3,
    "compressor": 5e3,
    "pipe": 5e3,
    "air_flow": 7e-3,
    "egt": 25.0,
    "shaft": 3.5e3,
    "line": 6e3,
}


def _full_load(driven: Driven) -> tuple[Array, dict[str, Array]]:
    """Values of the full-load rows over rpm bins of 100 (medians)."""
    true, seen = driven
    rows = (true[:, loop.PLATE] > 0.97) & (true[:, loop.RPM] > 1900.0)
    bins = np.floor(true[rows, loop.RPM] / 100.0)
    grid = np.unique(bins)
    return grid, {
        k: np.array([np.median(v[rows][bins == b]) for b in grid]) for k, v in seen.items() if k in LOG_LIMITS
    }


def log_differs(found: Driven, twin: Driven, logged: list[str]) -> bool:
    """Whether any logged channel parts from the twin's over at least three rpm bins, or ends early."""
    rpm_found, seen_found = _full_load(found)
    rpm_twin, seen_twin = _full_load(twin)
    if rpm_found.max() < rpm_twin.max() - 3:
        return True
    common, a, b = np.intersect1d(rpm_found, rpm_twin, return_indices=True)
    for key, limit in LOG_LIMITS.items():
        if (
            key in logged
            and len(common)
            and np.sum(np.abs(seen_found[key][a] - seen_twin[key][b]) > limit) >= 3
        ):
            return True
    standing = [float(np.median(seen["map"][true[:, loop.RPM] < 300.0])) for true, seen in (found, twin)]
    return abs(standing[0] - standing[1]) > 1.5e3


def _numbers(reading: Mapping[str, object], path: str = "") -> Iterator[tuple[str, object]]:
    for key, item in reading.items():
        here = f"{path}.{key}" if path else key
        if isinstance(item, Mapping):
            yield from _numbers(item, here)
        elif isinstance(item, list) and item and isinstance(item[0], Mapping):
            for n, row in enumerate(item):
                yield from _numbers(row, f"{here}.{n}")
        else:
            yield here, item


def _size(text: object) -> tuple[float, float] | None:
    """A written quantity as a number and the change in it that counts, SI-like; None for a word."""
    match = re.fullmatch(r"(-?[\d.]+) (psi|bar|kPa|mm|s|L/min|rpm)( abs)?", str(text))
    if match is None:
        return None
    number, unit = float(match[1]), match[2]
    if unit in UNITS:
        return number * UNITS[unit], 9e3
    return number, {"mm": 1.6, "s": 1.0, "L/min": 2.0, "rpm": 400.0}[unit]


def reading_differs(found: Reading, twin: Reading) -> bool:
    """Whether a reading would be noticed as other than the twin's by somebody with the same gauge."""
    a, b = dict(_numbers(found)), dict(_numbers(twin))
    if found["test"] == "exhaust-back-pressure" and a["rows.0.rpm"] != b["rows.0.rpm"]:
        return False  # taken at another speed: nothing to compare
    for key in sorted(set(a) | set(b)):
        one, two = a.get(key), b.get(key)
        left, right = _size(one), _size(two)
        if left is not None and right is not None:
            limit = left[1]
            if key.endswith("pressure") and found["test"] == "exhaust-back-pressure":
                limit = 0.8 * PSI
            if "leak." in key:
                limit = 2.5e4
            if found["test"] == "port-measure":
                limit = 1.5
            if found["test"] == "sensor-check":
                limit = 2e3
            if key == "drop_in_30_s":
                limit = 1.5 * PSI
            if key == "flow" and found["test"] == "hose-flow":
                limit = 0.25 * right[0]
            if abs(left[0] - right[0]) > limit:
                return True
        elif one != two and not key.startswith(("play", "entry", "last_return", "travel_note")):
            words = {"none": 0, "faint": 1, "clear": 2, "strong": 3}
            if (
                one in words
                and two in words
                and key.endswith("loudness")
                and abs(words[str(one)] - words[str(two)]) < 2
            ):
                continue
            return True
        elif key == "entry" and one != two and one in ("step", "gasket over edge"):
            return True
    return False


def evidence(
    logged: list[str], found: Driven, twin: Driven, done: list[Reading], done_twin: list[Reading]
) -> list[str]:
    """Names of the evidence that differs from the twin."""
    names = ["log"] if log_differs(found, twin, logged) else []
    pairs = [(a, b) for a in done for b in done_twin if a["test"] == b["test"]]
    differ = {str(a["test"]) for a, b in pairs if reading_differs(a, b)}
    if differ & set(BENCH):
        names.append("bench")
    names += [label for test, label in NAMED.items() if test in differ]
    for a, b in pairs:
        if a["test"] == "sensor-check" and "sensor-check" in differ:
            for n, (row, other) in enumerate(zip(a["rows"], b["rows"], strict=True)):  # type: ignore[call-overload]
                left, right = _size(row["reads"]), _size(other["reads"])
                if left is not None and right is not None and abs(left[0] - right[0]) > 2e3:
                    names.append(("map_sensor_key_on", "map_sensor_at_15_psi_gauge")[n])
    return names


def truth_text(cause: str, severity: float, found: Job, twin: Job, logged: list[str]) -> str:
    """The whole of truth.toml; a pair lists ``a + b`` for every accepted a and b."""
    parts = [FAULTS[p] for p in cause.split(" + ")]
    accepted = [" + ".join(ids) for ids in _combined([f.accepts for f in parts])]
    seen = evidence(logged, (found.true, found.seen), (twin.true, twin.seen), found.readings, twin.readings)
    if cause == "healthy":
        seen = []
    if found.car.hardware.signal.take_off != twin.car.hardware.signal.take_off:
        seen.append("boost_reference_seen")
    head = {
        "causes": accepted,
        "group": " + ".join(f.group for f in parts),
        "severity": round(severity, 3),
        "visible_in_log": "log" in seen,
        "visible_in_bench": "bench" in seen,
        "evidence": seen,
    }
    text = "".join(f"{k} = {value(v)}\n" for k, v in head.items()) + "\n"
    return text + section("true_metrics", found.metrics) + section("healthy_twin", twin.metrics)


def _combined(accepts: list[tuple[str, ...]]) -> list[tuple[str, ...]]:
    if len(accepts) == 1:
        return [(a,) for a in accepts[0]]
    return [(a, *rest) for a in accepts[0] for rest in _combined(accepts[1:])]
