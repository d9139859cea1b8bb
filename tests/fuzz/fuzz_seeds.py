"""Small valid logs of every kind, from which the fuzzing starts: made here or taken from the fixtures."""

from __future__ import annotations

import gzip
import io
import struct
import tempfile
import zipfile
from pathlib import Path

import numpy as np

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures" / "recordings"
PARTED = b"\x00==\x00"  # between the files of an input that stands for several

DBC = (
    'VERSION ""\nNS_ :\nBS_:\nBU_: ECU\n'
    'BO_ 291 ENGINE: 8 ECU\n SG_ rpm : 0|16@1+ (0.25,0) [0|0] "rpm" ECU\n'
    ' SG_ boost : 23|12@0- (0.1,-100) [0|0] "kPa" ECU\n SG_ gear : 40|8@1+ (1,0) [0|0] "" ECU\n'
    f'BO_ {0x18FEF100 | 1 << 31} DASH: 8 ECU\n SG_ page M : 0|4@1+ (1,0) [0|0] "" ECU\n'
    ' SG_ air m1 : 8|16@1- (0.5,1) [0|0] "C" ECU\n SG_ load m2 : 32|32@1- (1,0) [0|0] "%" ECU\n'
    'VAL_ 291 gear 0 "Neutral" 255 "Signal_not_available" ;\nSIG_VALTYPE_ 2566844672 load : 1;\n'
    "SG_MUL_VAL_ 2566844672 air page 1-1;\n"
)


def tables() -> list[bytes]:
    """The fixtures' text tables, their first lines."""
    found = []
    for path in sorted([*FIXTURES.glob("*.csv"), *FIXTURES.glob("*.txt")]):
        found.append(path.read_bytes()[:3000].rsplit(b"\n", 1)[0] + b"\n")
    plain = "time s;rpm;boost psi\n0,0;900;-1,5\n0,1;1.200;2,5\n0,2;;\"3,5\"\n0,3;1500;ERR\n"
    return [*found, plain.encode(), plain.encode("utf-16"), plain.encode("utf-16-le")]


def bus_logs() -> list[bytes]:
    """A log and a database, parted by `PARTED`, in the forms that are read."""
    frames = [(0.01 * k, f"123#{k:02X}{k:02X}0A0B0C0D0E0F") for k in range(12)]
    frames += [(0.005 + 0.02 * k, f"18FEF100#{k % 3:02X}11223344556677") for k in range(6)]
    log = "".join(f"({1e9 + t:.6f}) can0 {frame}\n" for t, frame in sorted(frames))
    shown = "".join(f" ({0.01 * k:09.6f})  can0  123   [8]  0{k} 11 22 33 44 55 66 77\n" for k in range(8))
    dated = "".join(f" (2015-07-10 06:17:3{k}.25)  can0  RX - -  123   [2]  0{k} 11   '..'\n" for k in range(8))
    long = "".join(f"({0.01 * k:.2f}) can{k % 2} 123##1{k:02X}{'00' * 63}\n" for k in range(8))
    bare = "".join(f"  can0  123   [8]  0{k} 11 22 33 44 55 66 77\n" for k in range(8))
    return [text.encode() + PARTED + DBC.encode() for text in (log, shown, dated, long, bare)]


def parquets() -> list[bytes]:
    import datetime as dt

    import polars as pl

    start = dt.datetime(2025, 3, 12, 23, 59, 59)
    columns = {
        "time": [start + dt.timedelta(milliseconds=250 * k) for k in range(8)],
        "span": [dt.timedelta(seconds=k) for k in range(8)],
        "rpm": [900 + k for k in range(7)] + [None],
        "boost psi": [0.5 * k for k in range(8)],
        "word": ["1,5", "2,5", "ERR", None] * 2,
        "on": [True, False] * 4,
        "list": [[1]] * 8,
    }
    found = []
    for compression in ("uncompressed", "zstd"):
        stream = io.BytesIO()
        pl.DataFrame(columns).write_parquet(stream, compression=compression, statistics=False)
        found.append(stream.getvalue())
    return found


def sheets() -> list[bytes]:
    """Whole spreadsheets behind a zero byte, and the parts of one behind a one."""
    import datetime as dt

    import xlsxwriter

    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as book:
        sheet, dated = book.add_worksheet("Log"), book.add_format({"num_format": "hh:mm:ss.000"})
        sheet.write_row(0, 0, ["Time", "RPM", "Boost", "Word"])
        sheet.write_row(1, 0, ["s", "rpm", "psi", ""])
        for k in range(6):
            sheet.write_row(k + 2, 1, [900 + k, 0.5 * k, "1,5" if k % 2 else "ERR"])
            sheet.write_datetime(k + 2, 0, dt.datetime(2025, 3, 12, 18, 0, k), dated)
        sheet.merge_range(10, 0, 10, 2, "end")
    whole = stream.getvalue()
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        parts = [archive.read(name) for name in SHEET_PARTS]
    return [b"\x00" + whole, b"\x01" + PARTED.join(parts)]


SHEET_PARTS = ("xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/styles.xml", "xl/workbook.xml")


def sheet_of(parts: bytes) -> bytes:
    """A spreadsheet whose main parts are given: what is compressed cannot be changed byte by byte."""
    given = dict(zip(SHEET_PARTS, parts.split(PARTED), strict=False))
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(_whole_sheet())) as source,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as target,
    ):
        for name in source.namelist():
            target.writestr(name, given.get(name, source.read(name)))
    return stream.getvalue()


_template: list[bytes] = []


def _whole_sheet() -> bytes:
    if not _template:
        _template.append(sheets()[0][1:])
    return _template[0]


def measurements() -> list[bytes]:
    """Measurement files of both versions, and one of raw frames."""
    import asammdf

    time = np.arange(12) * 0.01
    slow = np.arange(4) * 0.03
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for version in ("3.30", "4.10"):
            mdf = asammdf.MDF(version=version)
            mdf.append([asammdf.Signal(np.arange(12.0), time, name="rpm", unit="rpm")])
            words = np.array([b"1.5", b"2.5", b"on ", b"off"])
            numbers = (np.arange(4, dtype=np.uint8), words)
            texts = {"encoding": "utf-8"}
            slows = [asammdf.Signal(n, slow, name=f"c{k}", **(texts if k else {})) for k, n in enumerate(numbers)]
            mdf.append(slows, common_timebase=True)
            path = mdf.save(Path(folder) / f"log{version}.mf4", overwrite=True)
            mdf.close()
            found.append(Path(path).read_bytes())
        found.append(_frames(Path(folder) / "bus.mf4"))
    return found


def _frames(path: Path) -> bytes:
    from can import Message
    from can.io.mf4 import MF4Writer

    writer = MF4Writer(path)
    for k in range(6):
        data = struct.pack("<H", 40 * k) + bytes(6)
        writer.on_message_received(
            Message(timestamp=1e9 + 0.01 * k, arbitration_id=291, is_extended_id=False, data=data, channel=1)
        )
    writer.stop()
    return path.read_bytes()


def packed() -> list[bytes]:
    """A first byte that says how the rest is packed: 0 not at all, 1 gzip, 2 and 3 an archive."""
    table, frames = tables()[0], bus_logs()[0]
    log, database = frames.split(PARTED)
    archive = b"log.csv" + PARTED + log + PARTED + b"car.dbc" + PARTED + database
    whole = [pack(b"\x01" + table), pack(b"\x03" + archive)]
    return [b"\x01" + table, b"\x02log.csv" + PARTED + table, b"\x03" + archive, *(b"\x00" + one for one in whole)]


def pack(data: bytes) -> bytes:
    """What an input of `packed` stands for."""
    how, rest = data[:1], data[1:]
    if how == b"\x01":
        return gzip.compress(rest, 1)
    if how not in (b"\x02", b"\x03"):
        return rest
    stream = io.BytesIO()
    pieces = rest.split(PARTED)
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED if how == b"\x03" else zipfile.ZIP_STORED) as archive:
        for name, content in zip(pieces[0::2], pieces[1::2], strict=False):
            archive.writestr(name.decode("utf-8", "replace").strip("\0/") or "log", content)
    return stream.getvalue()
