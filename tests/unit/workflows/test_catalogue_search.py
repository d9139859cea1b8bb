"""Search in a catalogue: exact first, beginnings, misspelt words, ties in the order of the catalogue."""

from __future__ import annotations

import doctest

from hypothesis import given
from hypothesis import strategies as st

from boostproof.workflows import catalogue_search
from boostproof.workflows.catalogue_search import Entry, search

SHELF = [
    Entry("spring-weak", "T1", ("spring-weak", "Spring weak", "Boost is low.")),
    Entry("spring-too-strong", "T12", ("spring-too-strong", "Spring too strong", "Boost is high.")),
    Entry("line-leak", "T3", ("line-leak", "Line leaks", "Boost is high; the spring is sound.")),
]


def test_the_examples_hold() -> None:
    assert doctest.testmod(catalogue_search).failed == 0


def test_an_id_or_number_finds_its_entry_alone() -> None:
    assert search(SHELF, "T1") == (["spring-weak"], [])
    assert search(SHELF, " Spring Weak ") == (["spring-weak"], [])


def test_a_title_counts_more_than_the_text_below_and_ties_keep_their_order() -> None:
    assert search(SHELF, "spring")[0] == ["spring-weak", "spring-too-strong", "line-leak"]
    assert search(SHELF, "high")[0] == ["spring-too-strong", "line-leak"]


def test_beginnings_and_misspelt_words_count_less() -> None:
    assert search(SHELF, "leak")[0] == ["line-leak"]
    assert search(SHELF, "lea")[0] == ["line-leak"]
    assert search(SHELF, "sprnig weak")[0] == ["spring-weak"]
    assert search(SHELF, "hose leak")[0] == ["line-leak"]  # another word for the line


def test_only_small_words_find_nothing() -> None:
    assert search(SHELF, "is the")[0] == []


@given(st.text(max_size=40))
def test_any_text_is_answered(words: str) -> None:
    found, near = search(SHELF, words)
    assert len(set(found)) == len(found) and not (found and near)
