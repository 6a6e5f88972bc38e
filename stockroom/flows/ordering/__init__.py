"""Buying: what to order, placing it, and receiving it."""
