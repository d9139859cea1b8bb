"""The floors of the house (CONTRIBUTING.md) are held, and the check that holds them can fail."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

LINT = """
import sys
from importlinter.cli import lint_imports
sys.exit(lint_imports(sys.argv[1], no_cache=True))
"""


def lint(root: Path) -> subprocess.CompletedProcess[str]:
    """Run import-linter on the tree at ``root`` with its own settings."""
    return subprocess.run(
        [sys.executable, "-c", LINT, str(root / "pyproject.toml")],
        cwd=root,
        env={**os.environ, "PYTHONPATH": str(root / "src"), "PYTHONUTF8": "1"},
        capture_output=True, text=True, encoding="utf-8", timeout=120, check=False,
    )  # fmt: skip


def test_imports_point_downwards(repository: Path) -> None:
    done = lint(repository)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(
    ("file", "line", "contract"),
    [
        ("physics/gas.py", "import boostproof.recording", "Imports point downwards only"),
        ("diagnosis/__init__.py", "import boostproof.demo", "The inference model does not know the demo"),
        ("demo/__init__.py", "import boostproof.physics", "The demo's generator is not the inference model"),
        ("physics/gas.py", "import polars", "Computation knows no reader, no path and no database"),
        ("new_room/__init__.py", "", "Imports point downwards only"),  # a package that no floor names
    ],
)
def test_a_wrong_import_is_found(
    repository: Path, tmp_path: Path, file: str, line: str, contract: str
) -> None:
    shutil.copy(repository / "pyproject.toml", tmp_path)
    shutil.copytree(
        repository / "src", tmp_path / "src", ignore=shutil.ignore_patterns("__pycache__", "*.egg-info")
    )
    target = tmp_path / "src" / "boostproof" / file
    target.parent.mkdir(exist_ok=True)
    with target.open("a", encoding="utf-8") as text:
        text.write(f"\n{line}  # noqa\n")
    done = lint(tmp_path)
    assert done.returncode == 1
    broken = [row for row in done.stdout.splitlines() if "BROKEN" in row]
    assert any(contract in row for row in broken) or contract in done.stdout, done.stdout + done.stderr
