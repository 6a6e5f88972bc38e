"""Nouns: what a shop has and does, with the rules that always hold."""
