"""Whole case folders: files that follow the contract, and the same bytes for the same seed."""

from __future__ import annotations

import csv
import re
import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from boostproof.casefolder import read_case
from boostproof.demo import make_case, write_demo_case
from boostproof.demo.generate import PAIRS, generate, main
from boostproof.demo.toml import array_entry, section, value
from boostproof.quantity import parse_quantity
from boostproof.recording import find_pulls, read_recording

CASES = (
    ("port-too-small", 0.6),
    ("solenoid-stuck", 0.4),
    ("controller-set-high", 0.7),
    ("sensor-scale-wrong", 0.8),
    ("line-blocked", 0.5),
    ("healthy", 0.2),
    ("charge-leak + spring-weak", 0.5),
)

WORD_KEYS = {
    "name", "complaint", "notes", "kind", "fuel", "fuel_metering", "chambers", "take_off",
    "take_off_meant", "bypass_valve", "cooler", "plumbing", "unpowered", "duty_sense", "started",
    "manifold_position", "test", "heard_at", "loudness", "held", "arm", "shaft", "play", "wheels",
    "hoses", "routing", "take_off_seen", "solenoid", "entry", "turns_in",
}  # fmt: skip
NUMBER = re.compile(r"^-?\d+(\.\d+)? (psi|kPa|bar|mm|s|C|L|L/min|rpm|rpm/s|Hz|%)( abs)?( \+/- \d+ mm)?$")


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    top = tmp_path_factory.mktemp("cases")
    made = {}
    for n, (cause, severity) in enumerate(CASES):
        made[cause] = make_case(top / str(n), cause=cause, severity=severity, seed=100 + n)
    return made


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_demo_case(tmp_path_factory.mktemp("shop") / "job", seed=1)


def load(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def leaves(item: object, key: str = "") -> Iterator[tuple[str, object]]:
    if isinstance(item, dict):
        for k, v in item.items():
            yield from leaves(v, k)
    elif isinstance(item, list):
        for v in item:
            yield from leaves(v, key)
    else:
        yield key, item


def test_every_file_is_there_and_parses(folders: dict[str, Path], shop: Path) -> None:
    for folder in (*folders.values(), shop):
        for name in ("car.toml", "readings.toml", "truth.toml"):
            assert load(folder / name)
        assert load(folder / "car.toml")["format"] == 1
        assert load(folder / "readings.toml")["format"] == 1
        assert (folder / "recordings" / "log.csv").stat().st_size > 5000
    assert load(shop / "pulls.toml")["recording"][0]["file"] == "recordings/log.csv"


def test_musts_are_written(folders: dict[str, Path], shop: Path) -> None:
    for folder in (*folders.values(), shop):
        car = load(folder / "car.toml")
        assert {"displacement", "cylinders", "redline"} <= set(car["engine"])
        assert car["car"]["name"]
        assert car["wastegate"]["kind"] in ("internal flapper", "external poppet")
        assert car["controller"]["kind"] in ("none", "ball and spring", "bleed valve", "solenoid 3-port")
        assert all("test" in r for r in load(folder / "readings.toml")["reading"])


def test_no_bare_number_stands_for_a_quantity(folders: dict[str, Path], shop: Path) -> None:
    plain = {
        "format", "cylinders", "count", "gear", "turns_in", "full_load_lambda", "closed_loop", "light",
        "clicks", "passes", "ever_right", "can_hold_speed", "lift", "second_pressure_sensor",
    }  # fmt: skip
    for folder in (*folders.values(), shop):
        for name in ("car.toml", "readings.toml"):
            for key, item in leaves(load(folder / name)):
                if not isinstance(item, str):
                    assert key in plain, (folder, key, item)
                elif key not in WORD_KEYS and item != "none":
                    assert NUMBER.match(item), (folder, key, item)


def test_house_reader_takes_every_file_without_a_question(folders: dict[str, Path], shop: Path) -> None:
    for folder in (*folders.values(), shop):
        case = read_case(folder)
        assert case.findings == ()
        assert [path.name for path in case.recordings] == ["log.csv"]
        assert len(case.readings.reading) == len(load(folder / "readings.toml")["reading"])
        target = load(folder / "car.toml")["limits"]["target"]
        assert 20e3 < parse_quantity(target, dimension="pressure").value < 160e3


def rows(folder: Path) -> tuple[list[str], list[list[float]]]:
    lines = (folder / "recordings" / "log.csv").read_text(encoding="utf-8").splitlines()
    lines = [line for line in lines if not line.startswith("#")]
    separator = max(";\t,", key=lambda c: (lines[0].count(c) > 2 and c != ",", lines[0].count(c)))
    table = list(csv.reader(lines, delimiter=separator))
    return table[0], [[float(c.replace(",", ".")) for c in row] for row in table[1:]]


def test_log_runs_forward_at_its_rate_from_key_on(folders: dict[str, Path], shop: Path) -> None:
    for folder in (*folders.values(), shop):
        header, table = rows(folder)
        assert len(set(header)) == len(header)
        first = header.index(next(h for h in header if re.match(r"(?i)time|elapsed|log time|t\b", h)))
        scale = 1e-3 if "ms" in header[first] else 1.0
        time = [row[first] * scale for row in table]
        steps = [b - a for a, b in pairwise(time)]
        assert min(steps) >= 0.0
        usual = sorted(steps)[len(steps) // 2]
        assert 1.0 / 55.0 < usual < 1.0 / 9.0
        assert max(steps) > 10.0  # key-on first, the pulls a while later
        speeds = header.index(next(h for h in header if re.match(r"(?i)rpm|engine|eng spd|n_engine", h)))
        assert table[0][speeds] == 0.0
        assert max(row[speeds] for row in table) > 3000.0


def test_house_reader_finds_the_pulls_of_the_demo_job(shop: Path) -> None:
    pulls = find_pulls(read_recording(shop / "recordings" / "log.csv"))
    redline = float(load(shop / "car.toml")["engine"]["redline"].split()[0])
    assert len(pulls) == 4
    assert max(pull.rpm_to for pull in pulls) == pytest.approx(redline, abs=120.0)


def test_truth_names_the_cause_and_the_car_does_not(folders: dict[str, Path], shop: Path) -> None:
    for cause, folder in folders.items():
        truth = load(folder / "truth.toml")
        assert truth["causes"][0] == cause
        assert truth["visible_in_log"] == ("log" in truth["evidence"])
        assert truth["visible_in_bench"] == ("bench" in truth["evidence"])
        assert {"peak", "end", "rpm_end"} <= set(truth["true_metrics"]) & set(truth["healthy_twin"])
        for name in ("car.toml", "readings.toml"):
            text = (folder / name).read_text(encoding="utf-8")
            assert "severity" not in text
            assert cause not in text or cause == "healthy"
    assert load(folders["healthy"] / "truth.toml")["evidence"] == []
    assert "port" not in load(shop / "car.toml")["wastegate"]
    assert "port" not in (shop / "readings.toml").read_text(encoding="utf-8")


def test_same_seed_same_bytes_other_seed_other_car(tmp_path: Path, shop: Path) -> None:
    made = [
        make_case(tmp_path / n, cause="bleed-oversize", severity=0.5, seed=s)
        for n, s in (("a", 7), ("b", 7), ("c", 8))
    ]
    for name in ("car.toml", "readings.toml", "truth.toml", "recordings/log.csv"):
        assert (made[0] / name).read_bytes() == (made[1] / name).read_bytes()
        assert (made[0] / name).read_bytes() != (made[2] / name).read_bytes()
    again = write_demo_case(tmp_path / "shop", seed=1)
    for name in ("car.toml", "readings.toml", "pulls.toml", "recordings/log.csv"):
        assert (again / name).read_bytes() == (shop / name).read_bytes()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_demo_job_is_a_textbook_creep(tmp_path: Path, seed: int) -> None:
    folder = write_demo_case(tmp_path, seed=seed)
    found, sound = (load(folder / "truth.toml")[k] for k in ("true_metrics", "healthy_twin"))
    target = float(load(folder / "car.toml")["limits"]["target"].split()[0])
    assert sound["plat_med"] == pytest.approx(target, abs=1.0)
    assert sound["plat_max"] - sound["plat_min"] < 2.0
    assert found["plat_min"] == pytest.approx(target, abs=1.5)  # it takes hold where it should
    assert 5.5 < found["end"] - target < 9.0  # and ends far above
    assert found["rpm_end"] == pytest.approx(sound["rpm_end"], abs=60.0)
    assert load(folder / "truth.toml")["visible_in_log"]


def test_generator_spreads_over_the_causes(tmp_path: Path) -> None:
    folders = generate(tmp_path / "set", count=3, seed=4)
    causes = [load(f / "truth.toml")["causes"][0] for f in folders]
    assert len(set(causes)) == 3
    assert main([str(tmp_path / "one"), "--count", "1", "--seed", "2", "--cause", "gate-not-seating"]) == 0
    assert load(tmp_path / "one" / "case-0001" / "truth.toml")["causes"][0] == "gate-not-seating"
    with pytest.raises(SystemExit):
        main([str(tmp_path), "--cause", "gremlins"])
    assert all(" + " in p for p in PAIRS)


def test_bad_requests_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="unknown cause"):
        make_case(tmp_path, cause="gremlins", severity=0.5, seed=1)
    with pytest.raises(ValueError, match="severity"):
        make_case(tmp_path, cause="healthy", severity=1.5, seed=1)
    with pytest.raises(ValueError, match="no kind of controller"):
        make_case(tmp_path, cause="bleed-blocked + solenoid-stuck", severity=0.5, seed=1)


def test_toml_writer_is_read_back_as_it_was() -> None:
    entry = {"test": "x", "rows": [{"a": 1, "b": 'c "d" \\ e'}], "light": False, "leak": {"start": "1 psi"}}
    text = "format = 1\n\n" + section("top", {"list": ["a", "b"], "n": 2.5}) + array_entry("reading", entry)
    assert tomllib.loads(text) == {"format": 1, "top": {"list": ["a", "b"], "n": 2.5}, "reading": [entry]}
    assert section("empty", {}) == ""
    with pytest.raises(TypeError):
        value(object())
