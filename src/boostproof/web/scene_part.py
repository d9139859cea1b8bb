"""The moving picture as a part of a page: drawing, curve, numbers and sentences from a scene's answer.

`templates/parts/scene.html` shows it, `scene.js` moves it, ``system.css``, ``curves.css`` and ``scene.css`` dress it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated, Any

from markupsafe import Markup
from pydantic import PlainSerializer, PlainValidator

from boostproof.case_names import CAR
from boostproof.report.curves import Level, Line, Picture, picture
from boostproof.report.system_drawing import draw_system
from boostproof.report.system_layout import System, system_of
from boostproof.web import shown
from boostproof.web.kept_parts import keeps, kept_part, named
from boostproof.web.scene_words import sentence
from boostproof.web.shown import kpa_numbers
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.records import KeptAnswer, Task
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

KIND = "scene"
CARS = ("suspected", "sound")
# by whether something is suspected, and whether it is a pull that was not driven
_LEADS = {
    (True, False): "scene.lead", (True, True): "scene.lead_ramp", (False, False): "scene.lead_sound",
    (False, True): "scene.lead_sound_ramp",
}  # fmt: skip
_DIGITS = 4  # significant, of what moves
_SOON, _RISE = 4, 0.05  # moments ahead, and share of the boost wanted that is gained by then while boost builds
_LEAK = 0.005  # g/s from which a leak of the line is worth a row

# what the drawing is moved by: its name there, and that of the answer
_FLOWS = (
    "compressor_flow", "engine_flow", "charge_leak_flow", "bypass_leak_flow", "exhaust_flow", "turbine_flow",
    "gates_flow", "exhaust_leak_flow", "controller_flow", "actuator_flow", "bleed_flow", "valve_flow", "line_leak_flow",
    "upper_flow",
)  # fmt: skip
_PRESSURES = (
    "compressor_outlet", "take_off", "behind_controller", "line_chamber", "other_chamber", "turbine_inlet",
    "turbine_outlet",
)  # fmt: skip
_SHARES = ("gate_open", "other_gate_open", "ball_open", "valve_share", "duty")
_SERIES: dict[str, str] = {
    "boost": "boost_kpa_gauge", "manifold": "boost_kpa_gauge", "shaft": "shaft_rpm", "gate_lift": "gate_lift_mm",
    **{name: f"{name}_g_per_s" for name in _FLOWS}, **{name: f"{name}_kpa_gauge" for name in _PRESSURES},
    **{name: name for name in _SHARES},
}  # fmt: skip


@dataclass(frozen=True)
class Row:
    """One number of the moment: its name, its words, and how it is written.

    Attributes
    ----------
    factor, digits, unit : of the shop, of the number as it comes
    now : at the moment at which the picture begins, as written
    """

    name: str
    says: str
    factor: float
    digits: int
    unit: str
    now: str


@keeps
@dataclass(frozen=True)
class ScenePart:
    """All that the part shows.

    Attributes
    ----------
    key : of its ids
    lead : what is shown
    cause : id of the answer shown
    svg : the drawing
    legend : number and name of the parts, for where it is narrow
    says : sentences below the drawing
    unit_says : in which unit the pressures on it are
    curve : boost over engine speed
    rows : numbers of the moment
    begins : number of the moment at which it stands first: where the fault shows most
    last : number of the last moment
    now, spoken : that moment in a sentence, and as the slider says it
    twin : whether there is a sound car to compare with
    data : for the script
    """

    key: str
    lead: str
    cause: str
    svg: Annotated[Markup, PlainValidator(Markup), PlainSerializer(str)] = field(repr=False)
    legend: tuple[tuple[int, str], ...]
    says: tuple[str, ...]
    unit_says: str
    curve: Picture
    rows: tuple[Row, ...]
    begins: int
    last: int
    now: str
    spoken: str
    twin: bool
    data: str = field(repr=False)


@dataclass(frozen=True)
class SceneHeld:
    """The moving picture of a job as far as it is there.

    Attributes
    ----------
    part : the picture, None before one was made
    stale : the job has changed since
    task : the work that makes it, None where none runs or failed
    """

    part: ScenePart | None
    stale: bool
    task: Task | None


def held_scene(store: Store, work: Work, job_id: int, *, units: str) -> SceneHeld:
    """The moving picture of a job's leading answer: the latest one, and the work in hand.

    Parameters
    ----------
    store, work, job_id : the job
    units : "imperial" or "metric"
    """
    kept = _latest(store, job_id)
    current = kept is not None and kept.content == store.content(job_id, KIND)
    tasks = [one for one in work.tasks(job_id) if one.kind == KIND and one.state != "done"]
    task = None if current or not tasks else max(tasks, key=lambda one: one.id)
    return SceneHeld(scene_of(store, job_id, units), kept is not None and not current, task)


def _latest(store: Store, job_id: int) -> KeptAnswer | None:
    return store.answers.latest(job_id, KIND, {}) or store.answers.latest(job_id, KIND, {}, current=False)


def scene_of(store: Store, job_id: int, units: str) -> ScenePart | None:
    """The moving picture of a job's leading answer, None before one was made; parameters as of `held_scene`."""
    from boostproof.casefolder.files import read_car
    from boostproof.casefolder.toml_file import read_toml

    kept = _latest(store, job_id)
    if kept is None:
        return None

    def made() -> ScenePart:
        car = read_car(read_toml(store.folder(job_id) / CAR, instead="")).car
        return scene_part(kept.answer, system_of(car), units=units)

    car = next((file.sha256 for file in store.files(job_id) if file.path == CAR), "")
    return kept_part(store, ScenePart, f"{named(kept)} for {car} in {units}", made)


def scene_part(answer: Mapping[str, Any], system: System, *, units: str, key: str = "scene") -> ScenePart:
    """The part of a page for a scene's answer.

    Parameters
    ----------
    answer : as docs/schemas/scene-answer.schema.json
    system : what the car has fitted
    units : "imperial" or "metric"
    key : of its ids; two on one page need two
    """
    cars = {name: answer[name] for name in CARS}
    begins = _most_different(cars["suspected"]["boost_kpa_gauge"], cars["sound"]["boost_kpa_gauge"])
    rows = _rows(system, cars["suspected"], begins, units)
    written = {row.name: row.now for row in rows}
    drawing = draw_system(
        system, car=answer["car"], causes=answer["parts"], key=f"{key}-system",
        values={name: cars["suspected"][name][begins] for name in _SHARES}, shown=_on_drawing(written),
    )  # fmt: skip
    twin = bool(answer["parts"])
    said = {name: _sentences(answer, name, system.controller, units) for name in (CARS if twin else CARS[:1])}
    return ScenePart(
        key=key,
        lead=t(
            _LEADS[twin, answer["driven"] == "ramp"], car=answer["car"],
            cause=", ".join(title[0].lower() + title[1:] for title in answer["titles"]),
        ),
        cause=answer["cause"], svg=Markup(drawing.svg), legend=drawing.legend, says=drawing.says,
        unit_says=t("scene.key_unit", unit=shown.unit_name("kpa", units)),
        curve=_curve(answer, key, units, twin=twin), rows=rows, begins=begins, last=len(answer["rpm"]) - 1,
        now=said["suspected"][begins],
        spoken=t("scene.slider_says", rpm=shown.rpm(answer["rpm"][begins]), boost=written["boost"]), twin=twin,
        data=_data(answer, said, rows, twin=twin),
    )  # fmt: skip


def _most_different(one: Sequence[float], other: Sequence[float]) -> int:
    """Where two curves lie furthest apart; the end where they never do."""
    apart = [abs(a - b) for a, b in zip(one, other, strict=True)]
    return apart.index(max(apart)) if max(apart) > 0.0 else len(apart) - 1


def _sentences(answer: Mapping[str, Any], car: str, controller: str, units: str) -> list[str]:
    series, target, last = answer[car], answer["target_kpa_gauge"], len(answer["rpm"]) - 1
    boost = series["boost_kpa_gauge"]
    return [
        sentence(
            {name: values[i] for name, values in series.items()}, rpm, units, controller, target,
            rises=target is not None and boost[min(i + _SOON, last)] - boost[i] > _RISE * target,
        )
        for i, rpm in enumerate(answer["rpm"])
    ]  # fmt: skip


def _rows(system: System, car: Mapping[str, Sequence[float]], at: int, units: str) -> tuple[Row, ...]:
    wanted = [(name, kind) for name, kind in _wanted(system) if name != "line_leak_flow" or max(car[_SERIES[name]]) > _LEAK]
    return tuple(_row(name, kind, car[_SERIES[name]], at, units) for name, kind in wanted)


def _wanted(system: System) -> list[tuple[str, str]]:
    """Names and kinds of the numbers that this car has."""
    out = [("boost", "kpa"), ("compressor_outlet", "kpa"), ("take_off", "kpa")]
    if system.controller != "none":
        out.append(("behind_controller", "kpa"))
    out.append(("line_chamber", "kpa"))
    if system.fed_above:
        out.append(("other_chamber", "kpa"))
    if system.solenoid:
        out += [("duty", "share"), ("valve_share", "share"), ("valve_flow", "little")]
    if system.ball:
        out.append(("ball_open", "share"))
    if system.ball or system.controller == "bleed valve":
        out.append(("bleed_flow", "little"))
    out += [("line_leak_flow", "little"), ("gate_open", "share")]
    if system.gates > 1:
        out.append(("other_gate_open", "share"))
    return [
        *out, ("gate_lift", "mm"), ("turbine_inlet", "kpa"), ("turbine_outlet", "kpa"), ("turbine_flow", "g_per_s"),
        ("gates_flow", "g_per_s"), ("shaft", "rpm"),
    ]  # fmt: skip


def _row(name: str, kind: str, values: Sequence[float], at: int, units: str) -> Row:
    if kind in ("share", "rpm"):
        factor, digits, unit = (100.0, 0, "%") if kind == "share" else (1.0, 0, "rpm")
        return Row(name, t(f"scene.row.{name}"), factor, digits, unit, _written(values[at] * factor, digits, unit))
    of = "g_per_s" if kind == "little" else kind
    factor = shown.KINDS[of].number(1.0, units, difference=True)
    digits = shown.KINDS[of].unit(units)[1] + (2 if kind == "little" else 0)
    unit = shown.unit_name(of, units)
    return Row(name, t(f"scene.row.{name}"), factor, digits, unit, _written(values[at] * factor, digits, unit))


def _written(value: float, digits: int, unit: str) -> str:
    text = f"{value:,.{digits}f}"
    return f"{text.lstrip('-') if float(text.replace(',', '')) == 0.0 else text.replace('-', '−')}\u202f{unit}"


def _on_drawing(written: Mapping[str, str]) -> dict[str, str]:
    """Numbers on the drawing; the pressures without their unit, which stands below."""
    return {
        name: text.split("\u202f")[0] if name in _PRESSURES else text for name, text in written.items()
    }  # fmt: skip


def _curve(answer: Mapping[str, Any], key: str, units: str, *, twin: bool) -> Picture:
    measured = answer["measured"]
    suspected, sound = (kpa_numbers(answer[name]["boost_kpa_gauge"], units) for name in CARS)
    if twin:
        lines = [
            Line("sound", "sound", t("scene.curve.sound"), sound),
            Line("found", "suspected", t("scene.curve.suspected"), suspected),
        ]
    else:
        lines = [Line("found", "sound", t("scene.curve.sound"), suspected)]
    if measured["rpm"]:
        driven = kpa_numbers(measured["boost_kpa_gauge"], units)
        lines.insert(0, Line("measured", "measured", t("scene.curve.measured"), driven, measured["rpm"]))
    levels = [
        Level(look, look, t(f"scene.curve.{look}"), *kpa_numbers([value], units))
        for look, value in (("wanted", answer["target_kpa_gauge"]), ("stop", answer["stop_kpa_gauge"]))
        if value is not None
    ]
    return picture(
        f"{key}-boost", answer["rpm"], says=t("scene.curve.says"), x_says=t("scene.curve.x"),
        y_says=t("scene.curve.y", unit=shown.unit_name("kpa", units)), lines=lines, levels=levels, size=(700.0, 260.0),
    )  # fmt: skip


def _data(answer: Mapping[str, Any], said: Mapping[str, list[str]], rows: Sequence[Row], *, twin: bool) -> str:
    cars = {
        name: {short: _short(answer[name][long]) for short, long in _SERIES.items() if short != "manifold"}
        for name in (CARS if twin else CARS[:1])
    }
    return json.dumps(
        {
            "time": _short(answer["time_s"]), "rpm": _short(answer["rpm"]), "cars": cars, "says": said,
            "rows": {row.name: [row.factor, row.digits, row.unit] for row in rows}, "bare": list(_PRESSURES),
            "words": {"play": t("scene.play"), "slider_says": t("scene.slider_says")},
        },
        separators=(",", ":"), ensure_ascii=False,
    )  # fmt: skip


def _short(values: Sequence[float]) -> list[float]:
    return [float(f"{value:.{_DIGITS}g}") for value in values]
