"""The tables. A change here needs a new file in ``migrations/versions`` and a new `HEAD`."""

from __future__ import annotations

from sqlalchemy import Column, Float, ForeignKey, Index, Integer, MetaData, String, Table, Text

HEAD = "0003"
KNOWN = ("0001", "0002", "0003")  # every version that was ever released, oldest first

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True, autoincrement=True)


def _job() -> Column[int]:
    return Column("job", ForeignKey("job.id"), nullable=False)


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _time(name: str) -> Column[str]:
    return Column(name, String(32), nullable=False)


def _hash(name: str) -> Column[str]:
    return Column(name, String(64), nullable=False)


job = Table(
    "job", METADATA, _id(), _text("name"), _text("car"), _text("complaint"), _text("state"), _time("created"),
    _time("changed"), sqlite_autoincrement=True,
)  # fmt: skip

# Every version of every file that ever came in; nothing is taken out.
version = Table(
    "version", METADATA, _id(), _job(), _text("path"), _hash("sha256"), Column("size", Integer, nullable=False),
    _time("changed"), Index(None, "job", "path"), Index(None, "sha256"), sqlite_autoincrement=True,
)  # fmt: skip

# Which version is there now.
present = Table(
    "present", METADATA, Column("job", ForeignKey("job.id"), primary_key=True), Column("path", Text, primary_key=True),
    Column("version", ForeignKey("version.id"), nullable=False),
)  # fmt: skip

# Folders without a file in them, which a case brought along.
empty_folder = Table(
    "empty_folder", METADATA, Column("job", ForeignKey("job.id"), primary_key=True),
    Column("path", Text, primary_key=True),
)  # fmt: skip

# What a content hash stands for: paths and sha256, so that an old answer can be made again.
content = Table("content", METADATA, Column("content", String(64), primary_key=True), _text("files"))

answer = Table(
    "answer", METADATA, _id(), _job(), _text("kind"), _text("choices"), _hash("content"), _text("answer"),
    Column("seed", Integer, nullable=False), _text("versions"), _time("made"),
    Index(None, "job", "kind", "content"), sqlite_autoincrement=True,
)  # fmt: skip

task = Table(
    "task", METADATA, _id(), _job(), _text("kind"), _text("choices"), _hash("content"), _text("state"), _text("says"),
    Column("share", Float, nullable=False), Column("error", Text), Column("answer", ForeignKey("answer.id")),
    Column("tries", Integer, nullable=False), _time("created"), _time("ended"), Column("so_far", Text),
    Index(None, "job"), Index(None, "state"), sqlite_autoincrement=True,
)  # fmt: skip

setting = Table("setting", METADATA, Column("key", Text, primary_key=True), _text("value"))

# What was sent and carried out, so that the same sent again is not carried out again.
sent = Table("sent", METADATA, Column("key", String(64), primary_key=True), _text("address"), _time("at"))

log = Table(
    "log", METADATA, _id(), _job(), _time("at"), _text("says"), Index(None, "job"), sqlite_autoincrement=True
)
