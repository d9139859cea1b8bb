"""Open cases in memory, so that a reading moves the ranking at once.

A case is opened beside the requests, from what its diagnosis kept; nothing is inferred here. What is not kept any
more stays closed: then the ranking waits for the full answer.
"""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from boostproof.errors import BoostproofError
from boostproof.web.warm import wait_for_quiet

if TYPE_CHECKING:
    from fastapi import FastAPI
    from starlette.requests import Request

    from boostproof.workflows.open_case import OpenCase

State = Literal["opening", "open", "closed"]
MOST = 4
_READING = "reading the case"

_log = logging.getLogger("boostproof.web")


class _NotKeptError(Exception):
    """The diagnosis would have to be done again."""


class OpenCases:
    """The cases of the jobs that were looked at last.

    Parameters
    ----------
    busy : whether pages are being made; a case is opened in a quiet moment
    """

    def __init__(self, busy: Callable[[], bool] = lambda: False) -> None:
        self._busy = busy
        self._lock = threading.Lock()
        self._cases: OrderedDict[str, OpenCase | State] = OrderedDict()
        self._asked: deque[tuple[Callable[[], Path], str, dict[str, Any]]] = deque()
        self._opens = False
        self.changes = 0  # how often another case was asked for, opened or closed

    def ask(self, folder: Callable[[], Path], content: str, choices: Mapping[str, Any]) -> State:
        """Have a case opened, unless it is; says how far that is.

        Parameters
        ----------
        folder : makes the case as it was when it was judged
        content, choices : of its diagnosis
        """
        key = _key(content, choices)
        with self._lock:
            there = self._cases.get(key)
            if there is not None:
                self._cases.move_to_end(key)
                return there if isinstance(there, str) else "open"
            self._cases[key] = "opening"
            self.changes += 1
            while len(self._cases) > MOST:
                self._cases.popitem(last=False)
            self._asked.append((folder, key, dict(choices)))
            idle, self._opens = not self._opens, True
        if idle:  # one at a time: two at once would only take the processor from the requests
            threading.Thread(target=self._open_all, daemon=True).start()
        return "opening"

    def get(self, content: str, choices: Mapping[str, Any]) -> OpenCase | None:
        """A case that is open, None where it is not."""
        with self._lock:
            there = self._cases.get(_key(content, choices))
        return None if there is None or isinstance(there, str) else there

    def forget(self, content: str, choices: Mapping[str, Any]) -> None:
        """A case that could not be opened may be tried again: its diagnosis was done anew."""
        with self._lock:
            if self._cases.get(_key(content, choices)) == "closed":
                del self._cases[_key(content, choices)]
                self.changes += 1

    def _open_all(self) -> None:
        while True:
            with self._lock:
                if not self._asked:
                    self._opens = False
                    return
                folder, key, choices = self._asked.popleft()
            self._open(folder, key, choices)

    def _open(self, folder: Callable[[], Path], key: str, choices: dict[str, Any]) -> None:
        from boostproof.workflows.open_case import open_case

        found: OpenCase | State = "closed"
        wait_for_quiet(self._busy)
        if not self._wanted(key):  # so many others were looked at meanwhile that it would be let go at once
            return
        try:
            opened = open_case(folder(), progress=_only_kept, **choices)
            _warm(opened)
            found = opened
        except _NotKeptError:
            pass
        except BoostproofError as error:
            _log.info("a case stays closed: %s", error.says)
        except Exception:
            _log.exception("a case stays closed")
        with self._lock:
            if key in self._cases:
                self._cases[key] = found
                self.changes += 1

    def _wanted(self, key: str) -> bool:
        with self._lock:
            return key in self._cases


def open_cases_of(request: Request) -> OpenCases:
    """The open cases of an application."""
    state = request.app.state
    if not hasattr(state, "open_cases"):
        state.open_cases = OpenCases(lambda: state.turns.wanted > 0)
    found: OpenCases = state.open_cases
    return found


def beside(app: FastAPI, path: str) -> object:
    """What has a hand in a page besides the store: on the verdict, whether its case is open."""
    if not path.endswith("/verdict") or not hasattr(app.state, "open_cases"):
        return None
    cases: OpenCases = app.state.open_cases
    return cases.changes


def _only_kept(says: str, share: float) -> None:
    if says != _READING:
        raise _NotKeptError


def _warm(opened: OpenCase) -> None:
    """The first re-weighting loads what all have in common; a person should not wait for that."""
    from boostproof.bench.readings import FreeTravel

    opened.provisional(FreeTravel(test="free-travel", arm="swings freely"))


def _key(content: str, choices: Mapping[str, Any]) -> str:
    return f"{content} {sorted(choices.items())}"
