"""Jobs kept on disk, and long work on them: the one place that stores (`store.Store`, `work.Work`)."""

from boostproof.jobs.records import STATES, Job, KeptAnswer, Noted, StoredFile, Task

__all__ = ["STATES", "Job", "KeptAnswer", "Noted", "StoredFile", "Task"]
