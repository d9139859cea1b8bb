"""Set-up drawings: one for every test that needs one, legible at 400 pixels, nothing on top of another word."""

from __future__ import annotations

from pathlib import Path

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from boostproof.bench.procedures import _read, procedures
from boostproof.errors import InputError, InputRangeError
from boostproof.report.drawing_symbols import DARK, LIGHT, Palette
from boostproof.report.setup_drawing import draw_setup, drawings, save_setup, setup_size

DRAWN = {
    "actuator-sweep", "leak-down", "bleed-decay", "hose-flow", "controller-sweep", "solenoid-check",
    "intake-pressurise", "sensor-check", "controller-vent", "line-sweep", "floor-pull", "spring-only-pull",
    "line-pressure-log", "turbine-pressure-log", "exhaust-back-pressure",
}  # fmt: skip
SHOP_AIR = DRAWN - {
    "sensor-check", "floor-pull", "spring-only-pull", "line-pressure-log", "turbine-pressure-log",
    "exhaust-back-pressure",
}  # fmt: skip


def drawn(name: str, **more: object) -> Figure:
    figure = Figure(figsize=setup_size(name), dpi=100)
    FigureCanvasAgg(figure)
    draw_setup(name, figure, **more)  # type: ignore[arg-type]
    return figure


def words(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.axes[0].texts if text.get_text()]


def test_every_air_test_and_pull_set_up_is_drawn_and_belongs_to_its_procedure() -> None:
    assert set(drawings()) == DRAWN == {one.figure for one in procedures() if one.figure}


@pytest.mark.parametrize("name", drawings())
def test_words_lie_on_the_sheet_and_not_on_each_other(name: str) -> None:
    figure = drawn(name)
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    texts = [text for text in figure.axes[0].texts if text.get_text()]
    boxes = [(text.get_text(), text.get_window_extent(renderer)) for text in texts]
    width, height = figure.canvas.get_width_height()
    assert width == 400
    for word, box in boxes:
        assert box.x0 >= 1 and box.y0 >= 1 and box.x1 <= width - 1 and box.y1 <= height - 1, word
        assert "{" not in word
    for i, (word, box) in enumerate(boxes):
        assert not [other for other, area in boxes[i + 1 :] if box.overlaps(area)], word
    for text in texts:
        assert text.get_fontsize() >= 8.0  # 11 pixels at 400 wide


@pytest.mark.parametrize("name", sorted(SHOP_AIR))
def test_shop_air_always_comes_with_regulator_relief_valve_shut_off_and_gauge(name: str) -> None:
    assert {"shop air", "regulator", "relief valve", "shut-off", "gauge"} <= set(words(drawn(name)))


def test_what_must_not_be_missing_from_a_drawing() -> None:
    assert "fused supply,\nduty driver" in words(drawn("solenoid-check"))
    assert {"cap with\nstrap", "oil filler cap off,\ncrankcase vent open"} <= set(words(drawn("intake-pressurise")))
    assert "shop air" not in words(drawn("sensor-check"))
    assert "heat sleeve" in words(drawn("line-pressure-log"))
    for name in ("turbine-pressure-log", "exhaust-back-pressure"):
        assert "steel stand-off, 0.5 m" in words(drawn(name))
        assert "steel stand-off, 20 in" in words(drawn(name, length="in"))


def test_every_word_is_used() -> None:
    said = {word for name in drawings() for word in words(drawn(name))}
    told = {text.replace("{0.5 m}", "0.5 m") for text in _read("labels", "en").values()}
    assert said == told


def _luminance(colour: str) -> float:
    """Relative luminance of WCAG 2 (from memory)."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_lines_and_words_stand_out_from_their_ground(colours: Palette) -> None:
    for front, ground in (
        (colours.ink, colours.paper), (colours.ink, colours.metal), (colours.shop, colours.paper),
        (colours.shop, colours.tint), (colours.gas, colours.paper),
    ):  # fmt: skip
        bright, dim = sorted((_luminance(front), _luminance(ground)), reverse=True)
        assert (bright + 0.05) / (dim + 0.05) >= 4.5, (front, ground)  # WCAG 2, level AA for text


def test_dark_and_light_differ_in_colour_alone() -> None:
    light, dark = drawn("actuator-sweep"), drawn("actuator-sweep", dark=True)
    assert words(light) == words(dark)
    assert light.get_facecolor() != dark.get_facecolor()


def test_a_drawing_is_the_same_file_every_time(tmp_path: Path) -> None:
    first = save_setup("actuator-sweep", tmp_path / "a.svg").read_bytes()
    assert first == save_setup("actuator-sweep", tmp_path / "b.svg").read_bytes()
    assert first.lstrip().startswith(b"<?xml") and b"</svg>" in first


def test_what_cannot_be_drawn_or_written_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputRangeError, match="cold-look"):
        save_setup("cold-look", tmp_path / "a.svg")
    with pytest.raises(InputError, match="picture"):
        save_setup("actuator-sweep", tmp_path / "a.doc")
