"""One file per sheet."""
