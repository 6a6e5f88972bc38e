"""What the owner knows of the time ahead: events with a size, seasons, and what new things are like or stand for."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"

_TEXTS = {
    "event": ("last", "job", "usual"),
    "job": ("season", "alike"),
    "material": ("alike", "replaces", "replaces_at"),
}


def upgrade() -> None:
    """Add the columns, empty."""
    for table, names in _TEXTS.items():
        for name in names:
            op.add_column(table, sa.Column(name, sa.Text(), server_default="", nullable=False))
    op.add_column("event", sa.Column("jobs", sa.Integer()))
