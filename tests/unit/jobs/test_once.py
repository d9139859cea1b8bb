"""What is sent twice is carried out once, whatever happens between."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from boostproof.errors import InputError
from boostproof.jobs.once import once
from boostproof.jobs.store import Store

KEY = "a" * 64


def _spend(store: Store, job: int, address: str = "/there") -> str:
    store.settings.of_job(job).change("money", lambda kept: [*(kept or []), 50])
    store.log(job, f"{len(store.settings.of_job(job).get('money'))} sums")  # what it wrote itself is in sight
    return address


def test_the_same_key_is_carried_out_once_and_leads_to_the_same_place(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml).id
    assert once(store, KEY, lambda: _spend(store, job)) == "/there"
    assert once(store, KEY, lambda: _spend(store, job, "/elsewhere")) == "/there"
    assert store.settings.of_job(job).get("money") == [50]
    assert [n.says for n in store.history(job)][-1:] == ["1 sums"]
    assert once(store, "b" * 64, lambda: _spend(store, job, "/elsewhere")) == "/elsewhere"
    assert store.settings.of_job(job).get("money") == [50, 50]


def test_without_a_key_everything_is_carried_out(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml).id
    for _ in range(2):
        once(store, "", lambda: _spend(store, job))
    assert store.settings.of_job(job).get("money") == [50, 50]


def test_a_program_that_ends_before_the_end_has_changed_nothing(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml).id

    def ends() -> str:
        _spend(store, job)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        once(store, KEY, ends)
    assert store.settings.of_job(job).get("money") is None and len(store.history(job)) == 1
    once(store, KEY, lambda: _spend(store, job))
    assert store.settings.of_job(job).get("money") == [50]


def test_a_refusal_can_be_sent_again_and_what_was_kept_before_it_stays(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml).id
    store.write(job, "readings.toml", "theirs")

    def late() -> str:
        store.write(job, "readings.toml", "mine", expect="")
        return "/there"

    with pytest.raises(InputError, match="changed elsewhere"):
        once(store, KEY, late)
    assert store.text(job, "readings.toml") == "theirs"
    assert len(store.versions(job, "readings.toml")) == 2  # both are kept
    seen = store.files(job)[1].sha256
    assert once(store, KEY, lambda: store.write(job, "readings.toml", "mine", expect=seen).path) == "readings.toml"
    assert store.text(job, "readings.toml") == "mine"


def test_many_at_a_time_from_two_programs_count_once(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml).id
    said: list[str] = []
    together = threading.Barrier(8)
    with Store.open(store.root) as other:

        def send(number: int) -> None:
            one = (store, other)[number % 2]

            def change() -> str:
                together.wait(10)  # nobody has written yet when all have looked
                return _spend(one, job, f"/{number}")

            said.append(once(one, KEY, change))

        threads = [threading.Thread(target=send, args=(n,)) for n in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert len(said) == 8 and len(set(said)) == 1
    assert store.settings.of_job(job).get("money") == [50]


def test_what_is_not_finished_is_seen_by_nobody_else(store: Store, car_toml: str, tmp_path: Path) -> None:
    job = store.new_job(car_toml).id
    seen = []

    def change() -> str:
        _spend(store, job)
        other = threading.Thread(target=lambda: seen.append(store.settings.of_job(job).get("money")))
        other.start()
        other.join()
        return "/there"

    once(store, KEY, change)
    assert seen == [None]
    assert store.settings.of_job(job).get("money") == [50]
