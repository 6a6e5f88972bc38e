"""Sums: counting aids, reconciling, and what counts say about actual usage."""
