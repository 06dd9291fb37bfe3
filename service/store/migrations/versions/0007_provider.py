"""Sign-ins through a provider: how each was begun, and browsers that are under way."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"

WORDS: Final = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Apply the step."""
    op.add_column("sign_in", sa.Column("way", WORDS, server_default="password", nullable=False))
    op.add_column("person", sa.Column("subject", WORDS, server_default="", nullable=False))
    op.create_table(
        "departure",
        sa.Column("digest", WORDS, nullable=False),
        sa.Column("source", WORDS, nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("following", WORDS, server_default="", nullable=False),
        sa.Column("action", WORDS, server_default="", nullable=False),
        sa.Column("draft", WORDS, server_default="[]", nullable=False),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_departure")),
    )
    op.create_index(op.f("ix_departure_source"), "departure", ["source"])
    op.create_index(op.f("ix_departure_at"), "departure", ["at"])
