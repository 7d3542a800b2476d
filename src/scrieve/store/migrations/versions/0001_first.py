"""The first tables: boat, marks, answers, choices, deliveries, acts.

Revision ID: 0001
Revises:
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "boat",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("planking", sa.String(length=10), nullable=False),
        sa.Column("thickness_mm", sa.Float(), nullable=False),
        sa.Column("units", sa.String(length=10), nullable=False),
        sa.Column("sigma_mm", sa.Float(), nullable=False),
        sa.Column("half_beam_mm", sa.Float(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_boat")),
    )
    op.create_table(
        "acts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("boat_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("detail", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["boat_id"], ["boat.id"], name=op.f("fk_acts_boat_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_acts")),
    )
    op.create_table(
        "choices",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("boat_id", sa.Integer(), nullable=False),
        sa.Column("part", sa.String(length=10), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("choice", sa.JSON(none_as_null=True), nullable=True),
        sa.CheckConstraint("part in ('frame', 'plank')", name=op.f("ck_choices_part")),
        sa.ForeignKeyConstraint(["boat_id"], ["boat.id"], name=op.f("fk_choices_boat_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_choices")),
    )
    op.create_table(
        "deliveries",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("boat_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("answer", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["boat_id"], ["boat.id"], name=op.f("fk_deliveries_boat_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_deliveries")),
        sa.UniqueConstraint("boat_id", "key", name=op.f("uq_deliveries_boat_id_key")),
    )
    op.create_table(
        "marks",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("boat_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("frame", sa.Text(), nullable=False),
        sa.Column("station_mm", sa.Float(), nullable=False),
        sa.Column("height_mm", sa.Float(), nullable=False),
        sa.Column("half_breadth_mm", sa.Float(), nullable=False),
        sa.Column("side", sa.String(length=1), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("sigma_mm", sa.Float(), nullable=True),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("line", sa.Integer(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.CheckConstraint("side in ('P', 'S', '')", name=op.f("ck_marks_side")),
        sa.ForeignKeyConstraint(["boat_id"], ["boat.id"], name=op.f("fk_marks_boat_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_marks")),
        sa.UniqueConstraint("boat_id", "number", name=op.f("uq_marks_boat_id_number")),
    )
    op.create_table(
        "answers",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("boat_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(length=20), nullable=False),
        sa.Column("replaced_by", sa.Integer(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["boat_id", "number"], ["marks.boat_id", "marks.number"], name=op.f("fk_answers_boat_id_number")
        ),
        sa.ForeignKeyConstraint(["boat_id"], ["boat.id"], name=op.f("fk_answers_boat_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_answers")),
    )


def downgrade() -> None:
    op.drop_table("answers")
    op.drop_table("marks")
    op.drop_table("deliveries")
    op.drop_table("choices")
    op.drop_table("acts")
    op.drop_table("boat")
