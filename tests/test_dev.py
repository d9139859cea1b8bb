"""dev.py and the locks: what can be checked without installing anything."""

from __future__ import annotations

import ast
import importlib.util
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

LOCKS = ("requirements.txt", "requirements-test.txt", "requirements-uv.txt")


@pytest.fixture
def dev(repository: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location("dev", repository / "dev.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def pins(text: str) -> dict[str, list[str]]:
    """Name of every pinned package, and the lines of it."""
    found: dict[str, list[str]] = {}
    name = ""
    for line in text.splitlines():
        if head := re.match(r"([a-z0-9-]+)==", line):
            name = head.group(1)
        found.setdefault(name, []).append(line)
    return found


def test_an_old_python_can_read_it(repository: Path) -> None:
    text = (repository / "dev.py").read_text(encoding="utf-8")
    tree = ast.parse(text, feature_version=(3, 8))
    imported: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            imported.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            imported.add(node.module or "")
    assert imported and {name.split(".")[0] for name in imported} <= sys.stdlib_module_names


@pytest.mark.parametrize("name", LOCKS)
def test_every_package_of_a_lock_is_pinned_with_hashes(repository: Path, name: str) -> None:
    found = pins((repository / name).read_text(encoding="utf-8"))
    assert "" not in found and len(found) >= 1
    for package, lines in found.items():
        assert any("--hash=sha256:" in line for line in lines), package


def test_no_lock_names_a_place(dev: ModuleType) -> None:
    assert dev.addresses_in_locks() == 0


@pytest.mark.parametrize(
    "line",
    [
        "numpy @ https://files.example/numpy.whl",
        "--extra-index-url somewhere",
        "--find-links wheels",
        "-e .",
        "./wheels/numpy.whl",
        "numpy @ file:///wheels/numpy.whl",
    ],
)
def test_a_place_in_a_lock_is_found(
    dev: ModuleType,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    line: str,
) -> None:
    for name in LOCKS:
        (tmp_path / name).write_text("click==8.5.1 \\\n    --hash=sha256:00\n", encoding="utf-8")
    monkeypatch.setattr(dev, "ROOT", tmp_path)
    assert dev.addresses_in_locks() == 0
    (tmp_path / LOCKS[1]).write_text(f"click==8.5.1\n{line}\n", encoding="utf-8")
    assert dev.addresses_in_locks() == 1
    assert f"{LOCKS[1]}:2 names a place" in capsys.readouterr().err


def test_the_locks_hold_what_the_project_asks_for(repository: Path) -> None:
    project = tomllib.loads((repository / "pyproject.toml").read_text(encoding="utf-8"))

    def names(requirements: list[str]) -> set[str]:
        return {re.split(r"[<>=;! ]", text)[0].lower() for text in requirements}

    run = names(project["project"]["dependencies"]) | names(project["dependency-groups"]["build"])
    test = run | names(project["project"]["optional-dependencies"]["test"])
    assert run <= set(pins((repository / LOCKS[0]).read_text(encoding="utf-8")))
    assert test <= set(pins((repository / LOCKS[1]).read_text(encoding="utf-8")))
    assert names(project["build-system"]["requires"]) == names(project["dependency-groups"]["build"])


def test_demo_and_tests_run_with_the_same_versions(repository: Path) -> None:
    demo, test = ((repository / name).read_text(encoding="utf-8") for name in LOCKS[:2])
    pinned = re.compile(r"^[a-z0-9-]+==.*?(?= \\?$)", re.MULTILINE)
    assert set(pinned.findall(demo)) < set(pinned.findall(test))


def test_a_folder_that_somebody_else_made_is_left_alone(
    dev: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("BOOSTPROOF_VENV", raising=False)
    monkeypatch.setattr(dev, "ROOT", tmp_path)
    assert dev.environment_folder() == tmp_path / ".venv"
    (tmp_path / ".venv").mkdir()
    assert dev.environment_folder() == tmp_path / ".venv-boostproof"
    (tmp_path / ".venv" / dev.OURS).touch()
    assert dev.environment_folder() == tmp_path / ".venv"
    (tmp_path / "theirs").mkdir()
    (tmp_path / "theirs" / "work.txt").touch()
    monkeypatch.setenv("BOOSTPROOF_VENV", str(tmp_path / "theirs"))
    with pytest.raises(dev.SetUpError, match="was not made by dev"):
        dev.environment_folder()


@pytest.mark.parametrize(
    ("version", "will_do"), [((3, 8, 1), False), ((3, 10, 9), False), ((3, 11, 0), True), ((3, 14, 2), True),
                             ((3, 15, 0), False)],
)  # fmt: skip
def test_which_python_will_do(dev: ModuleType, version: tuple[int, int, int], will_do: bool) -> None:
    assert dev.usable(version) is will_do


def test_the_pythons_of_dev_py_are_those_of_the_project(dev: ModuleType, repository: Path) -> None:
    project = tomllib.loads((repository / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    oldest, beyond = dev.OLDEST, (dev.NEWEST[0], dev.NEWEST[1] + 1)
    assert project["requires-python"] == ">={}.{},<{}.{}".format(*oldest, *beyond)


def test_an_interrupted_set_up_starts_afresh(dev: ModuleType, tmp_path: Path) -> None:
    assert dev.read_stamp(tmp_path) == {}
    dev.write_stamp(tmp_path, {"demo": "abc"})
    assert dev.read_stamp(tmp_path) == {"demo": "abc"}
    (tmp_path / dev.STAMP).write_text('{"demo": "ab', encoding="utf-8")
    assert dev.read_stamp(tmp_path) == {}


def test_a_wrong_command_is_answered_with_the_right_ones(repository: Path) -> None:
    command = [sys.executable, str(repository / "dev.py"), "tset"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "no command 'tset'" in done.stderr and "test" in done.stderr


def test_the_ci_script_can_be_run(repository: Path) -> None:
    script = repository / ".ci" / "run"
    text = script.read_text(encoding="utf-8")
    assert text.startswith("#!/usr/bin/env bash\n")
    assert text.index("step test") < text.index("step lint") < text.index("step bench --smoke")
    if sys.platform != "win32":
        assert script.stat().st_mode & 0o111
        assert subprocess.run(["bash", "-n", str(script)], timeout=60, check=False).returncode == 0
