"""Compiled loops kept on disk follow the text of all they call, in whatever file it stands."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from shutil import copy

import boostproof.demo.jit

INNER = """from .jit import compiled
@compiled
def inner(x: float) -> float:
    return {factor} * x
"""
OUTER = """from .jit import compiled
from .inner import inner
@compiled
def outer(x: float) -> float:
    return inner(x) + 1.0
"""
ASK = "from small.outer import outer; print(outer(2.0), getattr(outer, 'stats', None))"


def test_a_loop_is_made_new_when_what_it_calls_changes(tmp_path: Path) -> None:
    package = tmp_path / "small"
    package.mkdir()
    (package / "__init__.py").write_text("")
    copy(boostproof.demo.jit.__file__, package / "jit.py")
    (package / "outer.py").write_text(OUTER)

    def answer(factor: float) -> str:
        (package / "inner.py").write_text(INNER.format(factor=factor))
        done = subprocess.run([sys.executable, "-c", ASK], cwd=tmp_path, capture_output=True, text=True, check=True)
        return done.stdout

    assert answer(3.0).startswith("7.0 ")
    assert "cache_misses={}" in answer(3.0).replace("Counter()", "{}")  # kept from the first time
    assert answer(5.0).startswith("11.0 ")
