"""Text logs of a CAN bus as the Linux tool candump writes them, translated by .dbc files.

The forms are those of can-utils (candump.c, lib.c: sprint_canframe and sprint_long_canframe): the log form
"(1436509052.249713) can0 123#DEADBEEF" and the screen form "(1436509052.249713)  can0  123   [4]  DE AD BE EF",
with time stamps that are absolute, counted from the start, or from line to line, or without any.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.model import FloatArray, Table
from boostproof.recording.readers.dbc import EXTENDED, read_databases
from boostproof.recording.readers.encoding import decode, find_encoding
from boostproof.recording.readers.frames import Frames, decode_frames
from boostproof.recording.readers.grouped import table_of_groups
from boostproof.recording.readers.limits import open_problem

if TYPE_CHECKING:
    import polars as pl

KIND = "candump"
_HEAD_LINES = 400
_HEAD_BYTES = 65_536
_ERROR = 0x2000_0000  # linux/can.h, CAN_ERR_FLAG
# (time) bus id, with the sign for direction and rate that "candump -x" writes between them.
_HEAD = r"^\s*(?:\([^)]*\)\s+)?\S+\s+(?:[RT]X [-B] [-E]\s+)?[0-9A-Fa-f]{3,8}"
_LOG_LINE = _HEAD + r"#"
_SCREEN_LINE = _HEAD + r"\s+\[\d+\]"
_PAUSE = 600.0  # s; a longer silence of the whole bus is the logger's pause, not the drive's
_AFTER_PAUSE = 10.0  # s, what is left of it
_REWIND = 1.0  # s; smaller steps back are frames of several buses out of order
_LATEST = 1e11  # s; no clock has counted that far
_SECONDS = 1e6  # stamps above are no count from line to line


def read_candump(path: Path, dbc_paths: Sequence[Path]) -> Table:
    """Read a candump log.

    Parameters
    ----------
    path : the log
    dbc_paths : databases, asked in this order

    Returns
    -------
    Table
        One column for each signal, in the unit of the database, each message with its own samples.

    Raises
    ------
    InputError
        If the file cannot be opened, holds no frames, no database is given, or none knows the frames.
    """
    where = path.name
    lines, findings = _read_lines(_text(path), where)
    databases, noticed = read_databases(dbc_paths, where)
    frames, clock = _frames(lines, where)
    groups, decoded = decode_frames(frames, databases, where)
    every = [*findings, *noticed, *clock, *decoded]
    table = table_of_groups(where, KIND, groups, every, by_group=True)
    return table if lines.stamp is not None else _without_clock(table)


def _text(path: Path) -> bytes:
    """The file as UTF-8 with lines that end in "\\n"."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise open_problem(path, error) from error
    encoding = find_encoding(data[:_HEAD_BYTES], path.name)
    if encoding.startswith("utf-16") or b"\r" in data[:_HEAD_BYTES].replace(b"\r\n", b""):
        return decode(data, encoding).encode()
    return data.removeprefix(b"\xef\xbb\xbf")


@dataclass(frozen=True)
class _Lines:
    """Lines that are data frames: stamp (None without stamps), bus, id, bytes as hex text, how many bytes."""

    stamp: pl.Series | None
    bus: pl.Series
    keys: NDArray[np.int64]
    hex: pl.Series
    lengths: NDArray[np.int64]


def _share(lines: pl.Series, pattern: str) -> float:
    return float(lines.str.contains(pattern).sum()) / max(len(lines), 1)


def _read_lines(data: bytes, where: str) -> tuple[_Lines, list[Finding]]:
    """Tell frames from other lines."""
    import polars as pl

    head = pl.Series(data[:_HEAD_BYTES].decode(errors="replace").split("\n")[:_HEAD_LINES], dtype=pl.String)
    log_form = _share(head, _LOG_LINE) >= _share(head, _SCREEN_LINE)
    words = _log_words(data) if log_form else _screen_words(data)
    words = words.with_columns(
        number=pl.col("id").str.to_integer(base=16, strict=False, dtype=pl.Int64).fill_null(-1),
        digits=pl.col("id").str.len_bytes().fill_null(0),
    )
    named = pl.col("number").is_between(0, 0x1FFF_FFFF | _ERROR) & pl.col("digits").is_between(3, 8)
    error, remote = (pl.col("number") & _ERROR) > 0, pl.col("hex").str.starts_with("R").fill_null(False)
    named &= pl.col("bus").is_not_null()
    words = words.with_columns(error=named & error, remote=named & remote & ~error)
    blank = words.select(pl.all_horizontal(pl.col("stamp", "bus", "id", "hex").is_null()).sum()).item()
    lines = words.height - int(blank)
    special = words.filter(pl.col("error") | pl.col("remote"))
    errors = int(special["error"].sum())
    kept = words.filter(named & ~pl.col("error") & ~pl.col("remote") & pl.col("hex").is_not_null())
    kept = _with_bytes(kept)
    if not kept.height:
        raise InputError(
            "No line of this file is a CAN frame in a form that is known.",
            kind="no-frames",
            where=where,
            do="Log with candump -l, or with candump -ta and no further options.",
        )
    timed = kept["stamp"].null_count() < 0.5 * kept.height
    if timed:
        kept = kept.filter(pl.col("stamp").is_not_null())
    # An id of 29 bits is always written with eight digits.
    numbers, long = kept["number"].to_numpy().astype(np.int64), kept["digits"].to_numpy() > 3
    keys = numbers | np.where(long, EXTENDED, 0)
    lengths = kept["count"].to_numpy().astype(np.int64)
    findings = _passed_over(lines - kept.height - special.height, errors, lines, where)
    return _Lines(kept["stamp"] if timed else None, kept["bus"], keys, kept["hex"], lengths), findings


def _cells(data: bytes, separator: str, names: Sequence[str]) -> pl.DataFrame:
    import polars as pl

    return pl.read_csv(
        io.BytesIO(data),
        has_header=False,
        separator=separator,
        quote_char=None,
        schema=dict.fromkeys(names, pl.String),
        encoding="utf8-lossy",
        truncate_ragged_lines=True,
        missing_columns="insert",
        extra_columns="ignore",
        raise_if_empty=False,
    )


def _log_words(data: bytes) -> pl.DataFrame:
    """Columns stamp, bus, id, hex and count (of bytes) of lines in the log form."""
    import polars as pl

    cells = _cells(data, " ", ("stamp", "bus", "frame"))
    halves = cells["frame"].str.splitn("#", 2).struct.unnest()
    hexed = halves["field_1"]
    # "##" and one digit of flags lead the data of CAN FD; "_" and one digit may end those of classic CAN.
    if bool(hexed.str.contains("#", literal=True).any()):
        hexed = hexed.str.replace(r"^#[0-9A-Fa-f]", "")
    if bool(hexed.str.contains("_", literal=True).any()):
        hexed = hexed.str.replace(r"_[0-9A-Fa-f]$", "")
    return pl.DataFrame(
        {
            "stamp": cells["stamp"].str.strip_chars("()"),
            "bus": cells["bus"],
            "id": halves["field_0"],
            "hex": hexed,
        }
    ).with_columns(count=pl.col("hex").str.len_bytes() / 2)


def _screen_words(data: bytes) -> pl.DataFrame:
    """The same of lines in the screen form; the bytes keep the blanks between them."""
    import polars as pl

    lines = _cells(data, "\x01", ("line",))["line"]  # a sign that stands in no text, so a line is one cell
    halves = lines.str.splitn("[", 2).struct.unnest()
    stamped = halves["field_0"].str.strip_chars_start(" \t(").str.splitn(")", 2).struct.unnest()
    timed = stamped["field_1"].is_not_null()
    rest = stamped["field_1"].fill_null(stamped["field_0"]).str.strip_chars(" \t")
    words = rest.str.splitn(" ", 2).struct.unnest()
    ids = words["field_1"].str.strip_chars(" \t")
    if bool(ids.str.contains(" ", literal=True).any()):
        ids = ids.str.extract(r"^(?:[RT]X\s+[-B]\s+[-E]\s+)?([0-9A-Fa-f]+)$", 1)
    tails = halves["field_1"].str.splitn("]", 2).struct.unnest()
    count = tails["field_0"].cast(pl.Int64, strict=False)
    text = tails["field_1"].str.strip_chars(" \t")
    if bool(text.str.starts_with("remote").any()):
        text = text.str.replace(r"^remote.*", "R")
    frame = pl.DataFrame({"stamp": stamped["field_0"], "bus": words["field_0"], "id": ids, "hex": text,
                          "count": count, "timed": timed})  # fmt: skip
    long = pl.col("hex").str.len_bytes() >= 3 * pl.col("count") - 1
    # What follows the bytes is the same in letters.
    shown = pl.col("hex").str.slice(0, (3 * pl.col("count") - 1).clip(0, 191))
    return frame.select(
        pl.when("timed").then("stamp").alias("stamp"),
        "bus",
        "id",
        pl.when(pl.col("hex") == "R").then("hex").when(long).then(shown).alias("hex"),
        "count",
    )


def _with_bytes(words: pl.DataFrame) -> pl.DataFrame:
    """Only the lines whose bytes are bytes, which is nearly always all of them."""
    import polars as pl

    plain = words.with_columns(pl.col("hex").str.replace_all(" ", "", literal=True))
    # Digits are counted line by line: two broken lines could make up for each other in the sum.
    digits = plain["hex"].str.len_bytes()
    if bool(((digits == 2 * plain["count"]) & (digits % 2 == 0)).all()):
        try:
            bytes.fromhex(plain["hex"].str.join("").item() or "")
            return plain
        except ValueError:
            pass
    return plain.filter(pl.col("hex").str.decode("hex", strict=False).bin.size() == pl.col("count"))


def _passed_over(other: int, errors: int, lines: int, where: str) -> list[Finding]:
    findings = []
    if other:
        says = f"Lines that are no CAN frames were passed over ({other} of {lines})."
        findings.append(Finding("other-lines", where, says))
    if errors:
        findings.append(
            Finding(
                "bus-errors",
                where,
                f"The bus reported errors while the log ran ({errors}).",
                "Many point to a loose plug, a wrong bit rate or a missing terminator at the logger.",
            )
        )
    return findings


def _frames(lines: _Lines, where: str) -> tuple[Frames, list[Finding]]:
    """Frames in the order of their times."""
    lengths = lines.lengths
    data = np.frombuffer(bytes.fromhex(lines.hex.str.join("").item() or ""), dtype=np.uint8)
    starts = np.cumsum(lengths) - lengths
    names = lines.bus.unique(maintain_order=True)
    bus = np.zeros(len(lengths), dtype=np.int64)
    if len(names) > 1:
        bus = lines.bus.replace_strict(names, np.arange(len(names))).to_numpy().astype(np.int64)
    findings: list[Finding] = []
    time = np.arange(len(lengths), dtype=np.float64)
    if lines.stamp is not None:
        time = _seconds(lines.stamp, where, findings)
    frames = Frames(time, bus, lines.keys, starts, lengths, data, tuple(names.to_list()))
    if bool(np.all(np.diff(time) >= 0.0)):
        return frames, findings
    order = np.argsort(time, kind="stable")
    sorted_frames = replace(
        frames,
        time=time[order],
        bus=bus[order],
        keys=lines.keys[order],
        starts=starts[order],
        lengths=lengths[order],
    )
    return sorted_frames, findings


def _seconds(text: pl.Series, where: str, findings: list[Finding]) -> FloatArray:
    """Seconds from the first frame on, whatever the stamps count."""
    import polars as pl

    stamps = text.cast(pl.Float64, strict=False)
    if stamps.null_count() > 0.5 * len(stamps):
        moments = text.str.strip_chars(" ").str.to_datetime("%Y-%m-%d %H:%M:%S%.f", strict=False)
        stamps = moments.dt.epoch("us").cast(pl.Float64) / 1e6
    stamps = stamps.set(~(stamps.abs() < _LATEST).fill_null(False), None)
    if stamps.null_count():
        says = f"Time stamps that cannot be read were taken from the line before ({stamps.null_count()})."
        findings.append(Finding("bad-stamps", where, says))
    # A stamp that does not read takes the time of the line before.
    time = stamps.forward_fill().backward_fill().fill_null(0.0).to_numpy().astype(np.float64)
    if _from_line_to_line(time):
        time = np.cumsum(time)
    time = time - time[0]
    steps = np.diff(time)
    back, pause = steps < -_REWIND, steps > _PAUSE
    if not (back.any() or pause.any()):
        return np.asarray(time)
    wanted = np.where(back, _REWIND, np.where(pause, _AFTER_PAUSE, steps))
    if back.any():
        findings.append(
            Finding(
                "time-rewound",
                where,
                f"The clock jumps back ({int(back.sum())} x); what follows is read as a later run, its time "
                "carried on.",
                "Nothing, if the log was started again there.",
            )
        )
    if pause.any():
        says = f"The log rests for more than ten minutes ({int(pause.sum())} x); the pauses were left out."
        findings.append(Finding("pauses", where, says))
    return np.concatenate([[0.0], np.cumsum(wanted)])


def _from_line_to_line(time: FloatArray) -> bool:
    """Stamps that count from the frame before: they go up and down, or are all the same."""
    if len(time) < 3 or time.max() > _SECONDS:
        return False
    falls = float(np.mean(np.diff(time) < 0.0))
    usual = float(np.median(time[1:]))
    return falls > 0.05 or (usual > 0.0 and float(np.mean(time[1:] == usual)) > 0.5)


def _without_clock(table: Table) -> Table:
    """The rows of a log without time stamps keep their order, but no column tells the time."""
    return replace(table, columns=tuple(replace(column, samples=None) for column in table.columns[1:]))
