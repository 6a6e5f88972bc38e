"""One file per order format."""
