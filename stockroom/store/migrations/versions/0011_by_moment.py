"""Documents of a kind are found by when they happened: of years of work a page reads the last days."""

from alembic import op

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    """Let the index of a kind's documents go by moment; what is about one ticket or order has an index of its own."""
    op.drop_index("ix_document_kind_subject", "document")
    op.create_index("ix_document_kind_happened", "document", ["kind", "happened"], unique=False)
