"""Sums: what jobs earn and what stock is worth."""
