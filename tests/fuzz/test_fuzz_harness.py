"""The coverage-guided fuzzing runs for a few seconds through every reader, where its library is installed."""

from __future__ import annotations

import importlib.util
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

# Looked for and not imported: it changes how later imports are compiled.
installed = importlib.util.find_spec("atheris") is not None
pytestmark = pytest.mark.skipif(not installed, reason="the extra [fuzz] is for Linux and Python below 3.14")
READERS = {"csv", "candump", "parquet", "xlsx", "mdf", "packed", "sniff", "whole"}


def test_a_few_seconds_of_all_readers_find_nothing(repository: Path, tmp_path: Path) -> None:
    for library in ("asammdf", "cantools"):
        pytest.importorskip(library, reason=f"{library} is not installed")
    order = ["--reader", "all", "--seconds", "6", "--keep", str(tmp_path)]
    path = os.pathsep.join([str(repository / "src"), str(repository), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, "-m", "tests.fuzz.fuzz_readers", *order],
        cwd=repository, env={**os.environ, "PYTHONPATH": path}, capture_output=True, text=True, timeout=150,
    )  # fmt: skip
    told = re.search(r"^all: (\d+) executions in .* tables \((.*)\); .* 0 findings: none$", done.stdout, re.M)
    assert done.returncode == 0 and told, done.stdout[-3000:] + done.stderr[-3000:]
    # The sound logs that it begins with are read by every reader.
    assert {one.split()[0] for one in told.group(2).split(", ")} == READERS
    assert int(told.group(1)) > 60
