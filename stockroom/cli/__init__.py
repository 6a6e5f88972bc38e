"""A door: the command line."""
