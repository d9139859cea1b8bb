"""Answers about columns kept on disk: one file for each set of headers, in the user's data folder.

Nothing is lost: a file is replaced whole or not at all, and one that cannot be read is set aside under
another name and told of.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from boostproof.errors import InputError
from boostproof.findings import Finding

if TYPE_CHECKING:
    from boostproof.recording.columns.remembered import Remembered
    from boostproof.recording.model import ColumnChoice, Table


def data_folder() -> Path:
    """Folder of what the user told the tool: ``BOOSTPROOF_DATA`` if set, else the platform's for such data."""
    chosen = os.environ.get("BOOSTPROOF_DATA")
    if chosen:
        return Path(chosen)
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or os.path.expanduser(r"~\AppData\Local")
    elif sys.platform == "darwin":
        base = os.path.expanduser("~/Library/Application Support")
    else:
        base = os.environ.get("XDG_DATA_HOME", "")
        base = base if os.path.isabs(base) else os.path.expanduser("~/.local/share")
    return Path(base) / "boostproof"


def overruled(
    told: Mapping[str, ColumnChoice], named: Mapping[str, ColumnChoice]
) -> dict[str, ColumnChoice]:
    """Columns told by the case, without those that a person names otherwise now, and these."""
    from boostproof.recording.columns.remembered import Remembered

    return dict(Remembered(told).with_answers(named, (), why=None).answers)


class ColumnMemory:
    """What was answered about the columns of logs, by their headers.

    Attributes
    ----------
    findings : what was noticed about the files themselves
    table : the table last asked for, None before
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = (data_folder() if folder is None else folder) / "columns"
        self.findings: list[Finding] = []
        self.table: Table | None = None

    def of(self, table: Table) -> Mapping[str, ColumnChoice]:
        """Answers for the headers of a table, by our channel names; empty where there are none."""
        from boostproof.recording.columns.remembered import key_of

        self.table = table
        return self._kept(key_of(table)).answers

    def forgotten(self, table: Table) -> Mapping[str, ColumnChoice]:
        """Take back the answers for the headers of a table, and say so; always empty."""
        self.table = table
        had = self.forget(table)
        says = "The answers kept for logs with these columns were taken back."
        if not had:
            says = "No answer was kept for logs with these columns."
        self.findings.append(Finding("columns-forgotten", table.file, says))
        return {}

    def remember(self, table: Table, answers: Mapping[str, ColumnChoice]) -> Path:
        """Keep answers beside those kept already.

        Raises
        ------
        InputError
            If the file cannot be written.
        """
        from boostproof.recording.columns.remembered import key_of

        key = key_of(table)
        kept = self._kept(key).with_answers(answers, [column.header for column in table.columns])
        path = self._path(key)
        part = path.with_suffix(f".{os.getpid()}.part")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            with part.open("w", encoding="utf-8") as file:
                file.write(json.dumps(kept.as_dict(), indent=2, ensure_ascii=False) + "\n")
                file.flush()
                os.fsync(file.fileno())
            part.replace(path)
        except OSError as error:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            raise InputError(
                f"The answer could not be kept: {error.strerror or error}.",
                kind="not-remembered",
                where=str(path),
                do="Make room or allow writing there, or set BOOSTPROOF_DATA to another folder.",
            ) from error
        return path

    def forget(self, table: Table) -> bool:
        """Take back every answer for the headers of a table; False where there was none.

        Raises
        ------
        InputError
            If the file cannot be removed.
        """
        from boostproof.recording.columns.remembered import key_of

        path = self._path(key_of(table))
        try:
            path.unlink()
        except FileNotFoundError:
            return False
        except OSError as error:
            raise InputError(
                f"The answer could not be taken back: {error.strerror or error}.",
                kind="not-forgotten",
                where=str(path),
                do="Allow writing in that folder, or remove the file by hand.",
            ) from error
        return True

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}.json"

    def _kept(self, key: str) -> Remembered:
        from boostproof.recording.columns.remembered import Remembered

        path = self._path(key)
        try:
            return Remembered.from_dict(json.loads(path.read_text(encoding="utf-8")))
        except FileNotFoundError:
            pass
        except (OSError, ValueError) as error:
            self._set_aside(path, error)
        return Remembered({})

    def _set_aside(self, path: Path, error: Exception) -> None:
        """Keep a file that cannot be read under another name, so that nothing writes over it."""
        number = 1
        while (aside := path.with_suffix(f".damaged-{number}")).exists():
            number += 1
        try:
            path.replace(aside)
            done = f"it was set aside as {aside.name}"
        except OSError:
            done = "it was left as it is"
        self.findings.append(
            Finding(
                "damaged-answers",
                str(path),
                f"The answers kept for logs with these columns cannot be read ({error}); {done} and not used.",
                "Answer again with --column and --remember, or mend the file and give it its name back.",
            )
        )
