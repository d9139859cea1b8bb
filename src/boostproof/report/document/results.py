"""What a report is made of: the results of the other commands, each None where it was not done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from boostproof.findings import Finding
from boostproof.recording.pull_numbers import NONE, PullNumbers

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec
    from boostproof.report.boost_figure import BoostLine
    from boostproof.workflows.bench import Bench
    from boostproof.workflows.forecast import RepairForecast
    from boostproof.workflows.prove import Proved
    from boostproof.workflows.verdict import Verdict


@dataclass(frozen=True)
class Recorded:
    """One recording.

    Attributes
    ----------
    name : of its file
    pulls : pull objects as in formats.md, in order of time
    lines : the full-load pulls that hold boost, ready to draw
    after : those of its pulls that were made after the repair
    """

    name: str
    pulls: Sequence[Mapping[str, Any]] = field(repr=False)
    lines: Sequence[BoostLine] = field(default=(), repr=False)
    after: PullNumbers = NONE

    @property
    def title(self) -> str:
        """Its name, and that it is of after the repair."""
        return f"{self.name}, after the repair" if self.after.every else self.name


@dataclass(frozen=True)
class Told:
    """What a person says for the report.

    Attributes
    ----------
    customer : for the customer: what only the shop needs is left out
    units : of pressures: "psi", "bar" or "kPa"
    done : what was done on the car, in the words of the shop
    shop, by, dated : who hands it over, who did the work, and when
    """

    customer: bool = False
    units: str = "psi"
    done: tuple[str, ...] = ()
    shop: str = ""
    by: str = ""
    dated: str = ""


@dataclass(frozen=True)
class Results:
    """All that came of a job.

    Attributes
    ----------
    car : what is known of the car
    readings : as written in readings.toml, but for those taken after the repair
    recorded : recordings
    verdict, bench, forecast, proof : None where it was not done
    why_not : why there is no verdict, in a sentence
    findings : doubts about the data beyond those of the results
    case : hash of all that was read
    seed : of all that was drawn
    """

    car: CarSpec
    readings: Sequence[Any] = ()
    recorded: Sequence[Recorded] = ()
    verdict: Verdict | None = None
    bench: Bench | None = None
    forecast: RepairForecast | None = None
    proof: Proved | None = None
    why_not: str = ""
    findings: tuple[Finding, ...] = ()
    case: str = ""
    seed: int = 1

    @property
    def name(self) -> str:
        """Of the car."""
        return self.car.car.name
