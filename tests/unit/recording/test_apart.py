"""Files that are not trusted: read by another process, stopped at the limits, and told as if read here."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest
import xlsxwriter

from boostproof.errors import InputError
from boostproof.recording import read_recording
from boostproof.recording.model import Table
from boostproof.recording.readers import apart, read_table
from boostproof.recording.readers.apart import read_table_apart, read_untrusted

HERE = Path(__file__).resolve().parent
CSV = "time s,rpm,boost psi\n" + "\n".join(f"{i / 10:.1f},{1000 + i},{i % 7}.5" for i in range(50))
SPARE = 20.0  # s; a loaded machine starts a process slowly, and a test of limits must not fail for that


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small log, in a folder that also takes all temporary files."""
    monkeypatch.syspath_prepend(str(HERE))
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    path = tmp_path / "log.csv"
    path.write_text(CSV, encoding="utf-8")
    return path


def _same(one: Table, other: Table) -> None:
    assert (one.file, one.kind, one.rows, one.findings) == (other.file, other.kind, other.rows, other.findings)
    for a, b in zip(one.columns, other.columns, strict=True):
        assert (a.header, a.unit, a.lost_cells, a.clock) == (b.header, b.unit, b.lost_cells, b.clock)
        np.testing.assert_array_equal(a.values, b.values)
        assert (a.samples is None) == (b.samples is None)
        if a.samples is not None and b.samples is not None:
            np.testing.assert_array_equal(a.samples.time, b.samples.time)
            np.testing.assert_array_equal(a.samples.values, b.samples.values)


def test_a_log_reads_the_same_apart(log: Path) -> None:
    _same(read_table_apart(log), read_table(log))


def test_nothing_beside_the_log_is_run(log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder of logs may hold a file that is called like a module."""
    (log.parent / "json.py").write_text("open('was here', 'w')\n", encoding="utf-8")
    monkeypatch.chdir(log.parent)
    monkeypatch.setattr(sys, "path", [entry for entry in sys.path if entry])
    assert read_table_apart(log).rows == 50
    assert not (log.parent / "was here").exists()


def test_every_field_comes_back_whatever_a_library_prints(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from odd_readers import talks  # type: ignore[import-not-found]

    told = read_table_apart(log, companions=["a.dbc", Path("b.dbc")], reader="odd_readers:talks")
    monkeypatch.setattr(os, "write", lambda *_: None)
    _same(told, talks(str(log), companions=["a.dbc", "b.dbc"]))


def test_an_error_of_the_reader_arrives_unchanged(log: Path) -> None:
    log.write_text("Dear all, the car is slow.\nIt makes 12 psi, then 8.\n" * 4, encoding="utf-8")
    with pytest.raises(InputError) as here:
        read_table(log)
    with pytest.raises(InputError) as there:
        read_table_apart(log)
    assert there.value.as_dict() == here.value.as_dict()


def test_a_reader_that_never_ends_is_ended(log: Path) -> None:
    start = time.monotonic()
    with pytest.raises(InputError, match="within 3 s") as error:
        read_table_apart(log, seconds=3.0, reader="odd_readers:sleeps")
    assert time.monotonic() - start < 3.0 + SPARE
    assert (error.value.kind, error.value.where) == ("too-slow", "log.csv")
    pid, half = log.with_suffix(".note").read_text(encoding="utf-8").splitlines()
    assert not _alive(int(pid))
    assert not Path(half).exists()
    assert sorted(path.name for path in log.parent.iterdir()) == ["log.csv", "log.note"]


def _alive(pid: int) -> bool:
    if os.name == "nt":  # where os.kill would end it; an open file in the folder shows it instead
        return False
    try:
        os.kill(pid, 0)
    except OSError:
        return False
    return True


@pytest.mark.parametrize(
    ("reader", "kind", "says"),
    [
        ("dies", "unreadable", "broke off"),
        ("raises", "unreadable", "KeyError: 'block 17'"),
        ("none_such", "unreadable", "none_such"),
    ],
)
def test_a_reader_that_breaks_is_told(log: Path, reader: str, kind: str, says: str) -> None:
    with pytest.raises(InputError) as error:
        read_table_apart(log, reader=f"odd_readers:{reader}")
    assert error.value.kind == kind
    assert says in error.value.says
    assert error.value.where == "log.csv" and error.value.do.endswith(".")


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux limits the memory of a process")
def test_a_reader_that_fills_the_memory_is_ended(log: Path) -> None:
    with pytest.raises(InputError, match=r"1\.0 GB of memory") as error:
        read_table_apart(log, memory=1_000_000_000, reader="odd_readers:fills_memory")
    assert error.value.kind == "too-large"


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux shows the limits of another process this way")
def test_processor_time_is_limited_by_the_system_too(log: Path) -> None:
    """Truth: the kernel's own report of the limits."""
    process = _start("odd_readers:sleeps", log)
    try:
        pid = _pid_of_worker(log)
        limits = Path(f"/proc/{pid}/limits").read_text(encoding="ascii").splitlines()
        said = {line[:26].strip(): line[26:].split()[0] for line in limits}
        assert said["Max address space"] == str(apart.MEMORY)
        assert int(said["Max cpu time"]) <= 8 * apart.SECONDS + 2
        assert said["Max core file size"] == "0"
    finally:
        process.kill()
        process.wait()


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="a system without signals")
def test_the_process_ends_with_its_parent(log: Path) -> None:
    process = _start("odd_readers:sleeps", log)
    pid = _pid_of_worker(log)
    process.kill()
    process.wait()
    deadline = time.monotonic() + SPARE
    while _alive(pid) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not _alive(pid)


def _start(reader: str, log: Path) -> subprocess.Popen[bytes]:
    """A script of somebody's, without the guard that `multiprocessing` asks for, that reads a file apart."""
    script = log.with_suffix(".py")
    script.write_text(
        f"import sys; sys.path[:] = {sys.path!r}\n"
        "from boostproof.recording.readers.apart import read_table_apart\n"
        f"print(read_table_apart({str(log)!r}, reader={reader!r}).rows)\n",
        encoding="utf-8",
    )
    return subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE)


def _pid_of_worker(log: Path) -> int:
    note = log.with_suffix(".note")
    deadline = time.monotonic() + SPARE
    while not note.exists() and time.monotonic() < deadline:
        time.sleep(0.05)
    return int(note.read_text(encoding="utf-8").splitlines()[0])


def test_a_plain_script_may_read_apart(log: Path) -> None:
    process = _start("boostproof.recording.readers:read_table", log)
    assert process.communicate(timeout=60)[0].split() == [b"50"]


def test_twelve_million_numbers_come_back_fast(log: Path) -> None:
    """96 MB in less than 0.3 s beyond what a small answer takes; the best of three of each."""

    def best(reader: str) -> float:
        times = []
        for _ in range(3):
            start = time.perf_counter()
            read_table_apart(log, reader=f"odd_readers:{reader}")
            times.append(time.perf_counter() - start)
        return min(times)

    table = read_table_apart(log, reader="odd_readers:large")
    np.testing.assert_array_equal(table.columns[11].values, np.arange(1e6) + 11.0)
    assert best("large") - best("talks") < 0.3 * 3  # thrice for machines with other work


# -- bombs ----------------------------------------------------------------------------------------

_SHEET = '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
_END = "</sheetData></worksheet>"


def _bomb(path: Path, rows: list[tuple[str, int]]) -> Path:
    """A workbook whose sheet is replaced by these texts, each so many times."""
    book = xlsxwriter.Workbook(path)
    book.add_worksheet("Log")
    book.close()
    parts = {}
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            parts[name] = archive.read(name)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, data in parts.items():
            if name != "xl/worksheets/sheet1.xml":
                archive.writestr(name, data)
        with archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sheet:
            for text, times in rows:
                for _ in range(times):
                    sheet.write(text.encode())
    return path


def test_two_cells_at_the_far_ends_of_a_sheet(log: Path) -> None:
    """17 thousand million cells between them."""
    corner = '<row r="1048576"><c r="XFD1048576"><v>2</v></c></row>'
    cells = _SHEET + '<row r="1"><c r="A1"><v>1</v></c></row>' + corner + _END
    path = _bomb(log.with_suffix(".xlsx"), [(cells, 1)])
    assert path.stat().st_size < 10_000
    start = time.monotonic()
    with pytest.raises(InputError) as error:
        read_untrusted(path)
    assert error.value.kind in {"unreadable", "too-large"}
    assert time.monotonic() - start < SPARE


def test_a_giant_sheet_in_a_small_file(log: Path) -> None:
    """Three hundred megabytes of rows in some two, stopped by memory or by time."""
    block = "<row><c><v>1</v></c><c><v>2</v></c><c><v>3</v></c></row>" * 20_000
    path = _bomb(log.with_suffix(".xlsx"), [(_SHEET, 1), (block, 280), (_END, 1)])
    assert path.stat().st_size < 5_000_000
    start = time.monotonic()
    with pytest.raises(InputError) as error:
        read_table_apart(path, seconds=5.0, memory=1_000_000_000)
    assert error.value.kind in {"unreadable", "too-slow"}
    assert time.monotonic() - start < 5.0 + SPARE


def test_a_sheet_that_says_how_large_it_is(log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = _bomb(log.with_suffix(".xlsx"), [(_SHEET, 1), (" " * 1_000_000, 10), (_END, 1)])
    monkeypatch.setattr("boostproof.recording.readers.spreadsheet.MOST_BYTES", 4_000_000)
    with pytest.raises(InputError, match="unpacks to") as error:
        read_table(path)
    assert error.value.kind == "too-large"


# -- which files go apart -------------------------------------------------------------------------


def test_small_text_is_read_here_and_the_rest_apart(log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path, **_: object) -> Table:
        raise RuntimeError(f"apart: {path.name}")

    monkeypatch.setattr(apart, "read_table_apart", refuse)
    assert read_untrusted(log).rows == 50
    assert read_recording(log, apart=True).rows == 50
    frames = log.with_name("bus.csv")
    frames.write_text("(0.1) can0 123#DEADBEEF\n" * 9, encoding="ascii")
    sheet = log.with_name("sheet.csv")
    xlsxwriter.Workbook(sheet).close()
    for other in (frames, sheet):
        with pytest.raises(RuntimeError, match=f"apart: {other.name}"):
            read_untrusted(other)
    monkeypatch.setattr(apart, "SMALL_TEXT", 100)
    with pytest.raises(RuntimeError, match=r"apart: log\.csv"):
        read_recording(log, apart=True)


def test_a_file_that_is_not_there_needs_no_process(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be opened"):
        read_table_apart(tmp_path / "none.csv")


def test_reading_text_loads_no_other_readers(log: Path) -> None:
    """The readers of other formats bring pandas and more: seconds, and a start-up that is felt."""
    code = (
        f"import sys; sys.path[:] = {sys.path!r}\n"
        "import boostproof.cli\n"
        "from boostproof.recording.readers.apart import read_untrusted\n"
        "early = 'polars' in sys.modules\n"
        f"read_untrusted({str(log)!r})\n"
        "heavy = ('python_calamine', 'asammdf', 'pandas', 'cantools', 'can', 'scipy', 'boostproof.recording.pulls')\n"
        "print(early, *[name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.split() == ["False"]
