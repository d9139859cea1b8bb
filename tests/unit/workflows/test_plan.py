"""The plan of a case folder that holds a car and no pull yet: refusals, limits, readings, text and schema."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from tests.unit.small_car import small_car
from tests.unit.workflows.made_open_case import log, made_open_case

from boostproof.cli.show_plan import show_plan
from boostproof.errors import InputError
from boostproof.pullplan import before
from boostproof.workflows import open_case
from boostproof.workflows.answers import schemas
from boostproof.workflows.open_case import OpenCase
from boostproof.workflows.plan import Plan, plan

CAR = small_car("""[limits]
target = "80 kPa"
stop = "{stop}"
[pull_place]
kind = "{place}"
ramp = "300 rpm/s"
gear = 4
""")
SENSOR = """
format = 1
[[reading]]
test = "sensor-check"
rows = [
    { applied = "0 kPa", reads = "101 kPa abs", barometer = "101 kPa" },
    { applied = "50 kPa", reads = "151 kPa abs" },
    { applied = "100 kPa", reads = "201 kPa abs" },
]
"""


@pytest.fixture(scope="module", autouse=True)
def small() -> Iterator[None]:
    """Fewer candidates, for speed."""
    with pytest.MonkeyPatch.context() as patch:
        for name, value in {"POOL": 512, "KEPT": 64, "MOVES": 3, "SOUND": 48, "SINGLE": 12, "PAIRS": 12}.items():
            patch.setattr(before, name, value)
        yield


def made(folder: Path, *, place: str = "brake dyno", stop: str = "125 kPa", readings: str = "", **said: bool) -> Plan:
    folder.mkdir()
    (folder / "car.toml").write_text(CAR.format(place=place, stop=stop), encoding="utf-8")
    if readings:
        (folder / "readings.toml").write_text(readings, encoding="utf-8")
    return plan(folder, **said)


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return made(tmp_path_factory.mktemp("plan") / "case", mixture=True)


def test_the_answer_is_of_its_schema_and_begins_with_the_least_boost(usual: Plan) -> None:
    answer = json.loads(json.dumps(usual.as_json(), allow_nan=False))
    jsonschema.validate(answer, schemas()["plan-answer"])
    first = answer["rungs"][0]
    assert (first["set_up"], first["foreseen"]) == ("least boost", False)
    assert first["ceiling_rpm"] < 0.6 * 6800
    assert first["stop_kpa_gauge"] < answer["hard_kpa_gauge"] == pytest.approx(125.0)
    assert answer["driver"]["rpm_per_s"] == pytest.approx(300.0)
    assert all(r["foreseen"] for r in answer["rungs"][1:])


def test_cautions_come_first_and_the_pull_says_when_to_lift(usual: Plan) -> None:
    text = show_plan(usual.as_json(), units="kPa", width=100)
    assert text.startswith("Cautions\n")
    assert text.index("one no, and nothing is driven") < text.index("the next pull")
    assert "Never to be passed: 125 kPa." in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 100


def test_without_a_mixture_reading_only_the_lowest_boost_is_offered(usual: Plan, tmp_path: Path) -> None:
    found = made(tmp_path / "case")
    assert {r.kind for r in found.refusals} == {"no-mixture"}
    assert {r.set_up for r in found.rungs} == {"least boost"}
    assert [s.what for s in found.stop_lines] == ["boost"]
    assert "lambda" in [s.what for s in usual.stop_lines]


def test_a_road_needs_to_be_closed(tmp_path: Path) -> None:
    found = made(tmp_path / "case", place="road", mixture=True)
    assert not found.rungs
    assert found.refusals[0].every
    assert made(tmp_path / "closed", place="road", mixture=True, closed_road=True).rungs


def test_a_tighter_limit_never_lets_the_first_pull_go_higher(usual: Plan, tmp_path: Path) -> None:
    tight = made(tmp_path / "case", stop="100 kPa", mixture=True)
    assert not tight.rungs or tight.rungs[0].ceiling <= usual.rungs[0].ceiling


def test_a_sensor_that_was_checked_needs_no_gauge_beside_it(usual: Plan, tmp_path: Path) -> None:
    assert usual.own_gauge
    found = made(tmp_path / "case", readings=SENSOR, mixture=True)
    assert found.sensor_doubt < 0.02 < usual.sensor_doubt
    assert not found.own_gauge


def test_after_a_repair_the_ladder_begins_low_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "case"
    opened = made_open_case(folder)
    judged: list[tuple[str, ...]] = []

    def kept(path: Path, *, without: tuple[str, ...], **told: object) -> OpenCase:
        judged.append(tuple(without))
        return opened

    monkeypatch.setattr(open_case, "open_case", kept)
    as_found = plan(folder, mixture=True)
    assert [p.set_up for p in as_found.driven] == ["as found"] and as_found.driven[0].counted
    repaired = plan(folder, mixture=True, repairs=["port 40 mm"])
    assert not repaired.driven and repaired.rungs[0].set_up == "least boost"
    assert repaired.rungs[0].ceiling <= 0.58 * repaired.terms.redline
    assert "begins low again" in repaired.findings[-1].says

    # the log after it: less boost, and it ends at 4,500 rpm
    rows = [row.split(",") for row in log().splitlines()]
    after = [rows[0], *([*row[:3], f"{0.6 * float(row[3]):.1f}"] for row in rows[1:] if float(row[1]) <= 4500.0)]
    (folder / "recordings" / "new.csv").write_text("\n".join(map(",".join, after)), encoding="utf-8")
    driven = plan(folder, mixture=True, repairs=["port 40 mm"], after=["new.csv"])
    assert judged == [(), (), ("new.csv",)]
    (pull,) = driven.driven
    assert not pull.counted and pull.ceiling * 30.0 / np.pi == pytest.approx(4500.0, abs=100.0)
    assert pull.boost.max() == pytest.approx(57e3, rel=0.05)
    answer = json.loads(json.dumps(driven.as_json(), allow_nan=False))
    jsonschema.validate(answer, schemas()["plan-answer"])
    assert answer["inputs"]["repairs"] == ["port 40 mm"] and answer["inputs"]["after"] == ["new.csv"]
    assert not any("as it was found" in rung["says"] for rung in answer["rungs"])

    assert not plan(folder, mixture=True, repaired=True).driven
    unnamed = plan(folder, mixture=True, after=["new.csv"])
    assert "no repair is named" in next(f.says for f in unnamed.findings if f.kind == "after-repair")
    with pytest.raises(InputError):
        plan(folder, mixture=True, repairs=["paint"])
