"""Settings of the shop, and what is kept beside the files and answers of each job."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from boostproof.jobs import rows
from boostproof.jobs.database import Database
from boostproof.jobs.remembered import Remembered, remembered


class Settings:
    """Values by name: anything that JSON holds.

    Parameters
    ----------
    database, memory : of the store
    job_id : of the job whose settings these are, None for those of the shop
    """

    def __init__(self, database: Database, memory: Remembered, job_id: int | None = None) -> None:
        self.memory = memory
        self._database, self._job_id = database, job_id

    def of_job(self, job_id: int) -> Settings:
        """What pages keep for a job; it goes out with the case. Another answer of the job is kept as ``{"answer": 17}``."""
        return Settings(self._database, self.memory, job_id)

    def get(self, name: str, default: Any = None) -> Any:
        """A setting, ``default`` where there is none."""
        found = self._all(self._job_id).get(name)
        return default if found is None else found

    def set(self, name: str, value: Any) -> None:
        """Keep a setting."""
        self.change(name, lambda before: value)

    def change(self, name: str, change: Callable[[Any], Any]) -> None:
        """Keep a setting made from the one that is there (None where there is none); nobody else's change gets lost."""
        key = self._key(name)
        with self._database.writing() as connection:
            rows.set_setting(connection, key, change(rows.setting(connection, key)))

    @remembered
    def _all(self, job_id: int | None) -> dict[str, Any]:
        """All of the shop or of a job at once: a page asks for many."""
        with self._database.reading() as connection:
            return rows.settings_of(connection, job_id)

    def _key(self, name: str) -> str:
        return name if self._job_id is None else rows.job_key(self._job_id, name)
