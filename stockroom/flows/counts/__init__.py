"""Counts: sheets to count by, what was counted against the book, settling, what to count next."""
