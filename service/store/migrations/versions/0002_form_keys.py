"""Keep the keys of forms, and what the form of findings asks beyond the columns of files."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

WORDS: Final = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Apply the step."""
    op.create_table(
        "form_key",
        sa.Column("key", WORDS, nullable=False),
        sa.Column("at_us", sa.BigInteger(), nullable=False),
        sa.Column("who", WORDS, server_default="", nullable=False),
        sa.Column("led_to", WORDS, server_default="", nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_form_key")),
    )
    op.create_index(op.f("ix_form_key_at_us"), "form_key", ["at_us"], unique=False)
    op.add_column("work_record", sa.Column("odometer_km", sa.Double(), nullable=True))
    op.add_column("work_record", sa.Column("relearn_done", sa.SmallInteger(), nullable=True))
    op.add_column("work_record", sa.Column("parts", WORDS, server_default="", nullable=False))
