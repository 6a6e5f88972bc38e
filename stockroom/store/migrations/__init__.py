"""Schema steps, oldest first."""
