"""Numbers of pulls: what people write, and sets of them held against sets of plain numbers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostproof.recording.pull_numbers import ALL, NONE, PullNumbers, pull_numbers

FAR = 40  # beyond every number that is drawn


def members(numbers: PullNumbers) -> set[int]:
    return {n for n in range(1, FAR + 1) if n in numbers}


@st.composite
def written(draw: st.DrawFn) -> str:
    parts = []
    for _ in range(draw(st.integers(1, 4))):
        first = draw(st.integers(1, 20))
        parts.append(draw(st.sampled_from([f"{first}", f"{first}-", f"{first} - {first + draw(st.integers(0, 9))}"])))
    return draw(st.sampled_from([",", ", "])).join(parts)


def meant(text: str) -> set[int]:
    out: set[int] = set()
    for part in text.replace(" ", "").split(","):
        first, dash, last = part.partition("-")
        out |= set(range(int(first), (int(last) if last else FAR if dash else int(first)) + 1))
    return out


@given(written(), written())
def test_they_are_sets(one: str, other: str) -> None:
    a, b = pull_numbers(one), pull_numbers(other)
    assert a is not None and b is not None
    assert members(a) == meant(one) and members(b) == meant(other)
    assert members(a | b) == meant(one) | meant(other)
    assert members(a - b) == meant(one) - meant(other)
    assert members(ALL - a) == set(range(1, FAR + 1)) - meant(one)
    assert members(a.onward()) == set(range(min(meant(one)), FAR + 1))
    assert pull_numbers(str(a)) == a


@pytest.mark.parametrize("wrong", ["", "0", "two", "5-3", "-3", "3.5", "1,,2", "3-5-7", "1;2"])
def test_what_is_no_number(wrong: str) -> None:
    assert pull_numbers(wrong) is None


def test_in_words_and_beyond_what_is_there() -> None:
    some = pull_numbers("2,4-5,7-")
    assert some is not None and some.in_words() == "pulls 2, 4 to 5, 7 on"
    assert [PullNumbers(((3, last),)).in_words() for last in (3, 4)] == ["pull 3", "pulls 3 to 4"]
    assert some.first_beyond(3) == 4 and some.first_beyond(6) is None and some.first_beyond(7) is None
    assert ALL.every and not some.every and not NONE
