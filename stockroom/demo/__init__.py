"""The invented shop."""
