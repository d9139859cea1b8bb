"""Results for reports: a small car with texts that try to be markup, a verdict made up, and a repair drawn."""

from __future__ import annotations

import json
from pathlib import Path

from tests.unit.repair.cars import kind_with, subjects
from tests.unit.repair.test_forecast import forecast_of
from tests.unit.report.made_up import band, cause, verdict
from tests.unit.small_car import small_car
from tests.unit.workflows.test_prove import READINGS, write_log

from boostproof.casefolder import read_case
from boostproof.repair.money import Rates
from boostproof.repair.words import parse_repairs
from boostproof.report.document.results import Recorded, Results
from boostproof.workflows.bench import bench
from boostproof.workflows.forecast import RepairForecast
from boostproof.workflows.inspect import inspect
from boostproof.workflows.inspect_figure import boost_lines
from boostproof.workflows.prove import prove

# what each of typst, HTML, a template and a shell would take for its own
MARKUP = '#read("/etc/passwd") *b* _i_ <script>alert(1)</script> & "q" {{ 7*7 }} $x^2$ \\ @a [c] `d` // e <!-- f'
COMPLAINT = '</p><img src=x onerror=alert(2)> #set page(fill: red) Ж é ½ ±'
NOTES = "owner is late with the last bill"


def car_toml() -> str:
    """The small car under a name full of markup."""
    told = small_car('[limits]\ntarget = "90 kPa"\nstop = "115 kPa"\n[weather]\nbarometer = "99.0 kPa"\n')
    about = f"name = {json.dumps(MARKUP)}\ncomplaint = [{json.dumps(COMPLAINT)}]\nnotes = {json.dumps(NOTES)}"
    return told.replace('name = "the grey estate"', about)


def case_folder(folder: Path) -> Path:
    """Its case, with pulls before and after a repair, and bench readings of both."""
    (folder / "recordings").mkdir(parents=True)
    (folder / "car.toml").write_text(car_toml(), encoding="utf-8")
    write_log(folder / "recordings" / "old.csv", 1, 18.0, 210.0)
    write_log(folder / "recordings" / "new.csv", 2, 0.0, 200.0)
    (folder / "readings.toml").write_text(READINGS.format(first=60, full=95), encoding="utf-8")
    (folder / "after.toml").write_text(READINGS.format(first=85, full=120), encoding="utf-8")
    return folder


def forecast(name: str) -> RepairForecast:
    """Of a larger port, over cars of two causes."""
    causes = {"port-too-small": 0.7, "spring-too-strong": 0.3}
    result = forecast_of(subjects(kind_with(*causes), causes), "port 30 mm")
    return RepairForecast(
        car=name, repairs=parse_repairs(["port 30 mm"]), rates=Rates(), target=1e5, result=result, tolerance=7e3,
        confidence=0.95, none_of_these=0.0, curves=(), findings=(), seed=1, versions={},
        inputs={"case": "", "without_readings": False, "without_history": False, "healthy_prior": 0.05}, seconds=0.1,
    )  # fmt: skip


def everything(folder: Path) -> Results:
    """A job of which every part was done."""
    case = read_case(folder)
    looked = [inspect(path, case=folder) for path in case.recordings]
    return Results(
        car=case.car, readings=case.readings.reading,
        recorded=tuple(Recorded(i.recording.file, [p.as_json() for p in i.pulls], boost_lines(i)) for i in looked),
        verdict=verdict(
            cause("hose", 0.7), cause("seal", 0.2), none_of_these=0.1, trust="about", bands=(band("hose", 0.7),),
            assumed=(("all causes equally common", "seal"),),
        ),
        bench=bench(folder), forecast=forecast(case.car.car.name),
        proof=prove(folder, ["old.csv"], ["new.csv"], readings_after="after.toml"),
        findings=case.findings, case=case.content_hash,
    )  # fmt: skip


def nothing(folder: Path) -> Results:
    """A job of which only the car is known."""
    case = read_case(folder)
    return Results(car=case.car, why_not="The case holds no recording.", case=case.content_hash)
