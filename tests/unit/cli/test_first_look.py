"""The first look stands on a watched terminal before the full answer, and nowhere else."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from tests.unit.cli.test_text import Terminal
from tests.unit.web.made_verdict import verdict

from boostproof.cli import main
from boostproof.cli.show_first_look import Looks, show_first_look
from boostproof.diagnosis.inference.first_look import FirstLook
from boostproof.workflows.answers import schemas
from boostproof.workflows.first_look import FirstRanking, first_ranking
from boostproof.workflows.verdict import Verdict

LOOK = FirstLook({"port-too-small": 0.83, "charge-leak": 0.08, "port-too-small + charge-leak": 0.06, "turbo-worn": 0.004},
                 0.016, 0.01)  # fmt: skip

UNSURE = FirstLook({"port-too-small + charge-leak": 0.5, "port-too-small": 0.3, "charge-leak": 0.1}, 0.06, 0.04)


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """A diagnosis that has a first look and its answer at once."""

    def diagnose(case: Path, *, progress: Any, first_look: Any, **more: Any) -> Verdict:
        progress("fitting every cause to the highest pull", 0.1)
        first_look(first_ranking(LOOK))
        progress("fitting every cause to all pulls", 0.3)
        first_look(first_ranking(replace(LOOK, all_pulls=True)))
        return verdict()

    monkeypatch.setattr("boostproof.workflows.diagnose.diagnose", diagnose)


def test_names_come_with_rounded_numbers_and_a_plain_mark() -> None:
    lines = show_first_look(first_ranking(LOOK), width=100).splitlines()
    assert lines[0] == "FIRST LOOK, provisional: from the highest pull alone. The full answer follows."
    assert lines[1].split("█")[0].strip() == "Gate port too small for this engine and target"
    assert lines[1].endswith("about 80 %")  # nothing is confirmed at first sight, so no more than 80 % is said
    assert lines[2].endswith("about 10 %") and lines[3].endswith("about 5 %")
    assert lines[3].startswith("  Gate port too small for this engine and")
    assert len(lines) == 5 and "Sound" in lines[4]


def test_with_much_on_two_causes_at_once_only_the_order_is_said() -> None:
    said = show_first_look(first_ranking(UNSURE), width=60)
    assert "%" not in said and "█" not in said and "1." in said
    assert max(map(len, said.splitlines())) <= 60


def test_what_programs_get_says_the_same() -> None:
    found = first_ranking(LOOK)
    told = json.loads(json.dumps(found.as_json()))
    jsonschema.validate(told, schemas()["first-look-answer"])
    assert told["trust"] == "about"
    assert [c["id"] for c in told["causes"]] == ["port-too-small", "charge-leak", "port-too-small + charge-leak"]
    again = FirstRanking.from_json(told)
    assert again == found and again.ranking == found.ranking


def test_a_person_who_watches_sees_it_before_the_answer(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    assert main(["diagnose", "case"]) == 0
    said = screen.getvalue()
    first = said.index("FIRST LOOK, provisional")
    assert said.index(" 10 %") < first < said.index(" 30 %")
    assert "SECOND LOOK" not in said  # the same leads
    assert "FIRST LOOK" not in capsys.readouterr().out


def test_a_second_look_is_told_where_something_else_leads() -> None:
    told: list[str] = []
    looks = Looks(told.append, 100)
    for look in (LOOK, replace(LOOK, all_pulls=True), replace(UNSURE, all_pulls=True)):
        looks(first_ranking(look))
    first, second = told
    assert first.startswith("FIRST LOOK") and second.startswith("SECOND LOOK, provisional: from all pulls")
    assert second.splitlines()[1].rstrip().endswith("1.")


def test_it_stays_out_of_files_and_of_json(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["diagnose", "case", "--json"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["causes"][0]["id"] == "port-too-small" and err == ""
    monkeypatch.setattr(sys, "stderr", Terminal())
    assert main(["diagnose", "case", "--json"]) == 0
    assert capsys.readouterr().out == out
