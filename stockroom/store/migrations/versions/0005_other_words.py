"""What else people call a material, to find it by."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add the column, empty."""
    op.add_column("material", sa.Column("other_words", sa.Text(), server_default="", nullable=False))
