"""The parts that stand around the results: in short, the car, what was done, what to mind, what is open, who signs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from boostproof.bench.procedures import fill
from boostproof.report import forecast_words
from boostproof.report.document.blocks import bullets, not_done, pairs, section, sign, text
from boostproof.report.document.results import Results, Told
from boostproof.report.text import SAFETY, headline
from boostproof.report.words import called_test, title_of_test
from boostproof.version import __version__

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec
    from boostproof.workflows.report_answers import BlockAnswer, SectionAnswer

_NOT_SAID = "not said"
_STARTED = {
    "suddenly": "it came suddenly", "grew": "it grew little by little", "after work": "it came after work on the car",
    "from first start": "it was there from the first start",
}  # fmt: skip


def in_short(results: Results, told: Told) -> SectionAnswer:
    """What a person who reads no further should know."""
    says: list[BlockAnswer] = []
    verdict, forecast, proof = results.verdict, results.forecast, results.proof
    if verdict is not None:
        says.append(text(_sentence(headline(verdict)), lead=True))
    else:
        says.append(text(f"There is no verdict yet. {results.why_not}".strip(), lead=True))
    if proof is not None:
        says.append(text(proof.sentences(told.units)["says"]))
        return section("short", "In short", says)
    if forecast is not None:
        answer = forecast.as_json()
        cures = forecast_words.chance(answer["costs"]["cures"])
        repair = forecast_words.repairs_in_words(answer)
        says.append(text(f"Forecast for {repair}: it cures the car with a chance of {cures}."))
    elif verdict is not None and verdict.next_tests and verdict.next_tests[0].minutes_saved > 0.0:
        best = verdict.next_tests[0]
        says.append(text(f"Best next: {best.title} (about {best.minutes:.0f} minutes)."))
    says.append(text("No repair has been proved yet."))
    return section("short", "In short", says)


def _sentence(said: str) -> str:
    return said[:1].upper() + said[1:]


def the_car(results: Results, told: Told) -> SectionAnswer:
    """The complaint in the customer's words, and the car as it was written down."""
    car = results.car
    rows = [
        ("Car", car.car.name),
        ("Complaint", "; ".join(car.car.complaint or (_NOT_SAID,))),
        ("Engine", _engine(car)),
        ("Wastegate", car.wastegate.kind),
        ("Boost controller", car.controller.kind),
        ("Boost wanted", _wanted(car)),
        ("Boost never to be passed", _NOT_SAID if car.limits.stop is None else car.limits.stop.text),
        ("What is known of the fault", _history(car)),
    ]
    if not told.customer:
        rows.append(("Notes of the shop", car.car.notes or ""))
    return section("car", "The car and the complaint", [pairs(rows)])


def _engine(car: CarSpec) -> str:
    engine = car.engine
    return f"{engine.displacement.text}, {engine.cylinders} cylinders, redline {engine.redline.text}"


def _wanted(car: CarSpec) -> str:
    wanted = car.limits.target
    if wanted is None or wanted == "not known":
        return "not known"
    if isinstance(wanted, str):
        return wanted
    if isinstance(wanted, tuple):
        rows = [(row.boost, row.rpm, row.gear) for row in wanted if row.boost is not None]
        return "; ".join(
            str(boost) + ("" if rpm is None else f" at {rpm}") + ("" if gear is None else f" in gear {gear}")
            for boost, rpm, gear in rows
        )
    return wanted.text


def _history(car: CarSpec) -> str:
    history = car.history
    said = [_STARTED.get(history.started or "", "")]
    said.append("boost was never right in this form" if history.ever_right is False else "")
    if history.only_when:
        said.append(f"it shows only {', '.join(history.only_when)}")
    said += [f"changed: {c.what}" for c in history.changed if c.what]
    said += [f"tried: {t.what}" + (f", {t.result}" if t.result else "") for t in history.tried if t.what]
    return "; ".join(part for part in said if part)


def what_was_done(results: Results, told: Told) -> SectionAnswer:
    """Tests, pulls and work on the car, each only if it was done."""
    title = "What was done"
    tests = [title_of_test(r.test) for r in results.readings if r.not_done is None]
    pulls = sum(1 for recorded in results.recorded for pull in recorded.pulls if pull["full_load"])
    says: list[BlockAnswer] = [*bullets(told.done, "Work on the car")]
    says += bullets(list(dict.fromkeys(tests)), "Tests at rest")
    if pulls:
        files = len(results.recorded)
        says.append(text(f"{_count(pulls, 'full-load pull')} in {_count(files, 'recording')}."))
    if results.proof is not None:
        says.append(text(
            f"Pulls before the repair ({results.proof.before.name}) and after it ({results.proof.after.name}) were held "
            "against each other."
        ))  # fmt: skip
    if not says:
        return not_done("done", title, "Nothing was done on the car so far.")
    if not told.done:
        says.insert(0, text("No work on the car was written down for this report."))
    return section("done", title, says)


def _count(number: int, what: str) -> str:
    return f"{number} {what}" + ("" if number == 1 else "s")


def cautions(results: Results, told: Told) -> SectionAnswer:
    """What to mind from here on."""
    said = []
    if results.proof is not None:
        said += results.proof.sentences(told.units)["cautions"]
    if results.forecast is not None:
        said += forecast_words.notes(results.forecast.as_json())
    if results.verdict is not None and results.proof is None:
        for test in results.verdict.next_tests[:1]:
            said += [fill(one, pressure=told.units) for one in test.cautions]
    return section("cautions", "Cautions", [*bullets(list(dict.fromkeys([*said, SAFETY])), mark="caution")])


def not_tested(results: Results, told: Told) -> SectionAnswer:
    """What was not tested, what is not known, and what of the data is in doubt."""
    verdict = results.verdict
    missing = () if verdict is None else verdict.missing
    says: list[BlockAnswer] = []
    left = [f"{title_of_test(r.test)}: {r.not_done}" for r in results.readings if r.not_done is not None]
    says += bullets(left, "Tests that could not be done")
    says += _open_tests(results, told)
    says += bullets([_unknown(m) for m in missing if not m.startswith("test: ")], "What is not known")
    doubts = _doubts(results)
    if told.customer and doubts:
        says.append(text(f"The shop's copy lists {_count(len(doubts), 'remark')} on the data."))
    elif doubts:
        says += bullets(doubts, "Remarks on the data")
    if verdict is None:
        says.insert(0, text("Without a verdict it is not known which tests are still worth doing."))
    if not says:
        says.append(text("Every test that this car and this shop allow was done."))
    return section("not-tested", "What was not tested", says)


def _open_tests(results: Results, told: Told) -> list[BlockAnswer]:
    """Those that the car and the shop allow: the ones worth doing one by one, the others counted, for the shop named."""
    verdict = results.verdict
    if verdict is None:
        return []
    left = [m.removeprefix("test: ") for m in verdict.missing if m.startswith("test: ")]
    worth = [t.id for t in verdict.next_tests if t.minutes_saved > 0.0]
    others = [test for test in left if test not in worth]
    more = f"{_count(len(others), 'more test')}, from which little more would be learned" if others else ""
    if more and not told.customer:
        more += ": " + "; ".join(called_test(test) for test in others)
    return [*bullets([*(title_of_test(test) for test in worth), *([more] if more else [])], "Tests that were not done")]


def _unknown(missing: str) -> str:
    kind, _, what = missing.partition(": ")
    words = what.replace("_", " ")
    return f"{words} (not logged)" if kind == "log" else words


def _doubts(results: Results) -> list[str]:
    found: list[Any] = [*results.findings]
    for result in (results.verdict, results.bench, results.forecast, results.proof):
        found += () if result is None else result.findings
    return list(dict.fromkeys(_remark(f) for f in found))


def _remark(finding: Any) -> str:
    place = f"{finding.where}: " if finding.where else ""
    return f"{place}{finding.says} {finding.do}".strip()


def sign_off(results: Results, told: Told) -> SectionAnswer:
    """Who hands the car over, and what this document was made from."""
    rows = [("Work done by", told.by), ("Date", told.dated), ("Handed over to", "")]
    made = f"Made with boostproof {__version__}, seed {results.seed}"
    if results.case:
        made += f", from a case with the content {results.case[:12]}"
    return section("sign-off", "Sign-off", [sign(rows), text(f"{made}. The same case gives the same report.")])
