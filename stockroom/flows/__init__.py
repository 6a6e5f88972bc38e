"""Verbs: one transaction each."""
