"""Lists as text, files and JSON, from the same declared columns."""
