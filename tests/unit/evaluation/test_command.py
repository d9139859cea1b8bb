"""The command line of the evaluation: which cars it takes, and what the page says it was called with."""

from __future__ import annotations

import pytest
from evaluation.__main__ import _told, chosen_tasks, read_command
from evaluation.suites import BASES


def given(*arguments: str):  # type: ignore[no-untyped-def]
    return read_command(arguments)


def test_a_number_of_cars_holds_for_all_suites_or_for_one() -> None:
    every = chosen_tasks(given("--suite", "S1", "S5", "--cars", "7"))
    assert len(every["S5"]) == 7
    assert 5 <= len(every["S1"]) <= 9  # rounded cause by cause
    one = chosen_tasks(given("--suite", "S1", "S5", "--cars", "S5=3", "--tier", "ci"))
    assert len(one["S5"]) == 3
    assert one["S1"] != every["S1"]


def test_the_page_can_say_how_it_was_called() -> None:
    told = given("--suite", "S1", "S2", "--cars", "S1=800", "S2=500", "--tests", "2")
    assert _told(told) == " --suite S1 S2 --cars S1=800 S2=500 --tests 2"
    assert given(*_told(told).split()).cars == {"S1": 800, "S2": 500}
    assert _told(given("--set", "S2=fresh")) == " --set S2=fresh"


def test_seeds_hold_for_all_suites_or_for_one() -> None:
    some = chosen_tasks(given("--suite", "S4", "S5", "--cars", "3", "--set", "dev", "S5=fresh"))
    assert {t.base for t in some["S4"]} == {BASES["dev"]}
    assert {t.base for t in some["S5"]} == {BASES["fresh"]}
    usual = chosen_tasks(given("--suite", "S5", "--cars", "3"))
    assert {t.base for t in usual["S5"]} == {BASES["score"]}


@pytest.mark.parametrize("text", ["S99=3", "many", "S1="])
def test_another_word_is_refused(text: str) -> None:
    with pytest.raises(SystemExit):
        given("--cars", text)
    with pytest.raises(SystemExit):
        given("--set", text)
