"""Several boats in one store, and its people; acts numbered, chained, with what they changed; records by boat.

Revision ID: 0004
Revises: 0003
"""

import hashlib
import json

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    db = op.get_bind()
    # added one by one: building the table of boats anew would break the hold of all others on it
    op.add_column("boat", sa.Column("known_as", sa.Text(), server_default="", nullable=False))
    op.add_column("boat", sa.Column("moved_to", sa.Text(), server_default="", nullable=False))
    for table in ("boat", "answers", "choices"):
        op.add_column(table, sa.Column("act", sa.Integer(), server_default="0", nullable=False))
    for number, name in db.execute(sa.text("SELECT id, name FROM boat ORDER BY id")).all():
        known_as = " ".join(name.casefold().split())
        while db.execute(sa.text("SELECT id FROM boat WHERE known_as = :a"), {"a": known_as}).first():
            known_as += f" {number}"
        db.execute(sa.text("UPDATE boat SET known_as = :a WHERE id = :n"), {"a": known_as, "n": number})
    op.create_index("ix_boat_known_as", "boat", ["known_as"], unique=True)
    op.create_index("ix_answers_boat_id_number", "answers", ["boat_id", "number"])
    op.create_index("ix_choices_boat_id_part_name", "choices", ["boat_id", "part", "name"])

    op.add_column("records", sa.Column("number", sa.Integer(), nullable=True))
    op.execute("UPDATE records SET number = id")
    with op.batch_alter_table("records") as batch:
        batch.alter_column("number", existing_type=sa.Integer(), nullable=False)
        batch.drop_constraint(op.f("fk_records_corrects_records"), type_="foreignkey")
        batch.create_unique_constraint(op.f("uq_records_boat_id_number"), ["boat_id", "number"])
        batch.create_foreign_key(
            op.f("fk_records_boat_id_corrects"), "records", ["boat_id", "corrects"], ["boat_id", "number"]
        )

    op.add_column("acts", sa.Column("number", sa.Integer(), nullable=True))
    op.add_column("acts", sa.Column("was", sa.JSON(none_as_null=True), nullable=True))
    op.add_column("acts", sa.Column("now", sa.JSON(none_as_null=True), nullable=True))
    op.add_column("acts", sa.Column("undoes", sa.Integer(), nullable=True))
    op.add_column("acts", sa.Column("chain", sa.String(length=64), nullable=True))
    _chain(db)
    with op.batch_alter_table("acts") as batch:
        batch.alter_column("number", existing_type=sa.Integer(), nullable=False)
        batch.alter_column("chain", existing_type=sa.String(length=64), nullable=False)
        batch.create_unique_constraint(op.f("uq_acts_boat_id_number"), ["boat_id", "number"])
    _people()
    op.create_table(
        "photographs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("boat_id", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["boat_id"], ["boat.id"], name=op.f("fk_photographs_boat_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photographs")),
        sa.UniqueConstraint("boat_id", "digest", name=op.f("uq_photographs_boat_id_digest")),
    )
    _jobs()


def _jobs() -> None:
    """Make the table of long computations."""
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("boat_id", sa.Integer(), nullable=False),
        sa.Column("lane", sa.Text(), nullable=False),
        sa.Column("busy", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("what", sa.JSON(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("asked", sa.String(length=40), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("stop", sa.Boolean(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("share", sa.Float(), nullable=False),
        sa.Column("best", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("result", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("said", sa.Text(), nullable=False),
        sa.Column("worker", sa.Text(), nullable=False),
        sa.Column("beats", sa.Integer(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.CheckConstraint("state in ('waiting', 'running', 'done', 'stopped', 'failed')", name=op.f("ck_jobs_state")),
        sa.ForeignKeyConstraint(["boat_id"], ["boat.id"], name=op.f("fk_jobs_boat_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
        sa.UniqueConstraint("boat_id", "lane", "busy", name=op.f("uq_jobs_boat_id_lane_busy")),
        sqlite_autoincrement=True,
    )


def _people() -> None:
    """Make the tables of who may sign in, who is signed in, and the store's own keys."""
    op.create_table(
        "people",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("password", sa.Text(), nullable=False),
        sa.Column("pin", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_people")),
        sa.UniqueConstraint("name", name=op.f("uq_people_name")),
    )
    op.create_table(
        "sittings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("begun", sa.String(length=40), nullable=False),
        sa.Column("seen", sa.String(length=40), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_sittings_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sittings")),
        sa.UniqueConstraint("digest", name=op.f("uq_sittings_digest")),
    )
    op.create_table(
        "keys",
        sa.Column("name", sa.String(length=20), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_keys")),
    )


def _chain(db: sa.Connection) -> None:
    """Number the acts of each boat and chain them, as `scrieve.store.acting` did when this was written."""
    table = sa.table(
        "acts",
        *(sa.column(name) for name in ("id", "boat_id", "at", "who", "what", "number", "chain")),
        sa.column("detail", sa.JSON()),
    )
    last: dict[int, tuple[int, str]] = {}
    for row in db.execute(sa.select(table).order_by(table.c.id)).all():
        number, before = last.get(row.boat_id, (0, ""))
        content = [number + 1, row.at, row.who, row.what, row.detail, None, None, None]
        plain = json.dumps(content, sort_keys=True, allow_nan=False, ensure_ascii=False)
        chain = hashlib.sha256(f"{before}\n{plain}".encode()).hexdigest()
        last[row.boat_id] = number + 1, chain
        db.execute(sa.update(table).where(table.c.id == row.id).values(number=number + 1, chain=chain))


def downgrade() -> None:
    for table in ("jobs", "photographs", "keys", "sittings", "people"):
        op.drop_table(table)
    with op.batch_alter_table("acts") as batch:
        batch.drop_constraint(op.f("uq_acts_boat_id_number"), type_="unique")
        for name in ("chain", "undoes", "now", "was", "number"):
            batch.drop_column(name)
    with op.batch_alter_table("records") as batch:
        batch.drop_constraint(op.f("fk_records_boat_id_corrects"), type_="foreignkey")
        batch.drop_constraint(op.f("uq_records_boat_id_number"), type_="unique")
        batch.create_foreign_key(op.f("fk_records_corrects_records"), "records", ["corrects"], ["id"])
        batch.drop_column("number")
    op.drop_index("ix_choices_boat_id_part_name", "choices")
    op.drop_index("ix_answers_boat_id_number", "answers")
    op.drop_index("ix_boat_known_as", "boat")
    for table in ("choices", "answers", "boat"):
        op.drop_column(table, "act")
    for name in ("moved_to", "known_as"):
        op.drop_column("boat", name)
