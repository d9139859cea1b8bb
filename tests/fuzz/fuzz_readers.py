"""Coverage-guided fuzzing of the readers (needs the extra "fuzz": Linux, Python below 3.14).

    python -m tests.fuzz.fuzz_readers --reader csv --seconds 120 --keep found

Starts from small valid logs, changes their bytes wherever that reaches code not reached before, and reads each.
Anything but a consistent table or an InputError is a finding: told once for each place in the code, its input
saved. A crash of a compiled library or a hang ends the run, and libFuzzer saves the input.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import os
import re
import resource
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import atheris

from tests.fuzz import fuzz_seeds as seeds

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
MEMORY = 8 << 30  # bytes of address space; atheris and the libraries reserve much of it
MOST_CELLS = 10_000_000
HANG = 20  # seconds for one small input


@dataclass(frozen=True)
class Target:
    """A reader, the inputs to begin with, and words of its format."""

    read: Callable[[Path, bytes], Any]
    begin: Callable[[], list[bytes]]
    words: tuple[bytes, ...] = ()
    apart: bool = True


def _log(folder: Path, data: bytes) -> Path:
    path = folder / "log"
    path.write_bytes(data)
    return path


def _bus(folder: Path, data: bytes) -> Table:
    log, _, database = data.partition(seeds.PARTED)
    (folder / "car.dbc").write_bytes(database)
    return readers.candump.read_candump(_log(folder, log), [folder / "car.dbc"])


def _sheet(folder: Path, data: bytes) -> Table | None:
    rows = [1, *(int(n) for n in re.findall(rb'[ "A-Z](\d{1,8})[": ]', data))]
    columns = [0, *(len(name) for name in re.findall(rb"([A-Z]+)\d", data))]
    if max(rows) * 26 ** max(columns) > MOST_CELLS:
        return None  # the library keeps every cell between: such a sheet ends the process that reads it
    whole = data[1:] if data[:1] == b"\x00" else seeds.sheet_of(data[1:])
    return readers.spreadsheet.read_spreadsheet(_log(folder, whole))


def _whole(folder: Path, data: bytes) -> Table:
    """A text table all the way to the answer of "inspect"."""
    from boostproof.recording.checks.about_pulls import about_pulls
    from boostproof.recording.pulls.find import find_pulls
    from boostproof.recording.recognise import recognise
    from boostproof.workflows.inspect import Inspection

    table = delimited.read_delimited(_log(folder, data))
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
    "csv": Target(lambda f, d: delimited.read_delimited(_log(f, d)), seeds.tables, _SIGNS, apart=False),
    "candump": Target(_bus, seeds.bus_logs, _BUS),
    "parquet": Target(lambda f, d: readers.parquet.read_parquet(_log(f, d)), seeds.parquets, (b"PAR1",)),
    "xlsx": Target(_sheet, seeds.sheets, _CELLS),
    "mdf": Target(lambda f, d: readers.mdf.read_mdf(_log(f, d), []), seeds.measurements, _BLOCKS),
    "packed": Target(lambda f, d: read_table(_log(f, seeds.pack(d))), seeds.packed, (seeds.PARTED, b"../", b".dbc")),
    "sniff": Target(lambda f, d: read_table(_log(f, d)), _kinds, (b"PK\x03\x04", b"MDF     ", b"PAR1", *_SIGNS)),
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


@dataclass
class Run:
    """Reads one input after the other until the time is over."""

    name: str
    seconds: float
    keep: Path
    folder: Path
    count: int = 0
    tables: int = 0
    found: dict[str, int] = field(default_factory=dict)
    begun: float = field(default_factory=time.monotonic)

    def one(self, data: bytes) -> None:
        """Read one input; ends the process when the time is over."""
        target = TARGETS[self.name]
        self.count += 1
        try:
            table = target.read(self.folder, data)
            if table is not None:
                check_table(table)
                self.tables += 1
        except InputError as error:
            if not (error.says and error.kind and error.where):
                self._keep("an error without words", data, repr(error))
        except MemoryError:
            if not target.apart:  # else the process of its own that it is read in says so
                self._keep("MemoryError", data, traceback.format_exc())
        except KeyboardInterrupt:
            raise
        except BaseException as error:  # a panic of compiled code is no Exception
            self._keep(_place(error), data, traceback.format_exc())
        if time.monotonic() - self.begun > self.seconds:
            self._end()

    def _keep(self, place: str, data: bytes, words: str) -> None:
        self.found[place] = self.found.get(place, 0) + 1
        if self.found[place] > 1:
            return
        self.keep.mkdir(parents=True, exist_ok=True)
        path = self.keep / f"{self.name}-{hashlib.sha256(data).hexdigest()[:12]}"
        path.write_bytes(data)
        print(f"FOUND {place}\n{words}input: {path} ({len(data)} bytes)", flush=True)

    def _end(self) -> None:
        took = time.monotonic() - self.begun
        print(f"{self.name}: {self.count} executions in {took:.0f} s, {self.tables} of them tables; "
              f"{len(self.found)} findings: {self.found or 'none'}", flush=True)  # fmt: skip
        os._exit(1 if self.found else 0)


def _place(error: BaseException) -> str:
    """The error and where in our code it came up: the same fault is told once."""
    ours = [f for f in traceback.extract_tb(error.__traceback__) if "boostproof" in f.filename]
    place = f"{Path(ours[-1].filename).name}:{ours[-1].lineno}" if ours else "check"
    words = str(error)[:60] if isinstance(error, AssertionError | Warning) else ""
    return f"{type(error).__name__} at {place} {words}".strip()


def main(arguments: list[str] | None = None) -> None:
    """Fuzz one reader; the exit code is 1 where something was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.fuzz_readers", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--reader", choices=sorted(TARGETS), required=True)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--keep", type=Path, default=Path("fuzz-found"), help="folder for inputs that were found")
    parser.add_argument("--corpus", type=Path, help="folder in which what reached new code is kept between runs")
    parser.add_argument("--input", type=Path, help="read this one input only, and let its error through")
    options = parser.parse_args(arguments)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    warnings.filterwarnings("error", category=RuntimeWarning)
    with tempfile.TemporaryDirectory(prefix="boostproof-fuzz-", ignore_cleanup_errors=True) as folder:
        home = Path(folder)
        (home / "work").mkdir()
        if options.input is not None:
            check_table(TARGETS[options.reader].read(home / "work", options.input.read_bytes()))
            return
        _fuzz(options, home)


def _fuzz(options: argparse.Namespace, home: Path) -> None:
    target = TARGETS[options.reader]
    corpus = options.corpus or home / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    begin = target.begin()
    for data in begin:
        (corpus / f"seed-{hashlib.sha256(data).hexdigest()[:12]}").write_bytes(data)
    words = home / "words"
    words.write_text("".join(f'"{_escaped(word)}"\n' for word in target.words), encoding="ascii")
    options.keep.mkdir(parents=True, exist_ok=True)
    run = Run(options.reader, options.seconds, options.keep, home / "work")
    longest = 2 * max(map(len, begin))
    atheris.Setup(
        [sys.argv[0], f"-timeout={HANG}", "-rss_limit_mb=6000", f"-max_len={longest}", f"-dict={words}", "-print_final_stats=0",
         "-verbosity=0", f"-artifact_prefix={options.keep}/{options.reader}-", str(corpus)],
        run.one,
    )  # fmt: skip
    atheris.Fuzz()


def _escaped(word: bytes) -> str:
    return "".join(f"\\x{sign:02x}" for sign in word)


if __name__ == "__main__":
    main()
