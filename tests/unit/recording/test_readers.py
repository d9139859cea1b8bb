"""Whole files of ugly makes, written before they were tried: each read, named and its two pulls found.

All sixteen hold the same invented drive (tests/fixtures/recordings/drive.py). When first tried, the columns
of fifteen were right; a line "Max;6200;..." below the rows was taken for a sample.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from boostproof.recording import find_pulls, read_recording

Array = NDArray[np.float64]
Expected = dict[str, tuple[str, str, str | None]]

_path = Path(__file__).resolve().parents[2] / "fixtures" / "recordings" / "drive.py"
_spec = importlib.util.spec_from_file_location("recordings_drive", _path)
assert _spec is not None and _spec.loader is not None
_drive = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_drive)
D: dict[str, Array] = _drive.drive(20.0, 77)
ROWS = len(D["rpm"])
PSI, INHG = 6.894757, 3.386389


def _num(values: Array, places: int = 2, mark: str = ".") -> list[str]:
    return [f"{value:.{places}f}".replace(".", mark) for value in values]


def _lines(separator: str, *columns: Sequence[str]) -> list[str]:
    return [separator.join(row) for row in zip(*columns, strict=True)]


T, N, TPS = _num(D["time_s"]), _num(D["rpm"], 0), _num(D["throttle_pct"], 1)
CASES: dict[str, tuple[Callable[[], bytes], Expected]] = {}


def _case(name: str, expected: Expected) -> Callable[[Callable[[], bytes]], Callable[[], bytes]]:
    def keep(make: Callable[[], bytes]) -> Callable[[], bytes]:
        CASES[name] = (make, expected)
        return make

    return keep


@_case(
    "utf-16, tabs, German, units row, decimal comma",
    {
        "Zeit": ("time", "s", None),
        "Drehzahl": ("engine_speed", "rpm", None),
        "Ladedruck": ("manifold_pressure", "mbar", "abs"),
        "Drosselklappe": ("throttle", "%", None),
        "Abgastemp.": ("exhaust_temperature_before_turbine", "C", None),
    },
)
def _german() -> bytes:
    head = ["\ufeffZeit\tDrehzahl\tLadedruck\tDrosselklappe\tAbgastemp.", "s\t1/min\tmbar abs\t%\t°C"]
    numbers = (_num(D["map_kpa"] * 10, 1, ","), _num(D["throttle_pct"], 1, ","), _num(D["exhaust_c"], 0))
    return "\r\n".join(head + _lines("\t", _num(D["time_s"], 3, ","), N, *numbers)).encode("utf-16-le")


@_case(
    "preamble, quotes, units row in brackets",
    {
        "Time": ("time", "s", None),
        "Engine Speed": ("engine_speed", "rpm", None),
        "Manifold Pressure": ("manifold_pressure", "bar", "abs"),
        "Throttle": ("throttle", "%", None),
        "Exhaust Back Pressure": ("turbine_inlet_pressure", "bar", "gauge"),
        "Gear": ("gear", "", None),
    },
)
def _preamble() -> bytes:
    head = ["Session;Thursday evening", "Operator;A. Body", "Date;12.03.2025 18:44", "Samples;560", ""]
    head += ['"Time";"Engine Speed";"Manifold Pressure";"Throttle";"Exhaust Back Pressure";"Gear"']
    head += ['"[s]";"[rpm]";"[bar]";"[%]";"[bar]";"[-]"']
    columns = (T, N, _num(D["map_kpa"] / 100, 3), TPS, _num(D["turbine_kpa"] / 100, 3), _num(D["gear"], 0))
    return "\n".join(head + _lines(";", *([f'"{c}"' for c in column] for column in columns))).encode()


@_case(
    "French, minutes and seconds, blanks in thousands",
    {
        "Temps": ("time", "s", None),
        "Régime moteur (tr/min)": ("engine_speed", "rpm", None),
        "Pression de suralimentation (mbar)": ("boost", "mbar", "gauge"),
        "Papillon (%)": ("throttle", "%", None),
        "T° admission (°C)": ("intake_temperature", "C", None),
    },
)
def _french() -> bytes:
    head = ["Temps;Régime moteur (tr/min);Pression de suralimentation (mbar);Papillon (%);T° admission (°C)"]
    clock = [f"{int(t // 60):02d}:{t % 60:06.3f}".replace(".", ",") for t in D["time_s"]]
    speed = [f"{int(value):,}".replace(",", " ") for value in D["rpm"]]
    rest = (
        _num(D["boost_kpa"] * 10, 0),
        _num(D["throttle_pct"], 1, ","),
        _num(D["intake_c"], 1, ","),
    )
    return "\r\n".join(head + _lines(";", clock, speed, *rest)).encode("cp1252")


@_case(
    "Spanish, quoted decimal commas between commas",
    {
        "Tiempo (ms)": ("time", "ms", None),
        "RPM motor": ("engine_speed", "rpm", None),
        "Presión turbo (bar)": ("boost", "bar", "gauge"),
        "Acelerador (%)": ("pedal", "%", None),
        "Lambda": ("lambda", "", None),
    },
)
def _spanish() -> bytes:
    head = ["Tiempo (ms),RPM motor,Presión turbo (bar),Acelerador (%),Lambda"]
    quoted = (D["boost_kpa"] / 100, 3), (D["throttle_pct"], 1), (D["lambda"], 3)
    cells = ([f'"{c}"' for c in _num(values, places, ",")] for values, places in quoted)
    return "\n".join(head + _lines(",", _num(D["time_s"] * 1000, 0), N, *cells)).encode()


@_case(
    "Swedish, bars between, inches of mercury, no throttle",
    {
        "Tid": ("time", "s", None),
        "Varvtal": ("engine_speed", "rpm", None),
        "Laddtryck (inHg)": ("boost", "inHg", "gauge"),
        "Kylvattentemp": ("coolant_temperature", "C", None),
    },
)
def _swedish() -> bytes:
    head = ["# loggat i verkstaden", "Tid|Varvtal|Laddtryck (inHg)|Kylvattentemp"]
    return "\n".join(head + _lines("|", T, N, _num(D["boost_kpa"] / INHG), _num(D["coolant_c"], 1))).encode()


@_case(
    "twice the same header, units in the cells, blank lines, separator at the end",
    {
        "Time": ("time", "s", None),
        "RPM": ("engine_speed", "rpm", None),
        "MAP": ("manifold_pressure", "kPa", "abs"),
        "MAP (2)": ("boost_check", "psi", "abs"),
        "TPS": ("throttle", "%", None),
    },
)
def _doubled() -> bytes:
    kpa = [c + " kPa" for c in _num(D["map_kpa"], 1)]
    psi = [c + " psi" for c in _num(D["map_kpa"] / PSI)]
    rows = _lines(",", T, N, kpa, psi, [c + "%" for c in TPS], [""] * ROWS)
    return "\n\n".join(["Time,RPM,MAP,MAP,TPS,", *rows]).encode()


@_case(
    "date, and a clock that passes noon",
    {
        "Clock time": ("time", "s", None),
        "rpm": ("engine_speed", "rpm", None),
        "boost": ("boost", "psi", "gauge"),
        "tps": ("throttle", "%", None),
    },
)
def _noon() -> bytes:
    clock = []
    for t in D["time_s"] + 43_190.0:
        hour = int(t) // 3600
        half = "AM" if hour < 12 else "PM"
        clock.append(f"{hour % 12 or 12}:{int(t) % 3600 // 60:02d}:{t % 60:06.3f} {half}")
    rows = _lines(",", ["3/12/2025"] * ROWS, clock, N, _num(D["boost_kpa"] / PSI), TPS)
    return "\n".join(["Date,Clock time,rpm,boost,tps", *rows]).encode()


@_case(
    "several rates in one table, header again in the middle",
    {
        "time s": ("time", "s", None),
        "rpm": ("engine_speed", "rpm", None),
        "boost kPa": ("boost", "kPa", "gauge"),
        "throttle %": ("throttle", "%", None),
    },
)
def _rates() -> bytes:
    boost = [c if i % 2 == 0 else "" for i, c in enumerate(_num(D["boost_kpa"], 1))]
    throttle = [c if i % 4 == 0 else "" for i, c in enumerate(TPS)]
    head, rows = "time s;rpm;boost kPa;throttle %", _lines(";", T, N, boost, throttle)
    return "\n".join([head, *rows[:200], head, *rows[200:]]).encode()


@_case(
    "groups over names over units",
    {
        "Time": ("time", "s", None),
        "Speed": ("engine_speed", "rpm", None),
        "MAP": ("manifold_pressure", "kPa", "abs"),
        "Baro": ("barometer", "kPa", "abs"),
        "Pedal": ("pedal", "%", None),
    },
)
def _groups() -> bytes:
    head = [
        "Engine,Engine,Engine,Air,Air,Driver",
        "Time,Speed,Load,MAP,Baro,Pedal",
        "s,rpm,%,kPa,kPa,%",
    ]
    columns = (T, N, _num(D["torque_nm"] / 3, 1), _num(D["map_kpa"], 1), _num(D["baro_kpa"], 1), TPS)
    return "\n".join(head + _lines(",", *columns)).encode()


@_case(
    "row numbers, milliseconds since 1970, thousands of rpm, shares of one",
    {
        "Timestamp": ("time", "ms", None),
        "Engine Speed (krpm)": ("engine_speed", "krpm", None),
        "Throttle": ("throttle", "", None),
        "Boost": ("boost", "bar", "gauge"),
    },
)
def _epoch() -> bytes:
    numbers = [str(i) for i in range(ROWS)]
    since = _num(D["time_s"] * 1000 + 1.7e12, 0)
    columns = (
        _num(D["rpm"] / 1000, 3),
        _num(D["throttle_pct"] / 100, 3),
        _num(D["boost_kpa"] / 100, 3),
    )
    return "\n".join(
        ["#,Timestamp,Engine Speed (krpm),Throttle,Boost", *_lines(",", numbers, since, *columns)]
    ).encode()


@_case(
    "powers of ten, and the mathematician's minus",
    {
        "Time (s)": ("time", "s", None),
        "N (rpm)": ("engine_speed", "rpm", None),
        "Boost (Pa)": ("boost", "Pa", "gauge"),
        "TPS (%)": ("throttle", "%", None),
    },
)
def _powers() -> bytes:
    minus = [c.replace("-", "\u2212") for c in _num(D["boost_kpa"] * 1000, 3)]
    rows = _lines("\t", [f"{x:.4e}" for x in D["time_s"]], [f"{x:.3E}" for x in D["rpm"]], minus, TPS)
    return "\n".join(["Time (s)\tN (rpm)\tBoost (Pa)\tTPS (%)", *rows]).encode()


@_case(
    "columns aligned by blanks, gauge in bar beside absolute in mbar",
    {
        "Time[s]": ("time", "s", None),
        "RPM": ("engine_speed", "rpm", None),
        "Boost[bar]": ("boost", "bar", "gauge"),
        "MAP[mbar]": ("manifold_pressure", "mbar", "abs"),
        "TPS[%]": ("throttle", "%", None),
    },
)
def _aligned() -> bytes:
    columns = (T, N, _num(D["boost_kpa"] / 100, 3), _num(D["map_kpa"] * 10, 0), TPS)
    rows = ["".join(f"{cell:>11}" for cell in row) for row in zip(*columns, strict=True)]
    return "\n".join(["LOG 7", "", " Time[s]   RPM  Boost[bar]  MAP[mbar]  TPS[%]", *rows]).encode()


@_case(
    "words in cells, and sums below the rows",
    {
        "Time": ("time", "s", None),
        "RPM": ("engine_speed", "rpm", None),
        "MAP": ("manifold_pressure", "kPa", "abs"),
        "TPS": ("throttle", "%", None),
    },
)
def _tail() -> bytes:
    rows = _lines(";", T, N, _num(D["map_kpa"], 1), TPS)
    rows[50] = rows[50].rsplit(";", 1)[0] + ";ERR"
    rows[60] = rows[60].split(";")[0] + ";;;"
    tail = ["", "End of file; 560 samples", "Max;9200;298;99", "Average;2700;110;40"]
    return ("\ufeff" + "\r\n".join(["Time;RPM;MAP;TPS", *rows, *tail])).encode()


@_case(
    "short names, no key-on",
    {
        "t": ("time", "s", None),
        "n": ("engine_speed", "rpm", None),
        "p_saug": ("manifold_pressure", "mbar", "abs"),
        "DK": ("throttle", "%", None),
    },
)
def _short() -> bytes:
    running = slice(60, None)
    columns = (
        _num(D["time_s"][running], 2, ","),
        N[running],
        _num(D["map_kpa"][running] * 10, 0),
        _num(D["throttle_pct"][running], 1, ","),
    )
    return "\n".join(["t;n;p_saug;DK", *_lines(";", *columns)]).encode("latin-1")


@_case(
    "utf-16 with a mark, megapascal",
    {
        "Time[sec]": ("time", "s", None),
        "Engine Rev[rpm]": ("engine_speed", "rpm", None),
        "Boost[MPa]": ("boost", "MPa", "gauge"),
        "Throttle[%]": ("throttle", "%", None),
        "Speed[km/h]": ("vehicle_speed", "km/h", None),
    },
)
def _megapascal() -> bytes:
    rows = _lines(",", T, N, _num(D["boost_kpa"] / 1000, 4), TPS, _num(D["speed_kmh"], 1))
    return "\n".join(["Time[sec],Engine Rev[rpm],Boost[MPa],Throttle[%],Speed[km/h]", *rows]).encode("utf-16")


@_case(
    "units behind a dash",
    {
        "Time - s": ("time", "s", None),
        "Engine Speed - rpm": ("engine_speed", "rpm", None),
        "Inlet Pressure - psia": ("manifold_pressure", "psi", "abs"),
        "Throttle - %": ("throttle", "%", None),
        "Charge Pipe - psig": ("compressor_outlet_pressure", "psi", "gauge"),
    },
)
def _dashes() -> bytes:
    head = "Time - s,Engine Speed - rpm,Inlet Pressure - psia,Throttle - %,Charge Pipe - psig"
    pressures = (_num(D["map_kpa"] / PSI), _num(D["compressor_kpa"] / PSI))
    return "\n".join([head, *_lines(",", T, N, pressures[0], TPS, pressures[1])]).encode()


@pytest.mark.parametrize("name", sorted(CASES))
def test_a_file_is_read_and_named_and_its_pulls_found(name: str, tmp_path: Path) -> None:
    make, expected = CASES[name]
    path = tmp_path / "log.csv"
    path.write_bytes(make())
    recording = read_recording(path)
    assert {c.column: (c.name, c.unit, c.reference) for c in recording.channels.values()} == expected
    assert recording.rows == (ROWS - 60 if name == "short names, no key-on" else ROWS)
    assert recording.rate_hz == pytest.approx(20.0, rel=0.01)
    speed = recording.values("engine_speed")
    assert speed is not None and float(np.nanmax(speed)) * 30 / np.pi == pytest.approx(6200, abs=40)
    # Where neither a barometer nor the engine at rest is in the file, 2.7 kPa of the day stay unknown.
    around = 2.9 if name == "short names, no key-on" else 0.0
    peaks = [pull.metrics["peak_kpa_gauge"] for pull in find_pulls(recording)]
    assert [peak is not None and peak.value for peak in peaks] == pytest.approx(
        [96.2, 97.2], abs=0.6 + around
    )


def test_what_sums_a_table_up_is_no_sample_and_is_said(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(_tail())
    recording = read_recording(path)
    assert [f.says for f in recording.findings if f.kind == "other-lines"] == [
        "Lines that are no samples were passed over (3)."
    ]
    assert {c.column: c.lost_cells for c in recording.channels.values()} == {
        "Time": 0, "RPM": 1, "MAP": 1, "TPS": 2,
    }  # fmt: skip
