"""Readers that misbehave, for the tests of reading apart: found there by the name of this module."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.model import Column, Samples, Table


def sleeps(path: str, *, companions: Sequence[str]) -> Table:
    """Never ends; leaves half an unpacked file, and a note of its number and of that file."""
    half = Path(tempfile.mkdtemp()) / "half"
    half.write_bytes(b"x")
    note = Path(path).with_suffix(".note")
    note.with_suffix(".new").write_text(f"{os.getpid()}\n{half}", encoding="utf-8")
    note.with_suffix(".new").replace(note)
    while True:
        time.sleep(0.1)


def dies(path: str, *, companions: Sequence[str]) -> Table:
    os._exit(3)


def raises(path: str, *, companions: Sequence[str]) -> Table:
    raise KeyError("block 17")


def fills_memory(path: str, *, companions: Sequence[str]) -> Table:
    full = [np.ones(1 << 20) for _ in range(1 << 20)]
    raise AssertionError(len(full))


def talks(path: str, *, companions: Sequence[str]) -> Table:
    """Prints, as libraries do, and answers with every field of a table."""
    os.write(1, b"a library greets\n" * 10_000)
    own = Samples(np.array([0.0, 0.5]), np.array([1.0, -2.0]))
    empty = Samples(np.zeros(0), np.zeros(0))
    columns = (
        Column("Zeit °", "s", np.array([0.0, np.nan, 1e300]), 1, True),
        Column("b", "", np.arange(6.0)[::2], 0, False, own),
        Column("c", "psi", np.zeros(3), 3, False, empty),
    )
    findings = (Finding("kind", "where", "says “this”.", "do"), Finding("k", "w", "s"))
    return Table(Path(path).name, "+".join(companions), 3, columns, findings)


def large(path: str, *, companions: Sequence[str]) -> Table:
    values = np.arange(1e6)
    columns = tuple(Column(f"c{i}", "", values + i) for i in range(12))
    return Table(Path(path).name, "large", len(values), columns)
