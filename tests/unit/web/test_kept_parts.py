"""Parts of pages are made once, and never shown when what decides them is another."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import pytest

from boostproof.errors import InputError
from boostproof.jobs.store import Store
from boostproof.web import kept_parts
from boostproof.web.kept_parts import FOLDER, kept_part, sweep_parts


@dataclass(frozen=True)
class Part:
    """A part for the tests, with what JSON has no word for."""

    says: str
    numbers: tuple[float, ...]


@dataclass(frozen=True)
class Other:
    """Another of the same look."""

    says: str
    numbers: tuple[float, ...]


class Maker:
    """Makes parts, and counts."""

    def __init__(self) -> None:
        self.made = 0

    def __call__(self) -> Part:
        self.made += 1
        return Part(f"part {self.made}", (1.0, 0.1 + 0.2))


def files(store: Store) -> list[Path]:
    return sorted((store.root / FOLDER).iterdir())


def test_a_part_is_made_once_also_for_those_who_open_the_store_later(store: Store) -> None:
    make = Maker()
    first = kept_part(store, Part, "answer 1", make)
    assert first == Part("part 1", (1.0, 0.1 + 0.2))
    assert kept_part(store, Part, "answer 1", make) is first
    with Store.open(store.root) as later:
        assert kept_part(later, Part, "answer 1", make) == first
    assert make.made == 1


def test_another_answer_another_shape_and_another_program_have_parts_of_their_own(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    make = Maker()
    kept_part(store, Part, "answer 1", make)
    assert kept_part(store, Part, "answer 2", make).says == "part 2"
    assert kept_part(store, Other, "answer 1", lambda: Other("other", ())) == Other("other", ())
    monkeypatch.setattr(kept_parts, "_program", lambda: "changed")
    assert kept_part(store, Part, "answer 1", make).says == "part 3"


@pytest.mark.parametrize("damage", [b"", b'{"says": "half', b'{"says": 1}', b"[]", b"\xff"])
def test_a_damaged_or_deleted_part_is_made_again(store: Store, damage: bytes) -> None:
    make = Maker()
    kept_part(store, Part, "answer 1", make)
    (kept,) = files(store)
    kept.write_bytes(damage)
    with Store.open(store.root) as later:
        assert kept_part(later, Part, "answer 1", make).says == "part 2"
    kept.unlink()
    with Store.open(store.root) as later:
        assert kept_part(later, Part, "answer 1", make).says == "part 3"
    assert files(store) == [kept]


def test_what_cannot_be_made_leaves_nothing(store: Store) -> None:
    def refuse() -> Part:
        raise InputError("The car cannot be read.", kind="missing")

    with pytest.raises(InputError):
        kept_part(store, Part, "answer 1", refuse)
    assert kept_part(store, Part, "answer 1", Maker()).says == "part 1"


def test_where_nothing_can_be_written_the_part_is_shown_all_the_same(store: Store) -> None:
    (store.root / FOLDER).write_text("in the way")
    assert kept_part(store, Part, "answer 1", Maker()).says == "part 1"


def test_those_that_nobody_asked_for_longest_go_first(tmp_path: Path) -> None:
    for age in range(5):
        part = tmp_path / f"{age}.json"
        part.write_bytes(b"x" * 100)
        os.utime(part, (1e9 - age, 1e9 - age))
    (tmp_path / "part-unfinished").write_bytes(b"x")
    sweep_parts(tmp_path, largest=250)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["0.json", "1.json", "part-unfinished"]
