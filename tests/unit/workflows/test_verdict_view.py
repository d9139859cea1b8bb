"""A verdict as it is kept and read back, and what a page shows of it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from tests.unit.web.made_verdict import RPM, OpenAlready, verdict

from boostproof.workflows.bench_form import typed_reading
from boostproof.workflows.verdict import Curve, Verdict, WouldChange
from boostproof.workflows.verdict_kept import from_kept, to_kept
from boostproof.workflows.verdict_view import added_rows, ranking_of, verdict_view, with_provisional


def read_back(made: Verdict) -> Verdict:
    return from_kept(json.loads(json.dumps(to_kept(made), allow_nan=False)))


def test_a_verdict_is_read_back_as_it_was() -> None:
    made = verdict()
    back = read_back(made)
    for name in made.__dataclass_fields__:
        if name not in ("curves", "bands", "causes", "next_tests"):
            assert getattr(back, name) == getattr(made, name), name
    assert [replace(c, severity=()) for c in back.causes] == [replace(c, severity=()) for c in made.causes]
    assert back.causes[0].severity == made.causes[0].severity
    assert [t.expected for t in back.next_tests] == [t.expected for t in made.next_tests]
    assert back.next_tests[1].risk == 0.07
    for one, other in zip(back.bands, made.bands, strict=True):
        assert (
            one.id == other.id
            and np.allclose(one.high, other.high, atol=6.0)
            and np.allclose(one.rpm, other.rpm, atol=0.1)
        )


def test_long_curves_are_kept_as_far_as_they_can_be_seen() -> None:
    rpm = np.linspace(2000.0, 7000.0, 5000)
    back = read_back(verdict(curves=(Curve("pull 1", rpm, 20.0 * rpm),))).curves[0]
    assert len(back.rpm) == 160 and np.allclose(back.boost, 20.0 * back.rpm, atol=10.0)


def test_the_answer_for_programs_alone_can_be_read() -> None:
    made = verdict()
    plain = from_kept(json.loads(json.dumps(made.as_json())))
    assert plain.leader.title == made.leader.title and plain.curves == () and plain.target is None
    assert verdict_view(plain).plot.lines == ()


def test_nothing_unconfirmed_is_said_to_be_nearly_sure() -> None:
    sure = verdict(
        causes=tuple(
            replace(c, probability=p) for c, p in zip(verdict().causes, (0.97, 0.0, 0.0), strict=True)
        )
    )
    first = ranking_of(sure)[0]
    assert (first.shown, first.share, first.strength) == ("80 %", 0.97, "most likely")
    proved = replace(sure, causes=(replace(sure.causes[0], confirmed=True), *sure.causes[1:]))
    first = ranking_of(proved)[0]
    assert (first.shown, first.strength) == ("97 %", "confirmed")


def test_rough_numbers_are_rounded_and_an_order_has_none() -> None:
    fit = verdict().fit
    assert ranking_of(verdict(fit=replace(fit, trust="about")))[0].shown == "about 60 %"
    view = verdict_view(verdict(fit=replace(fit, trust="order only")))
    assert (
        view.order_only
        and {r.shown for r in view.ranking} == {""}
        and not any(b.shown for b in view.plot.bands)
    )


def test_reasons_are_parted_and_how_common_it_is_is_none() -> None:
    first = verdict_view(verdict()).explained[0]
    assert first.speaks_for == (
        "The log speaks strongly for it.",
        "What was said about it speaks slightly for it.",
    )
    assert first.speaks_against == ("Seat leak speaks clearly against it.",)
    assert first.severity == ("Gate port about 23.0 ± 2.0 mm, sound 32.0 mm.",)


def test_the_next_test_says_what_each_cause_would_read_the_likeliest_first() -> None:
    view = verdict_view(verdict(), pressure="kPa")
    assert view.next is not None
    assert [p.reads for p in view.next.predicted] == ["Port 20 to 25 mm.", "Port 27 to 32 mm."]
    assert [t.id for t in view.then] == ["tip-in"] and view.then[0].risky == 7
    assert view.alike[0].test == "port-measure" and view.missing == ("gate port",)
    assert view.would_change == (
        "Port bore and entry measured: with port above 26 mm, poor way into the gate port would lead.",
    )
    rare = (WouldChange("port-measure", "way in poor", "port-entry-poor", 0.04), *verdict().would_change)
    assert verdict_view(replace(verdict(), would_change=rare), pressure="kPa").would_change == view.would_change


def test_the_picture_is_in_the_unit_of_the_shop() -> None:
    plot = verdict_view(verdict(), pressure="psi").plot
    assert plot.wanted == pytest.approx(14.504, abs=1e-3)  # 1 bar
    assert [line.leads for line in plot.lines] == [True, False] and len(plot.bands[0].x) == len(RPM)


def test_a_band_says_the_number_that_the_ranking_says() -> None:
    made = verdict()
    apart = replace(made, bands=tuple(replace(band, probability=0.5 * band.probability) for band in made.bands))
    view = verdict_view(apart, pressure="psi")
    said = {one.id: one.shown for one in view.ranking}
    assert view.plot.bands and all(band.shown == said[band.id] for band in view.plot.bands)


def test_nothing_left_to_test() -> None:
    none = verdict(next_tests=())
    assert verdict_view(none).next is None and not verdict_view(none).repair_now
    proved = replace(
        none, causes=(replace(none.causes[0], probability=0.95, confirmed=True), *none.causes[1:])
    )
    assert verdict_view(proved).repair_now


@pytest.mark.parametrize(
    ("changes", "none", "sound"),
    [({}, False, False), ({"none_of_these": 0.9}, True, False), ({"healthy": 0.9}, False, True)],
)
def test_none_of_these_and_sound_are_told(changes: dict, none: bool, sound: bool) -> None:
    view = verdict_view(verdict(**changes))
    assert (view.none_leads, view.sound_leads) == (none, sound)


def test_a_misfit_is_none_of_these_whatever_leads() -> None:
    view = verdict_view(verdict(fit=replace(verdict().fit, misfit=1e-4)))
    assert (
        view.none_leads
        and view.unexplained
        and view.headline.startswith("None of the known causes explains all")
    )


def test_a_reading_moves_the_ranking_and_leaves_the_reasons() -> None:
    reading = typed_reading("port-measure", {"port": ["31"]}, "psi").reading
    moved = with_provisional(verdict(), OpenAlready().provisional(reading))
    assert moved.leader.id == "port-entry-poor" and moved.leader.probability > 0.7
    assert sum(c.probability for c in moved.causes) + moved.healthy + moved.none_of_these == pytest.approx(
        1.0
    )
    assert moved.next_tests == verdict().next_tests


def test_only_what_was_added_behind_counts_as_added() -> None:
    a, b, c = {"test": "a"}, {"test": "b"}, {"test": "c"}
    assert added_rows([a], [a, b, c]) == [b, c]
    assert added_rows([a, b], [a, c]) is None and added_rows([a, b], [a]) is None


def test_history_that_was_left_out_is_not_quoted() -> None:
    left_out = verdict(inputs={"without_history": True}, used=("pulls",))
    history = verdict_view(left_out).history
    assert (history.counted, history.told, history.says) == (False, True, "")
    assert verdict_view(verdict()).history.says == "What was said about it speaks slightly for it."
