"""A whole case folder, as a shop would have written it down."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from . import loop
from .bench import readings, stream
from .draw import Car, random_car
from .drive import Drive, plan, record
from .faults import FAULTS, apply, suits
from .hardware import BALL, BLEED, NONE, SOLENOID
from .header import write_log
from .looks import Array, Reading
from .metrics import true_metrics
from .paper import car_text, readings_text
from .run import SAMPLE
from .sensors import channels
from .story import car_name, complaint
from .truth import truth_text


@dataclass(frozen=True)
class Job:
    """A driven and tested car: true values, what its sensors saw, what was read."""

    car: Car
    drive: Drive
    true: Array
    pulls: list[Array]
    seen: dict[str, Array]
    readings: list[Reading]

    @property
    def metrics(self) -> dict[str, float]:
        """True metrics of the last full pull."""
        return true_metrics(self.pulls[-1], self.car.hardware.air.pressure, self.car.target)


def do_job(car: Car, sound: Car, drive: Drive, seed: int, *, only: Collection[str] | None = None) -> Job:
    """Drive ``car`` and do the bench tests on it; ``only`` names the tests, else they are drawn."""
    true, pulls = record(car, drive)
    seen = channels(car, true, SAMPLE, stream(seed, "sensors"))
    return Job(car, drive, true, pulls, seen, readings(car, sound, pulls[-1], seed, only=only))


def write_job(folder: Path, job: Job, seed: int, *, fixed: tuple[str, ...] | None = None) -> list[str]:
    """Write the recording and the readings; return the channels that the recording holds."""
    logged = write_log(
        folder / "recordings" / "log.csv",
        job.car,
        job.seen,
        job.true[:, loop.TIME],
        stream(seed, "log"),
        gear=job.drive.gear,
        rate=job.drive.rate,
        fixed=fixed,
    )
    (folder / "readings.toml").write_text(readings_text(job.readings, seed), encoding="utf-8")
    return logged


def cars_of(cause: str, severity: float, seed: int) -> tuple[Car, Car]:
    """The car of a case with its fault, and its sound twin; parameters as of `make_case`.

    Raises ValueError where no kind of controller can have the cause.
    """
    # three of six cars with a ball and spring, as in the practice cases
    fitting = [k for k in (BALL, BALL, BALL, SOLENOID, NONE, BLEED) if suits(cause, k)]
    if not fitting:
        raise ValueError(f"no kind of controller can have {cause!r}")
    rng = stream(seed, "car")
    sound = random_car(rng, kind=float(rng.choice(fitting)))
    return apply(sound, cause, severity, stream(seed, "fault")), sound


def make_case(directory: str | Path, *, cause: str, severity: float, seed: int) -> Path:
    """Write one case folder and return its path.

    ``cause`` is an id of :data:`boostproof.demo.faults.FAULTS` or two joined by `` + ``,
    ``severity`` 0..1, ``seed`` decides the car, the day, the people and the file style. Raises
    ValueError for an unknown cause or a severity outside 0..1.
    """
    for part in cause.split(" + "):
        if part not in FAULTS:
            raise ValueError(f"unknown cause {part!r}; known are {', '.join(FAULTS)}")
    if not 0.0 <= severity <= 1.0:
        raise ValueError(f"severity must lie in 0..1, got {severity}")
    car, sound = cars_of(cause, severity, seed)
    drive = plan(car, stream(seed, "drive"))
    found, twin = do_job(car, sound, drive, seed), do_job(sound, sound, drive, seed)
    folder = Path(directory)
    logged = write_job(folder, found, seed)
    words = stream(seed, "words")
    name = car_name(words)
    said = complaint(found.metrics, twin.metrics, car.target, words)
    unit = str(words.choice(["psi", "psi", "bar", "kPa"]))
    (folder / "car.toml").write_text(car_text(car, sound, drive, said, name, words, unit), encoding="utf-8")
    (folder / "truth.toml").write_text(truth_text(cause, severity, found, twin, logged), encoding="utf-8")
    return folder
