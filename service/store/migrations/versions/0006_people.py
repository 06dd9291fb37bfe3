"""Accounts with depot and issued passwords, sign-ins with their last use, and counted tries."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"

WORDS: Final = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Apply the step."""
    op.create_table(
        "attempt",
        sa.Column("key", WORDS, nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("last_at", sa.BigInteger(), nullable=False),
        sa.Column("locked_until", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_attempt")),
    )
    # Nobody could sign in before: sign-ins that a store may hold are nobody's; failures were not counted.
    op.execute("DELETE FROM sign_in")
    op.add_column("sign_in", sa.Column("seen_at", sa.BigInteger(), server_default="0", nullable=False))
    op.drop_column("person", "failures")
    op.drop_column("person", "locked_until")
    op.add_column("person", sa.Column("depot", WORDS, server_default="", nullable=False))
    op.add_column("person", sa.Column("depot_only", sa.SmallInteger(), server_default="0", nullable=False))
    op.add_column("person", sa.Column("password_until", sa.BigInteger(), nullable=True))
