"""Prove a repair: pulls and readings before it against those after it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.errors import InputError
from boostproof.recording.pull_numbers import ALL, NONE
from boostproof.workflows.compare import Side, one_source, side_of
from boostproof.workflows.pull_figures import controlled_by, told_air

if TYPE_CHECKING:
    from boostproof.casefolder import Case
    from boostproof.findings import Finding
    from boostproof.proof import BandCheck, Proof, ReadingChange
    from boostproof.proof.power import PowerChange
    from boostproof.recording.model import Pull
    from boostproof.recording.pulls.weather import Air
    from boostproof.recording.setup import RecordingSetup


@dataclass(frozen=True)
class Proved:
    """What came of a repair.

    Attributes
    ----------
    before, after : the two sides
    proof : of the pulls
    stop : stop boost on the day of the pulls after [kPa gauge]; None where it is not known
    forecast : the curve after against its forecast, None where none was given
    readings : figures of the bench before and after, empty where they were not given
    power : peak power, None where it was not logged
    findings : doubtful data
    seed : of the draws of the readings' errors
    """

    before: Side
    after: Side
    proof: Proof
    stop: float | None
    forecast: BandCheck | None
    readings: tuple[ReadingChange, ...]
    power: PowerChange | None
    findings: tuple[Finding, ...]
    seed: int = 1

    def sentences(self, units: str = "kPa") -> dict[str, Any]:
        """The sentence for the customer, the next step, cautions and what the forecast came to, in a unit."""
        from boostproof.diagnosis.causes import BY_ID
        from boostproof.proof.words import band_sentence, cautions, customer_sentence, next_step

        of = "" if self.forecast is None else self.forecast.of
        cause = BY_ID[of].title.lower() if of in BY_ID else of
        return {
            "says": customer_sentence(self.proof, units),
            "next_step": next_step(self.proof),
            "cautions": list(cautions(self.proof, units)),
            "forecast_says": "" if self.forecast is None else band_sentence(self.forecast, units, cause=cause),
        }

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof prove --json``."""
        return {
            "format": 1,
            "seed": self.seed,
            "before": self.before.as_json(),
            "after": self.after.as_json(),
            **self.sentences(),
            **self.proof.as_json(),
            "stop_kpa_gauge": self.stop,
            "forecast": None if self.forecast is None else self.forecast.as_json(),
            "readings": [change.as_json() for change in self.readings],
            "power": None if self.power is None else self.power.as_json(),
            "findings": [finding.as_dict() for finding in self.findings],
            "written": [],
        }


def prove(
    case: str | Path,
    before: Sequence[str],
    after: Sequence[str],
    *,
    same_sensor: bool | None = None,
    forecast: str | Path | None = None,
    readings_before: str | Path | None = None,
    readings_after: str | Path | None = None,
    repeated: Sequence[str] = (),
    seed: int = 1,
) -> Proved:
    """Say whether a repair cured the car of a case.

    Parameters
    ----------
    case : the folder
    before, after : recordings or some of their pulls of each side, as `boostproof.workflows.compare.compare` takes them;
        of a recording of which pulls.toml says where the repair lies (``after_repair``) only those of that side
    same_sensor : one sensor and logger recorded both; None for: as pulls.toml says what recorded them
    forecast : a file with the answer of ``boostproof forecast --json``
    readings_before, readings_after : files in the form of readings.toml; with the second alone, the case's own
        readings.toml is the first
    repeated : in place of the second: those readings of the case's own readings.toml that were taken after the
        repair, as ``seat-leak#2``; the others are the first
    seed : of the draws of the readings' errors

    Raises
    ------
    InputError
        If a recording, pull or file is not there, a pull is on both sides, or the pulls have too little in common.
    """
    from boostproof.casefolder import read_case
    from boostproof.proof import power_change
    from boostproof.proof import prove as prove_pulls
    from boostproof.workflows.proof_target import stop_of, target_of
    from boostproof.workflows.told import told_about

    folder = read_case(case, with_readings=False)
    recordings: dict[Path, tuple[Pull, ...]] = {}
    parts = {folder.path / p.file: p.after_repair for p in folder.pulls.recording if p.after_repair}
    sides = [
        side_of(folder, before, recordings, lambda path: ALL - parts.get(path, NONE)),
        side_of(folder, after, recordings, lambda path: parts.get(path, ALL)),
    ]
    _refuse_both(folder, sides[0][0], sides[1][0])
    files = {path.name: path for path in recordings}
    setups = [
        [told_about(folder, files[name.rpartition("#")[0]]).setup for name in side.pulls] for side, _ in sides
    ]
    pulls = [side_pulls for _, side_pulls in sides]
    controlled = controlled_by(folder.car)
    stop = stop_of(folder.car, pulls[1])
    proof = prove_pulls(
        pulls[0], pulls[1],
        target=target_of(folder.car, pulls[0], pulls[1]),
        stop=stop,
        controlled=controlled,
        same_sensor=one_source(folder, [*before, *after]) if same_sensor is None else same_sensor,
        beyond=_other_set_up(setups),
    )  # fmt: skip
    check = None if forecast is None else _against(proof, Path(forecast))
    changes, findings = _readings(folder, readings_before, readings_after, repeated, seed)
    air = [_air(folder, side, told) for side, told in zip(pulls, setups, strict=True)]
    power = power_change(air[0], air[1], controlled)
    return Proved(
        sides[0][0], sides[1][0], proof, stop, check, changes, power, (*proof.findings, *findings), seed
    )


def write_figure(result: Proved, file: str | Path, *, units: str = "psi") -> Path:
    """Draw before and after into an SVG, PNG or PDF file.

    Raises
    ------
    InputError
        If the name ends in none of these, or cannot be written.
    """
    from boostproof.report.picture import save_picture
    from boostproof.report.proof_figure import SIZE, draw_proof

    title = result.sentences(units)["says"]
    return save_picture(
        lambda figure: draw_proof(
            result.proof, figure, title=title, band=result.forecast, stop=result.stop, units=units
        ),
        file, SIZE,
    )  # fmt: skip


def _refuse_both(folder: Case, before: Side, after: Side) -> None:
    """A pull was driven either before the repair or after it."""
    both = [name for name in before.pulls if name in after.pulls]
    if both:
        raise InputError(
            f"{both[0]} is named before the repair and after it.", kind="same-pull", where=str(folder.path),
            do="Name each pull on one side: log.csv#2 is the second pull of log.csv.",
        )  # fmt: skip


def _against(proof: Proof, file: Path) -> BandCheck:
    """The curve after against the band over all causes; where there is none, that cause's band that it fits best."""
    from boostproof.proof import against_band
    from boostproof.workflows.forecast_band import read_bands

    after, sd = 1e3 * proof.after, 1e3 * proof.after_sd
    checks = [against_band(proof.rpm, after, sd, b.rpm, b.low, b.high, b.of) for b in read_bands(file)]
    return max(checks, key=lambda check: (check.verdict == "as forecast", check.inside))


def _other_set_up(setups: Sequence[Sequence[RecordingSetup | None]]) -> tuple[str, ...]:
    """Why the set-ups cannot be held against each other: gear, controller, gate."""
    said = []
    gears = [{s.gear for s in side if s is not None and s.gear is not None} for side in setups]
    if gears[0] and gears[1] and gears[0] != gears[1]:
        said.append("pulls.toml names another gear after the repair: drive both in one gear.")
    driven = [{_driven(s) for s in side} for side in setups]
    if driven[0] != driven[1]:
        said.append(
            "pulls.toml names another set-up of controller or gate after the repair: prove it in the set-up as before."
        )
    return tuple(said)


def _driven(setup: RecordingSetup | None) -> tuple[str, str]:
    """Controller and gate of a set-up; what is not said is as usual."""
    told = None if setup is None else setup.set_up
    if told is None:
        return "in", "controlled"
    return told.controller or "in", told.gate or "controlled"


def _air(
    folder: Case, pulls: Sequence[Pull], setups: Sequence[RecordingSetup | None]
) -> list[tuple[Pull, Air]]:
    from boostproof.recording.pulls.weather import air_of

    out = []
    for pull, setup in zip(pulls, setups, strict=True):
        temperature, humidity = told_air(setup, folder.car)
        out.append((pull, air_of(pull, temperature=temperature, humidity=humidity)))
    return out


def _readings(
    folder: Case, before: str | Path | None, after: str | Path | None, repeated: Sequence[str], seed: int
) -> tuple[tuple[ReadingChange, ...], tuple[Finding, ...]]:
    if repeated:
        return _repeated(folder, before, after, repeated, seed)
    if after is None:
        if before is not None:
            raise InputError(
                "The readings before the repair need those after it.", kind="no-readings", where=str(before),
                do="Name them with --readings-after.",
            )  # fmt: skip
        return (), ()
    from boostproof.proof import compare_readings
    from boostproof.workflows.bench import facts_of

    read = [_read(folder, Path(file)) for file in (before or "readings.toml", after)]
    facts = facts_of(folder.car, seed)
    return compare_readings(
        read[0].reading, read[1].reading, (read[0].gauge, read[1].gauge), facts, seed=seed
    )


def _repeated(
    folder: Case, before: str | Path | None, after: str | Path | None, repeated: Sequence[str], seed: int
) -> tuple[tuple[ReadingChange, ...], tuple[Finding, ...]]:
    """Readings of one file, some of them taken after the repair."""
    from boostproof.casefolder.left_out import left_out_of, reading_names
    from boostproof.proof import compare_readings
    from boostproof.workflows.bench import facts_of

    if before is not None or after is not None:
        raise InputError(
            "The readings after the repair are named, and a file of them is given as well.", kind="two-readings",
            where=str(after or before), do="Name them with --repeated, or give the file with --readings-after.",
        )  # fmt: skip
    held = _read(folder, Path("readings.toml"))
    names = reading_names([reading.test for reading in held.reading])
    later = left_out_of(repeated, (), names).readings
    sides: tuple[list[Any], list[Any]] = ([], [])
    for name, reading in zip(names, held.reading, strict=True):
        sides[name in later].append(reading)
    return compare_readings(*sides, (held.gauge, held.gauge), facts_of(folder.car, seed), seed=seed)


def _read(folder: Case, file: Path) -> Any:
    """Readings of a file, by its own path or by that in the case."""
    from boostproof.casefolder.files import read_readings
    from boostproof.casefolder.toml_file import read_toml

    path = file if file.is_file() else folder.path / file
    toml = read_toml(path, instead="Name a file in the form of readings.toml.")
    readings, reader = read_readings(toml)
    reader.finish()
    return readings
