"""Sums: from history to sample paths of future use."""
