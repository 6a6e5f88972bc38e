"""Start stockroom."""
