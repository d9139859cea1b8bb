"""One reader per file format: each turns a file into a `Table`, and only here files are opened."""

from __future__ import annotations

from boostproof.recording.readers.delimited import read_delimited

__all__ = ["read_delimited"]
