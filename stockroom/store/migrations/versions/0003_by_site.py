"""Moves and tickets are found by their site, so that one of many sites reads its own rows only."""

from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Let the index of moves begin with their site, and add one of tickets."""
    op.drop_index("ix_move_material_happened", "move")
    op.create_index("ix_move_site_material_happened", "move", ["site", "material", "happened"], unique=False)
    op.create_index("ix_ticket_site_taken_in", "ticket", ["site", "taken_in"], unique=False)
