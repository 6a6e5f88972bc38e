"""The least size of an offcut worth keeping, and by which power of its length a recipe's amount grows."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Add the columns, empty: any size is kept, and an area grows as the length times itself."""
    op.add_column("material", sa.Column("least_offcut", sa.Text(), server_default="", nullable=False))
    op.add_column("recipe_line", sa.Column("growth", sa.Text(), server_default="", nullable=False))
