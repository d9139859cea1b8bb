"""Plain tables of maps: what is read from them, and what is said of one that cannot be. All maps are invented."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path

import numpy as np
import pytest

from boostproof.casefolder.maps import CompressorMap, TurbineMap, read_compressor_map, read_turbine_map
from boostproof.errors import InputError

RPM = np.pi / 30.0
REFERENCE = "# reference 298 K, 100 kPa"
HEADER = "corrected speed (rpm), corrected flow (kg/s), pressure ratio, efficiency (%)"
ROWS = (
    "80000, 0.05, 1.40, 66", "80000, 0.08, 1.36, 72", "80000, 0.11, 1.20, 55",
    "120000, 0.08, 2.05, 68", "120000, 0.12, 1.98, 75", "120000, 0.16, 1.60, 60",
)  # fmt: skip


def write(folder: Path, *lines: str, name: str = "map.csv") -> str:
    (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return name


def compressor(folder: Path, *lines: str) -> CompressorMap:
    return read_compressor_map(folder, write(folder, *lines))


def turbine(folder: Path, *lines: str) -> TurbineMap:
    return read_turbine_map(folder, write(folder, *lines))


def refusal(folder: Path, *lines: str) -> InputError:
    with pytest.raises(InputError) as found:
        compressor(folder, *lines)
    assert found.value.says.endswith(".") and found.value.do.endswith(".")
    return found.value


def test_a_plain_table(tmp_path: Path) -> None:
    found = compressor(tmp_path, REFERENCE, HEADER, *ROWS)
    assert found.findings == ()
    table = found.table
    assert table.corrected_speed == pytest.approx([80e3 * RPM] * 3 + [120e3 * RPM] * 3)
    assert table.corrected_flow.tolist() == [0.05, 0.08, 0.11, 0.08, 0.12, 0.16]
    assert table.pressure_ratio.tolist() == [1.40, 1.36, 1.20, 2.05, 1.98, 1.60]
    assert table.efficiency == pytest.approx([0.66, 0.72, 0.55, 0.68, 0.75, 0.60])
    assert (table.reference.pressure, table.reference.temperature) == (100e3, 298.0)


def test_the_example_of_the_page_can_be_read(repository: Path, tmp_path: Path) -> None:
    page = (repository / "docs" / "formats.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"^ {4}# reference.*\n(?: {4}.*\n)+", page, re.MULTILINE)
    found = compressor(tmp_path, textwrap.dedent(example).rstrip())
    assert found.findings == () and found.table.line_speed.size == 2


@pytest.mark.parametrize(
    ("header", "speed", "flow"),
    [
        ("speed krpm; flow g/s; PR; eta", "80", "50"),
        ("N_corr [rpm]; W_corr flow [lb/min]; pressure ratio; efficiency", "80000", "6.613868"),  # 0.45359237 / 60
        ("rpm; corrected mass flow, kg/h; Pressure Ratio (t/t); isentropic efficiency", "80000", "180"),
    ],
)
def test_units_and_words_of_headers(tmp_path: Path, header: str, speed: str, flow: str) -> None:
    more = [f"{speed}; {float(flow) * k}; {r}; {e}" for k, r, e in ((1.5, 1.36, 0.72), (2.0, 1.2, 0.55))]
    fast = [f"{float(speed) * 1.5}; {float(flow) * k}; {r}; 0.7" for k, r in ((1.5, 2.0), (2.2, 1.9), (3.0, 1.6))]
    table = compressor(tmp_path, REFERENCE, header, f"{speed}; {flow}; 1.40; 0.66", *more, *fast).table
    assert table.corrected_flow[0] == pytest.approx(0.05, rel=1e-6)
    assert table.corrected_speed[0] == pytest.approx(80e3 * RPM)
    assert table.efficiency[0] == pytest.approx(0.66)


def test_decimal_commas_units_row_remarks_and_repeated_headers(tmp_path: Path) -> None:
    rows = [row.replace(", ", ";").replace(".", ",") for row in ROWS]
    table = compressor(
        tmp_path, "# an invented wheel", "# Reference: 302,8 K; 962 mbar", "speed;flow;pressure ratio;efficiency",
        "rpm;kg/s;;%", *rows[:3], "", "# the fast line", "speed;flow;pressure ratio;efficiency", *rows[3:],
    ).table  # fmt: skip
    assert table.corrected_flow.tolist() == [0.05, 0.08, 0.11, 0.08, 0.12, 0.16]
    assert (table.reference.pressure, table.reference.temperature) == (pytest.approx(96.2e3), pytest.approx(302.8))


def test_a_header_behind_a_comment_sign(tmp_path: Path) -> None:
    assert compressor(tmp_path, REFERENCE, f"# {HEADER}", *ROWS).table.line_speed.size == 2


def test_without_a_reference_it_is_taken_and_said(tmp_path: Path) -> None:
    found = compressor(tmp_path, HEADER, *ROWS)
    assert [f.kind for f in found.findings] == ["map-reference"]
    assert "298 K and 100 kPa were taken" in found.findings[0].says
    assert (found.table.reference.pressure, found.table.reference.temperature) == (100e3, 298.0)


def test_per_cent_without_a_sign_and_columns_that_nothing_needs(tmp_path: Path) -> None:
    rows = [f"{row}, 7" for row in ROWS]
    found = compressor(tmp_path, REFERENCE, HEADER.replace(" (%)", "") + ", point", *rows)
    assert [f.kind for f in found.findings] == ["unit-differs", "map-columns"]
    assert "point" in found.findings[1].says
    assert found.table.efficiency[0] == pytest.approx(0.66)


@pytest.mark.published
def test_a_table_as_measured_is_corrected(tmp_path: Path) -> None:
    # SAE J922 (from memory): 0.200 kg/s at 305 K and 97 kPa is 0.20859 kg/s in 298 K and 100 kPa, and its speed is
    # lower by the root of 298/305.
    rows = [row + ", 97.0, 31.85" for row in ROWS[:5]] + ["120000, 0.200, 1.60, 60, 97.0, 31.85"]
    found = compressor(
        tmp_path, "speed rpm, mass flow kg/s, pressure ratio, efficiency %, inlet pressure kPa abs, inlet temperature C",
        *rows,
    )  # fmt: skip
    assert found.table.corrected_flow[-1] == pytest.approx(0.20859, abs=2e-5)
    assert found.table.corrected_speed[-1] == pytest.approx(120e3 * RPM * np.sqrt(298.0 / 305.0))
    assert found.findings == ()
    called = compressor(tmp_path, REFERENCE, f"{HEADER}, inlet pressure kPa, inlet temperature C", *rows).table
    assert called.corrected_flow[-1] == 0.200  # the header calls it corrected already


def test_a_corrected_volume_flow_is_one_of_the_reference_air(tmp_path: Path) -> None:
    # 100 kPa and 298 K: 1.1690 kg/m3 with R = 287.05 J/(kg K).
    table = compressor(tmp_path, REFERENCE, HEADER.replace("kg/s", "m3/s"), *ROWS).table
    assert table.corrected_flow[0] == pytest.approx(0.05 * 100e3 / (287.05 * 298.0), rel=1e-4)


@pytest.mark.parametrize(
    ("row", "says", "line"),
    [
        ("120000, , 1.60, 60", "holds nothing here", 8),
        ("120000, 0.1x6, 1.60, 60", "holds '0.1x6' here", 8),
        ("120000, 160, 1.60, 60", "must lie between 0.0001 and 3", 8),
        ("120000, 0.16, 0.60, 60", "must lie between 1 and 8", 8),
        ("120000, 0.16, 1.60, 160", "must lie between 0 and 0.95", 8),
        ("120000", "holds nothing here", 8),
    ],
)
def test_a_number_that_cannot_be_is_named_with_its_line(tmp_path: Path, row: str, says: str, line: int) -> None:
    error = refusal(tmp_path, REFERENCE, HEADER, *ROWS[:5], row)
    assert says in error.says and error.where == f"map.csv, line {line}"


def test_lines_are_counted_through_blank_ones_and_remarks(tmp_path: Path) -> None:
    error = refusal(tmp_path, REFERENCE, "", HEADER, *ROWS[:3], "", "# fast", *ROWS[3:5], "120000, 9, 1.6, 60")
    assert error.where == "map.csv, line 11"
    twice = refusal(tmp_path, REFERENCE, HEADER, *ROWS, "", "80000, 0.08, 1.35, 71")
    assert "same flow twice" in twice.says and twice.where == "map.csv, lines 4 and 10"


@pytest.mark.parametrize(
    ("header", "says"),
    [
        (HEADER.replace("pressure ratio", "head"), "no column of pressure ratio"),
        (HEADER.replace(" (rpm)", ""), 'header "corrected speed" names no unit of speed'),
        (HEADER.replace("(kg/s)", "(kPa)"), "names no unit of flow"),
        (HEADER.replace("efficiency (%)", "pressure ratio t/s"), "Two columns could be the pressure ratio"),
    ],
)
def test_headers_that_do_not_tell(tmp_path: Path, header: str, says: str) -> None:
    error = refusal(tmp_path, REFERENCE, header, *ROWS)
    assert says in error.says and error.where == "map.csv, line 2"


@pytest.mark.parametrize(
    ("reference", "says"),
    [
        (["# reference 298"], "cannot be read"),
        (["# reference 298 K"], "cannot be read"),
        (["# reference 298 K, 100 psi"], "are the air of no map"),
        (["# reference 298 C, 100 kPa"], "are the air of no map"),
        (["# reference 298 K, 100 kPa", "# reference 288.15 K, 101.325 kPa"], "two references that differ"),
    ],
)
def test_references_that_cannot_be_read(tmp_path: Path, reference: list[str], says: str) -> None:
    error = refusal(tmp_path, *reference, HEADER, *ROWS)
    assert says in error.says and error.where.startswith("map.csv, line")


def test_a_gauge_inlet_pressure_is_refused(tmp_path: Path) -> None:
    header = "speed rpm, flow kg/s, pressure ratio, efficiency %, inlet pressure kPa gauge, inlet temperature C"
    assert "gauge" in refusal(tmp_path, header, *(f"{row}, -3, 20" for row in ROWS)).says


def test_no_table_at_all(tmp_path: Path) -> None:
    assert refusal(tmp_path, "no map yet").kind == "no-numbers"
    assert refusal(tmp_path, "").kind == "empty-file"
    (tmp_path / "map.xlsx").write_bytes(b"PK\x03\x04" + bytes(40))
    with pytest.raises(InputError, match="spreadsheet or an archive"):
        read_compressor_map(tmp_path, "map.xlsx")
    with pytest.raises(InputError, match="cannot be read"):
        read_compressor_map(tmp_path, "missing.csv")
    (tmp_path / "large.csv").write_bytes(b"1," * 2_100_000)
    with pytest.raises(InputError, match="4 MB"):
        read_compressor_map(tmp_path, "large.csv")
    with pytest.raises(InputError, match="at least two speed lines"):
        compressor(tmp_path, REFERENCE, HEADER, *ROWS[:3])


def test_nothing_outside_the_case_is_read(tmp_path: Path) -> None:
    case = tmp_path / "case"
    case.mkdir()
    write(tmp_path, REFERENCE, HEADER, *ROWS, name="other.csv")
    with pytest.raises(InputError, match="outside the case folder"):
        read_compressor_map(case, "../other.csv")
    try:
        (case / "link.csv").symlink_to(tmp_path / "other.csv")
    except OSError:  # a system where links need a right
        return
    with pytest.raises(InputError, match="outside the case folder"):
        read_compressor_map(case, "link.csv")


def test_turbine_flow_parameter(tmp_path: Path) -> None:
    table = turbine(
        tmp_path, "expansion ratio, flow parameter kg sqrt(K)/(s kPa), speed parameter rpm/sqrt(K), efficiency",
        "1.5, 0.017, 3000, 0.66", "2.0, 0.019, 3100, 0.70", "2.5, 0.020, 3200, 0.68",
    ).table  # fmt: skip
    assert table.flow_parameter == pytest.approx([1.7e-5, 1.9e-5, 2.0e-5])
    assert table.speed_parameter == pytest.approx(np.array([3000.0, 3100.0, 3200.0]) * RPM)
    assert table.efficiency is not None and table.efficiency[1] == 0.70


@pytest.mark.parametrize("unit", ["kg√K/(s·kPa)", "kg/s K^0.5/kPa", "kg/s sqrt(K)/kPa"])
def test_turbine_flow_parameter_as_people_write_it(tmp_path: Path, unit: str) -> None:
    rows = ("1.5; 0.017", "2.0; 0.019", "2.5; 0.020")
    found = turbine(tmp_path, f"pressure ratio; flow parameter [{unit}]", *rows)
    assert found.table.flow_parameter == pytest.approx([1.7e-5, 1.9e-5, 2.0e-5]) and found.findings == ()


def test_turbine_corrected_flow(tmp_path: Path) -> None:
    # m sqrt(T) / p: 0.10 kg/s in 288.15 K and 101.325 kPa.
    rows = ("1.5; 0.10", "2.0; 0.115", "2.5; 0.12")
    found = turbine(tmp_path, "# reference 288.15 K, 101.325 kPa", "expansion ratio; corrected flow kg/s", *rows)
    assert found.table.flow_parameter[0] == pytest.approx(0.10 * 288.15**0.5 / 101_325.0)
    assert found.table.efficiency is None and found.findings == ()
    assert [f.kind for f in turbine(tmp_path, "expansion ratio; corrected flow kg/s", *rows).findings] == ["map-reference"]
    with pytest.raises(InputError, match="no column of flow"):
        turbine(tmp_path, "expansion ratio; efficiency", *rows)
    with pytest.raises(InputError, match="one is a parameter"):
        turbine(
            tmp_path, "expansion ratio; flow parameter kg sqrt(K)/(s kPa); speed rpm",
            *(f"{r}; 90000" for r in ("1.5; 0.017", "2.0; 0.019", "2.5; 0.020")),
        )  # fmt: skip
