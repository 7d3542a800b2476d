"""The tables of a boat file. Every table carries the boat's id, so that several boats may share a database later."""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
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
SCHEMA = 3

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _boat_id() -> Column[int]:
    return Column("boat_id", ForeignKey("boat.id"), nullable=False)


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

#: Append-only: what the builder said of a mark; the latest stands.
answers = Table(
    "answers",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("number", Integer, nullable=False),
    Column("what", String(20), nullable=False),
    Column("replaced_by", Integer),
    Column("note", Text, nullable=False),
    ForeignKeyConstraint(["boat_id", "number"], ["marks.boat_id", "marks.number"]),
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
)

#: Append-only: what was done and measured at the bench, by member; a correction is a new record that names the old one.
records = Table(
    "records",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("kind", String(30), nullable=False),
    Column("member", Text, nullable=False),
    Column("at", String(40), nullable=False),
    Column("who", Text, nullable=False),
    Column("detail", JSON, nullable=False),
    Column("corrects", ForeignKey("records.id")),
)

#: Append-only: every act, written in the transaction of what it did.
acts = Table(
    "acts",
    metadata,
    Column("id", Integer, primary_key=True),
    _boat_id(),
    Column("at", String(40), nullable=False),
    Column("who", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("detail", JSON, nullable=False),
)
