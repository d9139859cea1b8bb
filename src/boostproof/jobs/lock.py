"""A lock between processes that the system lets go of when its holder dies, however it dies."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from types import TracebackType
from typing import IO

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl


class FileLock:
    """Held by one process at a time, from `take` to `release` or the end of the process."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._file: IO[bytes] | None = None

    @property
    def held(self) -> bool:
        """This object holds the lock."""
        return self._file is not None

    def take(self) -> bool:
        """Try to get it; False where another holds it.

        Raises
        ------
        OSError
            If the file cannot be opened.
        """
        if self._file is not None:
            return True
        file = self._path.open("ab")
        try:
            if sys.platform == "win32":
                file.seek(0)
                msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
            else:
                fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            file.close()
            return False
        self._file = file
        return True

    def release(self) -> None:
        """Let go of it; nothing happens where it is not held."""
        if self._file is None:
            return
        if sys.platform == "win32":
            self._file.seek(0)
            msvcrt.locking(self._file.fileno(), msvcrt.LK_UNLCK, 1)
        self._file.close()
        self._file = None

    def __enter__(self) -> FileLock:
        """Wait until it is ours."""
        while not self.take():
            time.sleep(0.02)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()


def sync_folder(folder: Path) -> None:
    """Make the names in a folder last through a loss of power, where the system can."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
