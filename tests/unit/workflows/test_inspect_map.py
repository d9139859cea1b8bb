"""inspect with a compressor map: the answer, the text, the findings and the picture. Car, log and map are invented."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.path import Path as Outline
from tests.unit.recording.drawn_pulls import drawn_pull
from tests.unit.workflows.test_compare import CAR, _log

from boostproof.cli import main
from boostproof.errors import InputError
from boostproof.physics.compressor_table import CompressorTable, operating_point
from boostproof.physics.corrected import SAE_J1826
from boostproof.recording import Barometer, Metric
from boostproof.recording.pulls.air_flow import Doubtful, OperatingLine, operating_line
from boostproof.recording.pulls.on_map import OnMap, place_on_map
from boostproof.report.compressor_figure import band_pieces
from boostproof.workflows.answers import schemas
from boostproof.workflows.inspect import Inspection, inspect
from boostproof.workflows.inspect_figure import draw_inspection, write_figure

LINES = (40e3, 60e3, 80e3, 100e3, 120e3, 140e3, 160e3)  # rpm, corrected


def a_map(*, surge: float = 0.40, size: float = 1.0) -> str:
    """Seven parabolas: choke flow and pressure rise grow as speed and its square."""
    rows = ["# reference 298 K, 100 kPa", "speed rpm, flow kg/s, pressure ratio, efficiency %"]
    for speed in LINES:
        n = speed / 160e3
        for share in np.linspace(surge, 1.0, 6):
            way = (share - surge) / (1.0 - surge)
            ratio = 1.0 + 2.6 * n**1.9 * (1.0 - 0.55 * way**2)
            rows.append(f"{speed:.0f}, {0.30 * size * n * share:.5f}, {ratio:.4f}, {78.0 - 60.0 * (way - 0.4) ** 2:.2f}")
    return "\n".join(rows) + "\n"


def a_case(folder: Path, table: str, *, turbine: str | None = None) -> Path:
    (folder / "recordings").mkdir()
    (folder / "maps").mkdir()
    turbo = '[turbo]\ncompressor_map = "maps/compressor.csv"\n'
    if turbine is not None:
        turbo += 'turbine_map = "maps/turbine.csv"\n'
        (folder / "maps" / "turbine.csv").write_text(turbine, encoding="utf-8")
    (folder / "car.toml").write_text(CAR + turbo, encoding="utf-8")
    (folder / "maps" / "compressor.csv").write_text(table, encoding="utf-8")
    _log(folder / "recordings" / "log.csv", range(1, 3))
    return folder


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return a_case(tmp_path_factory.mktemp("map"), a_map())


@pytest.fixture(scope="module")
def result(case: Path) -> Inspection:
    return inspect(case / "recordings" / "log.csv", case=case)


def answer_of(result: Inspection) -> dict[str, Any]:
    answer: dict[str, Any] = json.loads(json.dumps(result.as_json(), allow_nan=False))
    jsonschema.validate(answer, schemas()["inspect-answer"])
    return answer


def kinds(result: Inspection) -> set[str]:
    return {f.kind for f in result.findings} & {"near-surge", "beyond-the-map", "map-reference"}


def test_the_answer_tells_where_the_compressor_works(result: Inspection) -> None:
    line = answer_of(result)["air"][0]["operating_line"]
    on_map, table = line["on_map"], result.figures.compressor
    assert table is not None
    told = 0
    for i, (ratio, flow) in enumerate(zip(line["pressure_ratio"], line["corrected_flow_kg_s"], strict=True)):
        if on_map["efficiency"][i] is None:
            continue
        one = operating_point(table, ratio, flow)
        assert on_map["efficiency"][i] == pytest.approx(one.efficiency, abs=1e-5)
        assert on_map["corrected_shaft_speed_rpm"][i] == pytest.approx(one.corrected_speed * 30.0 / np.pi, rel=1e-5)
        assert on_map["surge_margin"][i] == pytest.approx(one.surge_margin, abs=1e-4)
        assert on_map["choke_margin"][i] == pytest.approx(one.choke_margin, abs=1e-5)
        told += 1
    assert told > 30
    nearest = on_map["nearest_surge"]
    at = line["rpm"].index(nearest["rpm"])
    assert nearest["value"] == min(v for v in on_map["surge_margin"] if v is not None) == on_map["surge_margin"][at]
    assert nearest["sd"] == on_map["surge_margin_sd"][at] > 0.0
    assert on_map["efficiency_at_end"]["value"] == on_map["efficiency"][-1]
    # Warmer air than the map's: the shaft turns faster than the corrected speed, by the root of both temperatures.
    assert on_map["shaft_speed_rpm"][-1] / on_map["corrected_shaft_speed_rpm"][-1] == pytest.approx(
        np.sqrt((293.15 + 4.0) / 298.0), rel=1e-6
    )


def test_the_text_says_it_in_a_line(case: Path, result: Inspection, capsys: pytest.CaptureFixture[str]) -> None:
    on_map = answer_of(result)["air"][0]["operating_line"]["on_map"]
    assert main(["inspect", str(case / "recordings" / "log.csv"), "--case", str(case)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    surge, end = on_map["nearest_surge"], on_map["efficiency_at_end"]
    assert f"nearest to surge {100 * surge['value']:.0f} ± {200 * surge['sd']:.0f} % at {surge['rpm']:,.0f} rpm" in said
    assert f"{100 * end['value']:.0f} ± {200 * end['sd']:.0f} % efficiency at the end" in said


def test_without_a_map_nothing_is_said_of_it(tmp_path: Path) -> None:
    folder = a_case(tmp_path, a_map())
    (folder / "car.toml").write_text(CAR, encoding="utf-8")
    found = inspect(folder / "recordings" / "log.csv", case=folder)
    assert answer_of(found)["air"][0]["operating_line"]["on_map"] is None
    assert found.figures.compressor is None and not kinds(found)


def test_near_surge_is_said_once(tmp_path: Path) -> None:
    found = inspect((folder := a_case(tmp_path, a_map(surge=0.62))) / "recordings" / "log.csv", case=folder)
    (said,) = [f for f in found.findings if f.kind == "near-surge"]
    assert "left of" in said.says and "1 more pull" in said.says and said.do
    assert said.where.startswith("log.csv, ")
    assert kinds(found) == {"near-surge"}


def test_a_compressor_too_small_is_beyond_its_map(tmp_path: Path) -> None:
    found = inspect((folder := a_case(tmp_path, a_map(size=0.5))) / "recordings" / "log.csv", case=folder)
    assert kinds(found) == {"beyond-the-map"}
    (said,) = [f for f in found.findings if f.kind == "beyond-the-map"]
    assert "The compressor works" in said.says and "to 6,300 rpm" in said.says
    stretches = answer_of(found)["air"][0]["operating_line"]["on_map"]["outside"]
    assert stretches[-1]["rpm_to"] == 6300.0 and stretches[-1]["side"].startswith(("beyond", "above"))
    _, compressor = draw_inspection(found, Figure(figsize=(14.0, 5.8), layout="constrained"))
    assert compressor.get_title(loc="left").startswith("Compressor: beyond the map from 4,")


def test_a_line_well_inside_its_map_raises_nothing(tmp_path: Path) -> None:
    found = inspect((folder := a_case(tmp_path, a_map(surge=0.2, size=1.1))) / "recordings" / "log.csv", case=folder)
    assert not kinds(found)


def test_a_map_that_cannot_be_read_is_an_error_with_its_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = a_case(tmp_path, a_map().replace("160000, ", "160000, oops", 1))
    assert main(["inspect", str(folder / "recordings" / "log.csv"), "--case", str(folder), "--json"]) == 1
    error = json.loads(capsys.readouterr().out)["error"]
    assert error["kind"] == "map-value" and error["where"] == "maps/compressor.csv, line 39"


def test_a_turbine_map_is_looked_through(tmp_path: Path) -> None:
    rows = "1.5, 0.017\n2.0, {}\n2.5, 0.020\n"
    folder = a_case(tmp_path, a_map(), turbine="expansion ratio, flow parameter kg sqrt(K)/(s kPa)\n" + rows.format("x"))
    with pytest.raises(InputError, match="holds 'x' here"):
        inspect(folder / "recordings" / "log.csv", case=folder)


def test_the_reference_of_the_map_moves_the_flow(tmp_path: Path, result: Inspection) -> None:
    # 302.8 K and 96.2 kPa read 0.954 times 298 K and 100 kPa (older maps, SAE J922; from memory).
    older = a_map().replace("298 K, 100 kPa", "302.8 K, 96.2 kPa")
    found = inspect((folder := a_case(tmp_path, older)) / "recordings" / "log.csv", case=folder)
    flows = [
        np.array(answer_of(r)["air"][0]["operating_line"]["corrected_flow_kg_s"]) for r in (found, result)
    ]
    assert flows[0] / flows[1] == pytest.approx(0.954, abs=5e-4)


# An invented wheel of two lines, on which a step in flow or pressure ratio can be reckoned by hand.
TABLE = CompressorTable(
    np.array([8000.0] * 3 + [12000.0] * 3), np.array([0.05, 0.08, 0.11, 0.08, 0.12, 0.16]),
    np.array([1.40, 1.36, 1.20, 2.05, 1.98, 1.60]), np.array([0.66, 0.72, 0.55, 0.68, 0.75, 0.60]), SAE_J1826,
)  # fmt: skip


def placed(ratio: float, flow: float, ratio_sd: float = 0.0, flow_sd: float = 0.0) -> OnMap:
    one = np.ones(2)
    return place_on_map(
        np.array([3000.0, 3100.0]), Doubtful(ratio * one, ratio_sd * one), Doubtful(flow * one, flow_sd * one),
        Metric(298.0, 0.0), TABLE,
    )  # fmt: skip


@pytest.mark.parametrize(("ratio", "flow"), [(1.67, 0.10), (1.60, 0.11), (1.75, 0.09)])
def test_the_doubt_is_that_of_points_drawn_about_the_line(ratio: float, flow: float) -> None:
    # Steps of one sd against three hundred points of the one-point search: how far they are from the line's own.
    rng = np.random.default_rng(5)
    drawn = [
        operating_point(TABLE, pi, w)
        for pi, w in zip(rng.normal(ratio, 0.01, 300), rng.normal(flow, 0.001, 300), strict=True)
    ]
    middle, line = operating_point(TABLE, ratio, flow), placed(ratio, flow, 0.01, 0.001)
    for name, sd in (
        ("efficiency", line.efficiency_sd), ("surge_margin", line.surge_margin_sd),
        ("choke_margin", line.choke_margin_sd), ("corrected_speed", line.speed_sd),
    ):  # fmt: skip
        off = np.array([getattr(p, name) for p in drawn]) - getattr(middle, name)
        # The first point is a kink at the top of efficiency, where both steps and their sum lead down.
        rel = 0.3 if name == "efficiency" and flow == 0.10 else 0.15
        assert sd[0] == pytest.approx(np.sqrt(np.mean(off**2)), rel=rel), name


def test_a_point_is_near_surge_only_within_twice_its_doubt() -> None:
    # Margin 0.59 at 0.10 kg/s; halfway between the lines surge lies at 0.065 kg/s.
    assert not placed(1.67, 0.10, 0.0, 0.010).surge_near.any()
    assert placed(1.67, 0.10, 0.0, 0.020).surge_near.all()
    assert placed(1.72, 0.10, 0.0, 0.020).findings("x")[0].kind == "near-surge"
    assert placed(1.72, 0.06).findings("x")[0].says.startswith("The compressor works left of the surge line")
    assert placed(1.72, 0.06).outside[0] == (3000.0, "left of the surge line")
    assert [f.kind for f in placed(1.40, 0.118, 0.0, 0.010).findings("x")] == ["beyond-the-map"]
    assert not placed(1.67, 0.10, 0.001, 0.001).findings("x")


def test_below_the_slowest_line_is_no_finding() -> None:
    line = placed(1.05, 0.03, 0.001, 0.001)
    assert line.outside == ((3000.0, "below the slowest speed line"), (3100.0, "below the slowest speed line"))
    assert not line.findings("x") and line.nearest("surge_margin") is None and line.efficiency_at_end() is None
    answer = line.as_json()
    assert answer["nearest_surge"] is None and answer["efficiency"] == [None, None]


def a_line(table: CompressorTable | None = None) -> OperatingLine:
    pull = drawn_pull(
        np.random.default_rng(1), barometer=Barometer(100e3, 0.0, "given"), more={"air_flow": np.full(176, 0.1)}
    )
    return operating_line(pull, displacement=Metric(2e-3, 0.0), table=table)


def test_the_band_is_what_the_ellipses_cover() -> None:
    # A straight line of equal ellipses, half axes 2 and 1: a stadium between y = -1 and 1, round at both ends.
    pieces = band_pieces(np.arange(0.0, 10.5), np.zeros(11), np.full(11, 2.0), np.full(11, 1.0))
    assert len(pieces) == 10
    inside = [Outline(piece) for piece in pieces]

    def covered(x: float, y: float) -> bool:
        return any(piece.contains_point((x, y)) for piece in inside)

    for x, y, expected in (
        (5.0, 0.99, True), (5.0, 1.01, False), (0.0, -0.99, True), (-1.98, 0.0, True), (-2.02, 0.0, False),
        (11.98, 0.0, True), (12.02, 0.0, False), (-1.5, 0.65, True), (-1.5, 0.68, False), (5.0, 0.5, True),
    ):  # fmt: skip
        assert covered(x, y) is expected, (x, y)


def test_the_band_covers_every_point_of_a_ragged_line() -> None:
    line = a_line()
    x, y = line.corrected_flow.value, line.pressure_ratio.value
    a, b = 2.0 * line.corrected_flow.sd, 2.0 * line.pressure_ratio.sd
    inside = [Outline(piece) for piece in band_pieces(x, y, a, b)]
    for i in range(len(x)):
        for turn in np.linspace(0.0, 2.0 * np.pi, 7):
            point = (x[i] + 0.98 * a[i] * np.cos(turn), y[i] + 0.98 * b[i] * np.sin(turn))
            assert any(piece.contains_point(point) for piece in inside)


@pytest.mark.parametrize(("size", "beside"), [((14.0, 5.8), True), ((5.5, 9.0), False)])
def test_the_picture_has_both_panels(result: Inspection, size: tuple[float, float], beside: bool) -> None:
    figure = Figure(figsize=size, layout="constrained")
    boost, compressor = draw_inspection(result, figure, units="kPa")
    figure.draw_without_rendering()
    one, other = boost.get_position(), compressor.get_position()
    assert (one.x1 < other.x0) if beside else (one.y0 > other.y1)
    assert boost.get_xlabel() == "engine speed, rpm" and boost.get_ylabel() == "boost at the manifold, kPa"
    assert compressor.get_xlabel() == "corrected flow, kg/s (at 298 K, 100.0 kPa)"
    assert compressor.get_ylabel() == "pressure ratio, outlet over inlet"
    line = result.figures.pulls[0].operating_line
    assert line is not None
    (drawn,) = [one for one in compressor.lines if one.get_label() == "pull 1"]
    assert np.asarray(drawn.get_xdata()) == pytest.approx(line.corrected_flow.value)
    assert np.asarray(drawn.get_ydata()) == pytest.approx(line.pressure_ratio.value)
    words = [text.get_text() for text in compressor.texts]
    assert "160,000 rpm" in words and "100,000" in words
    plateau = result.pulls[0].metrics["plateau_kpa_gauge"]
    assert plateau is not None
    assert any(text.get_text() == f"plateau {plateau.value:.0f} kPa" for text in boost.texts)
    for ax in (boost, compressor):  # titles and legends within the page and off each other
        title = ax._left_title.get_window_extent()  # type: ignore[attr-defined]
        legend = ax.get_legend()
        assert legend is not None
        box = legend.get_window_extent()
        assert figure.bbox.x0 <= title.x0 and title.x1 <= figure.bbox.x1 and title.y1 <= figure.bbox.y1
        assert ax.get_window_extent().y1 - 1.0 <= box.y0 and box.y1 <= title.y0 and box.x1 <= figure.bbox.x1


def test_one_panel_without_a_map(result: Inspection) -> None:
    bare = replace(result, figures=replace(result.figures, pulls=(), compressor=None))
    figure = Figure(layout="constrained")
    with pytest.raises(InputError, match="nothing to draw"):
        draw_inspection(replace(bare, pulls=()), figure)
    found = inspect_without_case(result)
    assert len(draw_inspection(found, Figure(layout="constrained"))) == 1


def inspect_without_case(result: Inspection) -> Inspection:
    nothing = tuple(replace(p, operating_line=None) for p in result.figures.pulls)
    return replace(result, figures=replace(result.figures, pulls=nothing, compressor=None))


def test_the_same_file_every_time(result: Inspection, tmp_path: Path) -> None:
    first, again = (write_figure(result, tmp_path / name) for name in ("a.svg", "b.svg"))
    assert first.read_bytes() == again.read_bytes()
    with pytest.raises(InputError, match="no name of a picture"):
        write_figure(result, tmp_path / "a.txt")
    with pytest.raises(InputError, match="cannot be written"):
        write_figure(result, tmp_path / "nowhere" / "a.png")


def test_the_command_draws(case: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["inspect", str(case / "recordings" / "log.csv"), "--case", str(case), "--figure", str(tmp_path / "out.png")]
    assert main(words) == 0
    assert f"Wrote {tmp_path / 'out.png'}" in capsys.readouterr().out
    assert (tmp_path / "out.png").read_bytes()[1:4] == b"PNG"
    assert main([*words, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    jsonschema.validate(answer, schemas()["inspect-answer"])
    assert answer["written"] == [str(tmp_path / "out.png")]
