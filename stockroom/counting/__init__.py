"""Sums: counting aids, reconciling, and what counts teach."""
