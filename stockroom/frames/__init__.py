"""The public face for people who work with data: pandas frames of a book, read only."""
