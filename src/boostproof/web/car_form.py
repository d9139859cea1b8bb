"""The Car page as one table: which answer stands in which part of the system, in which order, and how it is asked.

Labels and help stand in ``words/en/car.toml`` under ``label`` and ``help``; without help the key's own line serves.
A test asserts that every key of car.toml stands in this table once.
"""

from __future__ import annotations

from dataclasses import dataclass

from boostproof.keys import keys_of
from boostproof.workflows.car_answer import key_at


@dataclass(frozen=True)
class Part:
    """One part of the page.

    Attributes
    ----------
    name : id on the page, and key of its words
    answers : names of the answers, in order; a list of rows stands as a whole
    """

    name: str
    answers: tuple[str, ...]


def _of(section: str, *names: str) -> tuple[str, ...]:
    return tuple(f"{section}.{name}" for name in names)


# Asked of every car.
FIRST = Part(
    "first",
    (
        "car.name", "engine.displacement", "engine.cylinders", "engine.redline", "wastegate.kind", "controller.kind",
        "car.complaint", "limits.target", "history.changed",
    ),
)  # fmt: skip

# Everything else, along the way that the air goes.
PARTS = (
    Part("engine", _of(
        "engine", "fuel", "ethanol", "compression_ratio", "valves_per_cylinder", "fuel_metering", "full_load_lambda",
        "water_injection", "supercharger", "as",
    )),
    Part("intake", _of("intake", "cooler", "bypass_valve", "filter", "as")),
    Part("turbo", _of(
        "turbo", "count", "arrangement", "geometry", "scrolls", "compressor_inducer", "compressor_exducer",
        "turbine_inducer", "turbine_exducer", "housing_area_over_radius", "compressor_map", "turbine_map", "as",
    )),
    Part("gate", _of(
        "wastegate", "port", "count", "serves", "full_travel", "lever_radius", "flapper_radius", "opening_angle", "as",
    )),
    Part("actuator", _of(
        "actuator", "opening_pressure", "marked_boost", "full_travel_pressure", "preload", "diaphragm", "chambers",
        "operated_by", "as",
    )),
    Part("controller", _of(
        "controller", "turns_in", "opening_pressure", "bleed_hole", "plumbing", "unpowered", "duty_sense", "closed_loop",
        "frequency", "supply", "as",
    )),
    Part("line", _of(
        "signal_line", "take_off", "take_off_meant", "restrictor", "restrictor_at", "bore", "length", "as",
    )),
    Part("exhaust", _of("exhaust", "bore", "catalyst", "notes", "as")),
    Part("sensors", _of("sensors", "manifold_range", "manifold_position", "as")),
    Part("limits", (
        *_of("limits", "stop", "lambda_leanest", "exhaust_temperature_before_turbine",
             "exhaust_temperature_after_turbine", "target.rows", "as"),
    )),
    Part("history", _of(
        "history", "started", "ever_right", "last_right.boost", "last_right.when", "last_right.as", "only_when", "stood",
        "tried", "as",
    )),
    Part("weather", _of("weather", "barometer", "temperature", "humidity", "altitude", "as")),
    Part("place", _of(
        "pull_place", "kind", "gear", "ramp", "can_hold_speed", "second_pressure_sensor", "exhaust_tap", "lift", "smoke",
        "scan_tool", "duty_driver", "roller_inertia", "roller_diameter", "equivalent_mass", "as",
    )),
    Part("notes", _of("car", "notes", "as")),
)  # fmt: skip

# Answers that are lists of rows: name in the table above -> name in car.toml.
ROWS = {"history.changed": "history.changed", "history.tried": "history.tried", "limits.target.rows": "limits.target"}
# Choices that are drawn beside their words.
DRAWN = ("wastegate.kind", "controller.kind")
# Long lists of words, better as one field that opens than as many buttons.
OPENS = ("history.changed.what",)
# Texts that people write more than one line of.
LONG = ("car.notes", "exhaust.notes")

# One tap of a stepper, by unit; about the step that a person would tell apart.
STEPS: dict[str, str] = {
    "pressure": "psi:0.5 bar:0.05 kPa:5 mbar:50 hPa:10 inHg:0.5 mmHg:10 MPa:0.005",
    "length": "mm:0.5 cm:0.1 m:0.1 in:0.05 ft:0.5",
    "rotational_speed": "rpm:100 krpm:0.1",
    "rotational_acceleration": "rpm/s:50",
    "volume": "L:0.1 cc:50 ci:5 mL:50",
    "temperature": "C:5 F:10 K:5",
    "fraction": "%:5",
    "angle": "deg:5",
    "frequency": "Hz:5",
}
_PLAIN_STEPS = {
    "engine.compression_ratio": "0.1", "engine.full_load_lambda": "0.01", "limits.lambda_leanest": "0.01",
    "turbo.housing_area_over_radius": "0.01", "controller.turns_in": "0.25",
}  # fmt: skip
_FINE = {
    "controller.bleed_hole": "mm:0.1", "signal_line.restrictor": "mm:0.1", "signal_line.length": "m:0.05 mm:50 cm:5",
    "weather.altitude": "m:50 ft:100", "weather.barometer": "kPa:0.2 hPa:2 mbar:2 bar:0.002 inHg:0.05 mmHg:1",
    "pull_place.roller_diameter": "m:0.01 mm:10 cm:1", "weather.temperature": "C:1 F:2 K:1",
}  # fmt: skip


def without_row(name: str) -> str:
    """The name of an answer without the numbers of rows."""
    return ".".join(part for part in name.split(".") if not part.isdecimal())


def steps_of(name: str) -> str:
    """What one tap on a stepper adds, as ``unit:step`` pairs, or a number alone; "" for no stepper."""
    name, key = without_row(name), key_at(name)
    if key.kind == "quantity":
        return _FINE.get(name, STEPS.get(key.dimension, ""))
    return _PLAIN_STEPS.get(name, "1" if key.kind == "integer" else "")


def answers_of(name: str) -> tuple[str, ...]:
    """The answers in one row of a list."""
    of = key_at(name).of
    assert of is not None, name
    return tuple(keys_of(of))


def every_answer() -> tuple[str, ...]:
    """All names of the page, rows without their numbers: what the schema of car.toml must match."""
    found: list[str] = []
    for part in (FIRST, *PARTS):
        for name in part.answers:
            rows = ROWS.get(name)
            found += [f"{rows}.{inner}" for inner in answers_of(rows)] if rows else [name]
    return tuple(found)


