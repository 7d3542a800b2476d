"""Choices for anything that is chosen, and records of what was done and measured at the bench.

Revision ID: 0003
Revises: 0002
"""

from typing import Literal

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def _anew() -> Literal["always", "never"]:
    """SQLite can change a constraint only by building the table anew; elsewhere its numbering would be lost."""
    return "always" if op.get_bind().dialect.name == "sqlite" else "never"


def upgrade() -> None:
    with op.batch_alter_table("choices", recreate=_anew()) as batch:
        batch.drop_constraint(op.f("ck_choices_part"), type_="check")
        batch.alter_column(
            "part", existing_type=sa.String(length=10), type_=sa.String(length=20), existing_nullable=False
        )
    op.create_table(
        "records",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("boat_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=30), nullable=False),
        sa.Column("member", sa.Text(), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("detail", sa.JSON(), nullable=False),
        sa.Column("corrects", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["boat_id"], ["boat.id"], name=op.f("fk_records_boat_id_boat")),
        sa.ForeignKeyConstraint(["corrects"], ["records.id"], name=op.f("fk_records_corrects_records")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_records")),
    )


def downgrade() -> None:
    op.drop_table("records")
    with op.batch_alter_table("choices", recreate=_anew()) as batch:
        batch.create_check_constraint(op.f("ck_choices_part"), "part in ('frame', 'plank')")
