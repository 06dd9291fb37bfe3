"""Reading again: how many manifold vacuums stay as they came."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Apply the step."""
    op.add_column("rereading", sa.Column("unconverted", sa.BigInteger(), server_default="0", nullable=False))
