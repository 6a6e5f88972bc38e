"""Sums: lead times, run-out risk, and the basket to order."""
