"""The command line of the fuzzing: starts it in a process of its own, and again where that one was ended."""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from tests.fuzz import targets  # before any reader: only what is imported there is watched for new code

from boostproof.errors import InputError

START_UP = 90  # seconds for imports and for a hang to be noticed


def main(arguments: list[str] | None = None) -> None:
    """Fuzz one reader; ends with exit code 1 where something was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.fuzz_readers")
    parser.add_argument("--reader", choices=[*sorted(targets.TARGETS), targets.ALL], required=True)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--keep", type=Path, default=Path("fuzz-found"), help="folder for inputs that were found")
    parser.add_argument("--corpus", type=Path, help="folder in which inputs that reached new code stay between runs")
    parser.add_argument("--input", type=Path, help="read this one input only, and let its error through")
    parser.add_argument("--home", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    if options.home is not None:
        targets.fuzz(options.reader, options.seconds, options.keep, options.home, options.corpus)
        return
    options.keep.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="boostproof-fuzz-", ignore_cleanup_errors=True) as folder:
        home = Path(folder)
        if options.input is not None:
            _once(options.reader, options.input, home)
            return
        corpus = options.corpus or home / "corpus"
        corpus.mkdir(parents=True, exist_ok=True)
        watch = Watch(options.reader, options.keep, home, corpus)
        watch.run(options.seconds)
    sys.exit(watch.tell())


def _once(name: str, data: Path, home: Path) -> None:
    content = data.read_bytes()
    if name == targets.ALL:
        name, content = targets.one_of_all(content)
    target = targets.TARGETS[name]
    path = target.write(home, content)
    if path is not None:
        targets.check_table(target.read(path))


@dataclass
class Watch:
    """Counts over all processes of one run."""

    name: str
    keep: Path
    home: Path
    corpus: Path
    count: int = 0
    tables: Counter[str] = field(default_factory=Counter)
    ended: int = 0
    found: dict[str, int] = field(default_factory=dict)
    took: float = 0.0

    def run(self, seconds: float) -> None:
        """Fuzz until the time is over."""
        begun = time.monotonic()
        known = set(self.keep.iterdir())
        while (left := seconds - (time.monotonic() - begun)) > 0.5:
            code = self._process(left)
            self._add_note()
            for path in sorted(set(self.keep.iterdir()) - known):
                if path.name.startswith((f"{self.name}-crash-", f"{self.name}-timeout-", f"{self.name}-oom-")):
                    self._judge(path)
                known.add(path)
            if code != 0 and not self.count:
                self.found["the fuzzing does not start"] = 1
                break
        self.took = time.monotonic() - begun

    def _process(self, seconds: float) -> int:
        order = ["--reader", self.name, "--seconds", str(seconds), "--keep", str(self.keep)]
        order += ["--home", str(self.home), "--corpus", str(self.corpus)]
        command = [sys.executable, "-m", "tests.fuzz.fuzz_readers", *order]
        log = self.home / "log.txt"
        with log.open("wb") as stream:
            try:
                code = subprocess.run(
                    command, stdout=stream, stderr=subprocess.STDOUT, timeout=seconds + START_UP
                ).returncode
            except subprocess.TimeoutExpired:
                code = 1
        text = log.read_text(encoding="utf-8", errors="replace")
        if code != 0 or "FOUND" in text:
            targets.say(text[text.find("FOUND") :] if "FOUND" in text else text[-3000:])
        return code

    def _add_note(self) -> None:
        note = self.home / "note.json"
        if not note.exists():
            return
        count, tables, found = json.loads(note.read_text(encoding="utf-8"))
        note.unlink()
        self.count += count
        self.tables.update(tables)
        for place, times in found.items():
            self.found[place] = self.found.get(place, 0) + times

    def _judge(self, path: Path) -> None:
        """An input that ended the process, or hung in it, read as untrusted files are."""
        from boostproof.recording.readers.apart import read_table_apart

        name, content = self.name, path.read_bytes()
        if name == targets.ALL:
            name, content = targets.one_of_all(content)
        target = targets.TARGETS[name]
        if not target.apart:
            self.found[path.name] = 1
            return
        log = target.write(self.home, content)
        try:
            if log is not None:
                read_table_apart(log, seconds=30.0)
        except InputError as error:
            targets.say(f"{path.name} ended the process; read apart it is told: {error}")
        self.ended += 1

    def tell(self) -> int:
        """Say what there was; 1 where something was found."""
        targets.say(
            f"{self.name}: {self.count} executions in {self.took:.0f} s, {self.tables.total()} of them tables "
            f"({', '.join(f'{name} {count}' for name, count in sorted(self.tables.items()))}); "
            f"{self.ended} ended the process and were told when read apart; "
            f"{len(self.found)} findings: {self.found or 'none'}"
        )
        return 1 if self.found else 0


if __name__ == "__main__":
    main()
