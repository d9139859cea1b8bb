"""What is known of a car: one attribute per section of car.toml, in SI, None where it is not known.

Values describe the car as specified or as last known good, except the wastegate's port and the
controller's adjuster, which are as found; ``as = "found"`` or ``"specified"`` in a table says otherwise
for all its values (:func:`is_found`).
"""

# The calls in the class bodies below are dataclass fields.
# ruff: noqa: RUF009

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from boostproof.keys import (
    PARTS,
    RESULTS,
    TAKE_OFFS,
    Key,
    choice,
    choices,
    flag,
    format_key,
    integer,
    key_field,
    keys_of,
    number,
    path,
    paths,
    quantity,
    rows,
    section,
    table,
    text,
    texts,
    turns,
)
from boostproof.keys import Weather as AnyWeather
from boostproof.quantity import Quantity
from boostproof.sources.tolerances import USUAL

_DIESEL = "Diesel engines are outside what boostproof can judge: it models petrol and ethanol blends only."
_VARIABLE = (
    "Variable-geometry turbines are outside what boostproof can judge: it models a fixed "
    "turbine with a wastegate."
)
_STAGED = (
    "Sequential and compound turbos are outside what boostproof can judge: it models one turbo, "
    "or two in parallel."
)
_SUPERCHARGED = "A supercharger beside the turbo is outside what boostproof can judge."
ELECTRIC_REFUSED = (
    "Electrically driven turbos are outside what boostproof can judge: the exhaust must drive the turbine."
)
_ACTUATOR_NOTED = (
    "{} gates are read but not modelled yet: the gate is judged as one that opens with boost pressure, so "
    "what the verdict says about actuator, line and controller is a guide only."
)


@dataclass(frozen=True, kw_only=True)
class CarTable:
    """What every table of car.toml may carry."""

    as_: Literal["specified", "found"] | None = choice(
        "whether the values of this table are as specified or as found on the car", "specified", "found"
    )


@dataclass(frozen=True, kw_only=True)
class About(CarTable):
    """``[car]``"""

    name: str = text("what the car is called in the shop", "the blue hatchback", must=True)
    complaint: tuple[str, ...] | None = texts(
        "in the customer's words, for people: never evidence", "boost climbs with rpm"
    )
    notes: str | None = text("anything else, for people", "second owner")


@dataclass(frozen=True, kw_only=True)
class Engine(CarTable):
    """``[engine]``"""

    displacement: Quantity = quantity(
        "swept volume of all cylinders", "volume", USUAL["engine.displacement"], "2.0 L", must=True,
        positive=True
    )
    cylinders: int = integer("number of cylinders", "4", must=True, minimum=1, maximum=16)
    redline: Quantity = quantity(
        "highest engine speed", "rotational_speed", USUAL["engine.redline"], "6800 rpm", must=True,
        positive=True
    )
    compression_ratio: float | None = number("compression ratio", "9.5", minimum=5.0, maximum=18.0)
    valves_per_cylinder: int | None = integer("valves per cylinder", "4", minimum=2, maximum=6)
    fuel: str | None = choice("fuel", "petrol", "ethanol", refused=(("diesel", _DIESEL),))
    ethanol: Quantity | None = quantity(
        "share of ethanol in the fuel", "fraction", USUAL["engine.ethanol"], "30 %"
    )
    supercharger: bool | None = key_field(
        Key(
            "flag",
            "whether there is a supercharger too",
            refused=(("true", _SUPERCHARGED), ("yes", _SUPERCHARGED)),
            example="false",
        )
    )
    fuel_metering: str | None = choice(
        "how the engine control knows the air", "air meter", "air meter after compressor", "speed density",
        "throttle angle",
    )  # fmt: skip
    full_load_lambda: float | None = number("lambda at full boost", "0.82", minimum=0.5, maximum=1.5)
    water_injection: bool | None = flag("whether water is injected at full boost")


@dataclass(frozen=True, kw_only=True)
class Turbo(CarTable):
    """``[turbo]``"""

    count: int | None = integer("number of turbos", "1", minimum=1, maximum=2)
    arrangement: str | None = choice(
        "how they stand", "single", "parallel",
        refused=(("sequential", _STAGED), ("compound", _STAGED), ("series", _STAGED),
                 ("electric", ELECTRIC_REFUSED)),
    )  # fmt: skip
    geometry: str | None = choice(
        "turbine housing", "fixed",
        refused=(("variable", _VARIABLE), ("electric", ELECTRIC_REFUSED)),
    )  # fmt: skip
    scrolls: int | None = integer("inlets of the turbine housing", "1", minimum=1, maximum=2)
    compressor_inducer: Quantity | None = quantity(
        "compressor wheel, smaller diameter", "length", USUAL["turbo.compressor_inducer"], "46 mm",
        positive=True
    )
    compressor_exducer: Quantity | None = quantity(
        "compressor wheel, larger diameter", "length", USUAL["turbo.compressor_exducer"], "60 mm",
        positive=True
    )
    turbine_inducer: Quantity | None = quantity(
        "turbine wheel, larger diameter", "length", USUAL["turbo.turbine_inducer"], "55 mm", positive=True
    )
    turbine_exducer: Quantity | None = quantity(
        "turbine wheel, smaller diameter", "length", USUAL["turbo.turbine_exducer"], "47 mm", positive=True
    )
    housing_area_over_radius: float | None = number(
        "turbine housing, area over radius as cast on it", "0.63", minimum=0.1, maximum=3.0
    )
    compressor_map: str | None = path("plain table of the compressor map", "maps/compressor.csv")
    turbine_map: str | None = path("plain table of the turbine map", "maps/turbine.csv")


@dataclass(frozen=True, kw_only=True)
class Wastegate(CarTable):
    """``[wastegate]``"""

    kind: str = choice("kind of gate", "internal flapper", "external poppet", must=True)
    count: int | None = integer("number of gates", "1", minimum=1, maximum=2)
    serves: str | None = choice("which part of a divided exhaust it opens", "all", "one scroll")
    port: Quantity | None = quantity(
        "diameter of the port or valve seat, as found", "length", USUAL["wastegate.port"], "26 mm",
        positive=True, as_found=True,
    )  # fmt: skip
    full_travel: Quantity | None = quantity(
        "travel to the stop, a length at the rod", "length", USUAL["wastegate.full_travel"], "12 mm",
        positive=True
    )
    lever_radius: Quantity | None = quantity(
        "rod pin to shaft", "length", USUAL["wastegate.lever_radius"], "20 mm", positive=True
    )
    flapper_radius: Quantity | None = quantity(
        "shaft to centre of the disc", "length", USUAL["wastegate.flapper_radius"], "22 mm", positive=True
    )
    opening_angle: Quantity | None = quantity(
        "angle of the lever from shut to full open", "angle", USUAL["wastegate.opening_angle"], "45 deg",
        positive=True
    )


@dataclass(frozen=True, kw_only=True)
class Actuator(CarTable):
    """``[actuator]``"""

    operated_by: str | None = choice(
        "what moves it", "pressure", "vacuum", "electric",
        noted=(("vacuum", _ACTUATOR_NOTED.format("Vacuum-operated")),
               ("electric", _ACTUATOR_NOTED.format("Electric"))),
    )  # fmt: skip
    opening_pressure: Quantity | None = quantity(
        "on the bench: arm or valve starts to move, air straight on it", "pressure",
        USUAL["actuator.opening_pressure"], "0.50 bar",
    )  # fmt: skip
    marked_boost: Quantity | None = quantity(
        "what its label or spring promises on an engine", "pressure", USUAL["actuator.marked_boost"], "10 psi"
    )
    full_travel_pressure: Quantity | None = quantity(
        "on the bench: arm or valve at its stop", "pressure", USUAL["actuator.full_travel_pressure"],
        "0.85 bar"
    )
    preload: Quantity | None = quantity(
        "length from slack to fitted", "length", USUAL["actuator.preload"], "2 mm"
    )
    diaphragm: Quantity | None = quantity(
        "effective diameter of the diaphragm", "length", USUAL["actuator.diaphragm"], "45 mm", positive=True
    )
    chambers: str | None = choice("hose ports that work on the diaphragm", "single", "dual")


@dataclass(frozen=True, kw_only=True)
class Controller(CarTable):
    """``[controller]``"""

    kind: str = choice(
        "kind of boost controller", "none", "ball and spring", "bleed valve", "solenoid 2-port",
        "solenoid 3-port",
        "solenoid 4-port", must=True,
    )  # fmt: skip
    opening_pressure: Quantity | None = quantity(
        "arm starts to move, air through the controller, as last known good", "pressure",
        USUAL["controller.opening_pressure"], "18 psi",
    )  # fmt: skip
    turns_in: float | str | None = turns(
        "adjuster as found: ball and spring from slack (more is more spring), bleed valve from bleed shut "
        "(more is more bleed); clicks and marks as text",
        as_found=True,
    )
    bleed_hole: Quantity | Literal["none"] | None = quantity(
        "hole that vents the actuator side", "length", USUAL["controller.bleed_hole"], "0.8 mm",
        positive=True, words=("none",),
    )  # fmt: skip
    frequency: Quantity | None = quantity(
        "of the solenoid's drive", "frequency", USUAL["controller.frequency"], "30 Hz", positive=True
    )
    closed_loop: bool | None = flag("whether the engine control corrects boost by itself")
    plumbing: str | None = choice("how the solenoid is plumbed", "interrupt", "bleed", "both chambers")
    unpowered: str | None = choice(
        "what the car does with the solenoid unplugged", "full boost", "spring boost"
    )
    duty_sense: str | None = choice("what more duty does", "more is more boost", "more is less boost")
    supply: str | None = choice("what feeds it", "boost", "bottle", "pump")


@dataclass(frozen=True, kw_only=True)
class SignalLine(CarTable):
    """``[signal_line]``"""

    take_off: str | None = choice("where the line is taken off, as found", *TAKE_OFFS)
    take_off_meant: str | None = choice("where it was meant to be taken off", *TAKE_OFFS)
    restrictor: Quantity | Literal["none"] | None = quantity(
        "hole of the restrictor in the line", "length", USUAL["signal_line.restrictor"], "1.2 mm",
        positive=True, words=("none",),
    )  # fmt: skip
    restrictor_at: str | None = choice("where the restrictor sits", "nipple", "hose", "tee")
    bore: Quantity | None = quantity(
        "inner diameter of the hose", "length", USUAL["signal_line.bore"], "4 mm", positive=True
    )
    length: Quantity | None = quantity(
        "length of the hose", "length", USUAL["signal_line.length"], "0.5 m", positive=True
    )


@dataclass(frozen=True, kw_only=True)
class Intake(CarTable):
    """``[intake]``"""

    bypass_valve: str | None = choice(
        "valve that relieves the pipe on lift-off", "none", "recirculates", "vents"
    )
    cooler: str | None = choice("charge cooler", "none", "air", "water")
    filter: str | None = text("air filter, in words", "as from the maker")


@dataclass(frozen=True, kw_only=True)
class Exhaust(CarTable):
    """``[exhaust]``"""

    bore: Quantity | None = quantity(
        "inner diameter after the turbine", "length", USUAL["exhaust.bore"], "63 mm", positive=True
    )
    catalyst: bool | None = flag("whether a catalyst is fitted")
    notes: str | None = text("in words", "new downpipe")


@dataclass(frozen=True, kw_only=True)
class Sensors(CarTable):
    """``[sensors]``"""

    manifold_range: Quantity | None = quantity(
        "highest pressure that the manifold sensor can read, absolute", "pressure",
        USUAL["sensors.manifold_range"],
        "300 kPa abs", reference="abs", positive=True,
    )  # fmt: skip
    manifold_position: str | None = choice("where it sits", "after throttle", "before throttle")


@dataclass(frozen=True, kw_only=True)
class TargetRow(CarTable):
    """One row of ``limits.target``."""

    rpm: Quantity | None = quantity("engine speed", "rotational_speed", USUAL["reading.rpm"], "4000 rpm")
    boost: Quantity | None = quantity(
        "boost wanted there, at the manifold", "pressure", USUAL["limits.target"], "14 psi"
    )
    gear: int | None = integer("gear it holds for", "3", minimum=1, maximum=10)


@dataclass(frozen=True, kw_only=True)
class Limits(CarTable):
    """``[limits]``"""

    target: Quantity | tuple[TargetRow, ...] | Literal["as logged", "not known"] | None = quantity(
        "boost wanted, at the manifold; also rows of {rpm, boost, gear}", "pressure", USUAL["limits.target"],
        "about 14 psi", words=("as logged", "not known"), of=TargetRow,
    )  # fmt: skip
    stop: Quantity | None = quantity("boost never to be passed", "pressure", USUAL["limits.stop"], "18 psi")
    lambda_leanest: float | None = number(
        "leanest lambda allowed at full boost", "0.88", minimum=0.5, maximum=1.5
    )
    exhaust_temperature_before_turbine: Quantity | None = quantity(
        "highest allowed", "temperature", USUAL["limits.exhaust_temperature_before_turbine"], "950 C"
    )
    exhaust_temperature_after_turbine: Quantity | None = quantity(
        "highest allowed", "temperature", USUAL["limits.exhaust_temperature_after_turbine"], "850 C"
    )


@dataclass(frozen=True, kw_only=True)
class LastRight(CarTable):
    """``history.last_right``"""

    when: str | None = text("when it was last right", "last summer")
    boost: Quantity | None = quantity(
        "boost it made then", "pressure", USUAL["history.last_right.boost"], "14 psi"
    )


@dataclass(frozen=True, kw_only=True)
class Changed(CarTable):
    """``[[history.changed]]``"""

    what: str | None = choice("what was changed", *PARTS)
    fault: str | None = choice(
        "whether the fault was there before the change", "before", "after", "same time"
    )
    from_: str | None = text("what it was", "60 mm exhaust")
    to: str | None = text("what it is now", "76 mm exhaust")
    told_by: str | None = choice("who says so", "customer", "own job sheet", "other shop")


@dataclass(frozen=True, kw_only=True)
class Tried(CarTable):
    """``[[history.tried]]``"""

    what: str | None = key_field(
        Key("choice", "what was tried; other words are kept as text", choices=PARTS, open=True,
            example='"controller"')
    )
    part: str | None = choice("what was put in", "new", "known good", "used")
    result: str | None = choice("what came of it", *RESULTS)
    before: tuple[str, ...] | None = paths("recordings before it", "recordings/before.csv")
    after: tuple[str, ...] | None = paths("recordings after it", "recordings/after.csv")


@dataclass(frozen=True, kw_only=True)
class History(CarTable):
    """``[history]``"""

    started: str | None = choice("how the fault came", "suddenly", "grew", "after work", "from first start")
    ever_right: bool | None = flag("whether boost was ever right in this form")
    last_right: LastRight | None = table("when it was last right, and what it made", LastRight)
    only_when: tuple[str, ...] | None = choices(
        "when the fault shows only", "hot", "cold", "first pull", "later pulls", "top gear", "wet", "frost"
    )
    stood: str | None = text("how long the car stood unused", "eight months")
    changed: tuple[Changed, ...] = rows("what was changed, and whether the fault was there before", Changed)
    tried: tuple[Tried, ...] = rows("what was tried, and what came of it", Tried)


@dataclass(frozen=True, kw_only=True)
class Weather(AnyWeather, CarTable):
    """``[weather]``"""


@dataclass(frozen=True, kw_only=True)
class PullPlace(CarTable):
    """``[pull_place]``"""

    kind: str | None = choice("where pulls are driven", "brake dyno", "inertia dyno", "road")
    gear: int | None = integer("gear of the pulls", "4", minimum=1, maximum=10)
    ramp: Quantity | None = quantity(
        "how fast the engine speed rises", "rotational_acceleration", USUAL["pull_place.ramp"], "400 rpm/s",
        positive=True,
    )  # fmt: skip
    roller_inertia: Quantity | None = quantity(
        "of an inertia dyno's roller, with all that turns with it", "moment_of_inertia",
        USUAL["pull_place.roller_inertia"], "12.5 kg m2", positive=True,
    )  # fmt: skip
    roller_diameter: Quantity | None = quantity(
        "of that roller; needed where the log has road speed", "length", USUAL["pull_place.roller_diameter"],
        "0.50 m", positive=True,
    )  # fmt: skip
    equivalent_mass: Quantity | None = quantity(
        "mass that the dyno's inertia stands for, or that of the car on the road", "mass",
        USUAL["pull_place.equivalent_mass"], "950 kg", positive=True,
    )  # fmt: skip
    can_hold_speed: bool | None = flag("whether a steady speed can be held at full load")
    second_pressure_sensor: bool | None = flag("whether a second pressure can be logged")
    exhaust_tap: bool | None = flag("whether exhaust pressure can be tapped")
    lift: bool | None = flag("whether the car can be lifted")
    smoke: bool | None = flag("whether a smoke machine is there")
    scan_tool: bool | None = flag("whether the fault memory can be read")
    duty_driver: bool | None = flag("whether a solenoid can be driven by hand")


@dataclass(frozen=True, kw_only=True)
class CarSpec:
    """car.toml"""

    format: int = format_key()
    car: About = section("the car and its complaint", About, must=True)
    engine: Engine = section("the engine", Engine, must=True)
    turbo: Turbo = section("the turbocharger", Turbo)
    wastegate: Wastegate = section("the wastegate", Wastegate, must=True)
    actuator: Actuator = section("what moves the gate", Actuator)
    controller: Controller = section("the boost controller", Controller, must=True)
    signal_line: SignalLine = section("the hose that brings boost to the actuator", SignalLine)
    intake: Intake = section("intake and charge pipes", Intake)
    exhaust: Exhaust = section("after the turbine", Exhaust)
    sensors: Sensors = section("sensors of the car", Sensors)
    limits: Limits = section("boost wanted, and what must not be passed", Limits)
    history: History = section("what happened before", History)
    weather: Weather = section("for recordings that do not hold it", Weather)
    pull_place: PullPlace = section("where pulls are driven and what the shop can do", PullPlace)


def is_found(part: CarTable, key: str) -> bool:
    """Whether a value describes the car as it stands (True) or as specified or last known good (False).

    Parameters
    ----------
    part : a table of the car
    key : key as written in the file

    Raises
    ------
    KeyError
        If the table has no such key.
    """
    if part.as_ is not None:
        return part.as_ == "found"
    description: Any = keys_of(type(part))[key][1]
    return bool(description.as_found)
