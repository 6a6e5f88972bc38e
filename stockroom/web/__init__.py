"""A door: the bench pages."""
