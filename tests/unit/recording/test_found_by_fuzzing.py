"""What the fuzzing of the readers found, each in its smallest form."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from boostproof.errors import InputError
from boostproof.recording.checks.about_pulls import about_pulls
from boostproof.recording.model import Table
from boostproof.recording.pulls.find import find_pulls
from boostproof.recording.readers import read_table
from boostproof.recording.readers.spreadsheet import read_spreadsheet
from boostproof.recording.recognise import recognise

NAN = np.nan
HEAD = "time s;rpm;boost psi\n"
DBC = (
    'VERSION ""\nNS_ :\nBS_:\nBU_: ECU\nBO_ 291 E: 8 ECU\n SG_ rpm : 0|16@1+ (1,0) [0|0] "rpm" ECU\n'
)


@pytest.fixture
def bus_library() -> None:
    pytest.importorskip("cantools", reason="the extra [can] is not installed")


def _table(folder: Path, text: str | bytes, dbc: str = DBC) -> Table:
    (folder / "car.dbc").write_text(dbc, encoding="ascii")
    (folder / "log").write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_table(folder / "log")


def _says(table: Table) -> dict[str, str]:
    return {finding.kind: finding.says for finding in table.findings}


def _holds(table: Table, *rows: Sequence[float]) -> None:
    np.testing.assert_array_equal(np.array([column.values for column in table.columns]).T, np.array(rows))


def test_a_first_line_with_two_cells_too_many(tmp_path: Path) -> None:
    table = _table(tmp_path, HEAD + "0;1;2;7;8\n1;2;3\n2;3;4\n3;4;5\n4;5;6\n")
    _holds(table, *([k, k + 1, k + 2] for k in range(5)))
    assert "In 1 of 5 lines" in _says(table)["long-lines"]


def test_cells_too_many_behind_an_empty_one(tmp_path: Path) -> None:
    table = _table(tmp_path, HEAD + "0;1;2\n1;2;3;;9\n2;3;4\n3;4;5\n")
    assert "In 1 of 4 lines" in _says(table)["long-lines"]


@pytest.mark.parametrize("mark", [b"\xef\xbb\xbf", b""])
def test_a_broken_byte_in_utf_8(tmp_path: Path, mark: bytes) -> None:
    """A log cut within a sign, or with a byte that its logger garbled."""
    lines = "Zeit s;rpm;Öl °C;Außen °C;Kühlwasser °C;über °C;Größe °\n".encode() + b"0;1;2;3;4;5;6\n" * 4
    table = _table(tmp_path, mark + lines + b"1;1;2;3;4;5;\xc2")
    assert [column.header for column in table.columns][2:4] == ["Öl °C", "Außen °C"]
    assert table.rows == 5 and table.columns[-1].lost_cells == 1


def test_quotes_below_the_sample(tmp_path: Path) -> None:
    """Engine speeds are quoted from a thousand on, and the first is reached after 400 lines."""
    rows = "".join(f"{k},900,{k}.5\n" for k in range(500)) + '500,"1,250",1.5\n'
    table = _table(tmp_path, "time s,rpm,boost psi\n" + rows)
    assert [column.values[-1] for column in table.columns] == [500.0, 1250.0, 1.5]


def test_two_stray_quotes_swallow_no_lines(tmp_path: Path) -> None:
    rows = [f"{k};{k + 1};{k + 2}" for k in range(8)]
    rows[2], rows[5] = '2;"3;4', '5;6;7"'
    table = _table(tmp_path, HEAD + "\n".join(rows))
    assert table.rows == 8
    np.testing.assert_array_equal(table.columns[0].values, np.arange(8))
    assert [column.lost_cells for column in table.columns] == [0, 1, 1]


def test_a_log_cut_within_a_quoted_cell(tmp_path: Path) -> None:
    """Its other lines keep their decimal commas, and what was cut is no number."""
    table = _table(tmp_path, 'time s,boost psi,rpm\n0,"2,5",3\n1,"2,6",3\n2,"2,7",3\n3,"2,7')
    _holds(table, [0, 2.5, 3], [1, 2.6, 3], [2, 2.7, 3], [3, NAN, NAN])


def test_channels_that_begin_later_lose_no_first_rows(tmp_path: Path) -> None:
    table = _table(tmp_path, HEAD + "0;;\n1;;\n2;3;\n3;4;5\n4;5;6\n5;6;7\n")
    np.testing.assert_array_equal(table.columns[0].values, np.arange(6))


def test_a_moment_without_values_is_no_header(tmp_path: Path) -> None:
    table = _table(tmp_path, HEAD + "0;1;2\n1;ERR;ERR\nERR;ERR;ERR\n3;4;5\n4;5;6\nERR;ERR;ERR\n5;6;7\n6;7;8\n")
    assert [column.header for column in table.columns] == ["time s", "rpm", "boost psi"]
    np.testing.assert_array_equal(table.columns[0].values, [0, 1, 3, 4, 5, 6])
    assert _says(table)["other-lines"] == "Lines that are no samples were passed over (2)."


def test_sums_are_said_beside_repeated_headers(tmp_path: Path) -> None:
    table = _table(tmp_path, HEAD + "0;1;2\n1;2;3\n2;3;4\n" + HEAD + "3;4;5\nMax;4;5\n")
    assert table.rows == 4
    assert set(_says(table)) == {"repeated-header", "other-lines"}


def test_samples_above_the_header_are_said(tmp_path: Path) -> None:
    table = _table(tmp_path, "0;1;2\n1;2;3\n" + HEAD + "3;4;5\n4;5;6\n5;6;7\n")
    assert "(2)" in _says(table)["lines-above"]


def test_numbered_headers_differ_from_written_ones(tmp_path: Path) -> None:
    table = _table(tmp_path, "t;Boost;Boost (2);Boost\n" + "1;2;3;4\n" * 4)
    assert [column.header for column in table.columns] == ["t", "Boost", "Boost (2)", "Boost (3)"]


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("a\tb\n0,25\t0,0\n0,75\t0,0\n1,25\t0,0\n1,75\t-1,0\n", [[0.25, 0], [0.75, 0], [1.25, 0], [1.75, -1]]),
        ("a;b\n0;0\n1;0\n2;0\n3;1 000 000 000\n", [[0, 0], [1, 0], [2, 0], [3, 1e9]]),
        ("a\tb\tc\n" + "0\t0\t1 000\n" * 4, [[0, 0, 1000]] * 4),
        ("a;b;\n0,25;0,0;\n0,75;0,0;\n1,25;0,0;\n1,75;0,0\n2,25;0,0\n", [[0.25 + 0.5 * k, 0] for k in range(5)]),
    ],
)
def test_marks_within_numbers_do_not_part_cells(tmp_path: Path, text: str, rows: list[list[float]]) -> None:
    _holds(_table(tmp_path, text), *rows)


# -- bus logs ------------------------------------------------------------------------------------------------

FRAMES = [f"({1e9 + k / 100:.2f}) can0 123#{k:02X}00000000000000" for k in range(8)]


@pytest.mark.usefixtures("bus_library")
def test_two_broken_lines_do_not_shift_the_bytes_of_all_others(tmp_path: Path) -> None:
    """Each lacks half a byte: in the sum nothing is missing."""
    broken = "(1000000000.00) can0 123#0102030"
    table = _table(tmp_path, "\n".join([*FRAMES[:3], broken, *FRAMES[3:6], broken, *FRAMES[6:]]))
    np.testing.assert_array_equal(table.columns[1].values, np.arange(8))
    assert "(2 of 10)" in _says(table)["other-lines"]


@pytest.mark.usefixtures("bus_library")
def test_frames_of_one_moment_are_said(tmp_path: Path) -> None:
    table = _table(tmp_path, "\n".join([*FRAMES[:4], FRAMES[3].replace("#03", "#09"), *FRAMES[4:]]))
    np.testing.assert_array_equal(table.columns[1].values, np.arange(8))
    assert _says(table)["time-not-rising"].startswith("1 sample was left out")


@pytest.mark.usefixtures("bus_library")
@pytest.mark.parametrize("stamp", ["nan", "inf", "-inf", "1e308", "x"])
def test_a_stamp_that_is_no_time(tmp_path: Path, stamp: str) -> None:
    lines = [FRAMES[0], f"({stamp}) can0 123#0100000000000000", *FRAMES[2:]]
    table = _table(tmp_path, "\n".join(lines))
    assert table.rows == 7 and table.columns[0].values[-1] == pytest.approx(0.07)
    assert {"bad-stamps", "time-not-rising"} <= set(_says(table))


@pytest.mark.usefixtures("bus_library")
def test_a_single_frame_is_no_recording(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no channel with more than one sample"):
        _table(tmp_path, FRAMES[0])


@pytest.mark.usefixtures("bus_library")
def test_a_database_with_numbers_that_no_frame_holds(tmp_path: Path) -> None:
    far = DBC + ' SG_ far : 400000|8@1+ (1,0) [0|0] "" ECU\n' + 'VAL_ 291 rpm 99999999999999999999 "SNA" 3 "SNA" ;\n'
    table = _table(tmp_path, "\n".join(FRAMES), far)
    np.testing.assert_array_equal(table.columns[1].values, [0, 1, 2, NAN, 4, 5, 6, 7])
    assert "(far)" in _says(table)["no-number-channels"]


# -- other kinds and what follows ----------------------------------------------------------------------------


def test_an_archive_of_a_file_without_a_name(tmp_path: Path) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("alog", HEAD + "0;1;2\n" * 5)
    with pytest.raises(InputError):
        _table(tmp_path, stream.getvalue().replace(b"alog", b"\0log"))


def test_what_is_no_archive_is_no_spreadsheet(tmp_path: Path) -> None:
    (tmp_path / "log.xlsx").write_bytes(b"PK\x03\x04")
    with pytest.raises(InputError, match="damaged"):
        read_spreadsheet(tmp_path / "log.xlsx")


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_a_pressure_without_a_number_is_no_sensor(tmp_path: Path) -> None:
    recording = recognise(_table(tmp_path, HEAD + "0;900;ERR\n0,1;1200;ERR\n"))
    assert all(np.isfinite(channel.sure) for channel in recording.channels.values())


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_a_clock_that_mostly_stands(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    rows = "".join(f"{t:.1f};{n:.0f}\n" for t, n in zip(rng.permutation(90) / 10, rng.integers(0, 6000, 90), strict=True))
    recording = recognise(_table(tmp_path, "time s;rpm\n" + rows))
    assert isinstance(about_pulls(recording, find_pulls(recording, part_load=True)), tuple)
