"""Marks keep their covariance, the way they were taken off, and what was read.

Revision ID: 0002
Revises: 0001
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # added one by one: building the table anew would break the answers' hold on it
    op.add_column("marks", sa.Column("var_height_mm2", sa.Float(), nullable=True))
    op.add_column("marks", sa.Column("var_half_breadth_mm2", sa.Float(), nullable=True))
    op.add_column("marks", sa.Column("cov_mm2", sa.Float(), nullable=True))
    op.add_column("marks", sa.Column("way", sa.String(length=20), server_default="offsets", nullable=False))
    op.add_column("marks", sa.Column("raw", sa.Text(), server_default="", nullable=False))


def downgrade() -> None:
    for name in ("raw", "way", "cov_mm2", "var_half_breadth_mm2", "var_height_mm2"):
        op.drop_column("marks", name)
