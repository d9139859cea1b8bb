"""Text logs of a CAN bus: every form of line, every place of a signal, against cantools' own decoding."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boostproof.errors import InputError
from boostproof.recording.model import Column, Table
from boostproof.recording.readers.candump import read_candump
from boostproof.recording.readers.dbc import databases_beside, read_dbc
from boostproof.recording.readers.frames import raw_bits
from boostproof.recording.readers.sniff import sniff

HEAD = 'VERSION ""\nNS_ :\nBS_:\nBU_: ECU\n'
BYTES = "".join(f' SG_ {{0}}{i} : {8 * i}|8@1+ (1,0) [0|0] "" ECU\n' for i in range(8))
PLAIN = (
    HEAD
    + "BO_ 291 ENGINE: 8 ECU\n"
    + BYTES.format("e")
    + f"BO_ {0x18FEF100 | 1 << 31} DASH: 8 ECU\n"
    + BYTES.format("d")
)


@pytest.fixture(scope="module")
def cantools() -> Any:
    """Loaded here and not above: it takes two seconds where asammdf is installed too."""
    import cantools

    return cantools


@pytest.fixture
def folder(tmp_path: Path) -> Callable[..., Path]:
    """Writes a log and databases side by side."""

    def write(log: str | bytes, **databases: str) -> Path:
        for name, text in databases.items():
            (tmp_path / f"{name}.dbc").write_text(text, encoding="cp1252")
        path = tmp_path / "drive.log"
        path.write_bytes(log.encode() if isinstance(log, str) else log)
        return path

    return write


def _read(path: Path) -> Table:
    return read_candump(path, databases_beside(path))


def _column(table: Table, header: str) -> Column:
    return next(column for column in table.columns if column.header == header)


def _samples(table: Table, header: str) -> tuple[list[float], list[float]]:
    """Times and values of a channel as it was sampled."""
    column = _column(table, header)
    if column.samples is None:
        return table.columns[0].values.tolist(), column.values.tolist()
    return column.samples.time.tolist(), column.samples.values.tolist()


def _kinds(table: Table) -> list[str]:
    return [finding.kind for finding in table.findings]


# The same six frames in every form that candump writes (can-utils, candump.c and lib.c).
FRAMES = [(0.0, 0x123, "0102030405060708"), (0.01, 0x18FEF100, "FFEE"), (0.02, 0x123, "1112131415161718"),
          (0.03, 0x123, "2122232425262728"), (0.035, 0x18FEF100, "0A0B"), (0.04, 0x123, "3132333435363738")]  # fmt: skip


def _id(number: int) -> str:
    return f"{number:03X}" if number < 0x800 else f"{number:08X}"


def _blanks(text: str) -> str:
    return " ".join(text[i : i + 2] for i in range(0, len(text), 2))


def _log(stamp: Callable[[float], str], end: str = "") -> str:
    return "".join(f"({stamp(t)}) can0 {_id(i)}#{data}{end}\n" for t, i, data in FRAMES)


def _screen(stamps: Sequence[str], middle: str = "", end: str = "") -> str:
    lines = []
    for text, (_, number, data) in zip(stamps, FRAMES, strict=True):
        shown = f"can0  {middle}{_id(number):>8}   [{len(data) // 2}]  {_blanks(data)}{end}"
        lines.append(f" ({text})  {shown}" if text else f"  {shown}")
    return "\n".join(lines) + "\n"


_AFTER = np.diff([0.0] + [frame[0] for frame in FRAMES])
FORMS = {
    "log": _log(lambda t: f"{1436509052.25 + t:.6f}"),
    "log, direction": _log(lambda t: f"{1436509052.25 + t:.6f}", " R"),
    "log, nanoseconds": _log(lambda t: f"{1436509052 + t:.9f}"),
    "screen, absolute": _screen([f"{1436509052.25 + f[0]:.6f}" for f in FRAMES]),
    "screen, from the start": _screen([f"{f[0]:010.6f}" for f in FRAMES]),
    "screen, from line to line": _screen([f"{step:010.6f}" for step in _AFTER]),
    "screen, date": _screen([f"2015-07-10 06:17:{32 + f[0]:09.6f}" for f in FRAMES]),
    "screen, letters": _screen([f"{f[0]:010.6f}" for f in FRAMES], end="   '..[#1]..'"),
    "screen, direction": _screen([f"{f[0]:010.6f}" for f in FRAMES], middle="RX - -  "),
    "windows line ends": _log(lambda t: f"{1e9 + t:.6f}").replace("\n", "\r\n"),
}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_reads_the_same(form: str, folder: Callable[..., Path]) -> None:
    path = folder(FORMS[form], car=PLAIN)
    assert sniff(path) == "candump"
    table = _read(path)
    for header, number, place in (("e0", 0x123, 0), ("e7", 0x123, 7), ("d1", 0x18FEF100, 1)):
        time, values = _samples(table, header)
        expected = [(t, bytes.fromhex(data)[place]) for t, i, data in FRAMES if i == number]
        assert values == [value for _, value in expected]
        # Where the other message came first, or the clock counts from 1970, times shift or round a little.
        assert time == pytest.approx([t for t, _ in expected], abs=2e-6)
    assert _kinds(table) == ["short-frames", "lost-cells"]  # the second message holds two bytes of eight


def test_forms_as_cantools_reads_them(cantools: Any) -> None:
    """The lines above are candump's: an independent reader takes them for the same frames."""
    for form in ("log", "screen, absolute", "screen, from the start", "screen, date", "screen, letters"):
        read = list(cantools.logreader.Parser(io.StringIO(FORMS[form])))
        assert [(f.frame_id, f.data.hex().upper()) for f in read] == [(i, data) for _, i, data in FRAMES], form


def test_without_stamps_the_rows_keep_their_order(folder: Callable[..., Path]) -> None:
    table = _read(folder(_screen([""] * len(FRAMES)), car=PLAIN))
    assert "time" not in [column.header for column in table.columns]
    assert all(column.samples is None for column in table.columns)
    e0 = _column(table, "e0").values
    assert np.unique(e0[np.isfinite(e0)])[[0, -1]].tolist() == [0x01, 0x31]
    assert np.all(np.diff(e0[np.isfinite(e0)]) > 0.0)


def test_lines_that_are_no_frames_are_counted(folder: Callable[..., Path]) -> None:
    log = "# a remark of somebody, first of all\n" + FORMS["log"] + (
        "(1436509053.000000) can0 123#R\n"  # a request for data, without any
        "(1436509053.000000) can0 123#R8\n"
        "(1436509053.000000) can0 20000004#0000000000000000\n"  # the bus reports an error
        "(1436509053.000000) can0 123#01020\n"
        "(1436509053.000000) can0 123#XY\n"
        "\n"
        "(1436509053.000000) can0\n"
        "(1436509053.000000)  123#0102030405060708\n"  # no bus is named
    )
    table = _read(folder(log, car=PLAIN))
    says = {finding.kind: finding.says for finding in table.findings}
    assert "(5 of 14)" in says["other-lines"]
    assert "(1)" in says["bus-errors"]
    assert _samples(table, "e0")[1] == [0x01, 0x11, 0x21, 0x31]
    screen = FORMS["screen, from the start"] + "  (000.050000)  can0  123   [8]  41 4 24 34 44 54 64 7\n"
    table = _read(folder(screen.replace("21 22 23", "2122  23"), car=PLAIN))
    assert "(1 of 7)" in table.findings[0].says  # the blanks between bytes are not what counts
    assert _samples(table, "e2")[1] == [0x03, 0x13, 0x23, 0x33]


def test_long_frames_and_their_flags(folder: Callable[..., Path]) -> None:
    places = {"first": "0|8", "last": "496|16", "text": "8|400"}
    signals = "".join(f' SG_ {name} : {place}@1+ (1,0) [0|0] "" ECU\n' for name, place in places.items())
    dbc = HEAD + "BO_ 291 LONG: 64 ECU\n" + signals
    data = "".join(f"{i:02X}" for i in range(64))
    lines = [f"({t:.2f}) can0 123##1{data}" for t in (0.0, 0.01, 0.02)]
    lines.append("(0.03) can0 123##0" + data[:24])
    table = _read(folder("\n".join(lines), car=dbc))
    assert _column(table, "first").values.tolist() == [0, 0, 0, 0]
    np.testing.assert_array_equal(_column(table, "last").values, [0x3F3E] * 3 + [np.nan])
    assert "(text)" in table.findings[0].says
    screen = "\n".join(f" ({t:.2f})  can0  123  [64]  {_blanks(data)}" for t in (0.0, 0.01, 0.02))
    assert _column(_read(folder(screen, car=dbc)), "last").values.tolist() == [0x3F3E] * 3


def test_every_place_of_a_signal() -> None:
    """All starts and lengths in eight bytes, against whole-number arithmetic on the message."""
    rng = np.random.default_rng(5)
    payload = rng.integers(0, 256, (8, 6), dtype=np.uint8)
    little = [int.from_bytes(bytes(column), "little") for column in payload.T]
    big = [int.from_bytes(bytes(column), "big") for column in payload.T]
    for first in range(64):
        for length in range(1, 65 - first):
            mask = (1 << length) - 1
            found = raw_bits(payload, first, length, big_endian=False)
            assert found.tolist() == [number >> first & mask for number in little], (first, length)
            start = 8 * (first // 8) + 7 - first % 8  # a DBC names the highest bit, counted within its byte
            found = raw_bits(payload, start, length, big_endian=True)
            assert found.tolist() == [number >> 64 - first - length & mask for number in big], (first, length)


@st.composite
def layouts(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Signals that do not overlap, in the order of their bits, in one byte order or the other."""
    size = draw(st.sampled_from([1, 2, 7, 8, 12, 64]))
    big = draw(st.booleans())
    signals: list[dict[str, Any]] = []
    bit = draw(st.integers(0, 6))
    while len(signals) < 8:
        floating = draw(st.sampled_from([False, False, False, True]))
        length = draw(st.sampled_from([32, 64])) if floating else draw(st.integers(1, 64))
        if bit + length > 8 * size:
            break
        signals.append(
            {
                "name": f"s{len(signals)}",
                "start": 8 * (bit // 8) + 7 - bit % 8 if big else bit,
                "length": length,
                "byte_order": "big_endian" if big else "little_endian",
                "is_signed": not floating and draw(st.booleans()),
                "floating": floating,
                "scale": draw(st.sampled_from([1, 0.25, -0.1, 2, 1e-3])),
                "offset": draw(st.sampled_from([0, -40, 0.5])),
            }
        )
        bit += length + draw(st.integers(0, 5))
    return [{"size": size}, *signals]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(layout=layouts(), extended=st.booleans(), seed=st.integers(0, 2**32 - 1))
def test_signals_as_cantools_decodes_them(
    cantools: Any, folder: Callable[..., Path], layout: list[dict[str, Any]], extended: bool, seed: int
) -> None:
    size, signals = layout[0]["size"], layout[1:]
    if not signals:
        return
    can, conversion = cantools.database.can, cantools.database.conversion.BaseConversion
    made = [
        can.Signal(
            **{k: s[k] for k in ("name", "start", "length", "byte_order", "is_signed")},
            conversion=conversion.factory(s["scale"], s["offset"], None, s["floating"]),
            unit="kPa",
        )
        for s in signals
    ]
    number = 0x1ABCDEF if extended else 0x3A1
    message = can.Message(number, "M", size, made, is_extended_frame=extended, is_fd=size > 8)
    text = can.Database([message]).as_dbc_string()
    data = [bytes(row) for row in np.random.default_rng(seed).integers(0, 256, (12, size), dtype=np.uint8)]
    mark = "##1" if size > 8 else "#"
    width = 8 if extended else 3
    log = "".join(f"({k * 0.01:.2f}) can0 {number:0{width}x}{mark}{d.hex()}\n" for k, d in enumerate(data))
    table = _read(folder(log, car=text))
    oracle = cantools.database.load_string(text, "dbc", strict=False).messages[0]
    expected = [oracle.decode(frame, decode_choices=False) for frame in data]
    for signal in signals:
        found = _column(table, signal["name"])
        wanted = np.array([float(values[signal["name"]]) for values in expected])
        wanted[~np.isfinite(wanted)] = np.nan
        np.testing.assert_allclose(found.values, wanted, rtol=1e-12, err_msg=str(signal))
        assert found.lost_cells == np.isnan(wanted).sum()
        assert found.unit == "kPa"


MUXED = HEAD + (
    "BO_ 100 PAGES: 8 ECU\n"
    ' SG_ page M : 0|4@1+ (1,0) [0|0] "" ECU\n'
    ' SG_ always : 56|8@1+ (1,0) [0|0] "" ECU\n'
    ' SG_ low m0 : 8|16@1- (0.5,1) [0|0] "kPa" ECU\n'
    ' SG_ sub m1M : 8|8@1+ (1,0) [0|0] "" ECU\n'
    ' SG_ deep m2 : 16|16@1+ (1,0) [0|0] "" ECU\n'
    ' SG_ wide m3 : 31|12@0+ (1,0) [0|0] "" ECU\n'
    "SG_MUL_VAL_ 100 low page 0-0;\nSG_MUL_VAL_ 100 sub page 1-1;\n"
    "SG_MUL_VAL_ 100 deep sub 2-2;\nSG_MUL_VAL_ 100 wide page 3-5;\n"
)


def test_switched_signals_as_cantools_decodes_them(cantools: Any, folder: Callable[..., Path]) -> None:
    rng = np.random.default_rng(2)
    data = rng.integers(0, 256, (300, 8), dtype=np.uint8)
    data[:, 0], data[:, 1] = rng.integers(0, 6, 300), rng.integers(1, 4, 300)
    data[data[:, 0] == 2, 0] = 0  # a page that the database does not know is refused by the oracle
    data[data[:, 0] == 1, 1] = 2
    log = "".join(f"({k * 0.01:.2f}) can0 064#{bytes(d).hex()}\n" for k, d in enumerate(data))
    table = _read(folder(log, car=MUXED))
    oracle = cantools.database.load_string(MUXED, "dbc").messages[0]
    decoded = [oracle.decode(bytes(row)) for row in data]
    for name in ("page", "always", "low", "sub", "deep", "wide"):
        expected = [(k * 0.01, d[name]) for k, d in enumerate(decoded) if name in d]
        time, values = _samples(table, name)
        assert len(values) == len(expected) > 20, name
        assert values == [value for _, value in expected], name
        assert time == pytest.approx([t for t, _ in expected]), name


def test_names_that_stand_in_two_messages(folder: Callable[..., Path]) -> None:
    dbc = HEAD + (
        'BO_ 1 DASH: 1 ECU\n SG_ rpm : 0|8@1+ (1,0) [0|0] "rpm" ECU\n'
        'BO_ 2 ENGINE: 1 ECU\n SG_ rpm : 0|8@1+ (1,0) [0|0] "rpm" ECU\n SG_ Time : 0|8@1+ (2,0) [0|0] "" ECU\n'
    )
    log = "".join(f"({k * 0.01:.2f}) can0 002#{k:02X}\n" for k in range(50))
    log += "".join(f"({0.005 + k * 0.1:.3f}) can0 001#{k + 100:02X}\n" for k in range(5))
    table = _read(folder(log, car=dbc))
    assert [column.header for column in table.columns] == ["time", "DASH rpm", "rpm", "ENGINE Time"]
    assert _samples(table, "DASH rpm")[1] == [100, 101, 102, 103, 104]
    assert _samples(table, "rpm")[1] == list(range(50))


def test_each_bus_with_its_own_database(folder: Callable[..., Path]) -> None:
    one = HEAD + 'BO_ 291 A: 2 ECU\n SG_ boost : 0|16@1+ (1,0) [0|0] "kPa" ECU\n'
    two = HEAD + 'BO_ 291 B: 2 ECU\n SG_ rpm : 0|16@1+ (0.5,0) [0|0] "rpm" ECU\n'
    log = "".join(
        f"({k * 0.01:.3f}) can0 123#{k:02X}00\n({k * 0.01 + 0.002:.3f}) can1 123#00{k:02X}\n" for k in range(30)
    )
    table = _read(folder(log, can0=one, can1=two))
    assert _samples(table, "boost")[1] == list(range(30))
    assert _samples(table, "rpm")[1] == [128.0 * k for k in range(30)]
    assert "two-databases" not in _kinds(table)
    for name in ("can0", "can1"):
        (folder(log).parent / f"{name}.dbc").rename(folder(log).parent / f"{name[-1]}.dbc")
    assert "two-databases" in _kinds(_read(folder(log)))


def test_a_value_table_keeps_numbers_but_not_what_is_not_available(folder: Callable[..., Path]) -> None:
    dbc = HEAD + (
        'BO_ 291 A: 2 ECU\n SG_ gear : 0|8@1+ (1,0) [0|0] "" ECU\n SG_ temp : 8|8@1- (1,0) [0|0] "°C" ECU\n'
        'VAL_ 291 gear 0 "Neutral" 1 "First" 255 "Signal_not_available" ;\nVAL_ 291 temp -128 "SNA" ;\n'
    )
    log = "".join(f"({k * 0.01:.2f}) can0 123#{g:02X}{t:02X}\n" for k, (g, t) in enumerate([(0, 20), (1, 128), (255, 255)]))
    table = _read(folder(log, car=dbc))
    np.testing.assert_array_equal(_column(table, "gear").values, [0, 1, np.nan])
    np.testing.assert_array_equal(_column(table, "temp").values, [20, np.nan, -1])
    assert (_column(table, "gear").lost_cells, _column(table, "temp").unit) == (1, "°C")
    assert "2 samples hold no valid number" in table.findings[-1].says


def test_unknown_messages_and_short_frames_are_told(folder: Callable[..., Path]) -> None:
    log = FORMS["log"] + "(1436509052.300000) can0 777#00\n" * 3 + "(1436509052.310000) can0 123#AA\n"
    table = _read(folder(log, car=PLAIN))
    says = {finding.kind: finding.says for finding in table.findings}
    assert says["unknown-messages"].startswith("3 of 10 frames") and "777" in says["unknown-messages"]
    assert "ENGINE 1" in says["short-frames"]
    assert _column(table, "e1").lost_cells == 1 and _column(table, "e0").lost_cells == 0


def test_a_log_that_was_started_again_goes_on(folder: Callable[..., Path]) -> None:
    parts = [(start, k) for start in (5000.0, 20.0, 90_000.0) for k in range(40)]
    log = "".join(f"({start + k * 0.01:.2f}) can0 123#{k:02X}\n" for start, k in parts)
    dbc = HEAD + 'BO_ 291 A: 1 ECU\n SG_ rpm : 0|8@1+ (1,0) [0|0] "rpm" ECU\n'
    table = _read(folder(log, car=dbc))
    time, values = _samples(table, "rpm")
    assert values[:40] == values[40:80] == values[80:120] == list(range(40))
    assert np.all(np.diff(time) > 0.0) and time[-1] < 30.0
    assert {"time-rewound", "pauses"} <= set(_kinds(table))


def test_a_line_out_of_order_finds_its_place(folder: Callable[..., Path]) -> None:
    lines = FORMS["log"].splitlines()
    lines[2], lines[3] = lines[3], lines[2]
    table = _read(folder("\n".join(lines), car=PLAIN))
    assert _samples(table, "e0")[1] == [0x01, 0x11, 0x21, 0x31]


def test_what_cannot_be_read_says_what_to_do(folder: Callable[..., Path]) -> None:
    path = folder(FORMS["log"])
    cases: list[tuple[str, Callable[[], object], str]] = [
        ("no-dbc", lambda: read_candump(path, []), "folder of the log"),
        ("bad-dbc", lambda: _read(folder(FORMS["log"], car="BO_ what: is this")), "Export the database"),
        ("wrong-dbc", lambda: _read(folder(FORMS["log"], car=MUXED)), "belongs to this bus"),
        ("no-frames", lambda: _read(folder("hello\nworld, this is no log\n", car=PLAIN)), "candump -l"),
        ("empty-file", lambda: _read(folder("", car=PLAIN)), "again"),
        ("no-file", lambda: read_candump(path.with_name("none.log"), []), "path"),
        ("no-file", lambda: read_dbc(path.with_name("none.dbc")), "path"),
    ]
    for kind, call, do in cases:
        with pytest.raises(InputError) as caught:
            call()
        assert (caught.value.kind, do in caught.value.do) == (kind, True), caught.value


def test_a_broken_database_beside_a_good_one_is_told(folder: Callable[..., Path]) -> None:
    table = _read(folder(FORMS["log"], bad="BO_ what: is this", car=PLAIN))
    assert _kinds(table)[0] == "bad-dbc" and table.findings[0].where == "bad.dbc"


def test_without_the_library_the_extra_is_named(
    folder: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "cantools.database", None)
    with pytest.raises(InputError, match=r'pip install "boostproof\[can\]"'):
        _read(folder(FORMS["log"], car=PLAIN))


def test_a_text_table_is_no_candump(tmp_path: Path) -> None:
    path = tmp_path / "log.txt"
    path.write_text("time,rpm,boost\n0.0,900,-60\n0.1,905,-61\n", encoding="utf-8")
    assert sniff(path) == "text"
