"""The document behind every form of the report: its schema, what it says, and what it leaves out."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as tree
from dataclasses import replace
from typing import Any

import jsonschema
import pytest
from tests.unit.report.document.conftest import DONE
from tests.unit.report.document.made_results import COMPLAINT, MARKUP, NOTES
from tests.unit.report.document.words import words_of

from boostproof.recording.pull_numbers import ALL
from boostproof.report.document.compose import compose
from boostproof.report.document.results import Results, Told
from boostproof.report.text import SAFETY, headline
from boostproof.workflows.answers import schemas

PARTS = ["short", "car", "pulls", "bench", "verdict", "done", "forecast", "proof", "cautions", "not-tested", "sign-off"]


def part(document: Any, name: str) -> Any:
    return next(one for one in document["sections"] if one["id"] == name)


def said(document: Any, name: str) -> str:
    return "\n".join(words_of({"title": "", "sections": [part(document, name)]}))


def figures(document: Any) -> list[Any]:
    return [b for one in document["sections"] for b in one["blocks"] if b["kind"] == "figure"]


@pytest.mark.parametrize("name", ["shop", "customer", "begun"])
def test_it_holds_to_its_schema(documents: dict[str, Any], name: str) -> None:
    document = json.loads(json.dumps(documents[name], allow_nan=False))
    jsonschema.validate(document, schemas()["report-answer"])
    assert [one["id"] for one in document["sections"]] == PARTS
    for one in document["sections"]:
        assert one["blocks"]
        for block in one["blocks"]:
            assert block["kind"] != "table" or all(len(row) == len(block["heads"]) for row in block["rows"])


def test_the_same_results_give_the_same_document(documents: dict[str, Any], results: Results) -> None:
    told = Told(done=DONE, shop="Bay & Sons", by="A. Fitter", dated="28 November 2026")
    assert compose(results, told) == documents["shop"]


def test_every_part_says_what_came_of_it(documents: dict[str, Any], results: Results) -> None:
    assert results.verdict is not None and results.proof is not None and results.bench is not None
    document = documents["shop"]
    assert all(one["done"] for one in document["sections"])
    for name in ("short", "verdict"):
        assert headline(results.verdict)[1:] in said(document, name)
    assert results.proof.sentences("psi")["says"] in said(document, "proof")
    assert MARKUP in said(document, "car") and COMPLAINT in said(document, "car")
    assert all(text in said(document, "done") for text in DONE) and "Air straight on the actuator" in said(document, "done")
    for doubt in ("The numbers are rough", "with all causes equally common"):
        assert doubt in said(document, "verdict")
    assert all(f"{m.name}\n" in said(document, "bench") for m in results.bench.meanings)
    assert "Port and flapper enlarged (30 mm)" in said(document, "forecast")
    assert "Recheck fuelling" in said(document, "cautions")
    assert SAFETY in said(document, "cautions")
    open_ = said(document, "not-tested")
    assert "turbo wheels and shaft by hand" in open_.lower() and "gate port" in open_
    assert "Five cells are empty." in said(document, "not-tested")
    assert {"A. Fitter", "28 November 2026"} <= set(said(document, "sign-off").split("\n"))


def test_a_figure_of_a_pull_stands_beside_its_doubt(documents: dict[str, Any], results: Results) -> None:
    """The peak of the first pull before the repair, from the recording's own metrics: 1 psi = 6.894757 kPa (NIST SP 811)."""
    peak = results.recorded[1].pulls[0]["metrics"]["peak_kpa_gauge"]
    value, doubt = peak["value"] / 6.894757, 2.0 * peak["sd"] / 6.894757
    assert results.recorded[1].name == "old.csv"
    assert f"{value:.1f} ± {doubt:.1f} psi at" in said(documents["shop"], "pulls")


def test_recordings_from_before_the_repair_come_first_and_the_doubt_is_explained_once(results: Results) -> None:
    new, old = results.recorded
    document = compose(replace(results, recorded=(replace(new, after=ALL), old)), Told())
    told = said(document, "pulls")
    assert told.index("Boost in old.csv") < told.index("Boost in new.csv, after the repair")
    assert told.count("In 19 of 20 cases") == 1


def test_with_a_proof_nothing_is_proposed_for_the_car_as_it_was(results: Results) -> None:
    proved, before = (compose(replace(results, proof=proof), Told()) for proof in (results.proof, None))
    for name, heading in {"verdict": "What to do next", "forecast": "What could be done without parts"}.items():
        assert heading in said(before, name) and heading not in said(proved, name)


def test_what_was_not_done_is_said_to_be_so(documents: dict[str, Any]) -> None:
    document = documents["begun"]
    for name, says in {
        "pulls": "No pull was recorded.", "bench": "No bench reading was taken.",
        "verdict": "There is no verdict. The case holds no recording.", "done": "Nothing was done on the car so far.",
        "forecast": "No repair was forecast.", "proof": "The repair was not proved",
    }.items():  # fmt: skip
        assert not part(document, name)["done"] and says in said(document, name)
    assert "There is no verdict yet" in said(document, "short") and not figures(document)


def test_the_customer_does_not_read_the_notes_of_the_shop(documents: dict[str, Any]) -> None:
    shop, customer = documents["shop"], documents["customer"]
    assert NOTES in said(shop, "car") and NOTES not in "\n".join(words_of(customer))
    assert "Five cells are empty." not in "\n".join(words_of(customer))
    assert re.search(r"shop's copy lists \d+ remark", said(customer, "not-tested"))
    assert part(customer, "verdict")["blocks"][0] == part(shop, "verdict")["blocks"][0]
    assert said(customer, "cautions") == said(shop, "cautions")
    assert " psi" not in "\n".join(words_of(customer)) and " bar" in said(customer, "proof")


def test_a_bar_says_no_more_than_the_words_beside_it(documents: dict[str, Any]) -> None:
    blocks = [b for b in part(documents["shop"], "verdict")["blocks"] if b["kind"] == "ranking"]
    rows = blocks[0]["rows"]
    assert rows[0]["says"] == "about 70 %" and rows[0]["share"] == pytest.approx(0.7)
    assert sum(row["share"] for row in rows) <= 1.0


def test_figures_need_no_style_no_font_and_no_other_file(documents: dict[str, Any]) -> None:
    drawn = figures(documents["shop"])
    assert len(drawn) == 6  # two recordings, sweeps, verdict, forecast, proof
    ids: list[str] = []
    for figure in drawn:
        assert figure["alt"] and figure["title"]
        root = tree.fromstring(figure["svg"])
        for element in root.iter():
            assert "style" not in element.attrib and not element.tag.endswith(("style", "text", "image", "script"))
            ids += [element.attrib["id"]] if "id" in element.attrib else []
            for name, value in element.attrib.items():
                assert not name.endswith("href") or value.startswith("#")
                for target in re.findall(r"url\(#([^)]+)\)", value) + ([value[1:]] if name.endswith("href") else []):
                    assert root.find(f".//*[@id='{target}']") is not None
    assert len(ids) == len(set(ids))
