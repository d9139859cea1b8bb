"""Bad input at the door: a clear sentence with what to do, exit code 1, never a traceback.

Each case is tried as a person would meet it, in a process of its own, in words and with ``--json``.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

CAR = """format = 1
[car]
name = "an invented car"
[engine]
displacement = "2.0 L"
cylinders = 4
redline = "6800 rpm"
[wastegate]
kind = "internal flapper"
[controller]
kind = "none"
[limits]
target = "14 psi"
"""
# Ten seconds at idle: no throttle, no boost.
IDLE = "time,rpm,boost psi,throttle %\n" + "".join(f"{i / 10:.1f},900,-9.5,2\n" for i in range(100))
NO_RPM = "time,boost psi,throttle %\n" + "".join(f"{i / 10:.1f},{i / 10:.1f},100\n" for i in range(100))


def boostproof(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "boostproof", *words],
        capture_output=True, text=True, encoding="utf-8", timeout=120, check=False, cwd=cwd,
    )  # fmt: skip


def refused(cwd: Path, *words: str) -> dict[str, str]:
    """Run it both ways; check what every refusal has in common and return the error object."""
    plain = boostproof(*words, cwd=cwd)
    assert plain.returncode == 1, plain.stdout + plain.stderr
    assert plain.stdout == "" and "Traceback" not in plain.stderr
    answer = boostproof(*words, "--json", cwd=cwd)
    assert answer.returncode == 1 and answer.stderr == ""
    said = json.loads(answer.stdout)
    assert set(said) == {"format", "error"} and said["format"] == 1
    error: dict[str, str] = said["error"]
    assert set(error) == {"kind", "where", "says", "do"}
    assert error["kind"] != "internal"
    assert error["where"] and error["says"] and error["do"]
    assert " ".join(error["says"].split()) in " ".join(plain.stderr.split())
    return error


def case_with(folder: Path, *, car: str = CAR, log: bytes | None = IDLE.encode()) -> Path:
    (folder / "recordings").mkdir(parents=True)
    (folder / "car.toml").write_text(car, encoding="utf-8")
    if log is not None:
        (folder / "recordings" / "log.csv").write_bytes(log)
    return folder


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", ("empty",)),
        (b"\n\n \n", ("empty",)),
        (bytes(range(256)) * 40, ("log.csv",)),
        (b"\x89PNG\r\n\x1a\n" + bytes(4000), ("log.csv",)),
        (NO_RPM.encode(), ("speed",)),
    ],
    ids=["empty", "blank", "binary", "picture", "no rpm"],
)
@pytest.mark.parametrize("command", ["inspect", "diagnose"])
def test_a_file_that_is_no_usable_log(
    tmp_path: Path, command: str, content: bytes, words: tuple[str, ...]
) -> None:
    case = case_with(tmp_path / "case", log=content)
    if command == "inspect":
        if content == NO_RPM.encode():  # inspect may still show what it did find
            done = boostproof("inspect", "case/recordings/log.csv", cwd=tmp_path)
            assert "Traceback" not in done.stderr and "rpm" in done.stdout + done.stderr
            return
        error = refused(tmp_path, "inspect", "case/recordings/log.csv")
    else:
        error = refused(tmp_path, "diagnose", case.name)
    assert "log.csv" in error["where"]
    assert all(word in (error["where"] + error["says"] + error["do"]).lower() for word in words)


def test_a_log_without_a_pull(tmp_path: Path) -> None:
    case_with(tmp_path / "case")
    error = refused(tmp_path, "diagnose", "case")
    assert "pull" in error["says"]
    shown = boostproof("inspect", "case/recordings/log.csv", cwd=tmp_path)
    assert shown.returncode == 0 and "no full-load run was found" in shown.stdout


def test_a_case_without_a_recording(tmp_path: Path) -> None:
    case_with(tmp_path / "case", log=None)
    assert "recordings" in refused(tmp_path, "diagnose", "case")["where"]


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ('target = "14 psi"', "target = 14", 13, ("psi", "kPa")),
        ('target = "14 psi"', 'target = "14"', 13, ("psi", "kPa")),
        ('target = "14 psi"', 'target = "14 psy"', 13, ("psi",)),
        ('redline = "6800 rpm"', 'redline = "6800 psi"', 7, ("rpm",)),
        ('target = "14 psi"', 'targett = "14 psi"', 13, ("target",)),
        ('kind = "internal flapper"', 'kind = "internal flaper"', 9, ("internal flapper",)),
        ('target = "14 psi"', 'target = "14 psi"\nstop = "12 psi"', 13, ("stop",)),
        ("[car]", "[car", 2, ("]",)),
        ("cylinders = 4", 'cylinders = 4\nfuel = "diesel"', 7, ("Diesel",)),
    ],
    ids=["bare", "bare text", "unit", "dimension", "key", "word", "contradiction", "toml", "diesel"],
)
def test_a_car_that_cannot_be_right(
    tmp_path: Path, old: str, new: str, line: int, words: tuple[str, ...]
) -> None:
    assert old in CAR
    case_with(tmp_path / "case", car=CAR.replace(old, new))
    error = refused(tmp_path, "diagnose", "case")
    assert "car.toml" in error["where"]
    assert f"line {line}" in error["where"] or f"line {line + 1}" in error["where"]
    for word in words:
        assert word in error["says"] + " " + error["do"]


def test_a_folder_that_is_no_case(tmp_path: Path) -> None:
    (tmp_path / "case").mkdir()
    error = refused(tmp_path, "diagnose", "case")
    assert "car.toml" in error["where"] + error["says"]


def test_new_overwrites_nothing(tmp_path: Path) -> None:
    assert boostproof("new", "case", cwd=tmp_path).returncode == 0
    before = (tmp_path / "case" / "car.toml").read_bytes()
    assert "car.toml" in refused(tmp_path, "new", "case")["where"]
    assert (tmp_path / "case" / "car.toml").read_bytes() == before
    # Not filled in yet: what is missing is said, with the line.
    error = refused(tmp_path, "diagnose", "case")
    assert "car.toml" in error["where"]
