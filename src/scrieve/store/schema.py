"""The tables of a store: a boat file, or a yard's PostgreSQL database. Every table carries the boat's id."""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

#: In the head of the file (bytes 68 to 71): says that an SQLite file is a boat of ours.
APPLICATION_ID = 0x53435256
#: Number of the newest migration; in the head of the file as `user_version`.
SCHEMA = 4

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _boat_id() -> Column[int]:
    return Column("boat_id", ForeignKey("boat.id"), nullable=False)


def _act() -> Column[int]:
    """Number of the act that wrote the row; 0 of rows older than the fourth schema."""
    return Column("act", Integer, nullable=False, server_default="0")


#: `known_as` tells the boats of one store apart; `moved_to` is where a boat lives now that was carried elsewhere.
boat = Table(
    "boat",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("planking", String(10), nullable=False),
    Column("thickness_mm", Float, nullable=False),
    Column("units", String(10), nullable=False),
    Column("sigma_mm", Float, nullable=False),
    Column("half_beam_mm", Float),
    Column("note", Text, nullable=False),
    Column("known_as", Text, nullable=False, server_default=""),
    Column("moved_to", Text, nullable=False, server_default=""),
    _act(),
    Index("ix_boat_known_as", "known_as", unique=True),
)

#: Each delivery that came with a key, and the answer given to it: the same key again gets the same answer.
deliveries = Table(
    "deliveries",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("key", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("digest", String(64), nullable=False),
    Column("answer", JSON, nullable=False),
    UniqueConstraint("boat_id", "key"),
)

marks = Table(
    "marks",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("number", Integer, nullable=False),
    Column("frame", Text, nullable=False),
    Column("station_mm", Float, nullable=False),
    Column("height_mm", Float, nullable=False),
    Column("half_breadth_mm", Float, nullable=False),
    Column("side", String(1), nullable=False),
    Column("label", Text, nullable=False),
    Column("sigma_mm", Float),
    Column("kind", String(20), nullable=False),
    Column("note", Text, nullable=False),
    Column("line", Integer, nullable=False),
    Column("source", Text, nullable=False),
    Column("var_height_mm2", Float),
    Column("var_half_breadth_mm2", Float),
    Column("cov_mm2", Float),
    Column("way", String(20), nullable=False, server_default="offsets"),
    Column("raw", Text, nullable=False, server_default=""),
    UniqueConstraint("boat_id", "number"),
    CheckConstraint("side in ('P', 'S', '')", name="side"),
)

#: Append-only: what the builder said of a mark; the latest stands, one without words takes the answer back.
answers = Table(
    "answers",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("number", Integer, nullable=False),
    Column("what", String(20), nullable=False),
    Column("replaced_by", Integer),
    Column("note", Text, nullable=False),
    _act(),
    ForeignKeyConstraint(["boat_id", "number"], ["marks.boat_id", "marks.number"]),
    Index("ix_answers_boat_id_number", "boat_id", "number"),
)

#: Append-only: what was chosen for a frame, a plank, the jig…; the latest stands, one without a choice is forgotten.
choices = Table(
    "choices",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("part", String(20), nullable=False),
    Column("name", Text, nullable=False),
    Column("choice", JSON(none_as_null=True)),
    _act(),
    Index("ix_choices_boat_id_part_name", "boat_id", "part", "name"),
)

#: Append-only: what was done and measured at the bench, by member; a correction is a new record that names the old one.
records = Table(
    "records",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("number", Integer, nullable=False),
    Column("kind", String(30), nullable=False),
    Column("member", Text, nullable=False),
    Column("at", String(40), nullable=False),
    Column("who", Text, nullable=False),
    Column("detail", JSON, nullable=False),
    Column("corrects", Integer),
    UniqueConstraint("boat_id", "number"),
    ForeignKeyConstraint(["boat_id", "corrects"], ["records.boat_id", "records.number"]),
)

#: Append-only: every act, written in the transaction of what it did. `was` and `now` are what it changed, `undoes` the
#: act that it takes back, `chain` the digest of this act and of all before it.
acts = Table(
    "acts",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("number", Integer, nullable=False),
    Column("at", String(40), nullable=False),
    Column("who", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("detail", JSON, nullable=False),
    Column("was", JSON(none_as_null=True)),
    Column("now", JSON(none_as_null=True)),
    Column("undoes", Integer),
    Column("chain", String(64), nullable=False),
    UniqueConstraint("boat_id", "number"),
)

#: Photographs, by the SHA-256 of their bytes (JPEG, in base64).
photographs = Table(
    "photographs",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("digest", String(64), nullable=False),
    Column("content", Text, nullable=False),
    UniqueConstraint("boat_id", "digest"),
)

#: Long computations: what was asked, how far each is, what came of it. `busy` is 1 while one waits or runs, else NULL:
#: of one lane of a boat only one at a time is under way. `beats` counts the signs of life of the worker it runs at.
jobs = Table(
    "jobs",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("lane", Text, nullable=False),
    Column("busy", Integer),
    Column("kind", String(40), nullable=False),
    Column("what", JSON, nullable=False),
    Column("who", Text, nullable=False),
    Column("asked", String(40), nullable=False),
    Column("state", String(10), nullable=False),
    Column("stop", Boolean, nullable=False),
    Column("at", Text, nullable=False),
    Column("share", Float, nullable=False),
    Column("best", JSON(none_as_null=True)),
    Column("result", JSON(none_as_null=True)),
    Column("said", Text, nullable=False),
    Column("worker", Text, nullable=False),
    Column("beats", Integer, nullable=False),
    Column("tries", Integer, nullable=False),
    UniqueConstraint("boat_id", "lane", "busy"),
    CheckConstraint("state in ('waiting', 'running', 'done', 'stopped', 'failed')", name="state"),
    sqlite_autoincrement=True,  # a number is never given twice, although jobs that have ended make room
)

#: Every table of a boat but her own row and her jobs, in the order in which rows may be carried to another store.
CARRIED = (marks, answers, choices, photographs, records, acts, deliveries)

#: People who may sign in to the store's pages; passwords and PINs as argon2 hashes.
people = Table(
    "people",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    Column("role", String(20), nullable=False),
    Column("password", Text, nullable=False),
    Column("pin", Text, nullable=False),
    Column("active", Boolean, nullable=False),
)

#: Who is signed in on which device; of the token only its digest.
sittings = Table(
    "sittings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("person_id", ForeignKey("people.id"), nullable=False),
    Column("digest", String(64), nullable=False, unique=True),
    Column("begun", String(40), nullable=False),
    Column("seen", String(40), nullable=False),
    Column("device", Text, nullable=False),
)

#: The store's own keys, by what they are for.
keys = Table(
    "keys",
    metadata,
    Column("name", String(20), primary_key=True),
    Column("key", Text, nullable=False),
)
