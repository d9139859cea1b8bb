"""MDF files of versions 3 and 4, written by asammdf itself, read back by us."""

from __future__ import annotations

import struct
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from boostproof.errors import InputError
from boostproof.recording.model import Column, Table
from boostproof.recording.readers import grouped
from boostproof.recording.readers.mdf import read_mdf

FAST, SLOW = np.arange(0.0, 5.0, 0.01), np.arange(0.003, 5.0, 0.1)
RPM = (np.arange(len(FAST)) * 13 % 5000).astype(np.uint16)  # raw: times 0.25, plus 10
BOOST = 80.0 * np.sin(FAST)
GEAR = (np.arange(len(SLOW)) // 20).astype(np.uint8)
TEMPERATURE = (20 + np.arange(len(SLOW)) % 7).astype(np.int16)
INVALID = np.zeros(len(FAST), dtype=bool)
INVALID[[5, 6, 400]] = True


@pytest.fixture(scope="module")
def asammdf() -> Any:
    """Loaded here and not above: it takes two seconds."""
    return pytest.importorskip("asammdf", reason="asammdf needs zstd, which has no wheel for this Python here")


@pytest.fixture
def save(asammdf: Any, tmp_path: Path) -> Callable[..., Path]:
    """Writes groups of signals into a file."""

    def write(groups: Sequence[Sequence[Any]], version: str = "4.11", compression: int = 0) -> Path:
        mdf = asammdf.MDF(version=version)
        for group in groups:
            mdf.append(list(group), common_timebase=True)
        path = mdf.save(tmp_path / "drive.mf4", overwrite=True, compression=compression)
        mdf.close()
        return Path(path)

    return write


def _conversion(parts: dict[str, Any]) -> Any:
    from asammdf.blocks.conversion_utils import from_dict

    return from_dict(parts)


def _signals(asammdf: Any, version: str) -> list[list[Any]]:
    signal = asammdf.Signal
    marked = {"invalidation_bits": INVALID} if version >= "4" else {}
    linear = _conversion({"a": 0.25, "b": 10.0})
    names = _conversion({"val_0": 0, "text_0": b"neutral", "val_1": 1, "text_1": b"first", "val_2": 2, "text_2": b"2"})
    return [
        [
            signal(RPM, FAST, name="Engine Speed", unit="rpm", conversion=linear, **marked),
            signal(BOOST, FAST, name="Boost", unit="kPa"),
        ],
        [
            signal(GEAR, SLOW, name="Gear", conversion=names),
            signal(TEMPERATURE, SLOW, name="Air Temp", unit="°C"),
            signal(np.array([b"on", b"off"] * 25), SLOW, name="remark", encoding="utf-8"),
            signal(np.array([b"1.5 ", b"2.5 "] * 25), SLOW, name="written", encoding="utf-8"),
        ],
    ]


def _column(table: Table, header: str) -> Column:
    return next(column for column in table.columns if column.header == header)


def _kinds(table: Table) -> list[str]:
    return [finding.kind for finding in table.findings]


@pytest.mark.parametrize("compression", [0, 1, 2])
@pytest.mark.parametrize("version", ["3.30", "4.10", "4.11"])
def test_what_was_written_is_read(
    asammdf: Any, save: Callable[..., Path], version: str, compression: int
) -> None:
    path = save(_signals(asammdf, version), version, compression)
    table = read_mdf(path)
    assert (table.kind, table.rows) == ("mdf", len(FAST))
    headers = ["time", "Engine Speed", "Boost", "Gear", "Air Temp", "written"]
    assert [column.header for column in table.columns] == headers
    np.testing.assert_array_equal(table.columns[0].values, FAST)
    speed = RPM * 0.25 + 10.0
    if version >= "4":
        speed[INVALID] = np.nan
    np.testing.assert_array_equal(_column(table, "Engine Speed").values, speed)
    np.testing.assert_array_equal(_column(table, "Boost").values, BOOST)
    assert _column(table, "Engine Speed").lost_cells == (3 if version >= "4" else 0)
    for header, values in (("Gear", GEAR), ("Air Temp", TEMPERATURE), ("written", [1.5, 2.5] * 25)):
        samples = _column(table, header).samples
        assert samples is not None
        np.testing.assert_array_equal(samples.time, SLOW)
        np.testing.assert_array_equal(samples.values, values)
    assert [_column(table, h).unit for h in headers[1:5]] == ["rpm", "kPa", "", "°C"]
    assert _kinds(table) == ["no-number-channels", *(["lost-cells"] if version >= "4" else [])]
    assert "(remark)" in table.findings[0].says


def test_a_text_beside_numbers_is_no_value(asammdf: Any, save: Callable[..., Path]) -> None:
    raw = np.array([100, 101, 254, 255, 102], dtype=np.uint8)
    time = np.arange(5) * 0.01
    numbers = _conversion({"a": 2.0, "b": 1.0})
    mixed = _conversion({"lower_0": 254, "upper_0": 255, "text_0": b"error", "default_addr": numbers})
    names = _conversion({"val_0": 100, "text_0": b"shut", "val_1": 255, "text_1": b"Signal_not_available"})
    table = read_mdf(
        save([[asammdf.Signal(raw, time, name=n, conversion=c) for n, c in (("mixed", mixed), ("switch", names))]])
    )
    np.testing.assert_array_equal(_column(table, "mixed").values, [201, 203, np.nan, np.nan, 205])
    np.testing.assert_array_equal(_column(table, "switch").values, [100, 101, 254, np.nan, 102])


def test_names_that_stand_in_several_groups(asammdf: Any, save: Callable[..., Path]) -> None:
    signal = asammdf.Signal
    table = read_mdf(
        save(
            [
                [signal(np.arange(50.0), SLOW, name="rpm\\XCP:1", unit="rpm")],
                [signal(BOOST, FAST, name="rpm", unit="rpm"), signal(BOOST, FAST, name="boost")],
                [signal(np.arange(50.0), SLOW, name="rpm"), signal(-np.arange(50.0), SLOW, name="rpm")],
            ]
        )
    )
    # The fastest keeps the name; the same samples of the same name are one channel.
    assert [column.header for column in table.columns] == ["time", "rpm (2)", "rpm", "boost", "rpm (3)"]
    samples = _column(table, "rpm (3)").samples
    assert samples is not None and samples.values[-1] == -49.0


def test_channels_over_an_angle_and_tables_are_passed_over(asammdf: Any, save: Callable[..., Path]) -> None:
    signal = asammdf.Signal
    angle = signal(np.arange(720.0), np.arange(720.0), name="pressure", master_metadata=("crank", 2))
    members = np.rec.fromarrays([GEAR, TEMPERATURE], names="inner,other")
    curve = np.rec.fromarrays([np.ones((50, 3))], dtype=np.dtype([("curve", "<f8", (3,))]))
    table = read_mdf(
        save(
            [
                [signal(BOOST, FAST, name="boost")],
                [angle],
                [signal(members, SLOW, name="structure")],
                [signal(curve, SLOW, name="curve")],
            ]
        )
    )
    assert [column.header for column in table.columns] == ["time", "boost", "inner", "other"]
    says = {finding.kind: finding.says for finding in table.findings}
    assert set(says) == {"array-channels", "not-over-time"}
    assert "an angle instead of time" in says["not-over-time"] and "(curve)" in says["array-channels"]


def test_a_file_without_time_keeps_its_rows(asammdf: Any, save: Callable[..., Path]) -> None:
    numbered = asammdf.Signal(BOOST, np.arange(len(BOOST)), name="boost", master_metadata=("count", 4))
    table = read_mdf(save([[numbered]]))
    assert [column.header for column in table.columns] == ["boost"]
    np.testing.assert_array_equal(table.columns[0].values, BOOST)


def test_a_clock_that_counts_from_long_ago_begins_at_zero(asammdf: Any, save: Callable[..., Path]) -> None:
    table = read_mdf(save([[asammdf.Signal(BOOST, FAST + 1.6e9, name="boost")]]))
    assert table.columns[0].values[[0, -1]] == pytest.approx([0.0, FAST[-1]], abs=1e-6)


def test_a_clock_that_steps_back_loses_those_samples(asammdf: Any, save: Callable[..., Path]) -> None:
    time = FAST.copy()
    time[100:103] = 0.5
    table = read_mdf(save([[asammdf.Signal(BOOST, time, name="boost")]]))
    np.testing.assert_array_equal(table.columns[0].values, np.delete(FAST, [100, 101, 102]))
    np.testing.assert_array_equal(_column(table, "boost").values, np.delete(BOOST, [100, 101, 102]))


def test_a_file_that_was_never_finished(asammdf: Any, save: Callable[..., Path]) -> None:
    """As a logger leaves it that lost its power: the counts of samples are not filled in (MDF 4.1, block ID)."""
    path = save([[asammdf.Signal(BOOST, FAST, name="boost")]], "4.10")
    with asammdf.MDF(path) as mdf:
        address = mdf.groups[0].channel_group.address
    data = bytearray(path.read_bytes())
    assert struct.unpack_from("<Q", data, address + 80) == (len(FAST),)
    struct.pack_into("<Q", data, address + 80, 0)
    data[:8] = b"UnFinMF "
    struct.pack_into("<H", data, 60, 1)
    path.write_bytes(data)
    np.testing.assert_array_equal(_column(read_mdf(path), "boost").values, BOOST)


class _Blocks:
    """An MDF 4.10 file block by block, as the standard lays them out."""

    def __init__(self) -> None:
        self.data = bytearray(b"MDF     4.10    by hand " + bytes(4) + struct.pack("<H", 410) + bytes(34))

    def add(self, name: bytes, links: Sequence[int], body: bytes) -> int:
        """Write a block; its address."""
        body += bytes(-len(body) % 8)
        address = len(self.data)
        self.data += struct.pack("<4s4xQQ", b"##" + name, 24 + 8 * len(links) + len(body), len(links))
        self.data += struct.pack(f"<{len(links)}Q", *links) + body
        return address

    def group(self, following: int, record: int, cycles: int, name: str) -> int:
        """A channel group of a clock and one channel, both of eight bytes."""
        address = 0
        for text, sort, sync, offset in ((name, 0, 0, 8), ("t", 2, 1, 0)):
            title = self.add(b"TX", [], text.encode() + b"\0")
            body = struct.pack("<BBBBIIIIBBH6d", sort, sync, 4, 0, offset, 64, 0, 0, 0, 0, 0, *[0.0] * 6)
            address = self.add(b"CN", [address, 0, title, 0, 0, 0, 0, 0], body)
        body = struct.pack("<QQHH4xII", record, cycles, 0, 0, 16, 0)
        return self.add(b"CG", [following, address, 0, 0, 0, 0], body)


def test_records_of_several_groups_in_one_stream(asammdf: Any, tmp_path: Path) -> None:
    """What loggers write that cannot sort while they run: each record begins with its group's number."""
    blocks = _Blocks()
    header = blocks.add(b"HD", [0] * 6, struct.pack("<QhhBBBxdd", 0, 0, 0, 0, 0, 0, 0.0, 0.0))
    history = blocks.add(b"FH", [0, 0], struct.pack("<QhhB3x", 0, 0, 0, 0))
    records = [(time, 1, value) for time, value in zip(FAST, BOOST, strict=True)]
    records += [(time, 2, float(value)) for time, value in zip(SLOW, TEMPERATURE, strict=True)]
    stream = b"".join(struct.pack("<Bdd", which, time, value) for time, which, value in sorted(records))
    data = blocks.add(b"DT", [], stream)
    # The length of a data block is that of its records, without what fills it up.
    struct.pack_into("<Q", blocks.data, data + 8, 24 + len(stream))
    groups = blocks.group(blocks.group(0, 2, len(SLOW), "air"), 1, len(FAST), "boost")
    first = blocks.add(b"DG", [0, groups, data, 0], struct.pack("<B7x", 1))
    struct.pack_into("<QQ", blocks.data, header + 24, first, history)
    path = tmp_path / "unsorted.mf4"
    path.write_bytes(blocks.data)
    table = read_mdf(path)
    np.testing.assert_array_equal(table.columns[0].values, FAST)
    np.testing.assert_array_equal(_column(table, "boost").values, BOOST)
    samples = _column(table, "air").samples
    assert samples is not None
    np.testing.assert_array_equal(samples.time, SLOW)
    np.testing.assert_array_equal(samples.values, TEMPERATURE)


def test_of_too_many_channels_those_with_known_names_are_read(
    asammdf: Any, save: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(grouped, "MOST_CHANNELS", 3)
    names = ["qx1", "qx2", "Engine Speed", "qx3", "Boost Pressure", "qx4"]
    table = read_mdf(save([[asammdf.Signal(BOOST + k, FAST, name=n) for k, n in enumerate(names)]]))
    assert [column.header for column in table.columns] == ["time", "qx1", "Engine Speed", "Boost Pressure"]
    assert table.findings[0].kind == "too-many-channels" and "6 channels; 3" in table.findings[0].says


def test_a_recording_of_days_is_refused(asammdf: Any, save: Callable[..., Path]) -> None:
    time = np.concatenate([FAST, FAST + 9e5])
    with pytest.raises(InputError, match="250 hours") as caught:
        read_mdf(save([[asammdf.Signal(np.tile(BOOST, 2), time, name="boost")]]))
    assert caught.value.kind == "too-long"


DBC = (
    'VERSION ""\nNS_ :\nBS_:\nBU_: ECU\n'
    'BO_ 161 ENGINE: 8 ECU\n SG_ rpm : 0|16@1+ (0.25,0) [0|0] "rpm" ECU\n'
    f'BO_ {0x18FEF100 | 1 << 31} LONG: 12 ECU\n SG_ boost : 87|16@0- (0.01,0) [0|0] "kPa" ECU\n'
)


def _bus_log(path: Path) -> None:
    """Raw frames as python-can stores them, an independent writer."""
    from can import Message
    from can.io.mf4 import MF4Writer

    writer = MF4Writer(path)
    for k in range(100):
        data = struct.pack("<H", 40 * k) + bytes(6)
        writer.on_message_received(
            Message(timestamp=1e9 + 0.01 * k, arbitration_id=161, is_extended_id=False, data=data, channel=1)
        )
        if k % 10 == 0:
            data = bytes(8) if k == 90 else bytes(10) + struct.pack(">h", -100 * k)  # the last is cut off
            writer.on_message_received(
                Message(
                    timestamp=1e9 + 0.01 * k + 0.001,
                    arbitration_id=0x18FEF100,
                    is_fd=True,
                    data=data,
                    channel=1,
                )
            )
    writer.stop()


def test_raw_frames_are_translated_by_the_database_beside(asammdf: Any, tmp_path: Path) -> None:
    path = tmp_path / "bus.mf4"
    _bus_log(path)
    with pytest.raises(InputError) as caught:
        read_mdf(path)
    assert caught.value.kind == "no-dbc"
    (tmp_path / "car.dbc").write_text(DBC)
    table = read_mdf(path)
    np.testing.assert_array_equal(_column(table, "rpm").values, 10.0 * np.arange(100))
    assert table.columns[0].values == pytest.approx(0.01 * np.arange(100), abs=1e-5)
    boost = _column(table, "boost")
    assert boost.samples is not None and boost.lost_cells == 1
    assert boost.samples.values == pytest.approx(-10.0 * np.arange(9))


def test_frames_beside_channels_need_no_database(asammdf: Any, tmp_path: Path) -> None:
    path = tmp_path / "bus.mf4"
    _bus_log(path)
    with asammdf.MDF(path, process_bus_logging=False) as mdf:
        mdf.append([asammdf.Signal(BOOST, FAST, name="boost")])
        mdf.save(tmp_path / "both.mf4")
    table = read_mdf(tmp_path / "both.mf4")
    assert [column.header for column in table.columns] == ["time", "boost"]
    assert _kinds(table) == ["no-dbc"]


def test_what_cannot_be_read_says_what_to_do(asammdf: Any, save: Callable[..., Path], tmp_path: Path) -> None:
    other, nonsense = tmp_path / "other.mf4", tmp_path / "nonsense.mf4"
    other.write_bytes(b"time,rpm\n")
    nonsense.write_bytes(b"MDF     4.10    " + bytes(range(256)) * 4)
    words = asammdf.Signal(np.array([b"on"] * 50), SLOW, name="remark", encoding="utf-8")
    cases = {other: "bad-mdf", nonsense: "bad-mdf", tmp_path / "none.mf4": "no-file", save([[words]]): "no-numbers"}
    for path, kind in cases.items():
        with pytest.raises(InputError) as caught:
            read_mdf(path)
        assert caught.value.kind == kind and caught.value.do


def test_a_file_cut_short_is_read_or_refused_in_plain_words(asammdf: Any, save: Callable[..., Path]) -> None:
    path = save(_signals(asammdf, "4.10"), "4.10", 2)
    data = path.read_bytes()
    for share in (0.1, 0.3, 0.5, 0.7, 0.9):
        path.write_bytes(data[: int(share * len(data))])
        try:
            table = read_mdf(path)
        except InputError as error:
            assert error.kind in ("bad-mdf", "no-numbers") and error.do
        else:
            assert len({len(column.values) for column in table.columns}) == 1


def test_without_the_library_the_extra_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "asammdf", None)
    with pytest.raises(InputError, match=r'pip install "boostproof\[mdf\]"'):
        read_mdf(tmp_path / "drive.mf4")
