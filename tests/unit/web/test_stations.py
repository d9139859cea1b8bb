"""What the strip of stations says, and what would help most next, as a job fills up."""

from __future__ import annotations

from tests.unit.web.a_car import CAR
from tests.unit.web.made_verdict import UNSURE, looked_at

from boostproof.diagnosis.inference.first_look import FirstLook
from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.web.stations import Held, line_of, next_step, stations

LOG = "recordings/log.csv"
VERDICT = {
    "causes": [
        {"id": "spring-weak", "parts": ["spring-weak"], "probability": 0.2},
        {"id": "port-too-small + spring-weak", "parts": ["port-too-small", "spring-weak"], "probability": 0.714},
    ],
    "pulls": [{"rpm_to": 4780.0}, {"rpm_to": 6101.0}],
    "next_tests": [{"id": "free-travel", "minutes": 10.0, "minutes_saved": 35.0}],
}


def lines(store: Store, work: Work, job: int) -> dict[str, str]:
    held = Held(store, store.job(job))
    return {one.name: one.says.replace("\u202f", " ") for one in stations(held, work, "car")}


def following(store: Store, work: Work, job: int) -> tuple[str, str]:
    step = next_step(Held(store, store.job(job)), work)
    return step.says.replace("\u202f", " "), step.address


def keep(store: Store, kind: str, answer: dict) -> None:
    store.answers.keep(1, kind, answer, {}, store.content(1))


def test_an_empty_job_says_what_is_missing(store: Store, work: Work) -> None:
    store.new_job('format = 1\n[car]\nname = "x"\n')
    assert lines(store, work, 1) == {
        "car": "not told yet", "pulls": "no recording yet", "bench": "no reading yet",
        "verdict": "not judged yet", "repair": "not forecast yet", "proof": "not compared yet",
    }  # fmt: skip
    assert following(store, work, 1) == ("tell what you know of the car", "/jobs/1/car")
    assert line_of(Held(store, store.job(1))) == ""


def test_what_names_a_bus_is_no_recording(store: Store, work: Work) -> None:
    store.new_job(CAR, {"recordings/bus.DBC": b"x", "set-aside/log.csv": b"x"})
    assert lines(store, work, 1)["pulls"] == "no recording yet"
    assert following(store, work, 1)[1] == "/jobs/1/pulls"


def test_a_job_that_fills_up(store: Store, work: Work) -> None:
    store.new_job(CAR)
    assert lines(store, work, 1)["car"] == "2 things told"
    assert following(store, work, 1) == ("drop the log of a pull", "/jobs/1/pulls")
    store.write(1, LOG, "time,rpm\n0,1\n")
    assert lines(store, work, 1)["pulls"] == "1 recording"
    assert following(store, work, 1)[1] == "/jobs/1/verdict"

    keep(store, "diagnose", VERDICT)
    said = lines(store, work, 1)
    assert said["verdict"] == (
        "71 %: gate port too small for this engine and target together with actuator spring weak or without preload"
    )
    assert said["pulls"] == "2 pulls to 6,101 rpm"
    assert following(store, work, 1) == ("travel of the gate by hand, rod off (10 min)", "/jobs/1/verdict#do-next")

    store.write(1, "readings.toml", 'format = 1\n[[reading]]\ntest = "free-travel"\n[[reading]]\ntest = "cold-look"\n')
    said = lines(store, work, 1)
    assert said["bench"] == "2 readings"
    assert said["verdict"].endswith("(before the last change)")
    assert following(store, work, 1) == ("rank the causes again", "/jobs/1/verdict")


def test_the_verdict_says_that_it_is_being_ranked_and_what_is_known_already(store: Store, work: Work) -> None:
    store.new_job(CAR, {LOG: b"time,rpm\n0,1\n"})
    task = looked_at(store, work, 1, None)
    assert lines(store, work, 1)["verdict"] == "being ranked"
    assert following(store, work, 1) == ("wait for what is being worked out", "/jobs/1/verdict")
    looked_at(store, work, 1)
    leader = "gate port too small for this engine and target"
    assert lines(store, work, 1)["verdict"] == f"being ranked; so far {leader} leads"
    looked_at(store, work, 1, UNSURE)
    both = f"{leader} together with charge pipe leaks after the compressor"
    assert lines(store, work, 1)["verdict"] == f"being ranked; so far {both} leads"
    looked_at(store, work, 1, FirstLook({"charge-leak": 0.1}, 0.2, 0.7))
    assert lines(store, work, 1)["verdict"] == "being ranked; so far none of these leads"
    work.stop(task)
    assert lines(store, work, 1)["verdict"] == "not judged yet"
    keep(store, "diagnose", VERDICT)
    store.write(1, "car.toml", CAR + "# other tyres\n")
    looked_at(store, work, 1, None)
    assert lines(store, work, 1)["verdict"].startswith("71 %: gate port too small")
    assert lines(store, work, 1)["verdict"].endswith("(being ranked again)")


def test_one_waits_on_the_page_that_is_being_filled_and_not_for_what_is_done_by_the_way(store: Store, work: Work) -> None:
    store.new_job(CAR, {LOG: b"time,rpm\n0,1\n"})
    work.start(1, "scene")
    work.start(1, "bench")
    assert following(store, work, 1)[0] == "let the causes be ranked"
    work.start(1, "plan")
    assert following(store, work, 1) == ("wait for what is being worked out", "/jobs/1/repair/ladder")
    work.start(1, "prove")
    assert following(store, work, 1)[1] == "/jobs/1/proof"


def test_when_no_test_saves_time_a_repair_is_next_then_the_proof_then_the_report(store: Store, work: Work) -> None:
    store.new_job(CAR, {LOG: b"time,rpm\n0,1\n"})
    keep(store, "diagnose", {**VERDICT, "next_tests": [{"id": "free-travel", "minutes": 10.0, "minutes_saved": -3.0}]})
    assert following(store, work, 1)[1] == "/jobs/1/repair"
    keep(store, "forecast", {"repairs": [{"id": "port"}, {"id": "spring"}]})
    assert lines(store, work, 1)["repair"] == "2 repairs forecast"
    assert following(store, work, 1)[1] == "/jobs/1/proof"
    keep(store, "prove", {"verdict": "cured"})
    assert lines(store, work, 1)["proof"] == "cured"
    assert line_of(Held(store, store.job(1))) == "Proof: cured"
    assert following(store, work, 1)[1] == "/jobs/1/report"


def test_a_sound_car_and_none_of_these_lead_like_a_cause(store: Store, work: Work) -> None:
    store.new_job(CAR, {LOG: b"time,rpm\n0,1\n"})
    few = [{"id": "spring-weak", "parts": ["spring-weak"], "probability": 0.2}]
    keep(store, "diagnose", {**VERDICT, "causes": few, "healthy": 0.42, "none_of_these": 0.1})
    assert lines(store, work, 1)["verdict"] == "42 %: sound"
    keep(store, "diagnose", {**VERDICT, "causes": few, "healthy": 0.1, "none_of_these": 0.7})
    assert lines(store, work, 1)["verdict"] == "70 %: none of these"


def test_files_that_are_not_right_yet_do_not_stop_a_page(store: Store, work: Work) -> None:
    store.new_job("[car\nname = ", {"readings.toml": b"reading = 3\n", LOG: b"\xff\xfe"})
    said = lines(store, work, 1)
    assert said["car"] == "not told yet" and said["bench"] == "no reading yet" and said["pulls"] == "1 recording"


def test_a_mended_job_is_driven_compared_and_keeps_its_verdict(store: Store, work: Work) -> None:
    store.new_job(CAR, {LOG: b"time,rpm\n0,1\n", "readings.toml": b'format = 1\n[[reading]]\ntest = "free-travel"\n'})
    keep(store, "diagnose", VERDICT)
    assert following(store, work, 1)[1] == "/jobs/1/verdict#do-next"
    store.set_state(1, "mended")
    assert following(store, work, 1) == ("drive again, and drop the log", "/jobs/1/pulls")
    store.write(1, "recordings/new.csv", "time,rpm\n0,2\n")
    store.write(1, "readings.toml", 'format = 1\n[[reading]]\ntest = "free-travel"\n[[reading]]\ntest = "free-travel"\n')
    pulls = {"pulls": [{"rpm_to": 6500.0}]}
    store.answers.keep(1, "inspect", pulls, {"path": "recordings/new.csv"}, store.content(1))
    said = lines(store, work, 1)
    assert said["pulls"] == "3 pulls to 6,500 rpm, 1 after the repair"
    assert said["bench"] == "2 readings, 1 after the repair"
    assert said["verdict"].startswith("71 %") and "before the last change" not in said["verdict"]
    assert following(store, work, 1) == ("compare the pulls from before and after the repair", "/jobs/1/proof")
    sides = {"before": [f"{LOG}#1"], "after": ["recordings/new.csv#1"]}
    store.answers.keep(1, "prove", {"verdict": "cured"}, sides, store.content(1))
    assert following(store, work, 1) == ("sign it off", "/jobs/1/proof#sign")
    store.answers.keep(1, "prove", {"verdict": "better"}, sides, store.content(1))
    assert following(store, work, 1) == ("sign off what was reached, or go on with what is still off", "/jobs/1/proof")
    store.set_state(1, "found")  # signed off
    assert following(store, work, 1)[1] == "/jobs/1/report"
    store.write(1, "recordings/newer.csv", "time,rpm\n0,3\n")
    assert following(store, work, 1)[1] == "/jobs/1/proof"
    assert "before the last change" not in lines(store, work, 1)["verdict"]


def test_a_cured_car_is_signed_off_and_its_causes_are_not_ranked_again(store: Store, work: Work) -> None:
    store.new_job(CAR, {LOG: b"time,rpm\n0,1\n"})
    keep(store, "diagnose", VERDICT)
    store.set_state(1, "mended")
    store.write(1, "recordings/new.csv", "time,rpm\n0,2\n")
    store.answers.keep(1, "prove", {"verdict": "cured"}, {"after": ["recordings/new.csv#1"]}, store.content(1))
    store.write(1, "car.toml", CAR + "# other tyres\n")
    assert following(store, work, 1) == ("sign it off", "/jobs/1/proof#sign")
    store.set_state(1, "proved")
    assert following(store, work, 1)[1] == "/jobs/1/report"
