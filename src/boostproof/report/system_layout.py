"""What a car's boost system is made of, as it is drawn: its parts, where they stand, and which part a cause means."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.report.drawing_symbols import Point

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec

WIDTH, HEIGHT, HEIGHT_TWO_GATES = 78.0, 57.0, 78.0
COLD, HOT = -9.0, -50.0  # height of the air's and of the exhaust's row
TURBO = 42.0  # where its shaft stands
LINE = -20.0  # height of the signal line
ROD = -32.0  # height of the rod of an internal gate's actuator
CAN = (13.0, ROD)  # actuator of an internal gate
VALVE = 22.0  # where the valve of an external gate stands
DOME = (VALVE, -31.5)  # its actuator
PORT = 30.0  # where the port of an internal gate is
PASSAGE = -41.5  # height of the way past the turbine, with an internal gate
UNDER_VALVE, OUTLET = -44.6, -38.2  # heights of that way with an external gate, and of what leaves its valve
COOLER, COLD_PIPE, THROTTLE, SENSOR, MANIFOLD, ENGINE = 54.2, 58.7, 60.7, 62.9, 65.0, 71.5  # along the air's row

# Which parts of the drawing each cause means, the first that is there first.
PARTS_OF: Mapping[str, tuple[str, ...]] = {
    "port-too-small": ("gate-port",),
    "gate-travel-limited": ("gate",),
    "port-entry-poor": ("gate-port",),
    "exhaust-freed": ("exhaust",),
    "engine-outgrew-gate": ("engine",),
    "dump-pipe-poor": ("dump-pipe",),
    "spring-droop": ("spring",),
    "twin-gates-unequal": ("second-gate",),
    "spring-too-strong": ("spring",),
    "controller-set-high": ("controller",),
    "signal-line-open": ("signal-line",),
    "diaphragm-leak": ("diaphragm",),
    "signal-line-leak": ("signal-line",),
    "reference-after-cooler": ("take-off",),
    "solenoid-reversed": ("controller",),
    "upper-chamber-trapped": ("spring-chamber",),
    "gate-seized-shut": ("gate",),
    "rod-detached": ("rod",),
    "target-table-wrong": ("control-unit",),
    "sensor-scale-wrong": ("manifold-sensor",),
    "signal-line-restricted": ("signal-line",),
    "actuator-stiction": ("gate", "actuator"),
    "controller-ball-sticky": ("controller-ball",),
    "duty-feedforward-high": ("control-unit",),
    "loop-gain-high": ("control-unit",),
    "compressor-surge": ("compressor",),
    "gate-flutter": ("gate",),
    "spring-weak": ("spring",),
    "gate-not-seating": ("gate",),
    "charge-leak": ("charge-pipe",),
    "recirculation-valve-leak": ("recirculation-valve",),
    "exhaust-leak-upstream": ("exhaust-manifold",),
    "inlet-restricted": ("filter",),
    "exhaust-restricted": ("exhaust",),
    "turbo-worn": ("compressor", "turbine"),
    "controller-passing": ("controller",),
    "exhaust-energy-low": ("engine",),
    "gate-blown-open": ("gate",),
    "compressor-choked": ("compressor",),
    "cooler-restricted": ("cooler",),
    "bleed-blocked": ("bleed",),
    "vent-plugged": ("vent",),
    "gate-stuck-open": ("gate",),
    "return-weak": ("spring", "rod"),
    "solenoid-stuck": ("controller",),
    "bleed-oversize": ("bleed",),
    "controller-ball-stuck-shut": ("controller-ball",),
    "line-blocked": ("signal-line",),
    "actuator-ports-swapped": ("actuator-ports",),
    "controller-reversed": ("controller",),
    "ecu-protection": ("control-unit",),
    "misfire-under-boost": ("engine",),
    "engine-breathes-badly": ("engine",),
    "gate-mounted-reversed": ("gate",),
    "gate-debris": ("gate-port",),
    "hot-binding": ("gate",),
}
# What stands for a part that this car does not have.
INSTEAD: Mapping[str, str] = {
    "controller-ball": "controller", "bleed": "controller", "vent": "controller", "controller": "signal-line",
    "cooler": "charge-pipe", "recirculation-valve": "charge-pipe", "second-gate": "gate",
}  # fmt: skip


@dataclass(frozen=True)
class System:
    """What is fitted; None where that is not known.

    Attributes
    ----------
    controller : kind of boost controller
    external : external poppet gate, else an internal flapper
    gates, turbos, cylinders : how many
    dual : hose ports on both sides of the diaphragm
    take_off : "compressor outlet", "cold pipe" or "intake manifold"
    cooler : charge cooler fitted
    bypass : "none", "recirculates" or "vents", of the valve that relieves the charge pipe
    bleed : a ball and spring has a bleed hole
    own_dump : the gas of an external gate leaves through a pipe of its own
    operated_by : what moves the actuator
    """

    controller: str = "none"
    external: bool = False
    gates: int = 1
    turbos: int = 1
    cylinders: int = 4
    dual: bool | None = False
    take_off: str | None = "compressor outlet"
    cooler: bool | None = True
    bypass: str | None = "recirculates"
    bleed: bool | None = True
    own_dump: bool | None = False
    operated_by: str = "pressure"

    @property
    def kind(self) -> str:
        """Key of the controller's name."""
        return self.controller.replace(" ", "-")

    @property
    def ball(self) -> bool:
        """A ball and spring stands in the line."""
        return self.controller == "ball and spring"

    @property
    def solenoid(self) -> bool:
        """A solenoid valve of any kind stands in the line."""
        return self.controller.startswith("solenoid")

    @property
    def fed_above(self) -> bool | None:
        """A hose reaches the spring side of the diaphragm."""
        return True if self.controller == "solenoid 4-port" else self.dual

    @property
    def height(self) -> float:
        """Of the sheet."""
        return HEIGHT_TWO_GATES if self.gates > 1 else HEIGHT

    @property
    def unknown(self) -> tuple[str, ...]:
        """Keys of what is not known and drawn dashed."""
        asked = {
            "cooler": self.cooler, "bypass": self.bypass, "take-off": self.take_off, "dual": self.fed_above,
            "bleed": self.bleed if self.ball else True, "own-dump": self.own_dump if self.external else False,
        }  # fmt: skip
        return tuple(key for key, value in asked.items() if value is None)


def system_of(car: CarSpec) -> System:
    """The boost system of a car as far as its car.toml tells."""
    actuator, controller, intake = car.actuator, car.controller, car.intake
    hole = controller.bleed_hole
    external = car.wastegate.kind == "external poppet"
    chambers = None if actuator is None else actuator.chambers
    # an internal gate's actuator has one port unless told; on an external gate both are usual
    dual = None if chambers is None and external else chambers == "dual"
    take_off = None if car.signal_line is None else car.signal_line.take_off
    cooler = None if intake is None else intake.cooler
    return System(
        controller=controller.kind, external=external, gates=car.wastegate.count or 1,
        turbos=(car.turbo.count if car.turbo is not None else None) or 1, cylinders=car.engine.cylinders, dual=dual,
        take_off=take_off, cooler=None if cooler is None else cooler != "none",
        bypass=None if intake is None else intake.bypass_valve,
        bleed=None if hole is None else not isinstance(hole, str), own_dump=None if external else False,
        operated_by=(None if actuator is None else actuator.operated_by) or "pressure",
    )  # fmt: skip


@dataclass(frozen=True)
class Place:
    """Where a part stands: a line with a width, a box about its centre, or a disc.

    Attributes
    ----------
    shape : "line", "box" or "disc"
    points : of a line, else the centre alone
    size : width and height of a box, or the radius of a disc twice, or the width of a line and 0
    """

    shape: str
    points: tuple[Point, ...]
    size: tuple[float, float]


def _line(width: float, *points: Point) -> Place:
    return Place("line", points, (width, 0.0))


def _box(x: float, y: float, w: float, h: float) -> Place:
    return Place("box", ((x, y),), (w, h))


def _disc(x: float, y: float, r: float) -> Place:
    return Place("disc", ((x, y),), (r, r))


def take_off_x(system: System) -> float:
    """Where the signal line leaves the air's row."""
    return {"cold pipe": COLD_PIPE, "intake manifold": MANIFOLD}.get(system.take_off or "", 39.4)


def line_in(system: System) -> tuple[Point, ...]:
    """The signal line from its take-off to the boost controller, or on to where that would stand."""
    x, end = take_off_x(system), 33.0 if system.controller != "none" else 19.0
    return ((x, COLD - (3.2 if x < TURBO else 1.3)), (x, LINE), (end, LINE))


def line_out(system: System) -> tuple[Point, ...]:
    """The signal line from the boost controller to the actuator."""
    end = (DOME[0] - 7.0, DOME[1] - 2.2) if system.external else (CAN[0] - 6.6, CAN[1])
    return ((19.0, LINE), (3.5, LINE), (3.5, end[1]), end)


def places(system: System) -> dict[str, Place]:
    """Every part that is drawn, by its name."""
    return _air_places(system) | _exhaust_places(system) | _signal_places(system) | _gate_places(system)


def _air_places(system: System) -> dict[str, Place]:
    out = {
        "filter": _box(5.5, COLD, 6.4, 8.4),
        "compressor": _disc(TURBO, COLD, 4.2),
        "charge-pipe": _line(2.4, (46.2, COLD), (50.8, COLD)),
        "engine": _box(ENGINE, -30.0, 10.0, 52.0),
        "control-unit": _box(54.0, -28.0, 15.0, 5.0),
        "manifold-sensor": _box(SENSOR, -12.4, 3.0, 4.2),
    }
    if system.cooler is not False:
        out["cooler"] = _box(COOLER, COLD, 6.8, 8.4)
    if system.bypass != "none":
        out["recirculation-valve"] = _box(48.6, COLD + 3.1, 3.2, 3.4)
    return out


def _exhaust_places(system: System) -> dict[str, Place]:
    return {
        "turbine": _disc(TURBO, HOT, 4.2),
        "exhaust-manifold": _line(2.8, (58.0, HOT), (66.4, HOT)),
        "exhaust": _line(2.8, (2.0, HOT), (12.0, HOT)),
    }


def _signal_places(system: System) -> dict[str, Place]:
    start = line_in(system)[0]
    out = {"take-off": _disc(start[0], start[1] - 0.3, 1.5), "signal-line": _line(1.5, *line_out(system))}
    if system.controller == "none":
        return out
    beside = system.controller == "solenoid 2-port"
    vent = vent_at(system)
    vented = _box(vent[0], vent[1], 3.8, 2.8)
    out["controller"] = _box(26.0, LINE + (4.4 if beside else 0.0), 14.4, 4.6 if beside else 7.4)
    if system.ball:
        out["controller-ball"] = _disc(30.1, LINE, 1.7)
    if system.solenoid:
        out["vent"] = vented
    elif not system.ball or system.bleed is not False:
        out |= {"vent": vented, "bleed": vented}
    return out


def vent_at(system: System) -> Point:
    """Where air leaves the boost controller."""
    return (17.8, LINE + 4.4) if system.controller == "solenoid 2-port" else (21.6, LINE - 4.6)


def _gate_places(system: System) -> dict[str, Place]:
    out = _external_places(system) if system.external else _internal_places()
    if system.gates > 1:
        x, y = out["gate"].points[0]
        out["second-gate"] = _box(x, mirrored(y), *out["gate"].size)
    return out


def _internal_places() -> dict[str, Place]:
    x, y = CAN
    return {
        "actuator": _box(x, y, 11.0, 10.0),
        "actuator-ports": _box(x - 6.2, y, 3.0, 3.0),
        "diaphragm": _box(x - 2.6, y, 2.4, 9.6),
        "spring": _box(x + 1.8, y, 6.6, 6.0),
        "spring-chamber": _box(x + 1.8, y, 7.0, 9.6),
        "rod": _line(1.6, (x + 5.6, y), (PORT - 2.4, y)),
        "gate": _box(PORT - 1.4, PASSAGE - 0.2, 3.4, 6.6),
        "gate-port": _box(PORT + 0.5, PASSAGE, 2.4, 4.8),
        "dump-pipe": _line(4.4, (24.0, PASSAGE - 3.4), (24.0, HOT + 1.6)),
    }


def _external_places(system: System) -> dict[str, Place]:
    x, y = DOME
    dump = ((3.0, -38.2), (14.0, -38.2)) if system.own_dump else ((14.0, -40.4), (14.0, HOT + 1.6))
    return {
        "actuator": _box(x, y, 12.0, 8.0),
        "actuator-ports": _box(x - 6.6, y - 2.2, 2.6, 2.6),
        "diaphragm": _box(x, y, 11.6, 2.0),
        "spring": _box(x, y + 2.1, 6.0, 3.6),
        "spring-chamber": _box(x, y + 2.1, 11.6, 3.6),
        "rod": _line(1.4, (x, y - 0.8), (x, -39.6)),
        "gate": _box(x, -40.6, 7.6, 2.6),
        "gate-port": _box(x, -42.4, 5.4, 2.0),
        "dump-pipe": _line(2.6, *dump),
    }


def mirrored(y: float) -> float:
    """Height of the second gate's part that stands where the first one's does: the exhaust's row is the mirror."""
    return 2.0 * HOT - y


def parts_of(cause_ids: tuple[str, ...] | list[str], system: System) -> tuple[str, ...]:
    """Parts of this drawing that causes mean, each once, in the order of the causes.

    Raises
    ------
    KeyError
        For an id that is no cause.
    """
    there = places(system)
    out: list[str] = []
    for cause in cause_ids:
        for part in PARTS_OF[cause]:
            while part not in there:
                part = INSTEAD[part]
            if part not in out:
                out.append(part)
    return tuple(out)


@lru_cache(maxsize=4)
def words(language: str = "en") -> dict[str, Any]:
    """All words of the drawing: tables ``labels``, ``parts``, ``unknown`` and ``says``."""
    file = Path(__file__).parent / language / "system.toml"
    return tomllib.loads(file.read_text(encoding="utf-8"))
