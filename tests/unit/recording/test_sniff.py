"""Which reader a file gets, by its contents; packed logs; and files that are no log, each told what it is."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import os
import sqlite3
import zipfile
from pathlib import Path

import polars as pl
import pytest
import xlsxwriter

from boostproof.errors import InputError
from boostproof.recording.readers import read_table
from boostproof.recording.readers.sniff import Kind, sniff

CSV = "time s,rpm,boost psi\n" + "\n".join(f"{i / 10:.1f},{1000 + i},{i % 7}.5" for i in range(50))
FRAMES = "".join(f"(1436509052.{i:06d}) can0 1{i % 9}3#DEADBEEF{i % 100:02d}\n" for i in range(40))


def _sheet() -> bytes:
    stream = io.BytesIO()
    xlsxwriter.Workbook(stream, {"in_memory": True}).close()
    return stream.getvalue()


def _parquet() -> bytes:
    stream = io.BytesIO()
    pl.DataFrame({"time": [0.0, 0.1], "rpm": [1000, 1010]}).write_parquet(stream)
    return stream.getvalue()


def _archive(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", method) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (CSV.encode(), "text"),
        (CSV.encode("utf-16"), "text"),
        (b"", "text"),
        (_parquet(), "parquet"),
        (_sheet(), "spreadsheet"),
        (b"MDF     4.10    " + bytes(200), "measurement"),
        (b"UnFinMF 4.10    " + bytes(200), "measurement"),
        (FRAMES.encode(), "candump"),
        (FRAMES.replace("\n", "\r\n").encode(), "candump"),
        (b"  can0  123   [8]  DE AD BE EF 00 11 22 33\n" * 9, "candump"),
        (b" (012.345678)  can0  RX - -  12345678   [2]  DE AD   '..'\n" * 9, "candump"),
        (b"(1.0) can0 123##1DEADBEEF\n(1.1) can0 12345678#R\n(1.2) vcan_0 123#\n", "candump"),
        (b"time 123 [psi] bar\n0.1 2 3 4\n0.2 3 4 5\n", "text"),
        (b"time\tcan0 12#\n0.1\t5\n0.2\t6\n", "text"),
        (b"<time>;<rpm>\n0;1\n", "text"),
        (b"[s],[rpm]\n0,1\n", "text"),
        (gzip.compress(CSV.encode()), "gzip"),
        (_archive({"log.csv": CSV.encode()}), "zip"),
        (_archive({"mimetype": b"application/vnd.oasis.opendocument.spreadsheet", "content.xml": b""}), "spreadsheet"),
    ],
)
@pytest.mark.parametrize("name", ["log.csv", "log.xlsx"])
def test_contents_tell_the_kind_and_names_do_not(tmp_path: Path, content: bytes, kind: Kind, name: str) -> None:
    (tmp_path / name).write_bytes(content)
    assert sniff(tmp_path / name) == kind


def _database(folder: Path) -> bytes:
    connection = sqlite3.connect(folder / "d")
    connection.execute("create table log (time real)")
    connection.commit()
    connection.close()
    return (folder / "d").read_bytes()


@pytest.mark.parametrize(
    ("content", "says", "do"),
    [
        (b"%PDF-1.7\n%\xe2\xe3", "PDF document", "CSV"),
        (b"\x89PNG\r\n\x1a\n" + bytes(50), "picture", "CSV"),
        (b"\xff\xd8\xff\xe0" + bytes(50), "picture", "CSV"),
        (b"\x00\x00\x00\x18ftypisom" + bytes(50), "film", "CSV"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "old office file", ".xlsx"),
        (b"<html><body><table><tr><td>1</td></tr></table></body></html>", "web page", ".xlsx"),
        (b"\xef\xbb\xbf\r\n<!DOCTYPE html>\n<html>", "web page", ".xlsx"),
        ("<html><table>".encode("utf-16"), "web page", ".xlsx"),
        (b'<?xml version="1.0"?>\n<Workbook xmlns="urn:x">', "spreadsheet in an old text form", ".xlsx"),
        (b'<?xml version="1.0"?>\n<gpx>', "marked-up text", "CSV"),
        (b'{"log": [1, 2, 3]}', "nested records", "CSV"),
        (bz2.compress(CSV.encode()), "compressed", "Unpack"),
        (lzma.compress(CSV.encode()), "compressed", "Unpack"),
        (b"7z\xbc\xaf\x27\x1c" + bytes(50), "archive", "Unpack"),
        (bytes(range(256)) * 30, "binary file", "CSV"),
        (_archive({"word/document.xml": b"<w/>"}), "text document", "CSV"),
        (_archive({"ppt/slides/slide1.xml": b"<p/>"}), "slides", "CSV"),
        (_sheet()[:900], "damaged", "again"),
        (gzip.compress(CSV.encode())[:80], "damaged", "again"),
        (gzip.compress(CSV.encode())[:-8] + bytes(8), "damaged", "again"),
        (gzip.compress(b"%PDF-1.7"), "PDF document", "CSV"),
        (gzip.compress(gzip.compress(CSV.encode())), "packed twice", "Unpack"),
        (_archive({"a.csv": b"1", "b.csv": b"2"}), "2 files (a.csv, b.csv)", "Unpack"),
        (_archive({}), "empty", "again"),
        (_archive({"__MACOSX/._log.csv": b"1", ".hidden": b"2"}), "empty", "again"),
    ],
)
def test_what_is_no_log_is_told_in_one_sentence(tmp_path: Path, content: bytes, says: str, do: str) -> None:
    path = tmp_path / "log.xls"
    path.write_bytes(content)
    with pytest.raises(InputError) as error:
        read_table(path)
    assert says in error.value.says and do in error.value.do
    assert error.value.says.count(".") - error.value.says.count(".csv") == 1
    assert error.value.where.startswith("log.xls")


def test_a_database_a_folder_and_a_device(tmp_path: Path) -> None:
    log = tmp_path / "log.db"
    log.write_bytes(_database(tmp_path))
    with pytest.raises(InputError, match="a database"):
        read_table(log)
    with pytest.raises(InputError, match="a folder"):
        read_table(tmp_path)
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")  # opening it would wait for ever
        with pytest.raises(InputError, match="a device"):
            read_table(tmp_path / "pipe")


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("log.csv.gz", gzip.compress(CSV.encode())),
        ("log.gz", gzip.compress(CSV[:200].encode()) + gzip.compress(CSV[200:].encode())),
        ("log.zip", _archive({"../../over there/my log.csv": CSV.encode()})),
        ("log.zip", _archive({"folder/log.csv": CSV.encode(), "folder/": b"", "__MACOSX/._log.csv": b"\x00"})),
        ("log.zip", _archive({"log.csv": CSV.encode()}, zipfile.ZIP_LZMA)),
        ("log.zip", _archive({"log.parquet.gz..": _parquet()})),
    ],
)
def test_a_packed_log_is_read_and_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, content: bytes
) -> None:
    temporary = tmp_path / "t"
    temporary.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(temporary))
    (tmp_path / name).write_bytes(content)
    table = read_table(tmp_path / name)
    assert table.file == name
    assert table.rows == (50 if table.kind == "csv" else 2)
    assert not list(temporary.iterdir())
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([name, "t"])


def test_findings_and_errors_name_the_packed_file(tmp_path: Path) -> None:
    path = tmp_path / "drive.csv.gz"
    path.write_bytes(gzip.compress((CSV + "\ntime s,afr,egt C\n" + CSV).encode()))
    assert [f.where for f in read_table(path).findings] == ["drive.csv.gz: line 52"]
    path.write_bytes(gzip.compress(CSV.split("\n", 1)[1].encode()))
    with pytest.raises(InputError) as error:
        read_table(path)
    assert error.value.where == "drive.csv.gz: line 1"


def test_a_packed_bomb_is_unpacked_no_further_than_the_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("boostproof.recording.readers.packed.MOST_BYTES", 3 << 20)
    (tmp_path / "b.gz").write_bytes(gzip.compress(bytes(8 << 20)))
    (tmp_path / "b.zip").write_bytes(_archive({"log.csv": bytes(8 << 20)}))
    for name in ("b.gz", "b.zip"):
        with pytest.raises(InputError, match="unpacks to more than") as error:
            read_table(tmp_path / name)
        assert error.value.kind == "too-large"


def test_an_archive_with_a_password(tmp_path: Path) -> None:
    data = bytearray(_archive({"log.csv": CSV.encode()}, zipfile.ZIP_STORED))
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):  # APPNOTE.TXT 4.4.4: bit 0 is "encrypted"
        data[data.index(mark) + offset] |= 1
    (tmp_path / "log.zip").write_bytes(data)
    with pytest.raises(InputError, match="password"):
        read_table(tmp_path / "log.zip")


@pytest.mark.parametrize("rows", [3, 4])
def test_more_numbers_than_are_held(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    monkeypatch.setattr("boostproof.recording.readers.limits.MOST_NUMBERS", 9)
    path = tmp_path / "log"
    lines = [f"{i},{1000 + i},{i}.5\n" for i in range(rows)]
    columns = {name: [float(i) for i in range(rows)] for name in "abc"}
    for write in (
        lambda: path.write_text("time s,rpm,boost psi\n" + "".join(lines), encoding="utf-8"),
        lambda: pl.DataFrame(columns).write_parquet(path),
        lambda: pl.DataFrame(columns).write_excel(path),
    ):
        write()
        if rows == 3:
            assert read_table(path).rows == 3
            continue
        with pytest.raises(InputError, match="4 rows and 3 columns") as error:
            read_table(path)
        assert error.value.kind == "too-large"
