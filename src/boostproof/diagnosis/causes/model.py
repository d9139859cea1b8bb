"""What a cause is: one table of text, base rate, changes of the car, and what its kind of car must have."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from boostproof.physics.change import Change

Variants = tuple[tuple[float, tuple[Change, ...]], ...]  # (share, changes)

CONTROLLER_KINDS = (
    "none", "ball and spring", "bleed valve", "solenoid 2-port", "solenoid 3-port", "solenoid 4-port",
)  # fmt: skip


@dataclass(frozen=True)
class Fitted:
    """What a car has fitted, as far as it decides which faults it can have.

    Attributes
    ----------
    controller : kind of boost controller
    external : external poppet gate, else an internal flapper
    gates : gates in parallel
    dual_chambers : hose ports on both sides of the diaphragm
    closed_loop : the control unit corrects boost by itself
    """

    controller: str = "none"
    external: bool = False
    gates: int = 1
    dual_chambers: bool = False
    closed_loop: bool = False

    @property
    def solenoid(self) -> bool:
        """A solenoid valve of any kind stands in the line."""
        return self.controller.startswith("solenoid")

    @property
    def two_sided(self) -> bool:
        """A hose can reach the spring side of the diaphragm."""
        return self.external or self.dual_chambers or self.controller == "solenoid 4-port"


Applies = Callable[[Fitted], bool]


def everywhere(car: Fitted) -> bool:
    """Applies to every car."""
    return True


def external(car: Fitted) -> bool:
    """Applies where the gate is an external poppet."""
    return car.external


def two_sided(car: Fitted) -> bool:
    """Applies where a hose can reach the spring side of the diaphragm."""
    return car.two_sided


def twin_gates(car: Fitted) -> bool:
    """Applies where there are two gates."""
    return car.gates > 1


def closed_loop(car: Fitted) -> bool:
    """Applies where the control unit corrects boost through a solenoid."""
    return car.solenoid and car.closed_loop


@dataclass(frozen=True)
class Cause:
    """One candidate explanation.

    Attributes
    ----------
    id : stable name
    number : number in the catalogue
    title : a few words for a technician
    looks_like : one sentence, what is seen
    repair : usual repair
    base_rate : relative weight among the causes of a boost complaint (common practice, no source)
    mechanism : causes of one mechanism are the same change of the car and are simulated once
    variants : alternative sets of changes, with their shares; each runs from mild to severe
    severity_of : parameter whose change expresses the severity in the answer
    minutes, parts : usual repair time [min] and parts cost (currency units), middle of a range
    applies : whether a car with this fitted can have it
    direct_test : the bench test that measures its own part
    remembers : pressure trapped in one pull shapes the next, so that no single pull shows it
    by_controller : other variants for a kind of controller
    """

    id: str
    number: int
    title: str
    looks_like: str
    repair: str
    base_rate: float
    mechanism: str
    variants: Variants
    severity_of: str
    minutes: float = 60.0
    parts: float = 60.0
    applies: Applies = everywhere
    direct_test: str = ""
    remembers: bool = False
    by_controller: Mapping[str, Variants] = field(default_factory=dict)

    def variants_for(self, controller: str) -> Variants:
        """The sets of changes on a car with this kind of controller."""
        return self.by_controller.get(controller, self.variants)


def one(*changes: Change) -> Variants:
    """A cause with a single set of changes."""
    return ((1.0, changes),)


def scale(parameter: str, mild: float, severe: float) -> Change:
    """Multiply a parameter, severities spaced logarithmically."""
    return Change(parameter, "scale", mild, severe, "log")


def add(parameter: str, mild: float, severe: float) -> Change:
    """Add to a parameter, severities spaced logarithmically where both ends have one sign."""
    return Change(parameter, "add", mild, severe, "log" if mild * severe > 0 else "linear")


def like(parameter: str, other: str, mild: float = 1.0, severe: float | None = None) -> Change:
    """Replace a parameter by a share of another one, severities spaced logarithmically."""
    return Change(parameter, "share", mild, mild if severe is None else severe, "log", other=other)


def set_to(parameter: str, mild: float, severe: float | None = None) -> Change:
    """Replace a parameter."""
    return Change(parameter, "set", mild, mild if severe is None else severe)
