"""Keep the price of a workshop hour and of a look that finds nothing with each cause's costs."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Apply the step."""
    op.add_column("cost", sa.Column("labour_rate", sa.Double(), nullable=True))
    op.add_column("cost", sa.Column("look_cost", sa.Double(), nullable=True))
