"""``boostproof causes`` and ``boostproof tests``: lists, search, one entry in full, the drawing."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.unit.small_car import small_car

from boostproof.car.spec import CarSpec
from boostproof.cli import main
from boostproof.cli.show_catalogue import show_causes, show_inseparable, show_tests
from boostproof.diagnosis.causes import applicable
from boostproof.workflows.catalogue import list_causes, list_tests


def said(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(list(words)) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def found(capsys: pytest.CaptureFixture[str], what: str, *words: str) -> list[str]:
    answer = json.loads(said(capsys, what, *words, "--json"))
    assert set(answer) == {"format", what} and answer["format"] == 1
    return [row["id"] for row in answer[what]]


def test_every_cause_and_test_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    for what, rows in (("causes", list_causes()), ("tests", list_tests())):
        assert len(rows) > 10
        assert found(capsys, what) == [row["id"] for row in rows]
        text = " ".join(said(capsys, what).split())
        for row in rows:
            assert f"{row['id']}: {row['title']}" in text


def test_json_is_the_row_of_the_library(capsys: pytest.CaptureFixture[str]) -> None:
    answer = json.loads(said(capsys, "tests", "actuator-sweep", "--json", "--units", "psi"))
    assert answer["tests"] == list_tests("actuator-sweep")  # in JSON pressures are kPa, whatever the unit of text
    assert "kPa" in answer["tests"][0]["cautions"][0]
    answer = json.loads(said(capsys, "causes", "F1", "--json"))
    assert answer["causes"] == list_causes("port-too-small")


def test_a_test_in_full_begins_with_its_cautions_and_ends_with_when_it_is_pointless(
    capsys: pytest.CaptureFixture[str],
) -> None:
    text = said(capsys, "tests", "actuator-sweep", "--units", "psi")
    heads = [line for line in text.splitlines() if line[:1].isupper() and line.isupper()]
    assert heads[0] == "CAUTIONS" and heads[-1] == "WHEN IT TELLS NOTHING"
    assert text.splitlines()[0] == "T2 actuator-sweep: Air straight on the actuator (10 to 20 min)"
    plain = " ".join(text.split())
    assert "at most 8.7 psi above first movement" in plain  # 60 kPa, rounded down
    assert "14.5 psi above for an external one" in plain  # 100 kPa
    assert '    first_movement = "7.0 psi"' in text  # the example can be copied as it stands
    assert "kPa" not in text and "{" not in text
    assert "maker's instructions, local rules and licensed practice" in plain


def test_a_cause_in_full_says_what_its_base_rate_is_worth(capsys: pytest.CaptureFixture[str]) -> None:
    text = " ".join(said(capsys, "causes", "port-too-small").split())
    for part in ("LOOKS LIKE", "DECIDED BY", "LOOK-ALIKES", "CAUTIONS", "USUAL REPAIR", "common practice, no source"):
        assert part in text
    assert "- floor-pull: Pull with the gate held open (20 to 30 min)" in text
    assert "! Changes to exhaust, gate or calibration can break emissions law" in text


CAR = small_car("[pull_place]\nlift = false")


@pytest.fixture
def case(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A case whose groups are as given: they are computed in tests/unit/diagnosis/test_confusability.py."""

    def groups(car: CarSpec, *, progress: Callable[[str, float], None]) -> list[tuple[str, ...]]:
        assert car.pull_place is not None and car.pull_place.lift is False
        progress("simulating", 0.0)
        return [("gate-not-seating", "gate-debris"), ("port-too-small", "port-entry-poor")]

    monkeypatch.setattr("boostproof.diagnosis.catalogue.confusability.inseparable", groups)
    (tmp_path / "car.toml").write_text(CAR, encoding="utf-8")
    return tmp_path


def test_the_causes_of_a_case_are_those_its_car_can_have(capsys: pytest.CaptureFixture[str], case: Path) -> None:
    answer = json.loads(said(capsys, "causes", "--case", str(case), "--json"))
    assert set(answer) == {"format", "causes", "inseparable"} and answer["format"] == 1
    ids = {cause.id for cause in applicable("ball and spring", False)}
    assert answer["causes"] == [row for row in list_causes() if row["id"] in ids]
    assert [[c["id"] for c in group["causes"]] for group in answer["inseparable"]] == [
        ["gate-not-seating", "gate-debris"], ["port-too-small", "port-entry-poor"],
    ]  # fmt: skip
    assert [group["same_change"] for group in answer["inseparable"]] == [True, False]
    text = said(capsys, "causes", "--case", str(case))
    head, _, tail = text.partition("WHAT NOTHING AT HAND CAN PART")
    assert "controller-set-high:" in head and "solenoid-stuck:" not in head
    assert "(port-too-small)" in tail and "one change of the car" in tail


def test_words_choose_among_the_causes_of_a_case(capsys: pytest.CaptureFixture[str], case: Path) -> None:
    answer = json.loads(said(capsys, "causes", "port-too-small", "--case", str(case), "--json"))
    assert [row["id"] for row in answer["causes"]] == ["port-too-small"]
    assert [group["causes"][0]["id"] for group in answer["inseparable"]] == ["port-too-small"]
    assert main(["causes", "solenoid-stuck", "--case", str(case)]) == 1
    assert "No cause is found" in capsys.readouterr().err
    assert main(["causes", "--case", str(case / "none")]) == 1


def test_nothing_inseparable_is_said() -> None:
    assert "tell all causes listed apart" in show_inseparable([], width=100)


@pytest.mark.parametrize(
    ("what", "words", "first"),
    [
        ("causes", "port-too-small", "port-too-small"),
        ("causes", "Port too small", "port-too-small"),
        ("causes", "f12", "diaphragm-leak"),
        ("causes", "diafragm", "diaphragm-leak"),
        ("causes", "spring strong", "spring-too-strong"),
        ("causes", "hiss every setting", "bleed-oversize"),
        ("causes", "seized wastegate", "gate-seized-shut"),
        ("tests", "T15", "intake-pressurise"),
        ("tests", "leak seat", "seat-leak"),
        ("tests", "gate held open", "floor-pull"),
        ("tests", "second pressure sensor", "line-pressure-log"),
        ("tests", "solenoid duty", "solenoid-check"),
    ],
)
def test_words_find_what_a_person_means(
    capsys: pytest.CaptureFixture[str], what: str, words: str, first: str
) -> None:
    assert found(capsys, what, *words.split())[0] == first


def test_the_order_of_words_does_not_matter_and_all_must_be_there(capsys: pytest.CaptureFixture[str]) -> None:
    one = found(capsys, "causes", "gate", "shut")
    assert one == found(capsys, "causes", "shut", "gate")
    assert set(one) < set(found(capsys, "causes", "gate"))


def test_nothing_found_is_exit_1_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["causes", "port-tiny-small"]) == 1
    out, err = capsys.readouterr()
    assert out == "" and "port-too-small" in err
    assert main(["tests", "piston", "--json"]) == 1
    error = json.loads(capsys.readouterr().out)["error"]
    assert error["kind"] == "no-match" and "piston" in error["says"] and "boostproof tests" in error["do"]


def test_the_drawing_is_written(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "sweep.svg"
    answer = json.loads(said(capsys, "tests", "actuator-sweep", "--figure", str(file), "--json"))
    assert answer["written"] == [str(file)] and file.stat().st_size > 1000


def test_a_drawing_that_cannot_be_made_is_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = str(tmp_path / "x.svg")
    assert main(["tests", "leak", "--figure", file]) == 2
    assert "actuator-sweep" in capsys.readouterr().err
    assert main(["tests", "cold-look", "--figure", file]) == 1
    assert "nothing is connected" in capsys.readouterr().err
    assert not Path(file).exists()


@pytest.mark.parametrize("width", [60, 110])
@pytest.mark.parametrize("what", ["causes", "tests"])
def test_lines_fit_the_terminal(what: str, width: int) -> None:
    rows: list[dict[str, Any]] = list_causes() if what == "causes" else list_tests(units="psi")
    show = show_causes if what == "causes" else show_tests
    for text in (show(rows, width=width), *(show([row], width=width) for row in rows)):
        for line in text.splitlines():
            assert len(line) <= width or line.startswith("    "), line  # an example is not broken
