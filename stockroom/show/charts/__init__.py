"""Charts, one module a subject."""
