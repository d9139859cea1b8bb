"""The door: every outcome as exit code, standard output and standard error."""

from __future__ import annotations

import errno
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import click
import pytest

from boostproof.cli import commands, main, options
from boostproof.cli.answer import Answer, dump
from boostproof.cli.door import error_object
from boostproof.errors import InputError, NotDoneError


@pytest.fixture
def added(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Put a command of the test's own behind the door: what it runs comes from the test."""

    def add(body: Any) -> None:
        @click.command("probe")
        @options.common
        def probe() -> Any:
            return body()

        monkeypatch.setitem(commands.boostproof.commands, "probe", probe)

    return add


def raising(error: BaseException) -> Any:
    def body() -> None:
        raise error

    return body


def test_an_answer_is_text_or_one_object(added: Any, capsys: pytest.CaptureFixture[str]) -> None:
    added(lambda: Answer({"format": 1, "word": "Öl 20 °C"}, lambda: "in words\n"))
    assert main(["probe"]) == 0
    assert capsys.readouterr() == ("in words\n", "")
    assert main(["probe", "--json"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out) == {"format": 1, "word": "Öl 20 °C"} and err == ""


def test_text_is_not_made_when_json_is_wanted(added: Any, capsys: pytest.CaptureFixture[str]) -> None:
    added(lambda: Answer({"format": 1}, raising(AssertionError("text was made"))))
    assert main(["probe", "--json"]) == 0


def test_our_errors_say_where_what_and_what_to_do(added: Any, capsys: pytest.CaptureFixture[str]) -> None:
    added(
        raising(
            InputError(
                "'22' has no unit.",
                kind="bare-number",
                where="car.toml, line 4",
                do="Write '22 psi' or '22 kPa'.",
            )
        )
    )
    assert main(["probe"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "car.toml, line 4: '22' has no unit. Write '22 psi' or '22 kPa'.\n"
    assert main(["probe", "--json"]) == 1
    out, err = capsys.readouterr()
    assert err == ""
    assert json.loads(out) == {
        "format": 1,
        "error": {
            "kind": "bare-number",
            "where": "car.toml, line 4",
            "says": "'22' has no unit.",
            "do": "Write '22 psi' or '22 kPa'.",
        },
    }


@pytest.mark.parametrize(
    ("error", "kind", "part"),
    [
        (NotDoneError("No car fits.", kind="no-solution"), "no-solution", "No car fits."),
        (OSError(errno.ENOSPC, "No space left on device", "out.json"), "file", "No space left on device."),
        (PermissionError(errno.EACCES, "Permission denied", "car.toml"), "file", "Permission denied."),
        (MemoryError(), "memory", "not enough memory"),
        (KeyboardInterrupt(), "cancelled", "Stopped"),
        (ZeroDivisionError("division by zero"), "internal", "(ZeroDivisionError: division by zero)"),
        (RuntimeError("two\nlines"), "internal", "(RuntimeError: two lines)"),
        (RuntimeError(), "internal", "(RuntimeError)"),
    ],
)
def test_no_error_reaches_the_person_as_a_traceback(
    added: Any, capsys: pytest.CaptureFixture[str], error: BaseException, kind: str, part: str
) -> None:
    added(raising(error))
    assert main(["probe"]) == 1
    out, err = capsys.readouterr()
    assert out == "" and "Traceback" not in err and part in err
    assert len(err.strip().splitlines()) == 1
    assert main(["probe", "--json"]) == 1
    out, err = capsys.readouterr()
    said = json.loads(out)
    assert set(said) == {"format", "error"}
    assert set(said["error"]) == {"kind", "where", "says", "do"}
    assert said["error"]["kind"] == kind and part in said["error"]["says"]


def test_every_error_of_ours_but_none_of_pythons_keeps_its_own_words() -> None:
    assert error_object(OSError(errno.ENOENT, "No such file or directory", "x.csv"))["where"] == "x.csv"
    assert "--debug" in error_object(ValueError("x"))["do"]


def test_debug_shows_where_it_arose(
    added: Any, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    added(raising(ZeroDivisionError("x")))
    assert main(["probe", "--debug", "--json"]) == 1
    out, err = capsys.readouterr()
    assert "Traceback" in err and "ZeroDivisionError" in err
    assert json.loads(out)["error"]["kind"] == "internal"
    monkeypatch.setenv("BOOSTPROOF_DEBUG", "1")
    assert main(["probe"]) == 1
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("line", "part"),
    [
        (["diagnos"], "diagnose"),  # the nearest right name is offered
        (["diagnose"], "CASE"),
        (["diagnose", "x", "--sed", "3"], "--seed"),
        (["diagnose", "x", "--seed", "three"], "three"),
        (["inspect", "a", "--units", "feet"], "psi"),
        (["new", "a", "b"], "b"),
    ],
)
def test_a_wrong_command_line_is_exit_2(
    line: list[str], part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(line) == 2
    out, err = capsys.readouterr()
    assert out == "" and part in err and "Traceback" not in err
    assert main([*line, "--json"]) == 2
    out, _ = capsys.readouterr()
    assert json.loads(out)["error"]["kind"] == "command-line"
    assert part in json.loads(out)["error"]["says"]


def test_help_and_version_are_exit_0(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    text = capsys.readouterr().out
    for name in ("new", "inspect", "diagnose", "demo", "causes", "tests", "serve"):
        assert f"  {name} " in text
        assert main([name, "--help"]) == 0
        assert "--json" in capsys.readouterr().out
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("boostproof ")


def test_a_value_that_json_lacks_is_refused() -> None:
    with pytest.raises(ValueError, match="JSON compliant"):
        dump({"value": float("nan")})


def run_process(*words: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "boostproof", *words],
        capture_output=True, text=True, encoding="utf-8", timeout=60, check=False, cwd=cwd,
    )  # fmt: skip


def test_a_missing_recording_or_case_is_exit_1_in_a_process_of_its_own(tmp_path: Path) -> None:
    for words in (("inspect", "absent.csv"), ("diagnose", "absent")):
        plain = run_process(*words, cwd=tmp_path)
        assert plain.returncode == 1 and plain.stdout == "" and "absent" in plain.stderr
        assert "Traceback" not in plain.stderr
        answer = run_process(*words, "--json", cwd=tmp_path)
        assert answer.returncode == 1 and answer.stderr == ""
        assert "absent" in json.loads(answer.stdout)["error"]["where"]


def test_a_reader_that_leaves_early_is_no_failure(tmp_path: Path) -> None:
    code = (
        "import sys; from boostproof.cli import commands, main; from boostproof.cli.answer import Answer\n"
        "commands.boostproof.commands['causes'].callback = "
        "lambda **_: Answer({}, lambda: chr(10).join(['x' * 100] * 100000))\n"
        "sys.exit(main(['causes']))"
    )
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None and process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    said = process.stderr.read()
    process.stderr.close()
    assert process.wait(timeout=60) == 0
    assert said == b""
