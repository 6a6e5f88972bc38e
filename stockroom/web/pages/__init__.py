"""The pages, one file a room."""
