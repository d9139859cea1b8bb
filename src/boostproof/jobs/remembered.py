"""What was read of a store, kept in memory for as long as nobody writes to it.

A page asks many small questions, most of them more than once, and between two changes of a shop many pages are shown.
SQLite tells by one cheap number whether anybody, here or in another program, has written since.
"""

from __future__ import annotations

import sqlite3
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar

MOST = 4096  # answers to questions: twenty jobs with all their pages, about 100 MB at the very most
MOST_LASTING = 512  # of those that no write makes old: some twenty for each of twenty jobs, the same again

P = ParamSpec("P")
T = TypeVar("T")


class _Passed(threading.local):
    by: bool = False


class Remembered:
    """Answers of one database, dropped together as soon as it was written to."""

    def __init__(self, path: Path) -> None:
        self._lock = threading.Lock()
        self._answers: OrderedDict[str, Any] = OrderedDict()
        self._lasting: OrderedDict[str, Any] = OrderedDict()
        self._state = -1
        self._passed = _Passed()
        # of its own, so that every write is one of another connection (sqlite.org/pragma.html#pragma_data_version)
        self._watch = sqlite3.connect(path, check_same_thread=False)

    def get(self, question: str, ask: Callable[[], T]) -> T:
        """The answer to a question; it is shared, so nobody may change it."""
        if self._passed.by:
            return ask()
        state = self._seen()
        with self._lock:
            if state == self._state and question in self._answers:
                self._answers.move_to_end(question)
                found: T = self._answers[question]
                return found
        answer = ask()
        with self._lock:
            if state != self._state:
                self._answers.clear()
                self._state = state
            self._answers[question] = answer
            while len(self._answers) > MOST:
                self._answers.popitem(last=False)
        return answer

    def lasting(self, question: str, ask: Callable[[], T]) -> T:
        """The answer to a question that no write can change, such as what was made of one kept answer: the question must
        name all that decides it. It is shared, so nobody may change it."""
        if self._passed.by:
            return ask()
        with self._lock:
            if question in self._lasting:
                self._lasting.move_to_end(question)
                found: T = self._lasting[question]
                return found
        answer = ask()
        with self._lock:
            self._lasting[question] = answer
            while len(self._lasting) > MOST_LASTING:
                self._lasting.popitem(last=False)
        return answer

    @contextmanager
    def passed_by(self) -> Iterator[None]:
        """Inside, this thread asks anew and nothing is kept: it may see what it wrote and has not finished."""
        self._passed.by = True
        try:
            yield
        finally:
            self._passed.by = False

    @property
    def state(self) -> int:
        """Another number as soon as anybody wrote: what was asked for before it was read may be old after."""
        return self._seen()

    def close(self) -> None:
        """Look no more."""
        self._watch.close()

    def _seen(self) -> int:
        with self._lock:
            return int(self._watch.execute("PRAGMA data_version").fetchone()[0])


class Remembers(Protocol):
    """Something with a memory."""

    @property
    def memory(self) -> Remembered: ...


S = TypeVar("S", bound=Remembers)


def remembered(method: Callable[Concatenate[S, P], T]) -> Callable[Concatenate[S, P], T]:
    """A method that only reads: the same question is answered from memory until somebody writes.

    A list is given anew each time; what lies in it is shared.
    """

    @wraps(method)
    def read(self: S, /, *args: P.args, **named: P.kwargs) -> T:
        question = f"{method.__qualname__} {args!r} {sorted(named.items())!r}"
        found = self.memory.get(question, lambda: method(self, *args, **named))
        return list(found) if isinstance(found, list) else found  # type: ignore[return-value]

    return read
