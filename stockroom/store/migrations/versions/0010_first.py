"""What the owner says is usual in a week: tickets of a job, sales of a material."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    """Add the columns, empty."""
    for table in ("job", "material"):
        op.add_column(table, sa.Column("weekly", sa.Text(), server_default="", nullable=False))
