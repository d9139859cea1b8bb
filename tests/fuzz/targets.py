"""Coverage-guided fuzzing of the readers (needs the extra "fuzz": Linux, Python below 3.14).

    python -m tests.fuzz.fuzz_readers --reader csv --seconds 120 --keep fuzz-found

Starts from small valid logs, changes their bytes wherever that reaches code not reached before, and reads each.
Anything but a consistent table or an InputError is a finding: told once for each place in the code, its input
saved. Where a compiled library ends the process, or nothing ends at all, the input is read once more as an
untrusted file is: in a process of its own, which must tell it in plain words. Then the fuzzing goes on.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import resource
import sys
import time
import traceback
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import atheris
from tests.fuzz import fuzz_seeds as seeds

# Only what is imported within is watched for new code, so these imports come after the others.
with atheris.instrument_imports(include=["boostproof.recording.readers", "boostproof.recording.rows"]):
    import boostproof.recording.readers.candump
    import boostproof.recording.readers.dbc
    import boostproof.recording.readers.mdf
    import boostproof.recording.readers.packed
    import boostproof.recording.readers.parquet
    import boostproof.recording.readers.spreadsheet
    from boostproof.recording.readers import answer, delimited, read_table

from boostproof.errors import InputError

if TYPE_CHECKING:
    from boostproof.recording.model import Table

readers = boostproof.recording.readers
ALL = "all"
MEMORY = 8 << 30  # bytes of address space; atheris and the libraries reserve much of it
MOST_CELLS = 10_000_000
HANG = 20  # seconds for one small input


def _log(folder: Path, data: bytes) -> Path:
    path = folder / "log"
    path.write_bytes(data)
    return path


@dataclass(frozen=True)
class Target:
    """A reader, the inputs to begin with, and words of its format."""

    read: Callable[[Path], Any]
    begin: Callable[[], list[bytes]]
    words: tuple[bytes, ...] = ()
    apart: bool = True
    write: Callable[[Path, bytes], Path | None] = _log


def _bus(folder: Path, data: bytes) -> Path:
    log, _, database = data.partition(seeds.PARTED)
    (folder / "car.dbc").write_bytes(database)
    return _log(folder, log)


def _read_bus(path: Path) -> Table:
    return readers.candump.read_candump(path, [path.with_name("car.dbc")])


def _packed(folder: Path, data: bytes) -> Path:
    return _log(folder, seeds.pack(data))


def _sheet(folder: Path, data: bytes) -> Path | None:
    rows = [1, *(int(n) for n in re.findall(rb'[ "A-Z](\d{1,8})[": ]', data))]
    columns = [0, *(len(name) for name in re.findall(rb"([A-Z]+)\d", data))]
    if max(rows) * 26 ** max(columns) > MOST_CELLS:
        return None  # the library keeps every cell between: such a sheet ends the process that reads it
    whole = data[1:] if data[:1] == b"\x00" else seeds.sheet_of(data[1:])
    return _log(folder, whole)


def _whole(path: Path) -> Table:
    """A text table all the way to the answer of "inspect"."""
    from boostproof.recording.checks.about_pulls import about_pulls
    from boostproof.recording.pulls.find import find_pulls
    from boostproof.recording.recognise import recognise
    from boostproof.workflows.inspect import Inspection

    table = delimited.read_delimited(path)
    recording = recognise(table)
    pulls = find_pulls(recording, part_load=True)
    findings = recording.findings + about_pulls(recording, pulls)
    json.dumps(Inspection(recording, pulls, findings).as_json(), allow_nan=False)
    return table


def _kinds() -> list[bytes]:
    return [
        *seeds.tables()[:6],
        seeds.bus_logs()[0].split(seeds.PARTED)[0],
        *seeds.parquets(),
        seeds.sheets()[0][1:],
        *(seeds.pack(one) for one in seeds.packed()),
        b"%PDF-1.7", b"<html><table>", b"<?xml?><Workbook>", b'{"log": [1]}', b"RIFF....WAVE", b"....ftyp",
    ]  # fmt: skip


_SIGNS = (b"\t", b";", b",", b"|", b'"', b"\r\n", b"\n\n", b"\xef\xbb\xbf", b"\xff\xfe", b"nan", b"inf", b"-", b"0:59.5",
          b"AM", b"1e308", b"12.5 psi", b"1.234,5", b"ERR", b"on", b"off", b"Max", b"rpm", b"time s",
          b"2025-03-12 ")  # fmt: skip
_BUS = (b"(1436509052.249713)", b"can0", b"##1", b"#R", b"[64]", b"(nan)", b"RX - -", b"BO_ ", b" SG_ ", b"VAL_ ", b"SNA",
        b"|64@1- ", b"|64@0+ ", b" M : ", b" m1M : ", b"SIG_VALTYPE_ ", b"SG_MUL_VAL_ ")  # fmt: skip
_CELLS = (b'<c r="XFD1048576">', b'<row r="9">', b' t="s"', b' t="b"', b' t="d"', b' t="e"', b' t="inlineStr"',
          b"<mergeCell ref=", b' s="1"', b"<v>1e308</v>", b"<f>")  # fmt: skip
_BLOCKS = (b"UnFinMF ", *(b"##" + n for n in (b"HD", b"DG", b"CG", b"CN", b"CC", b"DT", b"DL", b"TX", b"SI")))
TARGETS: dict[str, Target] = {
    "csv": Target(delimited.read_delimited, seeds.tables, _SIGNS, apart=False),
    "candump": Target(_read_bus, seeds.bus_logs, _BUS, write=_bus),
    "parquet": Target(readers.parquet.read_parquet, seeds.parquets, (b"PAR1",)),
    "xlsx": Target(readers.spreadsheet.read_spreadsheet, seeds.sheets, _CELLS, write=_sheet),
    "mdf": Target(readers.mdf.read_mdf, seeds.measurements, _BLOCKS),
    "packed": Target(read_table, seeds.packed, (seeds.PARTED, b"../", b".dbc"), write=_packed),
    "sniff": Target(read_table, _kinds, (b"PK\x03\x04", b"MDF     ", b"PAR1", *_SIGNS)),
    "whole": Target(_whole, seeds.tables, _SIGNS, apart=False),
}


def check_table(table: Table) -> None:
    """What every table of a reader must be: whole, its lost cells counted, and fit to be sent.

    Raises
    ------
    AssertionError
        If it is not.
    """
    import numpy as np

    assert table.rows > 0 and table.columns, "no rows or no columns"
    for column in table.columns:
        assert column.values.shape == (table.rows,) and column.values.dtype == np.float64, "shape"
        own = column.values if column.samples is None else column.samples.values
        assert not np.isinf(column.values).any() and not np.isinf(own).any(), "infinite"
        if column.samples is None:
            # Where a bus log has no clock, its rows also tell nothing between two frames of a message.
            missing = np.isnan(own).sum()
            counted = column.lost_cells <= missing if table.kind == "candump" else column.lost_cells == missing
            assert counted, "lost cells are not counted"
        else:
            assert np.isfinite(own).all() and (np.diff(column.samples.time) > 0).all(), "samples"
    headers = [column.header for column in table.columns]
    assert len(set(headers)) == len(headers), "headers alike"
    stream = io.BytesIO()
    answer.send_table(table, stream)
    stream.seek(0)
    assert answer.receive_table(stream).findings == table.findings, "sent in other words"


def one_of_all(data: bytes) -> tuple[str, bytes]:
    """The reader that the first byte of an input names, and the rest."""
    names = list(TARGETS)
    return names[data[0] % len(names)] if data else names[0], data[1:]


def seeds_of(name: str) -> list[bytes]:
    """Inputs to begin with, of one reader or of "all"."""
    if name != ALL:
        return TARGETS[name].begin()
    return [bytes([number]) + data for number, one in enumerate(TARGETS.values()) for data in one.begin()]


@dataclass
class Run:
    """Reads one input after the other until the time is over, and keeps a note of how it went.

    Attributes
    ----------
    name, seconds, keep : of the command line
    folder : for files
    note : where the counts are left for the process that watches this one
    """

    name: str
    seconds: float
    keep: Path
    folder: Path
    note: Path
    count: int = 0
    tables: dict[str, int] = field(default_factory=dict)
    found: dict[str, int] = field(default_factory=dict)
    begun: float = field(default_factory=time.monotonic)

    def one(self, data: bytes) -> None:
        """Read one input; ends the process when the time is over."""
        name = self.name
        if name == ALL:
            name, data = one_of_all(data)
        target = TARGETS[name]
        self.count += 1
        try:
            path = target.write(self.folder, data)
            table = None if path is None else target.read(path)
            if table is not None:
                check_table(table)
                self.tables[name] = self.tables.get(name, 0) + 1
        except InputError as error:
            if not (error.says and error.kind and error.where):
                self._keep(name, "an error without words", data, repr(error))
        except MemoryError:
            if not target.apart:  # else the process of its own that it is read in says so
                self._keep(name, "MemoryError", data, traceback.format_exc())
        except KeyboardInterrupt:
            raise
        except BaseException as error:  # a panic of compiled code is no Exception
            self._keep(name, _place(error), data, traceback.format_exc())
        over = time.monotonic() - self.begun > self.seconds
        if over or self.count % 50 == 0:
            self.note.write_text(json.dumps([self.count, self.tables, self.found]), encoding="utf-8")
        if over:
            os._exit(0)

    def _keep(self, name: str, place: str, data: bytes, words: str) -> None:
        self.found[place] = self.found.get(place, 0) + 1
        if self.found[place] > 1:
            return
        path = self.keep / f"{name}-{hashlib.sha256(data).hexdigest()[:12]}"
        path.write_bytes(data)
        say(f"FOUND {place}\n{words}input: {path} ({len(data)} bytes)")


def _place(error: BaseException) -> str:
    """The error and where in our code it came up: the same fault is told once."""
    ours = [f for f in traceback.extract_tb(error.__traceback__) if "boostproof" in f.filename]
    place = f"{Path(ours[-1].filename).name}:{ours[-1].lineno}" if ours else "check"
    words = str(error)[:60] if isinstance(error, AssertionError | Warning) else ""
    return f"{type(error).__name__} at {place} {words}".strip()


def say(text: str) -> None:
    """One line or more on standard output, at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def fuzz(name: str, seconds: float, keep: Path, home: Path, corpus: Path) -> None:
    """Fuzz one reader in this process, which ends with it.

    Parameters
    ----------
    name : of the reader
    seconds : after this time
    keep : folder for inputs that were found
    home : folder for files
    corpus : folder of inputs to begin with, and for those that reached new code
    """
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    warnings.filterwarnings("error", category=RuntimeWarning)
    begin = seeds_of(name)
    for data in begin:
        (corpus / f"seed-{hashlib.sha256(data).hexdigest()[:12]}").write_bytes(data)
    words = home / "words"
    known = () if name == ALL else TARGETS[name].words
    words.write_text("".join(f'"{_escaped(word)}"\n' for word in known), encoding="ascii")
    run = Run(name, seconds, keep, home, home / "note.json")
    longest = 2 * max(map(len, begin))
    options = [f"-timeout={HANG}", "-rss_limit_mb=6000", f"-max_len={longest}", "-verbosity=0"]
    if known:
        options.append(f"-dict={words}")
    atheris.Setup([sys.argv[0], *options, f"-artifact_prefix={keep}/{name}-", str(corpus)], run.one)
    atheris.Fuzz()


def _escaped(word: bytes) -> str:
    return "".join(f"\\x{sign:02x}" for sign in word)


