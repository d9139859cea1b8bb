"""Progress on a terminal: one line on standard error, gone when the work is done, and what is told meanwhile, which stays."""

from __future__ import annotations

import shutil
import sys
from types import TracebackType


class Progress:
    """Call it with what is being done and the share done (0 to 1); silent unless a person watches.

    Used as a context manager, so that the line is wiped however the work ends.
    """

    def __init__(self) -> None:
        self._shown = sys.stderr.isatty()
        self._last = ""

    def __call__(self, says: str, share: float) -> None:
        if not self._shown:
            return
        width = max(20, shutil.get_terminal_size().columns - 1)
        line = f"{100.0 * min(1.0, max(0.0, share)):3.0f} %  {says}"[:width]
        if line != self._last:
            sys.stderr.write("\r" + line.ljust(len(self._last)))
            sys.stderr.flush()
            self._last = line

    def tell(self, text: str) -> None:
        """Lines above the progress, which stay."""
        if not self._shown:
            return
        self._wipe()
        sys.stderr.write(text.rstrip("\n") + "\n\n")
        sys.stderr.flush()

    def _wipe(self) -> None:
        if self._last:
            sys.stderr.write("\r" + " " * len(self._last) + "\r")
            sys.stderr.flush()
            self._last = ""

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._wipe()
