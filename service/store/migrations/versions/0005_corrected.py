"""Keep the newest evaluation's corrected daily values, for the pictures of a vehicle."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"

WORDS: Final = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Apply the step."""
    op.create_table(
        "corrected",
        sa.Column("vehicle", WORDS, nullable=False),
        sa.Column("day", sa.Integer(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("vehicle", name=op.f("pk_corrected")),
    )
