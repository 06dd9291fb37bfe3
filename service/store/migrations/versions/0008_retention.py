"""Retention: how far each vehicle's readings go back, holds, and what was removed."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"

WORDS: Final = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Apply the step."""
    op.add_column("vehicle", sa.Column("kept_from_day", sa.Integer(), nullable=True))
    op.create_table(
        "hold",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("vehicle_no", sa.Integer(), nullable=False),
        sa.Column("reason", WORDS, nullable=False),
        sa.Column("put_by", WORDS, server_default="", nullable=False),
        sa.Column("put_at", sa.BigInteger(), nullable=False),
        sa.Column("lifted_by", WORDS, server_default="", nullable=False),
        sa.Column("lifted_at", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(
            ["vehicle_no"], ["vehicle.vehicle_no"], name=op.f("fk_hold_vehicle_no_vehicle")
        ),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_hold")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_hold_vehicle_no"), "hold", ["vehicle_no"])
    op.create_table(
        "removal",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("put_by", WORDS, server_default="", nullable=False),
        sa.Column("kind", WORDS, nullable=False),
        sa.Column("part", WORDS, nullable=False),
        sa.Column("from_day", sa.Integer(), nullable=False),
        sa.Column("to_day", sa.Integer(), nullable=False),
        sa.Column("vehicles", sa.Integer(), nullable=False),
        sa.Column("rows", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_removal")),
        sqlite_autoincrement=True,
    )
