"""The one place where an answer, or an error, becomes output and an exit code."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import warnings
from collections.abc import Sequence

import click

from boostproof.cli.answer import Answer, dump
from boostproof.cli.commands import boostproof
from boostproof.errors import BoostproofError

DONE, NOT_DONE, WRONG_COMMAND_LINE = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command line.

    Parameters
    ----------
    arguments : the words after ``boostproof``; those of this process if left out

    Returns
    -------
    int
        The exit code: 0 done, 1 not done, 2 wrong command line.
    """
    # before NumPy is loaded: the matrices are small, and threads for them only wait for each other
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    words = list(sys.argv[1:] if arguments is None else arguments)
    as_json = "--json" in words
    debug = "--debug" in words or bool(os.environ.get("BOOSTPROOF_DEBUG"))
    _make_streams_safe(as_json)
    if not debug:
        # A library's warning is for its developers; what a technician should know is a finding.
        warnings.simplefilter("ignore")
    try:
        answer = boostproof.main(args=words, prog_name="boostproof", standalone_mode=False)
        if isinstance(answer, Answer):
            click.echo(dump(answer.as_json) if as_json else answer.text().rstrip("\n"))
            sys.stdout.flush()
            return DONE
        return answer if isinstance(answer, int) else DONE
    except BrokenPipeError:
        return _reader_has_left()
    except (click.ClickException, click.Abort, Exception) as error:
        if debug:
            import traceback

            traceback.print_exc()
        try:
            _show_failure(error, as_json=as_json)
        except BrokenPipeError:
            _reader_has_left()
        return WRONG_COMMAND_LINE if isinstance(error, click.UsageError) else NOT_DONE


def error_object(error: BaseException) -> dict[str, str]:
    """What is said of any exception: ``kind``, ``where``, ``says``, ``do``."""
    if isinstance(error, BoostproofError):
        return error.as_dict()
    if isinstance(error, click.UsageError):
        context = error.ctx
        command = context.command_path if context is not None else "boostproof"
        return {
            "kind": "command-line",
            "where": command,
            "says": error.format_message(),
            "do": f"'{command} --help' lists what it takes.",
        }
    if isinstance(error, click.ClickException):
        return {"kind": "error", "where": "", "says": error.format_message(), "do": ""}
    if isinstance(error, click.Abort | KeyboardInterrupt):
        return {
            "kind": "cancelled",
            "where": "",
            "says": "Stopped before it was done.",
            "do": "Run the same command again to start over.",
        }
    if isinstance(error, OSError) and error.errno is not None:
        return {
            "kind": "file",
            "where": str(error.filename or ""),
            "says": f"The file system refused: {(error.strerror or str(error)).rstrip('.')}.",
            "do": _FILE_ADVICE.get(error.errno, "See to it and run the same command again."),
        }
    if isinstance(error, MemoryError):
        return {
            "kind": "memory",
            "where": "",
            "says": "There was not enough memory to finish.",
            "do": "Close other programs, or cut the recording down to the pulls, and try again.",
        }
    message = " ".join(str(error).split())
    return {
        "kind": "internal",
        "where": "",
        "says": f"boostproof itself failed ({type(error).__name__}{': ' + message if message else ''}); "
        "your files are as they were.",
        "do": "Please report it with the case and what the same command says with --debug.",
    }


_FILE_ADVICE = {
    errno.ENOENT: "Check the name and the folder.",
    errno.EACCES: "Check who may read or write there.",
    errno.EPERM: "Check who may read or write there.",
    errno.ENOSPC: "Free some space on that disk.",
    errno.EISDIR: "Name a file, not a folder.",
    errno.ENOTDIR: "Name a folder, not a file.",
    errno.EROFS: "Choose a place that can be written.",
}


def _show_failure(error: BaseException, *, as_json: bool) -> None:
    if as_json:
        click.echo(dump({"format": 1, "error": error_object(error)}))
        return
    if isinstance(error, click.UsageError):
        error.show()
        return
    said = error_object(error)
    place = f"{said['where']}: " if said["where"] else ""
    click.echo(" ".join(part for part in (f"{place}{said['says']}", said["do"]) if part), err=True)


def _make_streams_safe(as_json: bool) -> None:
    """No character may stop the output on an old console; JSON is UTF-8 everywhere."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is None:  # replaced by a caller, who then owns its encoding
            continue
        if as_json and stream is sys.stdout:
            reconfigure(encoding="utf-8", errors="strict")
        else:
            reconfigure(errors="replace")


def _reader_has_left() -> int:
    """Whoever read our output (``| head``) has seen enough: not a failure, and nothing to say."""
    with contextlib.suppress(OSError):
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - lives until the process ends
    return DONE
